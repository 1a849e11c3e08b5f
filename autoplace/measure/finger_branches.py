"""Finger branches of a hand: where the inside of the hand splits, seen from the wrist.

Method: the distance from the forearm through the inside (shortest paths over neighbouring cells)
grows towards every fingertip. Cells of about equal distance that hang together form the nodes of
a level graph; walked from the far ends back to the wrist, branches meet at the webs. A branch that
is long enough when it meets another is a finger; a bump that is not is absorbed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from autoplace.measure.cell_graph import CellGraph

__all__ = ["Branch", "BranchFinder", "Web", "begin_beyond", "with_shell"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
CellRows = NDArray[np.int32]

LEVEL_WIDTH = 1.5
"""Width of a level in cells: wide enough for neighbouring cells to hang together in it."""
LEAST_LENGTH = 0.055
"""Shortest finger beyond its web, as a share of the farthest distance from the wrist; half of a
thumb's distal phalanx (references: .158 of the hand's length)."""
BEGIN_FOLDED, STUB_LENGTH = 0.7, 0.04
"""Fingers that begin farther out than the first share of the way, by their median, or show none at
all, are folded, and are sought again by the second, since only a bend of each stands free. The webs
of an open hand lie .63 of the way, the middle joints .77 (references: web .555 and Buchholz et al.
1992 .72 of the hand; the way begins .2 of the hand below the wrist). Own invented fists of further
deals: little fingers of .04 to .055 were lost in a tenth of them; of .03, bumps are found in
mittens."""


@dataclass(frozen=True)
class Web:
    """Where two branches meet."""

    point: FloatArray
    """(3,) middle of the contact."""
    distance: float
    """Way from the forearm."""
    branches: tuple[int, int]
    """The two fingers on either side of it (the nearest ones, when several had already met)."""


@dataclass(frozen=True)
class Branch:
    """One finger, as cells beyond the web that it shares with its first neighbour."""

    cells: IntArray
    """(k,) rows of the graph."""
    root: float
    """Distance from the forearm at the web."""
    tip: float
    """Distance at the farthest cell."""


@dataclass
class _Growing:
    nodes: list[int]
    peak: float
    fingers: list[int] = field(default_factory=list)
    """Numbers of the closed fingers in it; empty while it is a single branch."""


class BranchFinder:
    """The branches of one hand, for any core.

    What was found is kept: a hand is looked at by the same cores again once it is known how many
    fingers it should have.
    """

    def __init__(self, graph: CellGraph) -> None:
        """Args: graph: the hand's cells."""
        self.graph = graph
        self._found: dict[tuple[float, float], tuple[list[Branch], list[Web]]] = {}

    def find(self, core: float = 0.0, lost: float = 0.0) -> tuple[list[Branch], list[Web]]:
        """Fingers, without the cells around their cores, and the webs between them.

        Args:
            core: depth in cells; cells nearer to the surface do not hang together, so that fingers
                which touch, or are joined by a thin fold, come apart.
            lost: what the shortest finger may lack, cells.

        Returns:
            The fingers in no particular order, and the webs in the order in which branches met,
            farthest from the wrist first. Empty when the hand does not split.
        """
        key = (core, lost)
        if key not in self._found:
            self._found[key] = self._find(core, lost)
        branches, webs = self._found[key]
        return list(branches), list(webs)

    def _find(self, core: float, lost: float) -> tuple[list[Branch], list[Web]]:
        graph = self.graph
        deep = graph.depth >= core if core > 0.0 else np.ones(len(graph.index), dtype=bool)
        kept = np.flatnonzero(deep)
        if len(kept) < 2:
            return [], []
        nodes = self._nodes(deep)
        level = np.zeros(int(nodes.max()) + 1, dtype=np.int64)
        level[nodes[kept]] = self._bins[kept]
        up, down = self._links(nodes, deep)
        members = kept[np.argsort(nodes[kept], kind="stable")]
        cells = np.split(members, np.cumsum(np.bincount(nodes[kept]))[:-1])
        reach = float(graph.distance[kept].max())
        less = lost * graph.solid.cell
        branches, webs = _walk(graph, level, cells, up, down, LEAST_LENGTH * reach - less)
        roots = [branch.root for branch in branches]
        if not roots or np.median(roots) > BEGIN_FOLDED * reach:
            branches, webs = _walk(graph, level, cells, up, down, STUB_LENGTH * reach - less)
        return branches, webs

    @cached_property
    def _bins(self) -> IntArray:
        """(n,) number of the level of each cell."""
        width = LEVEL_WIDTH * self.graph.solid.cell
        return np.asarray(np.floor(self.graph.distance / width).astype(np.int64))

    @cached_property
    def _pairs(self) -> tuple[CellRows, CellRows, CellRows, CellRows]:
        """Neighbouring cells: the two cells of those of one level, and the farther and the nearer
        cell of the others."""
        first, second = (rows.astype(np.int32) for rows in (self.graph.first, self.graph.second))
        ahead = self._bins[first] - self._bins[second]
        same, apart = ahead == 0, ahead != 0
        outward = ahead[apart] > 0
        far = np.where(outward, first[apart], second[apart])
        near = np.where(outward, second[apart], first[apart])
        return first[same], second[same], far, near

    def _nodes(self, deep: NDArray[np.bool_]) -> IntArray:
        """(n,) cells of one level that hang together; -1 for those that are not deep."""
        first, second, _, _ = self._pairs
        both = deep[first] & deep[second]
        count = len(deep)
        together = coo_matrix(
            (np.ones(int(both.sum()), dtype=np.int8), (first[both], second[both])),
            shape=(count, count),
        )
        _, piece = connected_components(together, directed=False)
        used = np.zeros(count, dtype=bool)
        used[piece[deep]] = True
        return np.where(deep, (np.cumsum(used) - 1)[piece], -1)

    def _links(self, nodes: IntArray, deep: NDArray[np.bool_]) -> tuple[IntArray, IntArray]:
        """Pairs (farther node, nearer node), sorted by the nearer one."""
        _, _, far, near = self._pairs
        both = deep[far] & deep[near]
        count = int(nodes.max()) + 1
        pairs = nodes[near[both]] * count + nodes[far[both]]
        if count * count < len(pairs):
            met = np.zeros(count * count, dtype=bool)
            met[pairs] = True
            pairs = np.flatnonzero(met)
        else:
            pairs = np.unique(pairs)
        return pairs % count, pairs // count


