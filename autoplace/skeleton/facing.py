"""Bend axes under a convention that says where the remaining axis of a chain shall face."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.bend_axes import BendAxes
from autoplace.skeleton.convention import (
    AXIS_NAMES,
    BY_BEND,
    BY_PALM,
    Convention,
    axis_vector,
)
from autoplace.skeleton.hinge import FLAT, cross, unit
from autoplace.skeleton.names import family, side_of

__all__ = ["faced_axes"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LEFT, UP, FORWARD = np.eye(3)
BODY = {
    "left": LEFT,
    "right": -LEFT,
    "up": UP,
    "down": -UP,
    "forward": FORWARD,
    "back": -FORWARD,
}
MIRROR = np.array([-1.0, 1.0, 1.0])


def faced_axes(
    names: tuple[str, ...],
    parents: IntArray,
    bends: BendAxes,
    convention: Convention,
    body: FloatArray,
) -> FloatArray:
    """(n, 3) bend axes of all joints, unit, at right angles to their bones; zero without a bone.

    Args:
        names: of the joints, parents first.
        parents: (n,) indices.
        bends: as fitted; in the character's directions, as all of this is.
        convention: whose `facing` is followed.
        body: (3, 3) rows, the character's left, up and forward in the skeleton's frame, for facings
            that name an axis of it.
    """
    axis = bends.axis.copy()
    if not convention.facing:
        return axis
    sense = convention.turn_sense
    for i, name in enumerate(names):
        bone, facing = bends.bone[i], convention.facing_of(name)
        if not np.any(bone):
            continue
        if facing in BY_BEND:
            axis[i] *= 1.0 if facing == "flex" else -1.0
            continue
        if facing in BY_PALM:
            axis[i] *= sense if facing == "palm" else -sense
            continue
        toward = body @ axis_vector(facing) if facing in AXIS_NAMES else BODY[facing]
        parallel = family(name) == "eye" and convention.eyes == "together"
        if side_of(name) == "right" and convention.mirror == "motion" and not parallel:
            toward = MIRROR * toward
        across = sense * cross(bone, toward)
        if np.linalg.norm(across) > FLAT:
            axis[i] = unit(across)
        elif parents[i] >= 0 and np.any(axis[parents[i]]):
            above = axis[parents[i]] - (axis[parents[i]] @ bone) * bone
            if np.linalg.norm(above) > FLAT:
                axis[i] = unit(above)
        # once more: a short cross product leaves rounding along the bone
        axis[i] = unit(axis[i] - (axis[i] @ bone) * bone)
    return axis
