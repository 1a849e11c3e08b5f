"""Limbs as branches: a tree of bands of equal distance through the inside of the body.

Distance runs through the volume from a seed in the trunk, so a hand beside the thigh is far from
it. Cells of one band of distance that touch one another form a node; a node hangs from the node
that its cells were reached through. Ends of the tree are hands, feet, head, and also hair, ears
and tails; which is which is decided in `measure.limbs`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import connected_components, dijkstra

from autoplace.measure.cell_graph import NeighbourPairs, neighbour_pairs
from autoplace.measure.gap_bridges import bridge_gaps
from autoplace.measure.solid import Solid

__all__ = ["WIDEST_GAP", "BandTree", "band_tree", "tree_of_bands"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

WIDEST_GAP = 0.06
"""Gap between pieces of a body that is bridged, units of the solid (heights): a robot's joint, or
a hand that floats a little before its sleeve (common practice, no source)."""

ROUNDING = 1e-6
"""Differences in cells that only rounding makes."""

SEED_REACH = 1.5
"""Cells this near to the seed, in cells, are reached from it straight."""


@dataclass(frozen=True)
class BandTree:
    """The bands of distance of one solid, as a tree rooted at the seed."""

    cells: IntArray
    """(n, 3) indices of the inside cells that the seed reaches; of a surface (n, 1), the numbers of
    its vertices."""
    distance: FloatArray
    """(n,) distance of each cell from the seed through the inside."""
    node_of_cell: IntArray
    """(n,) node of each cell."""
    parent: IntArray
    """(k,) parent of each node, -1 at the root."""
    centre: FloatArray
    """(k, 3) mean of each node's cells."""
    count: IntArray
    """(k,) cells in each node."""
    node_distance: FloatArray
    """(k,) mean distance of each node's cells."""
    farthest: FloatArray
    """(k,) greatest distance of each node's cells."""
    predecessor: IntArray
    """(n,) cell through which each cell was reached, negative at the seed."""

    def children(self) -> list[list[int]]:
        """Nodes that hang from each node."""
        below: list[list[int]] = [[] for _ in self.parent]
        for node, parent in enumerate(self.parent):
            if parent >= 0:
                below[parent].append(node)
        return below

    def leaves(self) -> list[int]:
        """Nodes that nothing hangs from."""
        return [node for node, below in enumerate(self.children()) if not below]

    def subtree(self, node: int) -> NDArray[np.bool_]:
        """(k,) True for a node and all that hangs from it."""
        inside = np.zeros(len(self.parent), dtype=bool)
        inside[node] = True
        for other in np.argsort(self.node_distance, kind="stable"):
            parent = self.parent[other]
            if parent >= 0 and inside[parent]:
                inside[other] = True
        return inside

    def subtree_counts(self) -> IntArray:
        """(k,) cells in each node and all below it."""
        total = self.count.copy()
        for node in np.argsort(-self.node_distance, kind="stable"):
            if self.parent[node] >= 0:
                total[self.parent[node]] += total[node]
        return total

    def path_to_root(self, node: int) -> list[int]:
        """Nodes from `node` up to the root, both counted."""
        path = [int(node)]
        while self.parent[path[-1]] >= 0:
            path.append(int(self.parent[path[-1]]))
        return path

    def without(self, gone: NDArray[np.bool_]) -> BandTree:
        """The tree without some nodes and their cells.

        Args:
            gone: (k,) True for each of these nodes, and for all that hang from one.
        """
        kept = np.flatnonzero(~gone)
        name = np.full(len(gone) + 1, -1, dtype=np.int64)
        name[kept] = np.arange(len(kept))
        cell = ~gone[self.node_of_cell]
        place = np.full(len(cell) + 1, -1, dtype=np.int64)
        place[np.flatnonzero(cell)] = np.arange(int(cell.sum()))
        return replace(
            self,
            cells=self.cells[cell],
            distance=self.distance[cell],
            node_of_cell=name[self.node_of_cell[cell]],
            parent=name[self.parent[kept]],
            centre=self.centre[kept],
            count=self.count[kept],
            node_distance=self.node_distance[kept],
            farthest=self.farthest[kept],
            predecessor=place[self.predecessor[cell]],
        )


