"""Which islands lie over, inside or beside others? Looked up on a coarse grid of surface cells.

Every island is sampled evenly by area and the samples are put into cells of 1/64 of the height
(smaller ones for the head).
Running an "is there anything further out" sweep along the six directions over those cells tells,
for any two sets of islands, how much of one is covered by the other: a skirt covers the legs from
all sides, a cloak the back from behind, and teeth lie inside the head.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = [
    "CELL",
    "Columns",
    "LayerGrid",
    "columns",
    "layer_grid",
    "shell_grid",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolGrid = NDArray[np.bool_]

CELL = 1.0 / 64.0
"""Edge of a cell, fraction of height: thinner than a wrist, thick enough that the samples of a
surface leave no holes."""
SAMPLES_PER_CELL = 4.0
"""Surface samples on an area of one cell's face."""
MOST_SAMPLES = 200_000


@dataclass(frozen=True)
class Columns:
    """Where a set of cells begins and ends along x, y and z, column by column."""

    shape: tuple[int, ...]
    """Of the grid."""
    first: tuple[IntArray, IntArray, IntArray]
    """Per axis the first cell of every column across it; behind the grid where there is none."""
    last: tuple[IntArray, IntArray, IntArray]
    """The last cell; -1 where there is none."""

    def beyond(self, axis: int, sign: int) -> BoolGrid:
        """Cells of the grid from which one of the set lies farther along an axis' direction, or in
        the same place."""
        ends = np.expand_dims((self.last if sign > 0 else self.first)[axis], axis)
        at = np.arange(self.shape[axis]).reshape([-1 if k == axis else 1 for k in range(3)])
        return np.asarray(at <= ends if sign > 0 else at >= ends)


def columns(cells: BoolGrid) -> Columns:
    """The columns of a (nx, ny, nz) grid; once for a set that many others are held against."""
    first, last = [], []
    for axis, size in enumerate(cells.shape):
        met = cells.any(axis=axis)
        first.append(np.where(met, cells.argmax(axis=axis), size))
        end = size - 1 - np.flip(cells, axis).argmax(axis=axis)
        last.append(np.where(met, end, -1))
    return Columns(cells.shape, (first[0], first[1], first[2]), (last[0], last[1], last[2]))


@dataclass(frozen=True)
class LayerGrid:
    """The samples of all islands, in cells; samples of one island stand together."""

    cells: IntArray
    """(s, 3) cell of every sample."""
    island: IntArray
    """(s,) island of every sample, ascending."""
    face: IntArray
    """(s,) triangle of every sample."""
    points: FloatArray
    """(s, 3) the samples themselves, working frame."""
    cell: float
    """Edge of a cell, fraction of height."""
    shape: tuple[int, int, int]
    origin: FloatArray
    """(3,) low corner of cell (0, 0, 0), working frame."""

    def of(self, islands: Sequence[int]) -> IntArray:
        """Indices of the samples of a set of islands."""
        wanted = np.array(sorted(islands), dtype=np.int64)
        starts = np.searchsorted(self.island, wanted, side="left")
        ends = np.searchsorted(self.island, wanted, side="right")
        spans = [np.arange(a, b) for a, b in zip(starts, ends, strict=True)]
        return np.concatenate(spans) if spans else np.zeros(0, dtype=np.int64)

    @cached_property
    def _taken(self) -> dict[int, IntArray]:
        """Per island the cells that it passes through, flat and ascending."""
        flat = np.ravel_multi_index(tuple(self.cells.T), self.shape)
        starts = np.flatnonzero(np.diff(self.island, prepend=-1))
        spans = np.split(flat, starts[1:])
        return {int(self.island[a]): np.unique(span) for a, span in zip(starts, spans, strict=True)}

    def occupied(self, islands: Sequence[int]) -> BoolGrid:
        """Cells that a set of islands passes through."""
        grid = np.zeros(self.shape, dtype=bool)
        for island in islands:
            grid.reshape(-1)[self._taken.get(island, [])] = True
        return grid

    def covered(self, inner: Sequence[int], outer: BoolGrid | Columns) -> NDArray[np.bool_]:
        """(k, 6) per cell of `inner`: does `outer` lie further out along -x, +x, -y, ..., +z?"""
        ends = outer if isinstance(outer, Columns) else columns(outer)
        if len(inner) == 1:
            flat = self._taken.get(inner[0], np.zeros(0, dtype=np.int64))
        else:
            flat = np.flatnonzero(self.occupied(inner))
        mine = np.unravel_index(flat, self.shape)
        found = []
        for axis in range(3):
            across = tuple(m for i, m in enumerate(mine) if i != axis)
            found += [ends.first[axis][across] < mine[axis], ends.last[axis][across] > mine[axis]]
        return np.stack(found, axis=1)

    def main_share(self, islands: Sequence[int]) -> float:
        """Share of the surface of a set of islands that hangs together.

        Only a gap of less than a cell is bridged: between a shirt and the legs below it there is
        as little as three cells.
        """
        cells = self.cells[self.of(islands)]
        grid = np.zeros(cells.max(axis=0) + 1, dtype=bool)
        grid[tuple(cells.T)] = True
        label, count = ndimage.label(grid, np.ones((3, 3, 3)))
        if count <= 1:
            return float(count)
        sizes = np.bincount(label[grid])
        return float(sizes.max() / sizes.sum())

    def reach(self, islands: Sequence[int]) -> tuple[FloatArray, FloatArray]:
        """Low and high corner of the box of a set of islands, working frame."""
        points = self.points[self.of(islands)]
        return points.min(axis=0), points.max(axis=0)


def shell_grid(corners: FloatArray, cell: float) -> LayerGrid:
    """Sample triangles (m, 3, 3) of one surface, island 0, into cells of an edge."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return layer_grid(corners, area, np.zeros(len(corners), dtype=np.int64), cell)


def layer_grid(
    corners: FloatArray, area: FloatArray, label: IntArray, cell: float = CELL
) -> LayerGrid:
    """Sample triangles (m, 3, 3) of area (m,) and island (m,) into cells; working frame."""
    wanted = area * SAMPLES_PER_CELL / cell**2
    total = float(wanted.sum())
    if total > MOST_SAMPLES:
        wanted *= MOST_SAMPLES / total
    # at least one sample a triangle's share of the running sum; small triangles share samples,
    # within their own island only, so that no island goes without
    order = np.argsort(label, kind="stable")
    running = np.cumsum(wanted[order])
    before = np.floor(running - wanted[order])
    count = (np.floor(running) - before).astype(np.int64)
    first = np.concatenate(([0], np.flatnonzero(np.diff(label[order])) + 1))
    count[first] = np.maximum(count[first], 1)
    face = np.repeat(order, count)
    rank = np.arange(len(face)) - np.repeat(np.cumsum(count) - count, count)
    # additive recurrence with the plastic number fills each triangle evenly
    s = ((rank + 1) * 0.7548776662466927) % 1.0
    t = ((rank + 1) * 0.5698402909980532) % 1.0
    over = s + t > 1.0
    s, t = np.where(over, 1 - s, s), np.where(over, 1 - t, t)
    a, b, c = corners[face, 0], corners[face, 1], corners[face, 2]
    points = a + s[:, None] * (b - a) + t[:, None] * (c - a)
    origin = points.min(axis=0) - 2 * cell
    cells = np.floor((points - origin) / cell).astype(np.int64)
    nx, ny, nz = (int(n) for n in cells.max(axis=0) + 3)
    return LayerGrid(cells, label[face], face, points, cell, (nx, ny, nz), origin)
