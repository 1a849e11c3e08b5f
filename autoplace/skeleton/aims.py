"""Which child does each joint aim at, and where does its bone point?

Rules, in order:

1. A joint's own `aim`.
2. The convention's `aims`, then the table `names.AIM_TARGETS` for our own names, on the joint's own
   side.
3. The only child.
4. Of several: one that is no twist helper; of these the one with the most joints below it; of
   equals, the one that goes on straightest from the bone above; of equals, the first in the list.

A wrist that aims at a metacarpal points through it at the knuckle beyond, for the metacarpals begin
beside one another close to the wrist.

A bone of no length points where the next bone along the same line of aims points. When there is
none, or no child, the joint has no bone of its own and copies its parent.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import AIM_TARGETS, metacarpal_of, side_of, stem, twist_of
from autoplace.skeleton.structure import extent

__all__ = ["NO_LENGTH", "Bones", "find_bones"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

NO_LENGTH = 1e-6
"""Bones shorter than this fraction of the skeleton's extent have no direction. Common practice,
no source: far below any joint's spread, far above rounding."""


@dataclass(frozen=True)
class Bones:
    """Aims and directions of all joints, in the order of the skeleton."""

    target: IntArray
    """(n,) index of the child aimed at, -1 for none."""
    direction: FloatArray
    """(n, 3) unit direction of the bone; zero where the joint has none of its own."""
    length: FloatArray
    """(n,) distance to the child aimed at; zero where there is none."""

    def has(self, index: int) -> bool:
        """True when the joint has a bone with a direction."""
        return bool(np.any(self.direction[index]))


def find_bones(
    skeleton: Skeleton,
    parents: IntArray,
    positions: FloatArray,
    aims: Mapping[str, Sequence[str]] | None = None,
) -> Bones:
    """Bones of a skeleton whose parents (n,) and positions (n, 3) are given.

    `aims` are those of a convention, which go before our own table.

    Raises SkeletonError when a joint's `aim` is not one of its children.
    """
    count = len(parents)
    children: list[list[int]] = [[] for _ in range(count)]
    below = np.ones(count, dtype=np.int64)
    for index in range(count - 1, -1, -1):
        if parents[index] >= 0:
            children[parents[index]].append(index)
            below[parents[index]] += below[index]

    table = {**AIM_TARGETS, **(aims or {})}
    for mine in children:
        mine.reverse()  # in the skeleton's order again

    shortest = NO_LENGTH * extent(positions)
    target = np.full(count, -1, dtype=np.int64)
    for index, joint in enumerate(skeleton.joints):
        mine = children[index]
        if joint.aim is not None:
            chosen = [c for c in mine if skeleton.joints[c].name == joint.aim]
            if not chosen:
                raise SkeletonError(
                    f"'{joint.name}' should aim at '{joint.aim}', which is not one of its children."
                )
            target[index] = chosen[0]
        elif mine:
            named = _by_table(skeleton, table, joint.name, mine)
            if named < 0:
                plain = [c for c in mine if twist_of(skeleton.joints[c].name) is None]
                named = _by_shape(index, plain or mine, below, parents, positions)
            target[index] = named

    direction = np.zeros((count, 3))
    length = np.zeros(count)
    for index in range(count - 1, -1, -1):
        child = target[index]
        if child < 0:
            continue
        bone = positions[child] - positions[index]
        length[index] = float(np.linalg.norm(bone))
        beyond = target[child]
        if metacarpal_of(skeleton.joints[child].name) and beyond >= 0:
            whole = positions[beyond] - positions[index]
            if np.linalg.norm(whole) > shortest:
                direction[index] = whole / np.linalg.norm(whole)
                continue
        if length[index] > shortest:
            direction[index] = bone / length[index]
        else:
            direction[index] = direction[child]
    return Bones(target, direction, length)


def _by_table(
    skeleton: Skeleton, table: Mapping[str, Sequence[str]], name: str, mine: list[int]
) -> int:
    side = side_of(name)
    for wanted in table.get(stem(name), ()):
        for child in mine:
            other = skeleton.joints[child].name
            if stem(other) == wanted and side_of(other) == side:
                return child
    return -1


def _by_shape(
    index: int, mine: list[int], below: IntArray, parents: IntArray, positions: FloatArray
) -> int:
    longest = below[mine].max()
    most = [c for c in mine if below[c] == longest]
    if len(most) == 1 or parents[index] < 0:
        return most[0]
    incoming = positions[index] - positions[parents[index]]

    def straightness(child: int) -> float:
        bone = positions[child] - positions[index]
        size = float(np.linalg.norm(bone) * np.linalg.norm(incoming))
        # rounded so that rounding noise does not decide between two equally straight children
        return round(float(bone @ incoming) / size, 9) if size > 0 else -1.0

    return max(most, key=straightness)
