"""Triangles to pixels: a small software rasteriser for orthographic views, in plain numpy.

Every triangle is cut into its pixel rows and every row into its pixels, in flat arrays. A pixel's
depth and face make one whole number, the key: the least key is what is nearest to the eye, and
the sum of the keys of leaving surfaces less those of entering ones is how much solid lies behind
the pixel (the face's few low bits do not count).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

__all__ = ["Layers", "rasterise"]

FloatArray = NDArray[np.float64]
SmallArray = NDArray[np.float32]
IntArray = NDArray[np.int64]

FACE_BITS, DEPTH_BITS = 24, 36
"""A key holds the face below and the depth above; sums of keys have room for 8 times the span."""
FACE_MASK = (1 << FACE_BITS) - 1
DEPTH_UNIT = float(1 << DEPTH_BITS)
"""The span from the nearest to the farthest vertex, in steps of depth."""
FACES_AT_ONCE = 200_000
"""Triangles looked at in one go; bounds the memory for a mesh of millions (from memory)."""
PIXELS_AT_ONCE = 100_000
"""Pixels expanded in one go: what stays in a processor's cache. Measured on one machine, a view
of 1.4 million pixels took half the time that it took in one piece."""
NOTHING = np.iinfo(np.int64).max
"""Key of a pixel that no triangle covers."""


CUT = -1
"""Face index of a pixel where the eye's plane cuts through the solid."""


@dataclass(frozen=True)
class Layers:
    """What an orthographic eye sees, for the covered pixels only, row by row."""

    width: int
    height: int
    """Size of the whole picture."""
    rows: IntArray
    """(k,) row of each covered pixel."""
    columns: IntArray
    """(k,) column of each covered pixel."""
    face: IntArray
    """(k,) index of the nearest face; CUT where the solid was cut open."""
    depth: SmallArray
    """(k,) depth of the nearest surface, same units as the depths given."""
    thickness: SmallArray
    """(k,) depth of solid along the ray, summed over all crossings, same units; 0 at least."""

    @cached_property
    def pixels(self) -> IntArray:
        """(k,) flat index (row * width + column) of each covered pixel, rising."""
        return self.rows * self.width + self.columns


@dataclass(frozen=True)
class _Buffers:
    """What the chunks of faces are added to: a window of the picture."""

    width: int
    height: int
    cut: int | None
    """Key of the cut."""
    keys: IntArray
    solid: IntArray
    """Keys of leaving surfaces less those of entering ones."""
    leaving: NDArray[np.bool_]
    """True for faces whose inner side is toward the eye."""


