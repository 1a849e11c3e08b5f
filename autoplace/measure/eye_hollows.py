"""Where do eyes belong in a face without eyeballs? In the hollows beside the bridge of the nose.

The face is seen from ahead as a map of depth. Closing it with a disc as wide as an eye's socket
lays a skin from brow to cheek and nose; what lies under that skin is hollow: a shaped socket, the
hollow about a shaped lid, or an opening that was cut for the eye. Both sides must show it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.not_found import NotFound

__all__ = ["EyeHollows", "find_eye_hollows"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CELLS = 56
"""Cells over the height of the head: a socket is ten wide."""
SOCKET = 0.07
"""Radius of the disc, of the head height: the opening of the lids is 30 mm wide and the orbit 40 mm
(from memory), .13 to .175 of a head of 228 mm. Of .07, .10 and .15 it found the eyes of the even
members of the invented family best."""
DEEPEST = 0.08
"""Of the head height: what is deeper is an opening, and counts no more."""
SHOWS = 0.006
"""Of the head height: hollows of less than 1.4 mm on an adult's head are a trait of the mesh (own
synthetic heads: a smooth ball has none, nine in ten with shaped sockets or lids have more)."""
LEVEL, LEVEL_SD = 0.475, 0.06
"""Height of the eyes in the head: half, +- .023 (ANSUR2; references section 6), lower on a child's
or a cartoon's (common practice, no source)."""
ASIDE, ASIDE_SD = 0.21, 0.045
"""Distance of an eye from the middle over the head's breadth: .2075 +- .011 (ANSUR2; references
section 6), and more for a cartoon's large eyes (common practice, no source)."""
BREADTH = 0.675
"""Breadth of a head over its height (ANSUR2; references section 6)."""
AROUND = 0.11
"""Of the head height: hollow this near to the deepest belongs to the eye."""
BEHIND = 0.45
"""Of the head height: what lies so far behind the middle of the face is no part of it."""


@dataclass(frozen=True)
class EyeHollows:
    """Two hollows in mirror, working frame."""

    left: FloatArray
    """(3,) middle of the hollow, on the skin that closes it."""
    right: FloatArray
    depth: float
    """Under that skin, fraction of the head's height; a tenth of what lies about is deeper."""
    score: float = 0.0
    """Depth in the units of the surface, less where eyes are unlikely: compares boxes."""


