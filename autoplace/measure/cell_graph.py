"""The inside cells of a solid as a graph: neighbours, way from one end, depth under the surface."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra

from autoplace.measure.solid import Solid

__all__ = ["CellGraph", "NeighbourPairs", "build_graph", "neighbour_pairs"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DEPTH_CAP = 4
"""Depth is only told apart up to so many cells; the core of a finger needs no more."""


@dataclass(frozen=True)
class CellGraph:
    """The inside cells, their neighbours, and the way to the lowest ones."""

    solid: Solid
    index: IntArray
    """(n, 3) cell indices."""
    distance: FloatArray
    """(n,) way to the lowest cells (smallest y) through the inside; units of the solid."""
    first: IntArray
    """(m,) first cell of each neighbouring pair (26 neighbours a cell)."""
    second: IntArray
    """(m,) second cell."""
    first_row: int = 0
    """Smallest y index looked at."""

    @cached_property
    def points(self) -> FloatArray:
        """(n, 3) cell centres."""
        return self.solid.to_points(self.index)

    @cached_property
    def depth(self) -> FloatArray:
        """(n,) distance to the nearest outside cell's face, in cells, at most `DEPTH_CAP`."""
        inside = np.pad(self.solid.inside[:, self.first_row :], DEPTH_CAP)
        square = np.where(inside, np.uint8((DEPTH_CAP + 1) ** 2), np.uint8(0))
        # a squared distance is a sum over the axes, so each axis can be minimised in its turn
        for axis in range(3):
            lines = np.moveaxis(square, axis, 0)
            best = lines.copy()
            for step in range(1, DEPTH_CAP + 1):
                more = lines + np.uint8(step**2)
                np.minimum(best[step:], more[:-step], out=best[step:])
                np.minimum(best[:-step], more[step:], out=best[:-step])
            square = np.moveaxis(best, 0, axis)
        where = self.index + np.array([DEPTH_CAP, DEPTH_CAP - self.first_row, DEPTH_CAP])
        depth = np.sqrt(square[tuple(where.T)].astype(np.float64)) - 0.5
        return np.asarray(np.minimum(depth, DEPTH_CAP))


@dataclass(frozen=True)
class NeighbourPairs:
    """The set cells of a grid and which of them touch, by face, edge or corner; or the vertices of
    a surface and its edges."""

    index: IntArray
    """(n, 3) indices of the set cells; (n, 1) numbers of the vertices."""
    first: IntArray
    """(m,) first cell of each touching pair, index into `index`."""
    second: IntArray
    """(m,) second cell; each pair stands once."""
    length: FloatArray
    """(m,) distance of their centres, in cells: 1, sqrt 2 or sqrt 3; of vertices, in heights."""


def neighbour_pairs(inside: NDArray[np.bool_]) -> NeighbourPairs:
    """Pairs of touching cells of a (nx, ny, nz) mask; 26 neighbours a cell."""
    padded = np.full(tuple(n + 2 for n in inside.shape), -1, dtype=np.int32)
    index = np.argwhere(inside)
    if not len(index):
        none = np.zeros(0, dtype=np.int64)
        return NeighbourPairs(np.zeros((0, 3), np.int64), none, none, np.zeros(0))
    strides = np.array([padded.shape[1] * padded.shape[2], padded.shape[2], 1])
    flat = (index + 1) @ strides
    cells = padded.reshape(-1)
    cells[flat] = np.arange(len(index), dtype=np.int32)
    firsts, seconds, lengths = [], [], []
    for step in product((-1, 0, 1), repeat=3):
        if step <= (0, 0, 0):
            continue
        other = cells[flat + int(np.dot(step, strides))]
        here = np.flatnonzero(other >= 0)
        firsts.append(here)
        seconds.append(other[here])
        lengths.append(np.full(len(here), float(np.sqrt(np.dot(step, step)))))
    return NeighbourPairs(
        index,
        np.concatenate(firsts),
        np.concatenate(seconds).astype(np.int64),
        np.concatenate(lengths),
    )


def build_graph(solid: Solid, above: float) -> CellGraph:
    """Neighbouring inside cells above a height, and their distance from the lowest ones.

    A piece that does not reach down to them (a hand apart from its arm) starts at its own lowest
    cells, as far away as they lie above.

    Args:
        solid: the volume.
        above: y below which cells are left out.
    """
    first_row = max(int(np.floor((above - solid.origin[1]) / solid.cell)), 0)
    inside = solid.inside[:, first_row:]
    pairs = neighbour_pairs(inside)
    index, first, second = pairs.index, pairs.first, pairs.second
    count = len(index)
    if not count:
        return CellGraph(solid, index, np.zeros(0), first, second, first_row)
    length = pairs.length * solid.cell
    labels, pieces = ndimage.label(inside, np.ones((3, 3, 3), dtype=bool))
    piece = labels[tuple(index.T)] - 1
    height = index[:, 1] * solid.cell
    lowest = np.asarray(ndimage.minimum(height, piece, np.arange(pieces)))
    seeds = np.flatnonzero(height <= lowest[piece] + 1.5 * solid.cell)
    # one more node, joined to the lowest cells of every piece
    offset = height[seeds] - height.min() + 1e-9 * solid.cell
    rows = np.concatenate([first, np.full(len(seeds), count)])
    cols = np.concatenate([second, seeds])
    graph = coo_matrix((np.concatenate([length, offset]), (rows, cols)), shape=(count + 1,) * 2)
    distance = dijkstra(graph.tocsr(), directed=False, indices=count)[:count]
    index[:, 1] += first_row
    return CellGraph(solid, index, distance, first, second, first_row)
