"""Triangles to pixels: a small software rasteriser for orthographic views, in plain numpy.

Every triangle is cut into its pixel rows and every row into its pixels, in flat arrays; one
`minimum.at` over (depth, face) keys then keeps what is nearest the eye, and one `add.at` over
signed depths gives how much solid lies behind each pixel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Layers", "rasterise"]

FloatArray = NDArray[np.float64]
SmallArray = NDArray[np.float32]
IntArray = NDArray[np.int64]

DEPTH_STEPS = 1 << 24
"""Depth is kept in this many steps between the nearest and the farthest vertex: what a float32
tells apart."""
FACES_AT_ONCE = 60_000
"""Triangles expanded in one go; bounds the memory for a mesh of millions (common practice, no
source)."""
NOTHING = np.iinfo(np.int64).max
"""Key of a pixel that no triangle covers."""


@dataclass(frozen=True)
class Layers:
    """What an orthographic eye sees, for the covered pixels only."""

    width: int
    height: int
    pixels: IntArray
    """(k,) flat indices (row * width + column) of the covered pixels, rising."""
    face: IntArray
    """(k,) index of the nearest face."""
    depth: SmallArray
    """(k,) depth of the nearest surface, same units as the depths given."""
    thickness: SmallArray
    """(k,) depth of solid along the ray, summed over all crossings, same units; 0 at least."""
    span: float
    """Depth from the nearest to the farthest vertex."""

    def depth_image(self) -> SmallArray:
        """(height, width) nearest depth, infinite where nothing is covered."""
        image = np.full(self.width * self.height, np.inf, dtype=np.float32)
        image[self.pixels] = self.depth
        return image.reshape(self.height, self.width)

    def mask(self) -> NDArray[np.bool_]:
        """(height, width) true where something is covered."""
        image = np.zeros(self.width * self.height, dtype=bool)
        image[self.pixels] = True
        return image.reshape(self.height, self.width)


def rasterise(
    screen: FloatArray, depth: FloatArray, faces: IntArray, width: int, height: int
) -> Layers:
    """Nearest surface and solid thickness at the centre of every pixel.

    screen: (n, 2) vertices in pixels, x to the right, y down, (0, 0) the corner of the picture.
    depth: (n,) distance from the eye, any zero. faces: (m, 3) indices; a counter-clockwise
    triangle as the eye sees it is taken as entering the solid, a clockwise one as leaving it.
    Parts outside the picture are cut off. A pixel belongs to a triangle that holds its centre;
    shared edges are counted once.
    """
    keys = np.full(width * height, NOTHING, dtype=np.int64)
    solid = np.zeros(width * height, dtype=np.float32)
    nearest = float(depth.min()) if len(depth) else 0.0
    span = max(float(depth.max()) - nearest, 1e-30) if len(depth) else 1.0
    points = np.column_stack([screen, (depth - nearest) / span]).astype(np.float32)
    for start in range(0, len(faces), FACES_AT_ONCE):
        _add(points, faces[start : start + FACES_AT_ONCE], start, width, height, keys, solid)
    pixels = np.flatnonzero(keys != NOTHING)
    found = keys[pixels]
    return Layers(
        width=width,
        height=height,
        pixels=pixels,
        face=found & 0xFFFFFFFF,
        depth=((found >> 32).astype(np.float32) * (span / DEPTH_STEPS) + nearest).astype(
            np.float32
        ),
        thickness=np.maximum(solid[pixels] * np.float32(span), 0.0),
        span=span,
    )


def _add(
    points: SmallArray,
    faces: IntArray,
    first: int,
    width: int,
    height: int,
    keys: IntArray,
    solid: SmallArray,
) -> None:
    """Rasterise one chunk of faces into `keys` and `solid` (both changed in place)."""
    # columns rather than (m, 3) rows: numpy is slow along short last axes
    x, y, z = ([points[faces[:, i], axis] for i in range(3)] for axis in range(3))
    low_x, high_x = np.minimum(np.minimum(*x[:2]), x[2]), np.maximum(np.maximum(*x[:2]), x[2])
    low_y, high_y = np.minimum(np.minimum(*y[:2]), y[2]), np.maximum(np.maximum(*y[:2]), y[2])
    top = np.ceil(np.maximum(low_y, 0.0) - 0.5).astype(np.int64).clip(0)
    bottom = np.ceil(np.minimum(high_y, height) - 0.5).astype(np.int64)
    # a triangle between two pixel centres, or beside the picture, covers nothing
    wide = np.ceil(high_x - 0.5) > np.ceil(low_x - 0.5)
    keep = np.flatnonzero((bottom > top) & wide & (high_x > 0) & (low_x < width))
    if not len(keep):
        return
    top, rows = top[keep], (bottom - top)[keep]
    x, y, z = ([values[keep] for values in axis] for axis in (x, y, z))
    ax, ay, az = x[1] - x[0], y[1] - y[0], z[1] - z[0]
    bx, by, bz = x[2] - x[0], y[2] - y[0], z[2] - z[0]
    area = ax * by - bx * ay
    safe = np.where(area == 0.0, np.float32(1.0), area)
    slope_x = np.where(area == 0.0, 0.0, (az * by - bz * ay) / safe).astype(np.float32)
    slope_y = np.where(area == 0.0, 0.0, (ax * bz - bx * az) / safe).astype(np.float32)
    # y runs down, so a triangle that is counter-clockwise to the eye has a negative area here
    sign = np.sign(area).astype(np.float32)

    for first_corner, second in ((0, 1), (1, 2), (0, 1)):
        swap = y[first_corner] > y[second]
        for axis in (x, y, z):
            axis[first_corner], axis[second] = (
                np.where(swap, axis[second], axis[first_corner]),
                np.where(swap, axis[first_corner], axis[second]),
            )
    run_long, run_upper, run_lower = (
        (x[end] - x[begin]) / np.maximum(y[end] - y[begin], np.float32(1e-12))
        for begin, end in ((0, 2), (0, 1), (1, 2))
    )

    triangle = np.repeat(np.arange(len(keep)), rows)
    row = np.arange(len(triangle)) - np.repeat(np.cumsum(rows) - rows - top, rows)
    centre = row.astype(np.float32) + np.float32(0.5)
    long_edge = x[0][triangle] + run_long[triangle] * (centre - y[0][triangle])
    upper = centre < y[1][triangle]
    run_short = np.where(upper, run_upper[triangle], run_lower[triangle])
    # both short edges meet in the middle corner
    short_edge = x[1][triangle] + run_short * (centre - y[1][triangle])
    left = np.minimum(long_edge, short_edge)
    right = np.maximum(long_edge, short_edge)
    begin = np.ceil(np.maximum(left, 0.0) - 0.5).astype(np.int64).clip(0)
    end = np.ceil(np.minimum(right, width) - 0.5).astype(np.int64)
    used = np.flatnonzero(end > begin)
    if not len(used):
        return
    triangle, row, centre = triangle[used], row[used], centre[used]
    begin, count = begin[used], (end - begin)[used]
    at_begin = (
        z[0][triangle]
        + slope_x[triangle] * (begin.astype(np.float32) + np.float32(0.5) - x[0][triangle])
        + slope_y[triangle] * (centre - y[0][triangle])
    )

    run_start = np.cumsum(count) - count
    step = np.arange(int(count.sum())) - np.repeat(run_start, count)
    pixel = np.repeat(row * width + begin, count) + step
    z_pixel = np.repeat(slope_x[triangle], count) * step.astype(np.float32)
    z_pixel += np.repeat(at_begin, count)
    # edge-on triangles have wild slopes; a depth outside the mesh would hide all else
    np.clip(z_pixel, 0.0, 1.0, out=z_pixel)
    key = (z_pixel * np.float32(DEPTH_STEPS)).astype(np.int64) << 32
    key |= np.repeat(keep[triangle] + first, count)
    np.minimum.at(keys, pixel, key)
    np.add.at(solid, pixel, z_pixel * np.repeat(sign[triangle], count))
