"""Joint names of open standards, and what we call those joints.

HAnim: ISO/IEC 19774-1:2019 (version 2) and 19774:2006 (version 1). The names of version 2 and those
of trunk and legs of version 1 were read in the working group's texts; those of the fingers of
version 1 are from memory. That `l_midtarsal` of version 1 is `l_metatarsophalangeal_2` follows from
their equal nominal coordinates. WebXR: W3C WebXR Hand Input Module, Level 1, "Skeleton Joints".
What has one name of ours is in `templates/names`; here stands what else is read.
"""

from __future__ import annotations

from functools import cache

from autoplace.skeleton.name_tables import load_names
from autoplace.skeleton.names import FINGERS, LONG_FINGERS, stem

__all__ = ["HANIM", "WEBXR", "standard_name"]

SIDES = {"l": "left", "r": "right"}
NONE_OF_OURS = "other"
"""A joint that the standard has and our skeleton has not."""


@cache
def _hanim() -> dict[str, str]:
    """HAnim name -> our name; 'spine', 'neck' and 'other' where a chain has more than ours."""
    names = {theirs: ours for ours, theirs in load_names("hanim").joints.items()}
    names |= {"humanoidroot": "pelvis", "sacroiliac": NONE_OF_OURS}
    names |= {f"vl{n}": "spine" for n in range(1, 6)} | {f"vt{n}": "spine" for n in range(1, 13)}
    names |= {f"vc{n}": "neck" for n in range(1, 8)}
    names |= {"temporomandibular": NONE_OF_OURS}
    for letter, side in SIDES.items():
        first = {"ankle": "ankle", "midtarsal": "ball", "wrist": "wrist"}  # version 1
        first["metatarsophalangeal"] = "ball"
        names |= {f"{letter}_{theirs}": f"{side}_{ours}" for theirs, ours in first.items()}
        others = ["acromioclavicular", "eyelid_joint", "eyebrow_joint", "subtalar", "metatarsal"]
        others += ["tarsal_interphalangeal", "tarsometatarsal"]
        for n in range(1, 6):
            others += [f"tarsometatarsal_{n}", f"metatarsophalangeal_{n}"]
            others += [f"tarsal_interphalangeal_{n}", f"tarsal_proximal_interphalangeal_{n}"]
            others += [f"tarsal_distal_interphalangeal_{n}"]
        for other in others:
            names.setdefault(f"{letter}_{other}", NONE_OF_OURS)
        for finger in FINGERS:  # version 1
            names |= {f"{letter}_{finger}{n}": f"{side}_{finger}_{n}" for n in (1, 2, 3)}
        for finger in LONG_FINGERS:
            names[f"{letter}_{finger}0"] = f"{side}_{finger}_metacarpal"
    return names


@cache
def _webxr() -> dict[str, str]:
    """WebXR name -> our name without its side, which that standard tells elsewhere."""
    return {theirs: stem(ours) for ours, theirs in load_names("webxr").joints.items()}


HANIM = _hanim()
WEBXR = _webxr()


def standard_name(name: str) -> str | None:
    """Our name for a joint named as in HAnim or WebXR; None for any other name.

    A prefix `hanim_`, as the standard's examples write it, is passed over.
    """
    plain = name.lower().rsplit(":", 1)[-1]
    plain = plain.removeprefix("hanim_")
    return HANIM.get(plain) or WEBXR.get(plain)
