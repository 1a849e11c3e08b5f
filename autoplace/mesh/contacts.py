"""Which islands touch, and what would lose its hold on a figure in pieces without some of them?

The shell about a joint lies over the ends of what it joins, as a sleeve lies over an arm; but the
arm goes on through the sleeve, and what the shell joins falls apart without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components, minimum_spanning_tree
from scipy.spatial import cKDTree

from autoplace.mesh.layers import LayerGrid

__all__ = ["Contacts", "find_contacts"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

TOUCH, NEAR = 0.01, 0.02
"""Distance of samples within which islands touch, fraction of height: samples lie half a cell of
`layers.CELL` apart, and a joint's gap that is seen in the solid is more (`body_limbs.CELL`). Where
sizeable pieces of a figure stand off one another by more, that is how it is built, up to so much
(common practice, no source)."""
LOOSE = 0.06
"""A large piece that touches nothing hangs on what it is nearest to within this, fraction of height
(`branches.WIDEST_GAP`)."""


@dataclass(frozen=True)
class Contacts:
    """Which islands touch, pairwise, and how large each is."""

    first: IntArray
    second: IntArray
    area: FloatArray
    """(k,) of every island."""

    def detached(self, unit: Sequence[int], others: Sequence[int]) -> float:
        """Area of the `others` that hang together with most of them by way of `unit` alone."""
        whole = self._main([*others, *unit])
        without = self._main(others)
        lost = [i for i in others if i in whole and i not in without]
        return float(self.area[lost].sum())

    def _main(self, islands: Sequence[int]) -> set[int]:
        """The islands of the largest group that hangs together."""
        if not len(islands):
            return set()
        there = np.zeros(len(self.area), dtype=bool)
        there[list(islands)] = True
        both = there[self.first] & there[self.second]
        pairs = (self.first[both], self.second[both])
        shape = (len(there), len(there))
        touching = coo_matrix((np.ones(int(both.sum()), dtype=np.int8), pairs), shape)
        group = connected_components(touching, directed=False)[1]
        size = np.bincount(group[there], self.area[there], int(group.max()) + 1)
        return set(np.flatnonzero(there & (group == int(np.argmax(size)))).tolist())


def find_contacts(
    grid: LayerGrid, area: FloatArray, islands: Sequence[int], sizeable: Sequence[int]
) -> Contacts:
    """The islands that touch, from the samples of their surfaces.

    Args:
        grid: samples of all islands, working frame. area: (k,) of every island.
        islands: those of the figure. sizeable: those of them that are large.
    """
    mine = grid.of(islands)
    near = cKDTree(grid.points[mine]).query_pairs(NEAR, output_type="ndarray")
    away = np.linalg.norm(np.subtract(*(grid.points[mine[near[:, k]]] for k in (0, 1))), axis=1)
    pairs = np.sort(grid.island[mine[near]], axis=1)
    apart = pairs[:, 0] != pairs[:, 1]
    key = pairs[apart, 0] * len(area) + pairs[apart, 1]
    found, place = np.unique(key, return_inverse=True)
    gap = np.full(len(found), np.inf)
    np.minimum.at(gap, place, away[apart])
    first, second = found // len(area), found % len(area)
    joined = np.isin(first, sizeable) & np.isin(second, sizeable)
    shape = (len(area), len(area))
    tree = minimum_spanning_tree(
        coo_matrix((gap[joined], (first[joined], second[joined])), shape).tocsr()
    )
    touch = gap <= max(TOUCH, float(tree.data.max(initial=0.0)))
    first, second = first[touch], second[touch]
    pairs = _loose_pairs(grid, sizeable, set(first.tolist()) | set(second.tolist()))
    return Contacts(np.append(first, pairs[:, 0]), np.append(second, pairs[:, 1]), area)


def _loose_pairs(grid: LayerGrid, sizeable: Sequence[int], touching: set[int]) -> IntArray:
    """(k, 2) large islands that touch nothing, as a hand in a wide sleeve, each with what it is
    nearest to."""
    pairs: list[tuple[int, int]] = []
    if touching.issuperset(sizeable):
        return np.zeros((0, 2), dtype=np.int64)
    points = {i: grid.points[grid.of([i])] for i in sizeable}
    for loose in (i for i in sizeable if i not in touching and len(points[i])):
        mine = cKDTree(points[loose])
        gaps = {
            other: float(mine.query(points[other], distance_upper_bound=LOOSE)[0].min())
            for other in sizeable
            if other != loose and len(points[other])
        }
        nearest = min(gaps.values(), default=np.inf)
        pairs += [
            (loose, other) for other, gap in gaps.items() if gap < np.inf and gap <= nearest + TOUCH
        ]
    return np.array(pairs, dtype=np.int64).reshape(-1, 2)