def band_tree(solid: Solid, seed: FloatArray, band: float, middle: float | None = None) -> BandTree:
    """Build the tree of distance bands.

    Args:
        solid: the body, any frame and units.
        seed: (3,) point of the trunk, or near to it.
        band: width of a band, same units; a few cells.
        middle: where along x the plane of symmetry lies, if there is one: gaps between pieces of
            one side are bridged before those between the sides.

    Returns:
        The tree over the cells the seed reaches. Empty when the solid has no inside.
    """
    plane = None if middle is None else float((middle - solid.origin[0]) / solid.cell)
    pairs = bridge_gaps(neighbour_pairs(solid.inside), WIDEST_GAP / solid.cell, plane)
    inside = pairs.index
    if not len(inside):
        return _empty_tree()
    # the seed need not lie in the middle of a cell
    away = np.sqrt(((inside - solid.to_cells(seed)) ** 2).sum(axis=1))
    start = np.flatnonzero(away <= max(SEED_REACH, float(away.min()) + ROUNDING))
    points = solid.to_points(inside)
    return tree_of_bands(pairs, points, start, away[start], band / solid.cell, solid.cell)


def tree_of_bands(
    pairs: NeighbourPairs,
    points: FloatArray,
    start: IntArray,
    away: FloatArray,
    width: float,
    unit: float = 1.0,
) -> BandTree:
    """Build the tree of distance bands of what hangs together with a start.

    Args:
        pairs: what touches what. points: (n, 3) where each lies.
        start: (s,) which of them the bands begin with. away: (s,) how far each is from the seed.
        width: of a band, as the pairs' lengths are counted. unit: what these count in.
    """
    count = len(pairs.index)
    source, target = pairs.first, pairs.second
    # one more node, the seed itself
    graph = coo_matrix(
        (
            np.concatenate([pairs.length, away + 1e-9]),
            (np.r_[source, np.full(len(start), count)], np.r_[target, start]),
        ),
        shape=(count + 1, count + 1),
    )
    distance, before = dijkstra(
        graph.tocsr(), directed=False, indices=count, return_predecessors=True
    )
    distance, before = distance[:count], np.where(before[:count] == count, -1, before[:count])
    reached = np.isfinite(distance)
    # straight ways are whole numbers of cells: a band must not begin just there
    number = np.floor(np.where(reached, distance, -2.0 * width) / width + ROUNDING).astype(int)
    distance = distance * unit
    same = (number[source] == number[target]) & reached[source] & reached[target]
    within = csr_matrix(
        (np.ones(int(same.sum()), dtype=np.int8), (source[same], target[same])),
        shape=(count, count),
    )
    node = connected_components(within, directed=False)[1]
    kept = np.flatnonzero(reached)
    labels, node_of_cell = np.unique(node[kept], return_inverse=True)
    new_index = np.full(count, -1, dtype=np.int64)
    new_index[kept] = np.arange(len(kept))
    k = len(labels)
    size = np.bincount(node_of_cell, minlength=k)
    middle = [np.bincount(node_of_cell, points[kept, a], k) / np.maximum(size, 1) for a in range(3)]
    mean = np.bincount(node_of_cell, distance[kept], k) / np.maximum(size, 1)
    predecessor = np.where(before[kept] >= 0, new_index[np.maximum(before[kept], 0)], -1)
    farthest = np.zeros(k)
    np.maximum.at(farthest, node_of_cell, distance[kept])
    return BandTree(
        cells=pairs.index[kept],
        distance=distance[kept],
        node_of_cell=node_of_cell,
        parent=_parents(node_of_cell, predecessor, k),
        centre=np.stack(middle, axis=1),
        count=size,
        node_distance=mean,
        farthest=farthest,
        predecessor=predecessor,
    )


def _empty_tree() -> BandTree:
    none, nowhere = np.zeros(0, dtype=np.int64), np.zeros((0, 3))
    cells = np.zeros((0, 3), dtype=np.int64)
    return BandTree(cells, np.zeros(0), none, none, nowhere, none, np.zeros(0), np.zeros(0), none)


def _parents(node_of_cell: IntArray, predecessor: IntArray, k: int) -> IntArray:
    """The node that most of each node's entering cells were reached from."""
    entered = np.flatnonzero(predecessor >= 0)
    own, other = node_of_cell[entered], node_of_cell[predecessor[entered]]
    crossing = own != other
    pairs, votes = np.unique(own[crossing] * k + other[crossing], return_counts=True)
    parent = np.full(k, -1, dtype=np.int64)
    for order in np.argsort(votes, kind="stable"):
        parent[pairs[order] // k] = pairs[order] % k
    return parent
