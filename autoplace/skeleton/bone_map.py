"""Where a point of one figure lies in another, told by the bones that both have.

Every bone carries the space around it: from where its joint was to where it is, turned from its old
direction to its new one the short way, and stretched with its length (across by the square root of
that, since a longer bone is seldom as much thicker). A point goes where the bones around say, each
weighted by the inverse fourth power of its distance. A joint at a bone's end goes with the joint
that stands there, and what lies beside it keeps its place beside the bone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["carry_by_bones"]

FloatArray = NDArray[np.float64]

POWER = 4
"""Of the inverse distance from a bone; 2 and 6 do as well on some pairs of bodies that may be
looked at (`tests/keep/cases.py`): 95 of 100 points beside joints come within 0.84 to 0.91 percent
of the height."""
ACROSS = 0.5
"""Power of a bone's stretch that its breadth takes; 0 and 1 do as well (0.87 and 0.93 there)."""
NEAREST = 1e-4
"""Distances below this share of the figure's height count as it."""


@dataclass(frozen=True)
class _Bones:
    start: FloatArray
    """(b, 3) joints at their upper ends in the old figure."""
    along: FloatArray
    """(b, 3) from there to the lower ends."""
    moved: FloatArray
    """(b, 3) the upper ends in the new figure."""
    linear: FloatArray
    """(b, 3, 3) turn and stretch of each."""


def carry_by_bones(
    points: FloatArray, old: FloatArray, new: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Points carried from one figure to another.

    Args:
        points: (k, 3) in the old figure's working frame, heights. old, new: (b, 2, 3) both ends of
            the bones that both figures have, each in its figure's working frame.

    Returns:
        (k, 3) points in the new figure's working frame, and (k,) how far the bones around disagree
        (weighted root mean square), heights.
    """
    bones = _bones(np.asarray(old, dtype=np.float64), np.asarray(new, dtype=np.float64))
    points = np.asarray(points, dtype=np.float64)
    beside = points[:, None] - bones.start
    squared = np.maximum(np.sum(bones.along**2, axis=1), 1e-300)
    ahead = np.clip(np.sum(beside * bones.along, axis=2) / squared, 0.0, 1.0)
    distance = np.linalg.norm(beside - ahead[..., None] * bones.along, axis=2)
    weight = np.maximum(distance, NEAREST) ** -float(POWER)
    weight /= weight.sum(axis=1, keepdims=True)
    # what each bone says of the move, so that an unmoved figure moves no point by rounding
    told = np.einsum("bij,kbj->kbi", bones.linear - np.eye(3), beside) + bones.moved - bones.start
    move = np.sum(weight[..., None] * told, axis=1)
    off = np.sum((told - move[:, None]) ** 2, axis=2)
    return points + move, np.sqrt(np.sum(weight * off, axis=1))


def _bones(old: FloatArray, new: FloatArray) -> _Bones:
    along, after = old[:, 1] - old[:, 0], new[:, 1] - new[:, 0]
    linear = np.tile(np.eye(3), (len(old), 1, 1))
    for index, (before, now) in enumerate(zip(along, after, strict=True)):
        lengths = float(np.linalg.norm(before)), float(np.linalg.norm(now))
        if min(lengths) < NEAREST:
            continue  # a bone without length shows no direction
        direction, stretch = before / lengths[0], lengths[1] / lengths[0]
        across = stretch**ACROSS
        grown = across * np.eye(3) + (stretch - across) * np.outer(direction, direction)
        linear[index] = _turn(direction, now / lengths[1]) @ grown
    return _Bones(old[:, 0], along, new[:, 0], linear)


def _turn(first: FloatArray, second: FloatArray) -> FloatArray:
    """(3, 3) the shortest turn from one unit direction to another."""
    cosine = float(first @ second)
    if cosine < -1.0 + 1e-6:  # about any axis at a right angle, by a half turn
        aside = np.cross(first, np.eye(3)[int(np.argmin(np.abs(first)))])
        aside /= np.linalg.norm(aside)
        return np.asarray(2.0 * np.outer(aside, aside) - np.eye(3))
    x, y, z = np.cross(first, second)
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.asarray(np.eye(3) + cross + cross @ cross / (1.0 + cosine))
