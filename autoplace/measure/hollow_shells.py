"""The hollows of a figure whose shells are walls: what they enclose belongs to it.

The covers of a machine, and armour without a body in it, are modelled with an outer and an inner
side. Their walls are thinner than a cell, so that the solid holds crumbs of them and nothing else.
A cell is in a hollow if the surface passes it on all six sides. Between arm and trunk it does not,
nor between legs; but under a skirt it does, where feet stand out below: what reaches across the
middle and below half the height is left as it is.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.solid import Solid
from autoplace.mesh.layers import columns, shell_grid

__all__ = ["with_hollows"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

COARSE = 2.5
"""Edge of the cells in which it is first looked for hollows, in cells of the solid: quick, and
fine enough for a thigh (common practice, no source)."""
HOLLOW = 0.05
"""Hollows from this share of the solid on are those of shells: a figure in one skin, or in closed
pieces, has none, a fold of its clothes or a fist a small one (common practice, no source)."""
SKIRT = 0.5
"""Below this height a hollow across the middle may be a skirt's: an adult's hips are at .53 of the
height (Drillis & Contini in Winter 2009), and legs part below them."""
WALL = 0.51
"""Coverage of a cell that a wall around a hollow passes: it lies in the cell's middle on the whole,
and must hold the hollow."""


def with_hollows(solid: Solid, vertices: FloatArray, faces: IntArray) -> Solid:
    """The solid with what thin shells enclose; the solid itself where there is little of that.

    Args:
        solid: the body's cells, working frame, height = 1. vertices: (n, 3), faces: (m, 3) its
            surface.
    """
    corners = vertices[faces]
    middle, _ = _hollows(solid, corners, COARSE * solid.cell)
    if len(middle) * COARSE**3 < HOLLOW * solid.inside.sum():
        return solid
    middle, walls = _hollows(solid, corners, solid.cell)
    if not len(middle):
        return solid
    hollow = np.zeros(solid.coverage.shape, dtype=bool)
    hollow[solid.index_of(middle)] = True
    wall = np.zeros_like(hollow)
    wall[solid.index_of(walls)] = True
    wall &= ndimage.binary_dilation(hollow, np.ones((3, 3, 3)))
    coverage = np.where(wall, np.maximum(solid.coverage, WALL), solid.coverage)
    coverage[hollow] = 1.0
    return replace(solid, coverage=coverage.astype(np.float32), shells=True)


def _hollows(solid: Solid, corners: FloatArray, cell: float) -> tuple[FloatArray, FloatArray]:
    """Middles of the cells of an edge that are enclosed but not filled, (k, 3), and of those that
    the surface passes, (w, 3)."""
    grid = shell_grid(corners, cell)
    shell = grid.occupied([0])
    walls, enclosed = columns(shell), ~shell
    for axis in range(3):
        enclosed &= walls.beyond(axis, -1) & walls.beyond(axis, 1)
    label, _ = ndimage.label(enclosed)
    low = grid.origin + 0.5 * cell
    for number, box in enumerate(ndimage.find_objects(label), start=1):
        ends = [(low[k] + box[k].start * cell, low[k] + (box[k].stop - 1) * cell) for k in (0, 1)]
        if ends[0][0] < 0.0 < ends[0][1] and ends[1][0] < SKIRT:
            enclosed[label == number] = False
    middle = low + np.argwhere(enclosed) * cell
    return middle[solid.sample(middle) <= 0.5], low + np.argwhere(shell) * cell
