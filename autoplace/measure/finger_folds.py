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
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import connected_components, dijkstra

from autoplace.measure.cell_graph import CellGraph
from autoplace.measure.finger_branches import Branch, Web, find_branches, with_shell

__all__ = ["FoldedFingers", "folded_fingers"]

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
    graph: CellGraph
    rows: IntArray
    """(k,) their rows in the graph of all cells."""
    branches: list[Branch]
    webs: list[Web]


def folded_fingers(
    graph: CellGraph, thickness: float, least: int, most: int, count: int | None = None
) -> FoldedFingers | None:
    """The most fingers that two neighbouring cores show, where these are enough.

    Args:
        graph: the hand's cells.
        thickness: how deep the middles of the fingers lie, cells.
        least: fewer do not count; at least two. most: fingers of a hand.
        count: how many there should be, if that is known.

    Returns:
        The fingers, with their shells; None where no two cores agree on enough.
    """
    depths = [depth for depth in CORES if depth < DEEPEST * thickness]
    links = _links(graph)
    # of two neighbours one is every second core: where none of those shows enough, no two agree
    every_second = [_core(graph, links, depth) for depth in depths[1::2]]
    if not any(core is not None and least <= len(core.branches) <= most for core in every_second):
        return None
    found: list[_Core | None] = [None] * len(depths)
    found[1::2] = every_second
    found[::2] = [_core(graph, links, depth) for depth in depths[::2]]
    cores = [core for core in found if core is not None]
    best = _agreed([len(core.branches) for core in cores], (least, most), count)
    if best is None:
        return None
    core = max((core for core in cores if len(core.branches) == best), key=_clearness)
    whole = replace(graph, distance=_way_of_all(graph, links, core))
    branches = [
        Branch(core.rows[branch.cells], branch.root, branch.tip) for branch in core.branches
    ]
    return FoldedFingers(whole, with_shell(whole, branches, core.depth), core.webs)


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
    return shortest / float(core.graph.distance.max())


def _core(graph: CellGraph, links: csr_matrix, depth: float) -> _Core | None:
    """The cells that lie so deep, and the way from the arm through them; None if hardly any do."""
    rows = np.flatnonzero(graph.depth >= depth)
    if len(rows) < 2:
        return None
    links = links[rows][:, rows]
    _, piece = connected_components(links, directed=False)
    largest = np.flatnonzero(piece == int(np.bincount(piece).argmax()))
    rows, links = rows[largest], links[largest][:, largest]
    index = graph.index[rows]
    lowest = np.flatnonzero(index[:, 1] <= index[:, 1].min() + 1)
    way, _, _ = dijkstra(
        links, directed=False, indices=lowest, min_only=True, return_predecessors=True
    )
    pairs = links.tocoo()
    inner = CellGraph(
        graph.solid,
        index,
        way,
        pairs.row.astype(np.int64),
        pairs.col.astype(np.int64),
        graph.first_row,
    )
    return _Core(depth, inner, rows, *find_branches(inner, 0.0, shell=False))


def _links(graph: CellGraph) -> csr_matrix:
    """Lengths between neighbouring cells, each pair once."""
    apart = graph.index[graph.first] - graph.index[graph.second]
    length = np.sqrt(np.einsum("ij,ij->i", apart, apart)) * graph.solid.cell
    shape = (len(graph.index), len(graph.index))
    return coo_matrix((length, (graph.first, graph.second)), shape=shape).tocsr()


def _way_of_all(graph: CellGraph, links: csr_matrix, core: _Core) -> FloatArray:
    """(n,) the way from the arm to all cells: that of the nearest cell of the core, and from there
    on as far as the cell lies in the direction in which the way grows."""
    gap, _, nearest = dijkstra(
        links, directed=False, indices=core.rows, min_only=True, return_predecessors=True
    )
    inner = core.graph
    growth = np.zeros((len(inner.index), 3))
    step = (inner.points[inner.second] - inner.points[inner.first]) / graph.solid.cell
    more = (inner.distance[inner.second] - inner.distance[inner.first])[:, None] * step
    np.add.at(growth, inner.first, more)
    np.add.at(growth, inner.second, more)
    size = np.linalg.norm(growth, axis=1, keepdims=True)
    growth /= np.maximum(size, 1e-300)
    met = np.isfinite(gap)
    place = np.full(len(graph.index), -1, dtype=np.int64)
    place[core.rows] = np.arange(len(core.rows))
    near = place[nearest[met]]
    way = graph.distance.copy()
    aside = graph.points[met] - inner.points[near]
    way[met] = np.maximum(inner.distance[near] + (aside * growth[near]).sum(axis=1), 0.0)
    return np.asarray(way)