def begin_beyond(graph: CellGraph, branches: Sequence[Branch], share: float) -> bool:
    """Whether the fingers begin beyond this share of the farthest way, by their median, or there
    are none."""
    roots = [branch.root for branch in branches]
    return not roots or bool(np.median(roots) > share * graph.distance.max())


def with_shell(graph: CellGraph, branches: list[Branch], core: float) -> list[Branch]:
    """The fingers with the cells around their cores, down to the web."""
    if not branches or core <= 0.0:
        return branches
    label = np.full(len(graph.distance), -1, dtype=np.int64)
    for number, branch in enumerate(branches):
        label[branch.cells] = number
    roots = np.array([branch.root for branch in branches])
    ends = np.array([branch.tip for branch in branches])
    shallow = (graph.depth[graph.first] < core) | (graph.depth[graph.second] < core)
    one, other = graph.first[shallow], graph.second[shallow]
    around = int(np.ceil(core)) + 1
    # a thin end of a finger has no core: there the shell reaches farther
    for step in range(3 * around):
        grown, votes = label.copy(), np.zeros((len(label), len(branches)), dtype=np.int16)
        for a, b in ((one, other), (other, one)):
            passes = (label[a] >= 0) & (label[b] < 0)
            a_in, b_in = a[passes], b[passes]
            least = (roots if step < around else ends)[label[a_in]]
            beyond = (graph.distance[b_in] >= least) & (graph.depth[b_in] < core)
            np.add.at(votes, (b_in[beyond], label[a_in[beyond]]), 1)
        # a cell that two fingers reach goes to the one that it has more neighbours in
        reached = np.flatnonzero(votes.any(axis=1))
        grown[reached] = votes[reached].argmax(axis=1)
        if step >= around and np.array_equal(grown, label):
            break
        label = grown
    result = []
    for number, branch in enumerate(branches):
        cells = np.flatnonzero(label == number)
        result.append(Branch(cells, branch.root, float(graph.distance[cells].max())))
    return result


