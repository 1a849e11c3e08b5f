"""Legs that all but touch: the gap between them is thinner than a body cell, or only a wall.

The body's own cells bridge such a gap, so that the trunk seems to reach down to where the legs part
for good, or the legs seem to be one. The middle plane is looked at again there in cells that are as
high, but much thinner, and the body's cells are opened where it is empty.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.solid import Solid, faces_about, fill_solid

__all__ = ["OPENED", "with_open_middle", "with_thin_gap"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

THINNER = 8.0
"""How many times as thin as a body cell the cells across the middle plane are."""
HIGHEST = 0.62
"""A crotch lies below this height, fraction of height: legs of a drawn figure take .6 of it."""
WHOLE = 0.97
"""Coverage in the middle plane from which nothing is bridged (common practice, no source)."""
TRUNK_ABOVE = 0.03
"""What is solid above the gap at least, fraction of height, to be a trunk and not a seam in halves
that stand a little apart (common practice, no source)."""
OPENED = 0.45
"""Coverage of a cell beside the gap: just empty, so that the skin stays where it was."""


def with_thin_gap(solid: Solid, vertices: FloatArray, faces: IntArray) -> Solid:
    """The body with the gap between its legs opened, if the cells bridge one.

    Args:
        solid: the body's cells, working frame; a plane between two columns is the middle.
        vertices: (n, 3) of the body, working frame. faces: (m, 3) triangles, facing outward.

    Returns:
        The same solid where nothing is bridged. The gap's uppermost row is left as it was, so that
        a gap just thicker than a cell and one just thinner give nearly the same.
    """
    thickest = _middle_columns(solid).min(axis=0).max(axis=1)
    filled = thickest > 0.5
    y = solid.origin[1] + np.arange(len(filled)) * solid.cell
    thin = vertices * [THINNER, 1.0, 1.0]
    bridged = filled & (thickest < WHOLE)
    if (
        not (bridged[2:] & bridged[1:-1] & bridged[:-2]).any()
        and not _walls(thin, faces, y, solid.cell).any()
    ):
        return solid
    gap = _thin_gap(solid, y, thin, faces, filled)
    gap[:-1] &= gap[1:]
    opened = gap & filled
    if not opened.any():
        return solid
    return with_open_middle(solid, opened)


def with_open_middle(solid: Solid, opened: BoolArray) -> Solid:
    """The body with the cells on both sides of its middle plane emptied where `opened` (ny, nz)."""
    coverage = solid.coverage.copy()
    column = _column(solid)
    beside = coverage[column : column + 2, opened]
    coverage[column : column + 2, opened] = np.minimum(beside, np.float32(OPENED))
    return replace(solid, coverage=coverage)


def _column(solid: Solid) -> int:
    """The column of cells before the middle plane."""
    return int(np.clip(-solid.origin[0] / solid.cell, 0, solid.coverage.shape[0] - 2))


def _middle_columns(solid: Solid) -> NDArray[np.float32]:
    """(2, ny, nz) coverage on both sides of the middle plane."""
    column = _column(solid)
    return solid.coverage[column : column + 2]


def _thin_gap(
    solid: Solid, y: FloatArray, thin: FloatArray, faces: IntArray, filled: BoolArray
) -> BoolArray:
    """(n,) rows of the body's cells where its middle plane is empty, or a wall, under a trunk.

    `thin` are the vertices (n, 3), spread out across the middle plane; `filled` (n,) are the rows
    that the cells fill. A gap reaches down to where these are empty too, or to the floor: what ends
    in the flesh is a fold."""
    cell = solid.cell
    back = float(solid.origin[2])
    lower = np.array([-cell, y[0], back])
    upper = np.array([cell, HIGHEST + TRUNK_ABOVE, back + solid.coverage.shape[2] * cell])
    about = faces_about(thin, faces, lower - 3.0 * cell, upper + 3.0 * cell)[0]
    rows = np.zeros(len(y), dtype=bool)
    if not len(about) or y[0] > HIGHEST:
        return rows
    slab = fill_solid(thin, about, cell, lower, upper)
    middle = _middle_columns(slab).min(axis=0).max(axis=1) > 0.5
    at = slab.origin[1] + np.arange(len(middle)) * cell
    middle &= ~_walls(thin, about, at, cell)
    trunk = round(TRUNK_ABOVE / cell)
    for end in np.flatnonzero(middle[1:] & ~middle[:-1]) + 1:
        if at[end] > HIGHEST or not middle[end : end + trunk].all():
            continue
        begin = end
        while begin > 0 and not middle[begin - 1]:
            begin -= 1
        found = (y > at[begin] - 0.5 * cell) & (y < at[end] - 0.5 * cell)
        if begin == 0 or not filled[found].all():
            rows |= found
    return rows


def _walls(thin: FloatArray, faces: IntArray, at: FloatArray, cell: float) -> BoolArray:
    """(n,) heights at which walls lie in the middle plane itself, as where two boxes touch."""
    flat = faces[(np.abs(thin[:, 0]) < 0.5 * cell)[faces].all(axis=1)]
    low, high = thin[:, 1][flat].min(axis=1), thin[:, 1][flat].max(axis=1)
    inside = (at[:, None] > low) & (at[:, None] < high)
    return np.asarray(inside.any(axis=1))
