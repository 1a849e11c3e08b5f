"""What is measured on an oriented skeleton: aims, the spine's axes, and where limbs bend.

Nothing here uses the solver's own notion of bones or bend planes: who aims at whom is written down
below, and planes come from the known joints of a body.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping

import numpy as np

from autoplace.skeleton.model import Joint, Skeleton, Source
from autoplace.skeleton.names import FINGERS, SIDES, side_of
from tests.dataset.bones import PARENT
from tests.figures import angle

SPINE = ("pelvis", "spine_1", "spine_2", "chest", "neck")
LIMBS = {"elbow": ("shoulder", "elbow", "wrist"), "knee": ("hip", "knee", "ankle")}
BENT = 5.0
"""Degrees; a limb bent less shows no plane (the issue's own limit)."""

CHAINS = [
    ("pelvis", "spine_1", "spine_2", "chest", "neck", "head", "head_top"),
    *(
        tuple(f"{side}_{name}" for name in chain)
        for side in SIDES
        for chain in (
            ("clavicle", "shoulder", "elbow", "wrist", "middle_1"),
            ("hip", "knee", "ankle", "ball", "toe_tip"),
            *((*(f"{finger}_{n}" for n in (1, 2, 3)), f"{finger}_tip") for finger in FINGERS),
        )
    ),
]
"""Each joint aims at the next of its chain."""


def aim_errors(skeleton: Skeleton) -> dict[str, float]:
    """Degrees between each joint's local +Y and the child it aims at, by joint.

    On the right side of mirrored motion the axis points away from the child.
    """
    found = {}
    for chain in CHAINS:
        there = [name for name in chain if name in skeleton]
        for name, child in itertools.pairwise(there):
            bone = skeleton[child].position - skeleton[name].position
            away = side_of(name) == "right"
            found[name] = angle(skeleton[name].axes[1] * (-1.0 if away else 1.0), bone)
    return found


def spine_spread(skeleton: Skeleton) -> float:
    """Degrees between the two bend axes of the spine that differ most."""
    axes = [skeleton[name].axes[0] for name in SPINE if name in skeleton]
    return max(angle(a, b) for a in axes for b in axes)


def finger_axes(skeleton: Skeleton) -> dict[str, float]:
    """Degrees between the two bend axes of a finger that differ most, by finger ('left_index')."""
    found = {}
    for side in SIDES:
        for finger in FINGERS:
            names = [f"{side}_{finger}_{n}" for n in (1, 2, 3)]
            axes = [skeleton[name].axes[0] for name in names if name in skeleton]
            if len(axes) > 1:
                found[f"{side}_{finger}"] = max(angle(a, b) for a in axes for b in axes)
    return found


def limb_planes(skeleton: Skeleton, known: Mapping[str, np.ndarray]) -> dict[str, float]:
    """Degrees between the bend axis of each hinge and the plane of the known joints.

    By hinge joint ('left_elbow', ...), where the known limb is bent by more than `BENT`. The axis
    of the joint above counts with the hinge's own: the worse of the two is given, positive where
    the axis is turned about the limb as a thumb turns outward.
    """
    found = {}
    for side in SIDES:
        for base, stems in LIMBS.items():
            names = [f"{side}_{stem}" for stem in stems]
            if any(name not in skeleton or name not in known for name in names):
                continue
            a, b, c = (known[name] for name in names)
            if angle(b - a, c - b) <= BENT:
                continue
            normal = np.cross(b - a, c - b)
            turns = []
            for name in names[:2]:
                axis = skeleton[name].axes[0]
                axis = -axis if axis @ normal < 0 else axis  # either sense is the same plane
                outward = np.cross(normal, axis) @ (c - a) * (1.0 if side == "left" else -1.0)
                turns.append(angle(axis, normal) * (1.0 if outward >= 0 else -1.0))
            found[f"{side}_{base}"] = max(turns, key=abs)
    return found


def skeleton_of(
    known: Mapping[str, np.ndarray], height: float, up: str = "+Y", forward: str = "+Z"
) -> Skeleton:
    """A skeleton of known joints, named and hung as ours, not oriented."""
    joints = tuple(
        Joint(name, parent, np.asarray(known[name], dtype=float))
        for name, parent in PARENT.items()
        if name in known
    )
    return Skeleton(joints, Source(up=up, forward=forward, height=height))
