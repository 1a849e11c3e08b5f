"""What the dataset calls things, in our joint names: marker cubes, and bones of its weights."""

from __future__ import annotations

import re
from itertools import pairwise

FINGERS = ("thumb", "index", "middle", "ring", "pinky")
SIDES = ("left", "right")

TRUNK_CUBES = {
    "pelvis": ["pelvis"],
    # the dataset marks four levels of the spine; the lowest lies close above the pelvis
    "spine_1": ["spine-3"],
    "spine_2": ["spine-2"],
    "chest": ["spine-1"],
    "neck": ["neck"],
    "head": ["head"],
    "head_top": ["head-2"],
}


def side_cubes(letter: str) -> dict[str, list[str]]:
    """Cubes of one side's joints, without the side's name."""
    cubes = {
        "eye": ["eye"],
        "clavicle": ["clavicle"],
        "shoulder": ["shoulder"],
        "elbow": ["elbow"],
        "wrist": ["hand"],
        "hip": ["upper-leg"],
        "knee": ["knee"],
        "ankle": ["ankle"],
        # the ball is the middle of the five metatarsophalangeal joints
        "ball": [f"toe-{toe}-1" for toe in range(1, 6)],
        # the end of the second toe; the cube foot-2 floats in front of the toes
        "toe_tip": ["toe-2-4"],
    }
    for number, finger in enumerate(FINGERS, start=1):
        for level, end in enumerate(("1", "2", "3", "tip"), start=1):
            cubes[f"{finger}_{end}"] = [f"finger-{number}-{level}"]
    return {name: [f"{letter}-{cube}" for cube in names] for name, names in cubes.items()}


CUBE_OF_JOINT: dict[str, list[str]] = dict(TRUNK_CUBES)
for _side in SIDES:
    for _name, _cubes in side_cubes(_side[0]).items():
        CUBE_OF_JOINT[f"{_side}_{_name}"] = _cubes

JOINTS = tuple(CUBE_OF_JOINT)

PARENT: dict[str, str | None] = {
    "pelvis": None,
    "spine_1": "pelvis",
    "spine_2": "spine_1",
    "chest": "spine_2",
    "neck": "chest",
    "head": "neck",
    "head_top": "head",
}
for _side in SIDES:
    _chains = [
        ("head", "eye"),
        ("chest", "clavicle", "shoulder", "elbow", "wrist"),
        ("pelvis", "hip", "knee", "ankle", "ball", "toe_tip"),
    ]
    _chains += [("wrist", *(f"{finger}_{end}" for end in (1, 2, 3, "tip"))) for finger in FINGERS]
    for _chain in _chains:
        for _above, _below in pairwise(_chain):
            _parent = _above if _above in TRUNK_CUBES else f"{_side}_{_above}"
            PARENT[f"{_side}_{_below}"] = _parent

# bones of the dataset's weights whose turning our joints stand for; the first match wins. Bones
# that a pose never turns (trunk, collar, toes, face) go with the joint that carries them.
_RULES = [
    (r"upperarm0\d", "shoulder"),
    (r"lowerarm0\d", "elbow"),
    (r"wrist|metacarpal\d", "wrist"),
    (r"upperleg0\d", "hip"),
    (r"lowerleg0\d", "knee"),
    (r"foot|toe\d-\d", "ankle"),
    (r"clavicle|shoulder01", "clavicle"),
    (r"eye", "eye"),
]
_MIDDLE = [
    (r"root|pelvis|spine05", "pelvis"),
    (r"spine04|spine03", "spine_1"),
    (r"spine02", "spine_2"),
    (r"spine01|breast", "chest"),
    (r"neck0\d", "neck"),
]


def joint_of_bone(bone: str) -> str:
    """The joint of ours that turns a bone of the dataset's weights."""
    name, _, letter = bone.partition(".")
    if letter:
        side = "left" if letter == "L" else "right"
        finger = re.fullmatch(r"finger(\d)-(\d)", name)
        if finger:
            return f"{side}_{FINGERS[int(finger[1]) - 1]}_{finger[2]}"
        for pattern, joint in _RULES:
            if re.fullmatch(pattern, name):
                return f"{side}_{joint}"
    for pattern, joint in _MIDDLE:
        if re.fullmatch(pattern, name):
            return joint
    return "head"  # the skull and all the bones of the face
