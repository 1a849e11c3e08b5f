"""Joint names of open standards, and what we call those joints.

HAnim: ISO/IEC 19774-1:2019 (version 2) and 19774:2006 (version 1). The names of version 2 and those
of trunk and legs of version 1 were read in the working group's texts; those of the fingers of
version 1 are from memory. That `l_midtarsal` of version 1 is `l_metatarsophalangeal_2` follows from
their equal nominal coordinates. WebXR: W3C WebXR Hand Input Module, Level 1, "Skeleton Joints".
"""

from __future__ import annotations

from functools import cache

__all__ = ["HANIM", "WEBXR", "standard_name"]

RAYS = {1: "thumb", 2: "index", 3: "middle", 4: "ring", 5: "pinky"}
SIDES = {"l": "left", "r": "right"}
NONE_OF_OURS = "other"
"""A joint that the standard has and our skeleton has not."""


@cache
def _hanim() -> dict[str, str]:
    """HAnim name -> our name; 'spine', 'neck' and 'other' where a chain has more than ours."""
    names = {"humanoid_root": "pelvis", "humanoidroot": "pelvis", "sacroiliac": NONE_OF_OURS}
    names |= {f"vl{n}": "spine" for n in range(1, 6)} | {f"vt{n}": "spine" for n in range(1, 13)}
    names |= {f"vc{n}": "neck" for n in range(1, 8)}
    names |= {"skullbase": "head", "skull_tip": "head_top", "temporomandibular": NONE_OF_OURS}
    for letter, side in SIDES.items():
        plain = {
            "hip": "hip",
            "knee": "knee",
            "talocrural": "ankle",
            "ankle": "ankle",
            "midtarsal": "ball",
            "sternoclavicular": "clavicle",
            "shoulder": "shoulder",
            "elbow": "elbow",
            "radiocarpal": "wrist",
            "wrist": "wrist",
            "eyeball_joint": "eye",
            "metatarsophalangeal": "ball",
            "metatarsophalangeal_2": "ball",
            "tarsal_distal_phalanx_2_tip": "toe_tip",
        }
        names |= {f"{letter}_{theirs}": f"{side}_{ours}" for theirs, ours in plain.items()}
        others = ["acromioclavicular", "eyelid_joint", "eyebrow_joint", "subtalar", "metatarsal"]
        others += ["tarsal_interphalangeal", "tarsometatarsal"]
        for n in range(1, 6):
            others += [f"tarsometatarsal_{n}", f"metatarsophalangeal_{n}"]
            others += [f"tarsal_interphalangeal_{n}", f"tarsal_proximal_interphalangeal_{n}"]
            others += [f"tarsal_distal_interphalangeal_{n}"]
        for other in others:
            names.setdefault(f"{letter}_{other}", NONE_OF_OURS)
        for ray, finger in RAYS.items():
            at = f"{side}_{finger}"
            one, two, three = f"{at}_1", f"{at}_2", f"{at}_3"
            tip = {f"{letter}_carpal_distal_phalanx_{ray}_tip": f"{at}_tip"}
            if ray == 1:
                names |= tip | {
                    f"{letter}_carpometacarpal_1": one,
                    f"{letter}_metacarpophalangeal_1": two,
                    f"{letter}_carpal_interphalangeal_1": three,
                }
                names |= {f"{letter}_thumb{n}": f"{at}_{n}" for n in (1, 2, 3)}
                continue
            names |= tip | {
                f"{letter}_carpometacarpal_{ray}": f"{at}_metacarpal",
                f"{letter}_metacarpophalangeal_{ray}": one,
                f"{letter}_carpal_proximal_interphalangeal_{ray}": two,
                f"{letter}_carpal_distal_interphalangeal_{ray}": three,
                f"{letter}_{finger}0": f"{at}_metacarpal",
            }
            names |= {f"{letter}_{finger}{n}": f"{at}_{n}" for n in (1, 2, 3)}
    return names


@cache
def _webxr() -> dict[str, str]:
    """WebXR name -> our name without its side, which that standard tells elsewhere."""
    names = {"wrist": "wrist"}
    names |= {
        "thumb-metacarpal": "thumb_1",
        "thumb-phalanx-proximal": "thumb_2",
        "thumb-phalanx-distal": "thumb_3",
        "thumb-tip": "thumb_tip",
    }
    for finger in ("index", "middle", "ring", "pinky"):
        names |= {
            f"{finger}-finger-metacarpal": f"{finger}_metacarpal",
            f"{finger}-finger-phalanx-proximal": f"{finger}_1",
            f"{finger}-finger-phalanx-intermediate": f"{finger}_2",
            f"{finger}-finger-phalanx-distal": f"{finger}_3",
            f"{finger}-finger-tip": f"{finger}_tip",
        }
    return names


HANIM = _hanim()
WEBXR = _webxr()


def standard_name(name: str) -> str | None:
    """Our name for a joint named as in HAnim or WebXR; None for any other name.

    A prefix `hanim_`, as the standard's examples write it, is passed over.
    """
    plain = name.lower().rsplit(":", 1)[-1]
    plain = plain.removeprefix("hanim_")
    return HANIM.get(plain) or WEBXR.get(plain)