def _walk(
    graph: CellGraph,
    level: IntArray,
    cells: list[IntArray],
    up: IntArray,
    down: IntArray,
    least: float,
) -> tuple[list[Branch], list[Web]]:
    """Walk the level graph from the far ends to the wrist, joining branches where they meet."""
    owner = np.full(len(level), -1, dtype=np.int64)
    growing: dict[int, _Growing] = {}
    branches: list[Branch] = []
    webs: list[Web] = []
    width = LEVEL_WIDTH * graph.solid.cell
    bounds = np.searchsorted(down, np.arange(len(level) + 1))
    points = graph.points
    for n in np.argsort(-level, kind="stable"):
        here = level[n] * width
        above = up[bounds[n] : bounds[n + 1]]
        met = sorted(
            {int(owner[m]) for m in above if owner[m] >= 0}, key=lambda k: -growing[k].peak
        )
        if not met:
            owner[n] = n
            growing[n] = _Growing([n], float(graph.distance[cells[n]].max()))
            continue
        main = met[0]
        big = [k for k in met if growing[k].fingers or growing[k].peak - here - width >= least]
        if len(big) > 1:
            touching = {k: np.concatenate([cells[m] for m in above if owner[m] == k]) for k in big}
            for k in big:
                if not growing[k].fingers:
                    inner = np.concatenate([cells[m] for m in growing[k].nodes])
                    branches.append(Branch(inner, here + width, growing[k].peak))
                    growing[k].fingers = [len(branches) - 1]
            for first, second in _neighbours(points, touching):
                one, other = touching[first], touching[second]
                webs.append(
                    _web(
                        points, one, other, branches, growing[first], growing[second], here + width
                    )
                )
        for k in met:
            if k == main:
                continue
            growing[main].nodes += growing[k].nodes
            growing[main].fingers += growing[k].fingers
            for m in growing[k].nodes:
                owner[m] = main
            del growing[k]
        growing[main].nodes.append(n)
        owner[n] = main
    return branches, webs


def _neighbours(points: FloatArray, touching: dict[int, IntArray]) -> list[tuple[int, int]]:
    """Pairs of branches that lie side by side at a meeting: the shortest links that join all."""
    keys = list(touching)
    trees = {k: cKDTree(points[touching[k]]) for k in keys}
    links = sorted(
        (float(trees[a].query(points[touching[b]])[0].min()), a, b)
        for i, a in enumerate(keys)
        for b in keys[i + 1 :]
    )
    group = {k: k for k in keys}
    joined = []
    for _, a, b in links:
        if group[a] != group[b]:
            joined.append((a, b))
            old, new = group[b], group[a]
            group = {k: new if g == old else g for k, g in group.items()}
    return joined


def _web(
    points: FloatArray,
    one: IntArray,
    other: IntArray,
    branches: list[Branch],
    first: _Growing,
    second: _Growing,
    distance: float,
) -> Web:
    """The middle of the contact of two branches, and the fingers on either side."""
    gap, match = cKDTree(points[other]).query(points[one])
    close = gap <= 1.3 * gap.min()
    middle = 0.5 * (points[one][close] + points[other][match[close]]).mean(axis=0)

    def nearest(growing: _Growing) -> int:
        gaps = [
            float(np.linalg.norm(points[branches[f].cells] - middle, axis=1).min())
            for f in growing.fingers
        ]
        return growing.fingers[int(np.argmin(gaps))]

    return Web(middle, distance, (nearest(first), nearest(second)))