def rasterise(
    screen: FloatArray,
    depth: FloatArray,
    faces: IntArray,
    width: int,
    height: int,
    cut: float | None = None,
) -> Layers:
    """Nearest surface and solid thickness at the centre of every pixel.

    screen: (n, 2) vertices in pixels, x to the right, y down, (0, 0) the corner of the picture.
    depth: (n,) distance from the eye, any zero. faces: (m, 3) indices; a counter-clockwise
    triangle as the eye sees it is taken as entering the solid, a clockwise one as leaving it.
    Parts outside the picture are cut off. A pixel belongs to a triangle that holds its centre;
    shared edges are counted once. With `cut`, all that is nearer than that depth is taken away,
    and where that lays the inside of the solid open, a flat face is seen. For this the solid need
    not be closed before the cut.
    """
    if len(faces) >= FACE_MASK:
        raise ValueError(f"{len(faces)} faces are more than the picture can tell apart")
    nearest = float(depth.min()) if len(depth) else 0.0
    span = max(float(depth.max()) - nearest, 1e-30) if len(depth) else 1.0
    left, top, right, bottom = _window(screen, width, height)
    size = (right - left) * (bottom - top)
    cut_key = None
    if cut is not None:
        cut_key = round(min(max((cut - nearest) / span, 0.0), 1.0) * DEPTH_UNIT) << FACE_BITS
    into = _Buffers(
        width=right - left,
        height=bottom - top,
        cut=cut_key,
        keys=np.full(size, NOTHING, dtype=np.int64),
        solid=np.zeros(size, dtype=np.int64),
        leaving=np.zeros(len(faces), dtype=bool),
    )
    corners = [
        (screen[:, 0] - left).astype(np.float32),
        (screen[:, 1] - top).astype(np.float32),
        ((depth - nearest) / span).astype(np.float32),
    ]
    for start in range(0, len(faces), FACES_AT_ONCE):
        _add(corners, faces[start : start + FACES_AT_ONCE], start, into)
    pixels = np.flatnonzero(into.keys != NOTHING)
    found = into.keys.take(pixels)
    solid = into.solid.take(pixels)
    face = found & FACE_MASK
    if cut_key is not None:
        # who looks at the inner side of a surface stands inside the solid
        laid_open = into.leaving[face]
        face[laid_open] = CUT
        found[laid_open] = cut_key
        solid[laid_open] -= cut_key
    # the pixels rise, so each row is one run of them
    row_starts = np.arange(into.height + 1) * into.width
    in_row = np.diff(np.searchsorted(pixels, row_starts))
    unit = np.float32(span / DEPTH_UNIT)
    return Layers(
        width=width,
        height=height,
        rows=np.repeat(np.arange(top, bottom), in_row),
        columns=pixels - np.repeat(row_starts[:-1] - left, in_row),
        face=face,
        depth=(found >> FACE_BITS).astype(np.float32) * unit + np.float32(nearest),
        thickness=np.maximum((solid >> FACE_BITS).astype(np.float32), 0) * unit,
    )


def _window(screen: FloatArray, width: int, height: int) -> tuple[int, int, int, int]:
    """Left, top, right and bottom of the part of the picture that the vertices can cover."""
    if not len(screen):
        return 0, 0, 0, 0
    x, y = screen.T
    left, right = np.clip([np.floor(x.min()), np.ceil(x.max())], 0, width)
    top, bottom = np.clip([np.floor(y.min()), np.ceil(y.max())], 0, height)
    return int(left), int(top), int(right), int(bottom)


def _add(corners: list[SmallArray], faces: IntArray, first: int, into: _Buffers) -> None:
    """Rasterise one chunk of faces, the first of which has the index `first`."""
    width, height = into.width, into.height
    # columns rather than (m, 3) rows: numpy is slow along short last axes
    x, y, z = ([values.take(corner) for corner in faces.T] for values in corners)
    low_x, high_x = np.minimum(np.minimum(*x[:2]), x[2]), np.maximum(np.maximum(*x[:2]), x[2])
    low_y, high_y = np.minimum(np.minimum(*y[:2]), y[2]), np.maximum(np.maximum(*y[:2]), y[2])
    top = np.ceil(np.maximum(low_y, 0.0) - 0.5).astype(np.int64).clip(0)
    bottom = np.ceil(np.minimum(high_y, height) - 0.5).astype(np.int64)
    # a triangle between two pixel centres, or beside the picture, covers nothing
    wide = np.ceil(high_x - 0.5) > np.ceil(low_x - 0.5)
    kept = (bottom > top) & wide & (high_x > 0) & (low_x < width)
    area = (x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0])
    # y runs down, so a triangle that is counter-clockwise to the eye has a negative area here
    for sign, chosen in ((-1, kept & (area < 0)), (1, kept & (area > 0))):
        keep = np.flatnonzero(chosen)
        into.leaving[keep + first] = sign > 0
        work = np.cumsum(0.5 * np.abs(area[keep]) + 4.0 * (bottom - top)[keep])
        pieces = np.arange(PIXELS_AT_ONCE, float(work[-1]) if len(work) else 0, PIXELS_AT_ONCE)
        for part in np.split(keep, np.searchsorted(work, pieces)):
            if len(part):
                _add_one_way(
                    [[values.take(part) for values in axis] for axis in (x, y, z)],
                    area[part],
                    top[part],
                    bottom[part],
                    part + first,
                    sign,
                    into,
                )


