"""Fingers of a closed hand, told by the way through the hand's core.

In a fist the fingers touch the palm, the thumb and each other, and the shortest way from the wrist
leads through where they touch: of each finger only the fold stands out. With the cells near the
surface left out the contacts are gone, and the way goes along the bones again, up to the fold and
back to the fingertip. A count is believed where two cores, one little deeper than the other, show
it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import dijkstra

from autoplace.measure.cell_graph import CellGraph
from autoplace.measure.finger_branches import Branch, BranchFinder, Web, with_shell

__all__ = ["FoldedFingers", "FoldedHand"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CORES = (0.8, 1.2, 1.6, 2.0, 2.4, 2.8, 3.2)
"""Depths of the cores, cells, the shallowest first: a finger is three to eight cells thick."""
DEEPEST = 0.95
"""Share of the depth of the fingers' middles beyond which nothing of a finger is left."""


@dataclass(frozen=True)
class FoldedFingers:
    """Fingers with the cells whose distances lead through the core."""

    graph: CellGraph
    branches: list[Branch]
    webs: list[Web]


@dataclass(frozen=True)
class _Core:
    """The cells of a core that hang together with the arm."""

    depth: float
    rows: IntArray
    """(k,) their rows in the graph of all cells."""
    way: FloatArray
    """(k,) the way to them from the arm through the core."""
    branches: list[Branch]
    webs: list[Web]


class FoldedHand:
    """A hand that may be closed. Its cores are kept, for when its fingers' number is told later."""

    def __init__(self, graph: CellGraph, thickness: float) -> None:
        """Args: graph: its cells. thickness: how deep the middles of the fingers lie, cells."""
        self.graph = graph
        self._depths = [depth for depth in CORES if depth < DEEPEST * thickness]
        self._cores: dict[float, _Core | None] = {}

    def fingers(self, least: int, most: int, count: int | None = None) -> FoldedFingers | None:
        """The most fingers that two neighbouring cores show, where these are enough.

        Args:
            least: fewer do not count; at least two. most: fingers of a hand.
            count: how many there should be, if that is known.

        Returns:
            The fingers, with their shells; None where no two cores agree on enough.
        """
        # of two neighbours one is every second core: where none of those shows enough, no two agree
        every_second = [self._core(depth) for depth in self._depths[1::2]]
        if not any(core and least <= len(core.branches) <= most for core in every_second):
            return None
        cores = [core for depth in self._depths if (core := self._core(depth)) is not None]
        best = _agreed([len(core.branches) for core in cores], (least, most), count)
        if best is None:
            return None
        core = max((core for core in cores if len(core.branches) == best), key=_clearness)
        whole = replace(self.graph, distance=_way_of_all(self.graph, self._links, core))
        branches = [
            Branch(core.rows[branch.cells], branch.root, branch.tip) for branch in core.branches
        ]
        return FoldedFingers(whole, with_shell(whole, branches, core.depth), core.webs)

    def _core(self, depth: float) -> _Core | None:
        if depth not in self._cores:
            self._cores[depth] = _core(self.graph, self._links, depth)
        return self._cores[depth]

    @cached_property
    def _links(self) -> csr_matrix:
        """Lengths between neighbouring cells, each pair once."""
        graph = self.graph
        # neighbours lie one cell apart along as many axes as their indices differ in
        axes = np.count_nonzero(graph.index[graph.first] != graph.index[graph.second], axis=1)
        length = np.sqrt(axes) * graph.solid.cell
        shape = (len(graph.index), len(graph.index))
        return coo_matrix((length, (graph.first, graph.second)), shape=shape).tocsr()


def _agreed(counts: Sequence[int], ends: tuple[int, int], count: int | None) -> int | None:
    """The largest number between the ends that stands twice in a row, or whether the wanted one
    does."""
    twice = {a for a, b in pairwise(counts) if a == b and ends[0] <= a <= ends[1]}
    if count is not None:
        twice &= {count}
    return max(twice, default=None)


def _clearness(core: _Core) -> float:
    """Length of a core's shortest finger, share of the farthest way."""
    shortest = min(branch.tip - branch.root for branch in core.branches)
    return shortest / float(core.way.max())


def _core(graph: CellGraph, links: csr_matrix, depth: float) -> _Core | None:
    """The cells that lie so deep, and the way from the arm through them; None if hardly any do."""
    deep = np.flatnonzero(graph.depth >= depth)
    if len(deep) < 2:
        return None
    inside = np.zeros(graph.solid.inside.shape, dtype=bool)
    inside[tuple(graph.index[deep].T)] = True
    labels, _ = ndimage.label(inside, np.ones((3, 3, 3), dtype=bool))
    piece = labels[tuple(graph.index[deep].T)]
    rows = deep[piece == int(np.bincount(piece).argmax())]
    links = links[rows][:, rows]
    index = graph.index[rows]
    lowest = np.flatnonzero(index[:, 1] <= index[:, 1].min() + 1)
    way, _, _ = dijkstra(
        links, directed=False, indices=lowest, min_only=True, return_predecessors=True
    )
    pairs = links.tocoo()
    first, second = pairs.row.astype(np.int64), pairs.col.astype(np.int64)
    inner = CellGraph(graph.solid, index, way, first, second, graph.first_row)
    return _Core(depth, rows, way, *BranchFinder(inner).find())


def _way_of_all(graph: CellGraph, links: csr_matrix, core: _Core) -> FloatArray:
    """(n,) the way from the arm to all cells: that of the nearest cell of the core, and from there
    on as far as the cell lies in the direction in which the way grows."""
    gap, _, nearest = dijkstra(
        links, directed=False, indices=core.rows, min_only=True, return_predecessors=True
    )
    count = len(graph.index)
    inner = np.full(count, np.nan)
    inner[core.rows] = core.way
    both = np.isfinite(inner[graph.first] + inner[graph.second])
    first, second = graph.first[both], graph.second[both]
    more = (inner[second] - inner[first])[:, None] * (graph.index[second] - graph.index[first])
    growth = np.stack(
        [sum(np.bincount(rows, axis, count) for rows in (first, second)) for axis in more.T], axis=1
    )
    size = np.linalg.norm(growth, axis=1, keepdims=True)
    growth /= np.maximum(size, 1e-300)
    met = np.isfinite(gap)
    near = nearest[met]
    way = graph.distance.copy()
    aside = graph.points[met] - graph.points[near]
    way[met] = np.maximum(inner[near] + (aside * growth[near]).sum(axis=1), 0.0)
    return np.asarray(way)
