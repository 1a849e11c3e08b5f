"""Which islands lie over, inside or beside others? Looked up on a coarse grid of surface cells.

Every island is sampled evenly by area and the samples are put into cells of 1/64 of the height
(smaller ones for the head).
Running an "is there anything further out" sweep along the six directions over those cells tells,
for any two sets of islands, how much of one is covered by the other: a skirt covers the legs from
all sides, a cloak the back from behind, and teeth lie inside the head.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["CELL", "LayerGrid", "layer_grid"]

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
class LayerGrid:
    """The samples of all islands, in cells."""

    cells: IntArray
    """(s, 3) cell of every sample."""
    island: IntArray
    """(s,) island of every sample."""
    face: IntArray
    """(s,) triangle of every sample."""
    points: FloatArray
    """(s, 3) the samples themselves, working frame."""
    cell: float
    """Edge of a cell, fraction of height."""
    shape: tuple[int, int, int]
    origin: FloatArray
    """(3,) low corner of cell (0, 0, 0), working frame."""

    def occupied(self, islands: IntArray | list[int]) -> BoolGrid:
        """Cells that a set of islands passes through."""
        grid = np.zeros(self.shape, dtype=bool)
        mine = self.cells[np.isin(self.island, islands)]
        grid[mine[:, 0], mine[:, 1], mine[:, 2]] = True
        return grid

    def covered(self, inner: IntArray | list[int], outer: BoolGrid) -> NDArray[np.int64]:
        """(k, 6) per cell of `inner`: does `outer` lie further out along -x, +x, -y, ..., +z?"""
        mine = np.nonzero(self.occupied(inner))
        columns = []
        for axis in range(3):
            rising = np.logical_or.accumulate(outer, axis=axis)
            falling = np.flip(np.logical_or.accumulate(np.flip(outer, axis), axis=axis), axis)
            for sweep, step in ((rising, -1), (falling, 1)):
                at = [m.copy() for m in mine]
                at[axis] = at[axis] + step
                inside = (at[axis] >= 0) & (at[axis] < self.shape[axis])
                at[axis] = np.clip(at[axis], 0, self.shape[axis] - 1)
                columns.append(sweep[at[0], at[1], at[2]] & inside)
        return np.stack(columns, axis=1).astype(np.int64)

    def main_share(self, islands: IntArray | list[int]) -> float:
        """Share of the cells of a set of islands that hang together (gaps of two cells bridged)."""
        grid = self.occupied(islands)
        thick = ndimage.binary_dilation(grid, np.ones((3, 3, 3), dtype=bool))
        label, count = ndimage.label(thick, np.ones((3, 3, 3)))
        if count <= 1:
            return float(count)
        sizes = np.bincount(label[grid])
        return float(sizes.max() / sizes.sum())

    def reach(self, islands: IntArray | list[int]) -> tuple[FloatArray, FloatArray]:
        """Low and high corner of the box of a set of islands, working frame, to a cell."""
        mine = self.cells[np.isin(self.island, islands)]
        if len(mine) == 0:
            return np.zeros(3), np.zeros(3)
        return (
            self.origin + mine.min(axis=0) * self.cell,
            self.origin + (mine.max(axis=0) + 1) * self.cell,
        )


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
