"""Joint names: sides, the name across the body, families of joints, and who aims at whom."""

from __future__ import annotations

import re
from functools import cache

__all__ = [
    "AIM_TARGETS",
    "FINGERS",
    "LONG_FINGERS",
    "MOST_NECK_JOINTS",
    "MOST_SPINE_JOINTS",
    "SIDES",
    "chain_of",
    "family",
    "finger_of",
    "is_tip",
    "metacarpal_of",
    "mirror_name",
    "side_of",
    "stem",
    "tip_below",
    "twist_of",
]

SIDES = ("left", "right")
FINGERS = ("thumb", "index", "middle", "ring", "pinky")
LONG_FINGERS = ("index", "middle", "ring", "pinky")
"""The fingers that hang from a row of knuckles, from the thumb's side outward."""
MOST_SPINE_JOINTS = 17
"""A person's trunk has 12 thoracic and 5 lumbar vertebrae; more joints than that bend nothing."""
MOST_NECK_JOINTS = 7
"""A neck has seven vertebrae."""

AIM_TARGETS: dict[str, tuple[str, ...]] = {
    "pelvis": ("spine_1", "chest"),
    "chest": ("neck", "head"),
    "neck": ("neck_2", "head"),
    "head": ("head_top",),
    "clavicle": ("shoulder",),
    "shoulder": ("elbow",),
    "elbow": ("wrist",),
    "wrist": (
        "middle_1",
        "middle_metacarpal",
        "ring_1",
        "ring_metacarpal",
        "index_1",
        "index_metacarpal",
        "pinky_1",
        "pinky_metacarpal",
    ),
    "hip": ("knee",),
    "knee": ("ankle",),
    "ankle": ("ball", "toe_tip"),
    "ball": ("toe_tip",),
}
"""For joints that may have several children: which one they aim at, first choice first (stems,
on the joint's own side). A joint's own `aim` goes before this table."""

_FINGER = re.compile(rf"^({'|'.join(FINGERS)})_(\d+|tip)$")
_METACARPAL = re.compile(rf"^({'|'.join(LONG_FINGERS)})_metacarpal$")
_TWIST = re.compile(r"^(.+)_twist(_\d+)?$")
_EYE = re.compile(r"^(left|right|middle)_eye(_\d+)?$")
_COLUMN = re.compile(r"^(spine|neck)_\d+$")
_FAMILIES = {
    "pelvis": "trunk",
    "chest": "trunk",
    "neck": "trunk",
    "head": "head",
    "head_top": "head",
    "eye": "eye",
    "clavicle": "clavicle",
    "shoulder": "arm",
    "elbow": "arm",
    "wrist": "hand",
    "hip": "leg",
    "knee": "leg",
    "ankle": "foot",
    "ball": "foot",
    "toe_tip": "foot",
}


@cache
def side_of(name: str) -> str | None:
    """'left' or 'right' (the character's own), or None for a joint on the middle."""
    for side in SIDES:
        if name.startswith(side + "_"):
            return side
    return None


@cache
def stem(name: str) -> str:
    """The name without its side: 'left_knee' gives 'knee'."""
    side = side_of(name)
    return name if side is None else name[len(side) + 1 :]


@cache
def mirror_name(name: str) -> str:
    """The name of the joint across the body; a middle joint's own name."""
    side = side_of(name)
    if side is None:
        return name
    other = "right" if side == "left" else "left"
    return f"{other}_{stem(name)}"


@cache
def finger_of(name: str) -> str | None:
    """Which finger a joint belongs to ('thumb' ... 'pinky'), or None."""
    found = _FINGER.match(stem(name))
    return found.group(1) if found and side_of(name) else None


@cache
def metacarpal_of(name: str) -> str | None:
    """The finger whose metacarpal turns about this joint ('index' ... 'pinky'), or None.

    The thumb's metacarpal turns about `thumb_1`, so it has no such joint.
    """
    found = _METACARPAL.match(stem(name))
    return found.group(1) if found and side_of(name) else None


@cache
def twist_of(name: str) -> str | None:
    """The joint whose bone a twist helper lies on ('left_elbow_twist_1' gives 'left_elbow').

    None for any other joint. A twist helper takes over a share of the turn about the bone's own
    length, between the joint and the next.
    """
    found = _TWIST.match(name)
    return found.group(1) if found else None


@cache
def is_tip(name: str) -> bool:
    """True for a tip helper, which only marks the end of a chain."""
    return stem(name).endswith("_tip") or stem(name) == "head_top"


@cache
def tip_below(name: str) -> str | None:
    """The tip helper at the end of the chain that this joint is the last of; None if there is none.

    'left_ball' gives 'left_toe_tip', 'head' gives 'head_top'; any joint of a finger gives its tip,
    since fingers differ in how many joints they have.
    """
    if is_tip(name):
        return None
    finger, side = finger_of(name), side_of(name)
    if finger:
        return f"{side}_{finger}_tip"
    if name == "head":
        return "head_top"
    return f"{side}_toe_tip" if side and stem(name) == "ball" else None


@cache
def family(name: str) -> str | None:
    """Which written rule orients the joint.

    One of 'trunk', 'head', 'eye', 'clavicle', 'arm', 'hand', 'metacarpal', 'finger', 'leg', 'foot',
    or None for a name that is not one of ours. A twist helper follows the rule of its joint.
    """
    base = twist_of(name)
    if base is not None:
        return family(base)
    if finger_of(name):
        return "finger"
    if metacarpal_of(name):
        return "metacarpal"
    base = stem(name)
    if _COLUMN.match(base):
        return "trunk"
    if _EYE.match(name):
        return "eye"
    found = _FAMILIES.get(base)
    sided = found not in (None, "trunk", "head")
    return found if sided == (side_of(name) is not None) else None


@cache
def chain_of(name: str) -> str | None:
    """Which chain of a convention the joint belongs to: its family, with thumb and finger apart and
    the metacarpals with the hand."""
    kind = family(name)
    if kind == "metacarpal":
        return "hand"
    thumb = finger_of(twist_of(name) or name) == "thumb"
    return "thumb" if thumb else kind