def find_eye_hollows(
    vertices: FloatArray, faces: IntArray, low: FloatArray, high: FloatArray
) -> EyeHollows | NotFound:
    """Both eyes' hollows in a face, or why there are none.

    Args:
        vertices: (n, 3), faces: (m, 3): the skin, working frame.
        low, high: (3,) corners of the head's box from chin to crown, ears left out.
    """
    size = float(high[1] - low[1])
    if size <= 0.0:
        return NotFound("eye hollows", "the head is too small to have a face")
    cell = size / CELLS
    middle = 0.5 * float(low[0] + high[0])
    reach = 0.5 * float(high[0] - low[0]) + 3 * cell
    columns = 2 * int(np.ceil(reach / cell)) + 1
    depth = _depth_map(vertices, faces, (middle, float(low[1])), cell, (CELLS, columns))
    seen = np.isfinite(depth)
    if seen.mean() < 0.2:
        return NotFound("eye hollows", "no face was seen from ahead")
    rows, half = slice(int(0.3 * CELLS), int(0.7 * CELLS)), columns // 2
    bridge = depth[rows, half][seen[rows, half]]
    if not len(bridge):
        return NotFound("eye hollows", "no face was seen from ahead")
    floor = float(np.median(bridge)) - BEHIND * size
    # single cells without a surface are gaps of the map, not of the face
    z = np.maximum(np.where(seen, depth, -np.inf), floor)
    z = np.where(seen, z, ndimage.grey_closing(z, size=3))
    skin = _closed(z, SOCKET * size / cell)
    hollow = np.clip((skin - z) / size, 0.0, DEEPEST)
    hollow[skin < floor + 0.1 * size] = 0.0
    both = np.minimum(hollow, hollow[:, ::-1])
    row, column = np.mgrid[0:CELLS, 0:columns]
    level = (row + 0.5) / CELLS
    aside = (column - half) * cell
    # hair may make the head seem broader than it is
    breadths = {min(float(high[0] - low[0]), share * size) for share in (BREADTH, np.inf)}
    likely = np.max(
        [np.exp(-0.5 * ((aside / breadth - ASIDE) / ASIDE_SD) ** 2) for breadth in breadths], axis=0
    )
    likely = likely * np.exp(-0.5 * ((level - LEVEL) / LEVEL_SD) ** 2)
    score = ndimage.gaussian_filter(both, 0.04 * CELLS) * likely
    best = np.unravel_index(int(np.argmax(score)), score.shape)
    away = np.hypot(row - best[0], column - best[1]) / CELLS
    near = away < AROUND
    deepest = float(np.percentile(both[away < SOCKET], 90))
    if deepest < SHOWS:
        return NotFound("eye hollows", "the face shows no sockets or openings where eyes are")
    centres = []
    for turned, surface in ((hollow, skin), (hollow[:, ::-1], skin[:, ::-1])):
        weight = np.where(near, turned, 0.0) ** 2 * likely
        weight = weight / weight.sum()
        up = cell * float((weight * (row + 0.5)).sum())
        out = cell * float((weight * (column - half)).sum())
        centres.append((out, float(low[1]) + up, float((weight * surface).sum())))
    (left, *left_rest), (right, *right_rest) = centres
    return EyeHollows(
        np.array([middle + left, *left_rest]),
        np.array([middle - right, *right_rest]),
        deepest,
        float(score.max()) * size,
    )


def _closed(z: FloatArray, radius: float) -> FloatArray:
    """The map closed with a disc of a radius in cells; its border does not count as high."""
    reach = int(np.ceil(radius))
    across = np.arange(-reach, reach + 1)
    disc = across[:, None] ** 2 + across[None, :] ** 2 <= radius**2
    padded = np.pad(z, 2 * reach, constant_values=float(z.min()))
    closed = ndimage.grey_closing(padded, footprint=disc)
    return np.asarray(closed[2 * reach : -2 * reach, 2 * reach : -2 * reach])


def _depth_map(
    vertices: FloatArray,
    faces: IntArray,
    origin: tuple[float, float],
    cell: float,
    shape: tuple[int, int],
) -> FloatArray:
    """(rows, columns) greatest z in each cell, seen from ahead; minus infinity where nothing is.

    `origin` is the x of the middle column and the y of the lowest row's lower edge.
    """
    rows, columns = shape
    corners = vertices[faces]
    x = (corners[:, :, 0] - origin[0]) / cell + columns // 2 + 0.5
    y = (corners[:, :, 1] - origin[1]) / cell
    inside = (x.max(1) > 0) & (x.min(1) < columns) & (y.max(1) > 0) & (y.min(1) < rows)
    x, y, z = x[inside], y[inside], corners[inside, :, 2]
    # points on each triangle, closer than half a cell
    reach = np.maximum(np.ptp(x, axis=1), np.ptp(y, axis=1))
    steps = np.clip(np.ceil(2.0 * reach), 1, 4 * max(rows, columns)).astype(np.int64)
    depth = np.full(rows * columns, -np.inf)
    for step in np.unique(steps):
        mine = steps == step
        i, j = np.meshgrid(np.arange(step + 1), np.arange(step + 1), indexing="ij")
        kept = i + j <= step
        share = np.stack([i[kept], j[kept], step - i[kept] - j[kept]], axis=1) / step
        px, py, pz = (values[mine] @ share.T for values in (x, y, z))
        column, row = np.floor(px).astype(np.int64), np.floor(py).astype(np.int64)
        good = (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
        np.maximum.at(depth, row[good] * columns + column[good], pz[good])
    return depth.reshape(rows, columns)
