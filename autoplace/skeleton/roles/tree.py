"""A tree of joints with the lengths in it, and paths along it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.roles.words import Reading

__all__ = ["JointTree", "make_tree"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class JointTree:
    """Joints, parents first, with what their names say. Frame and units of the file."""

    names: tuple[str, ...]
    parents: IntArray
    at: FloatArray
    """(n, 3)"""
    readings: tuple[Reading, ...]
    tips: tuple[bool, ...]
    """Known to be the end of a chain, by the file or by the name."""
    children: tuple[tuple[int, ...], ...]
    reach: FloatArray
    """(n,) length of the longest way down from each joint."""
    extent: float
    """Longest way from a root down, or the diagonal of the box around all, if that is less."""

    def length(self, a: int, b: int) -> float:
        """Straight distance between two joints."""
        return float(np.linalg.norm(self.at[b] - self.at[a]))

    def above(self, joint: int) -> list[int]:
        """The joint and all above it, from itself up."""
        chain = [joint]
        while self.parents[chain[-1]] >= 0:
            chain.append(int(self.parents[chain[-1]]))
        return chain

    def under(self, top: int, joint: int) -> bool:
        """Whether `joint` is `top` or hangs from it."""
        return top in self.above(joint)

    def down(self, top: int, bottom: int) -> list[int]:
        """The joints from `top` down to `bottom`, both included; empty if not under."""
        chain = self.above(bottom)
        return chain[: chain.index(top) + 1][::-1] if top in chain else []

    def meet(self, a: int, b: int) -> int:
        """The nearest joint above both (or one of them); -1 if they share none."""
        above = set(self.above(a))
        return next((j for j in self.above(b) if j in above), -1)

    def below(self, top: int) -> list[int]:
        """All joints that hang from `top`, itself first."""
        found, waiting = [], [top]
        while waiting:
            joint = waiting.pop()
            found.append(joint)
            waiting += reversed(self.children[joint])
        return found

    def main_path(self, top: int, parts: Sequence[str] = ()) -> list[int]:
        """Down from `top` along named parts first, else along the longest way."""
        path = [top]
        while self.children[path[-1]]:
            here = path[-1]

            def rank(child: int, here: int = here) -> tuple[bool, bool, float]:
                reading = self.readings[child]
                named = any(reading.says(part) for part in parts)
                plain = not (reading.says("other") or reading.says("twist"))
                return named, plain, self.length(here, child) + float(self.reach[child])

            path.append(max(self.children[here], key=rank))
        return path


def make_tree(
    names: Sequence[str],
    parents: IntArray,
    positions: FloatArray,
    readings: Sequence[Reading],
    tips: Sequence[bool],
) -> JointTree:
    """The tree of joints that are listed parents first."""
    count = len(names)
    children: list[list[int]] = [[] for _ in range(count)]
    for joint, parent in enumerate(parents):
        if parent >= 0:
            children[parent].append(joint)
    reach = np.zeros(count)
    for joint in range(count - 1, -1, -1):
        parent = int(parents[joint])
        if parent >= 0:
            bone = float(np.linalg.norm(positions[joint] - positions[parent]))
            reach[parent] = max(reach[parent], bone + reach[joint])
    box = float(np.linalg.norm(np.ptp(positions, axis=0))) if count else 0.0
    return JointTree(
        tuple(names),
        parents,
        positions,
        tuple(readings),
        tuple(bool(t) or r.tip for t, r in zip(tips, readings, strict=True)),
        tuple(tuple(c) for c in children),
        reach,
        min(box, float(reach.max(initial=0.0))) if box > 0 else 0.0,
    )