def _add_one_way(
    corners: list[list[SmallArray]],
    area: SmallArray,
    top: IntArray,
    bottom: IntArray,
    index: IntArray,
    sign: int,
    into: _Buffers,
) -> None:
    """Rasterise triangles that all enter the solid (sign -1) or all leave it (sign 1)."""
    x, y, z = corners
    ax, ay, az = x[1] - x[0], y[1] - y[0], z[1] - z[0]
    bx, by, bz = x[2] - x[0], y[2] - y[0], z[2] - z[0]
    slope_x = (az * by - bz * ay) / area
    slope_y = (ax * bz - bx * az) / area
    for first, second in ((0, 1), (1, 2), (0, 1)):
        swap = y[first] > y[second]
        for axis in corners:
            axis[first], axis[second] = (
                np.where(swap, axis[second], axis[first]),
                np.where(swap, axis[first], axis[second]),
            )
    run_long, run_upper, run_lower = (
        (x[end] - x[begin]) / np.maximum(y[end] - y[begin], np.float32(1e-12))
        for begin, end in ((0, 2), (0, 1), (1, 2))
    )

    rows = bottom - top
    triangle = np.repeat(np.arange(len(rows)), rows)
    row = np.arange(len(triangle)) - np.repeat(np.cumsum(rows) - rows - top, rows)
    centre = row.astype(np.float32) + np.float32(0.5)
    long_edge = x[0][triangle] + run_long[triangle] * (centre - y[0][triangle])
    below = centre - y[1][triangle]
    # both short edges meet in the middle corner
    run_short = np.where(below < 0, run_upper[triangle], run_lower[triangle])
    short_edge = x[1][triangle] + run_short * below
    left = np.minimum(long_edge, short_edge)
    right = np.maximum(long_edge, short_edge)
    begin = np.ceil(np.maximum(left, 0.0) - 0.5).astype(np.int64).clip(0)
    end = np.ceil(np.minimum(right, into.width) - 0.5).astype(np.int64)
    used = np.flatnonzero(end > begin)
    if not len(used):
        return
    triangle, row, below = triangle[used], row[used], below[used]
    begin, count = begin[used], (end - begin)[used]
    from_middle = begin.astype(np.float32) + np.float32(0.5) - x[1][triangle]
    slope = slope_x[triangle]
    first_depth = z[1][triangle] + slope_y[triangle] * below + slope * from_middle
    last_depth = first_depth + slope * (count - 1).astype(np.float32)
    # edge-on triangles have wild slopes; a depth outside the mesh would hide all else
    np.clip(first_depth, 0.0, 1.0, out=first_depth)
    np.clip(last_depth, 0.0, 1.0, out=last_depth)
    start_steps = (first_depth.astype(np.float64) * DEPTH_UNIT).astype(np.int64)
    run_steps = (last_depth.astype(np.float64) * DEPTH_UNIT).astype(np.int64) - start_steps
    step_steps = run_steps // np.maximum(count - 1, 1)

    # Every pixel and key is the one before it plus a step, but for the leap to the next run; a
    # running sum makes them in half the time that repeating each run's start took.
    after = np.cumsum(count)
    heads = after[:-1]
    first = row * into.width + begin
    pixel = np.ones(int(after[-1]), dtype=np.int64)
    pixel[0] = first[0]
    pixel[heads] = first[1:] - (first[:-1] + count[:-1] - 1)
    np.cumsum(pixel, out=pixel)
    key_step = step_steps << FACE_BITS
    key_first = (start_steps << FACE_BITS) | index[triangle]
    key = np.repeat(key_step, count)
    key[0] = key_first[0]
    key[heads] = key_first[1:] - (key_first[:-1] + key_step[:-1] * (count[:-1] - 1))
    np.cumsum(key, out=key)
    if into.cut is not None:
        kept = key >= into.cut
        pixel, key = pixel[kept], key[kept]
    np.minimum.at(into.keys, pixel, key)
    if sign > 0:
        np.add.at(into.solid, pixel, key)
    else:
        np.subtract.at(into.solid, pixel, key)
