"""Do knees, elbows and fingers bend, the right way, and do joints of a chain share one axis?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.angles import angles_between
from autoplace.skeleton.checks.figure import Figure, Limit, finding
from autoplace.skeleton.hinge import Hinge, cross, unit
from autoplace.skeleton.model import Finding
from autoplace.skeleton.names import FINGERS, SIDES, family, finger_of, side_of

__all__ = [
    "check_bend_axes_agree",
    "check_bend_signs",
    "check_finger_bends",
    "check_knees_and_elbows",
]

FloatArray = NDArray[np.float64]

STRAIGHT = Limit(1.0, "deg", "common practice: a smaller bend does not tell which way is meant")
OVEREXTENDED = {
    "knee": Limit(5.4, "deg", "passive knee extension of girls, Soucie et al. 2011"),
    "elbow": Limit(4.7, "deg", "passive elbow extension of women, Soucie et al. 2011, from memory"),
}
SIDEWAYS = {
    "knee": Limit(45.0, "deg", "hip rotation, AAOS, from memory"),
    "elbow": Limit(60.0, "deg", "common practice: the carrying angle lies at 90"),
}
FOLDED = {
    "knee": Limit(152.6, "deg", "knee flexion of girls, Soucie et al. 2011"),
    "elbow": Limit(150.0, "deg", "elbow flexion, AAOS"),
}
FINGER_BACK = Limit(45.0, "deg", "extension of a knuckle, AAOS")
FINGER_FOLD = Limit(120.0, "deg", "flexion of a middle finger joint, Merck table")
SPINE_AXES = Limit(1.0, "deg", "common practice: one turn of all spine joints stays in one plane")
CHAIN_AXES = Limit(5.0, "deg", "common practice: about the obliquity of finger hinges")
THUMB_AXES = Limit(15.0, "deg", "common practice: the saddle joint at its base has its own axes")
"""These do not cross, and none of them stands square to the bone (Hollister et al. 1992, from
memory)."""
FLEXING = ("trunk", "head", "arm", "hand", "finger", "leg")
"""Families of which it is plain which way they flex."""
REVERSED = Limit(90.0, "deg", "by the meaning of the convention")


def check_knees_and_elbows(figure: Figure) -> list[Finding]:
    """A bend that is there, forward at the elbow and backward at the knee, and not too far."""
    found: list[Finding] = []
    for side in SIDES:
        for base in ("knee", "elbow"):
            name = f"{side}_{base}"
            hinge = figure.bends.limbs.get(name)
            if hinge is not None:
                found += _limb(figure, name, base, hinge)
    return found


def _limb(figure: Figure, name: str, base: str, hinge: Hinge) -> list[Finding]:
    apex = "forward" if base == "knee" else "backward"
    i = figure.index[name]
    above, below = int(figure.parents[i]), int(figure.bones.target[i])
    if above < 0 or below < 0:
        return []
    upper = unit(figure.at[i] - figure.at[above])
    lower = unit(figure.at[below] - figure.at[i])
    bend = float(angles_between(upper, lower))
    if bend < STRAIGHT.value:
        return [
            finding(
                "bend_present",
                name,
                "warning",
                f"'{name}' is bent by {bend:.2f} degrees; the least is {STRAIGHT}.",
                f"Move it a little {apex}, so that it is clear which way it bends.",
                bend,
                STRAIGHT,
            )
        ]
    normal = unit(cross(upper, lower))
    aside = float(angles_between(normal, hinge.expected))
    backward = -bend * np.cos(np.radians(aside))  # the share of the bend that goes the wrong way
    if backward > STRAIGHT.value:
        far = backward > OVEREXTENDED[base].value
        return [
            finding(
                "bend_direction",
                name,
                "error" if far else "warning",
                f"'{name}' is bent by {backward:.1f} degrees the wrong way; the limit is "
                f"{OVEREXTENDED[base]}.",
                f"Move it {apex}, beyond the line between the joints above and below.",
                float(backward),
                OVEREXTENDED[base],
            )
        ]
    found: list[Finding] = []
    if aside > SIDEWAYS[base].value:
        found.append(
            finding(
                "bend_direction",
                name,
                "warning" if bend > 20.0 else "note",
                f"'{name}' is bent by {bend:.1f} degrees in a plane that is turned {aside:.0f} "
                f"degrees from the expected one; the limit is {SIDEWAYS[base]}.",
                f"Nothing, if the limb is turned like that; else move it {apex}.",
                aside,
                SIDEWAYS[base],
            )
        )
    if bend > FOLDED[base].value:
        found.append(
            finding(
                "bend_range",
                name,
                "warning",
                f"'{name}' is bent by {bend:.0f} degrees; a body bends it up to {FOLDED[base]}.",
                "Check the joints above and below it.",
                bend,
                FOLDED[base],
            )
        )
    return found


def check_finger_bends(figure: Figure) -> list[Finding]:
    """Fingers not bent back or folded farther than fingers go."""
    found: list[Finding] = []
    for joint in figure.skeleton:
        finger = finger_of(joint.name)
        if finger is None or finger == "thumb" or joint.name.endswith("_1"):
            continue
        i = figure.index[joint.name]
        above, below = int(figure.parents[i]), int(figure.bones.target[i])
        if above < 0 or below < 0 or not (figure.bones.has(above) and figure.bones.has(i)):
            continue
        hinge = figure.bends.fingers.get(f"{joint.name.split('_')[0]}_{finger}")
        if hinge is None:
            continue
        upper, lower = figure.bones.direction[above], figure.bones.direction[i]
        bend = float(angles_between(upper, lower))
        back = bend > 0 and float(cross(upper, lower) @ hinge.expected) < 0
        limit = FINGER_BACK if back else FINGER_FOLD
        if bend > limit.value:
            found.append(
                finding(
                    "finger_bend",
                    joint.name,
                    "error",
                    f"'{joint.name}' is bent by {bend:.0f} degrees "
                    f"{'back from' if back else 'toward'} the palm; the limit is {limit}.",
                    "Check the places of this joint and of its neighbours: two may be swapped.",
                    bend,
                    limit,
                )
            )
    return found


def check_bend_axes_agree(figure: Figure) -> list[Finding]:
    """One bend axis along the spine, along each finger, and along each arm and leg."""
    convention = figure.convention
    if convention is None:
        return []
    spine = [n for n in figure.skeleton.names if family(n) == "trunk"]
    chains: list[tuple[str, list[str], Limit]] = [("spine", spine, SPINE_AXES)]
    for side in SIDES:
        chains.append((f"{side} arm", [f"{side}_shoulder", f"{side}_elbow"], CHAIN_AXES))
        chains.append((f"{side} leg", [f"{side}_hip", f"{side}_knee"], CHAIN_AXES))
        for finger in FINGERS:
            names = [f"{side}_{finger}_{n}" for n in (1, 2, 3)]
            thumb = finger == "thumb"
            what = f"{side} thumb" if thumb else f"{side} {finger} finger"
            chains.append((what, names, THUMB_AXES if thumb else CHAIN_AXES))
    found: list[Finding] = []
    for what, names, limit in chains:
        present = [n for n in names if n in figure.index and figure.bones.has(figure.index[n])]
        present = [n for n in present if convention.flex_sign(n)]
        if len(present) < 2:
            continue
        hinges = convention.hinge(figure.axes[[figure.index[n] for n in present]])
        bones = figure.bones.direction[[figure.index[n] for n in present]]
        for k in range(1, len(present)):
            # carried along the bend, since two bones seldom lie at right angles to one axis
            off = float(_twist(hinges[k - 1], hinges[k], bones[k]))
            if off > limit.value:
                found.append(
                    finding(
                        "bend_axes_agree",
                        present[k],
                        "warning",
                        f"Along the {what} the bend axis of '{present[k]}' is turned "
                        f"{off:.1f} degrees from that of '{present[k - 1]}'; the limit is {limit}.",
                        "Orient the skeleton again; if that changes nothing, bring the joints of "
                        "the chain into one plane.",
                        off,
                        limit,
                    )
                )
    return found


def check_bend_signs(figure: Figure) -> list[Finding]:
    """A positive turn about the bend axis flexes, or extends where the convention says so.

    On the right side under `mirror = "axes"` the sign follows from the left one's axes instead.
    """
    convention = figure.convention
    if convention is None:
        return []
    found: list[Finding] = []
    for i, joint in enumerate(figure.skeleton):
        sign = convention.flex_sign(joint.name)
        parallel = side_of(joint.name) == "right" and convention.mirror == "axes"
        if _bends_back(figure, joint.name):
            continue  # that is told, and no sign is right then
        if family(joint.name) not in FLEXING or not sign or parallel or not figure.bones.has(i):
            continue
        off = float(angles_between(convention.hinge(figure.axes[i]), sign * figure.bends.axis[i]))
        if off > REVERSED.value:
            found.append(
                finding(
                    "bend_sign",
                    joint.name,
                    "warning",
                    f"A positive turn about {convention.bend} of '{joint.name}' turns it the wrong "
                    f"way: the axis stands {off:.0f} degrees from the one that "
                    f"{'flexes' if sign > 0 else 'extends'}; the limit is {REVERSED}.",
                    "Orient the skeleton again.",
                    off,
                    REVERSED,
                )
            )
    return found


def _bends_back(figure: Figure, name: str) -> bool:
    """Whether the joint belongs to a knee or elbow that is folded the wrong way."""
    limb = {"leg": "knee", "arm": "elbow"}.get(family(name) or "", "")
    hinge = figure.bends.limbs.get(f"{side_of(name)}_{limb}")
    return hinge is not None and hinge.off > np.pi / 2


def _twist(above: FloatArray, own: FloatArray, bone: FloatArray) -> float:
    """Degrees between two bend axes as seen along the second one's bone."""
    seen = above - (above @ bone) * bone
    return float(angles_between(unit(seen), own)) if np.linalg.norm(seen) > 0.1 else 90.0
