"""The character as a transparent wash: studio shading, depth of flesh, outlines.

The picture is made at twice the size and brought down, so its edges are smooth. It is a
multiplier: white where nothing is, so that it can be laid over paper and rules.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from autoplace.show import palette
from autoplace.show.raster import Layers, rasterise

__all__ = ["Surface", "multiply", "wash"]

FloatArray = NDArray[np.float64]
SmallArray = NDArray[np.float32]
IntArray = NDArray[np.int64]
Picture = NDArray[np.uint8]
Packed = NDArray[np.uint32]

OVERSAMPLE = 2
"""Pixels rendered per pixel shown, each way."""
TONES, DEPTHS = 256, 64
"""Steps of the colour table."""
CUT_TONE = 0.72
"""Brightness of a cut surface: flat, a little below lit skin (common practice, no source)."""
FLESH = 0.18
"""Depth of solid, in heights, at which the wash reaches 63 percent: two thighs (from memory)."""
KEY_LIGHT = (-0.45, 0.60, 0.66)
FILL_LIGHT = (0.75, 0.10, 0.40)
"""Where the lamps stand: right, up and toward the eye (common practice, no source)."""


@dataclass(frozen=True)
class Surface:
    """Triangles ready to be drawn, in the working frame (height 1)."""

    vertices: FloatArray
    """(n, 3)"""
    faces: IntArray
    """(m, 3)"""
    normals: SmallArray
    """(n, 3) unit vertex normals, outward where the faces wind outward."""

    seams: IntArray
    """(n,) number of the place of each vertex; vertices that share a place share the number."""

    @staticmethod
    def of(vertices: FloatArray, faces: IntArray) -> Surface:
        """A surface from vertices (n, 3) and triangles (m, 3) alone.

        Normals are weighted by area over the faces at each place, so that seams do not show.
        """
        if not len(faces):
            nothing = np.zeros((len(vertices), 3), dtype=np.float32)
            return Surface(vertices, faces, nothing, np.arange(len(vertices)))
        size = float(np.ptp(vertices, axis=0).max()) or 1.0
        # to a millionth of the size
        cells = np.round((vertices - vertices.min(axis=0)) / size * 1e6).astype(np.int64)
        place = np.unique(cells @ np.array([1, 1 << 21, 1 << 42]), return_inverse=True)[1]
        a, b, c = (vertices[faces[:, i]] for i in range(3))
        across = np.cross(b - a, c - a)
        corners = place[faces].ravel()
        total = np.stack(
            [np.bincount(corners, weights=np.repeat(across[:, i], 3)) for i in range(3)], axis=1
        )
        length = np.linalg.norm(total, axis=1, keepdims=True)
        unit = (total / np.maximum(length, 1e-30)).astype(np.float32)
        # a place that no face uses has no normal, and needs none
        unit = np.concatenate([unit, np.zeros((int(place.max()) + 1 - len(unit), 3), unit.dtype)])
        return Surface(vertices, faces, unit[place], place.astype(np.int64))

    @cached_property
    def middles(self) -> FloatArray:
        """(m, 3) middle of each face."""
        a, b, c = (self.vertices[self.faces[:, i]] for i in range(3))
        middle: FloatArray = (a + b + c) / 3
        return middle

    def only(self, chosen: IntArray) -> Surface:
        """The chosen faces with the vertices they use."""
        faces = self.faces[chosen]
        used = np.zeros(len(self.vertices), dtype=bool)
        used[faces.ravel()] = True
        number = np.cumsum(used) - 1
        kept = np.flatnonzero(used)
        return Surface(self.vertices[kept], number[faces], self.normals[kept], self.seams[kept])


def wash(
    layers: tuple[tuple[Surface, str], ...],
    axes: FloatArray,
    middle: FloatArray,
    scale: float,
    width: int,
    height: int,
    cut: float | None = None,
) -> Picture:
    """(height, width, 3) multiplier picture of surfaces seen along one direction.

    layers: surfaces with what they are: 'body', 'veil' (hair, garments) or 'eye'; painted in
    that order. axes: (3, 3) unit rows: right, up and toward the eye, in the working frame.
    middle: (2,) right and up coordinate at the picture's centre. scale: pixels per height.
    cut: how far toward the eye the solid is kept; what is nearer is cut away.
    """
    wide, high = width * OVERSAMPLE, height * OVERSAMPLE
    # one packed word per pixel (red, green, blue, nothing) moves faster than three bytes
    picture = np.full(high * wide, 0xFFFFFFFF, dtype=np.uint32)
    body: Layers | None = None
    for surface, kind in layers:
        if not len(surface.faces):
            continue
        seen = surface.vertices @ axes.T
        screen = np.column_stack(
            [
                (seen[:, 0] - middle[0]) * scale * OVERSAMPLE + wide / 2,
                (middle[1] - seen[:, 1]) * scale * OVERSAMPLE + high / 2,
            ]
        )
        ahead = None if cut is None else -cut
        view = rasterise(screen, -seen[:, 2], surface.faces, wide, high, ahead)
        if not len(view.pixels):
            continue
        tone = _tone(view, surface, screen, axes)
        line = _outline(view, scale * OVERSAMPLE)
        if kind == "eye":
            _paint_eye(picture, view, tone, line)
            continue
        depth = np.float32(1) - np.exp(view.thickness * np.float32(-1 / FLESH))
        entry = (tone * np.float32(TONES - 1)).astype(np.intp) * DEPTHS
        entry += (depth * np.float32(DEPTHS - 1)).astype(np.intp)
        entry += line * (TONES * DEPTHS)
        colours = np.take(_table(kind), entry)
        if kind == "veil":
            _lay_veil(picture, view, colours, body)
        else:
            body = view
            picture[view.pixels] = colours
    return _shrink(picture.reshape(high, wide))


def _tone(view: Layers, surface: Surface, screen: FloatArray, axes: FloatArray) -> SmallArray:
    """(k,) brightness 0 to 1 of each covered pixel, from the lamps and the slant of the surface."""
    seen = np.zeros(len(surface.faces) + 1, dtype=bool)
    # the last entry is where CUT points
    seen[view.face] = True
    shown = np.flatnonzero(seen[:-1])
    # the last place is for pixels of a cut, where no face is
    number = np.append(np.cumsum(seen[:-1]) - 1, len(shown))
    place = number[view.face] if seen[-1] else number.take(view.face)
    corners = surface.faces[shown]
    at = screen[corners].astype(np.float32)
    ax, ay = at[:, 1, 0] - at[:, 0, 0], at[:, 1, 1] - at[:, 0, 1]
    bx, by = at[:, 2, 0] - at[:, 0, 0], at[:, 2, 1] - at[:, 0, 1]
    area = ax * by - bx * ay
    # a face seen from its inner side is lit as if it were turned round
    turned = np.where(area > 0, np.float32(-1), np.float32(1))
    normal = surface.normals[corners] @ axes.T.astype(np.float32) * turned[:, None, None]
    lamp = [np.array(v, dtype=np.float32) for v in (KEY_LIGHT, FILL_LIGHT)]
    lamp = [v / np.linalg.norm(v) for v in lamp]
    key = np.clip(0.45 + 0.55 * (normal @ lamp[0]), 0, 1)
    fill = np.clip(normal @ lamp[1], 0, 1)
    slant = 1 - np.clip(normal[:, :, 2], 0, 1)
    bright = np.clip(0.08 + 0.78 * key + 0.16 * fill - 0.74 * slant**2, 0, 1)

    safe = np.where(area == 0, np.float32(1), area)
    az, bz = bright[:, 1] - bright[:, 0], bright[:, 2] - bright[:, 0]
    slope_x = np.where(area == 0, 0, (az * by - bz * ay) / safe).astype(np.float32)
    slope_y = np.where(area == 0, 0, (ax * bz - bx * az) / safe).astype(np.float32)
    start = bright[:, 0] - slope_x * at[:, 0, 0] - slope_y * at[:, 0, 1]
    start = np.append(start, np.float32(CUT_TONE))
    slope_x, slope_y = np.append(slope_x, np.float32(0)), np.append(slope_y, np.float32(0))
    tone = start.take(place)
    tone += slope_x.take(place) * (view.columns.astype(np.float32) + np.float32(0.5))
    tone += slope_y.take(place) * (view.rows.astype(np.float32) + np.float32(0.5))
    result: SmallArray = np.clip(tone, 0, 1, out=tone)
    return result


def _outline(view: Layers, scale: float) -> NDArray[np.bool_]:
    """(k,) true for covered pixels next to the background or a jump in depth."""
    # 5 pixels: steeper than a slope of 80 degrees between two neighbours (common practice)
    jump = np.float32(max(5.0 / scale, 0.008))
    if not len(view.rows):
        return np.zeros(0, dtype=bool)
    # only the covered window, one pixel wider all round, so that every neighbour exists
    row = view.rows - (int(view.rows[0]) - 1)
    column = view.columns - (int(view.columns.min()) - 1)
    stride = int(column.max()) + 2
    depth = np.full((int(row[-1]) + 2) * stride, np.inf, dtype=np.float32)
    here = row * stride + column
    depth[here] = view.depth
    # the whole window at a stroke: slices go many times faster than pixels picked out
    whole = depth.reshape(-1, stride)
    limit = whole[1:-1, 1:-1] + jump
    # only the nearer side of a jump is inked, or every line would be doubled
    jumps = whole[1:-1, 2:] > limit
    for beside in (whole[1:-1, :-2], whole[2:, 1:-1], whole[:-2, 1:-1]):
        jumps |= beside > limit
    edges = np.zeros(whole.shape, dtype=bool)
    edges[1:-1, 1:-1] = jumps
    line = edges.ravel().take(here)
    # a picture's border is no outline
    line &= (view.rows > 0) & (view.rows < view.height - 1)
    line &= (view.columns > 0) & (view.columns < view.width - 1)
    return line


@lru_cache(maxsize=4)
def _table(kind: str) -> Packed:
    """Packed colours by brightness and depth of flesh; in the second half those of outlines."""
    veil = kind == "veil"
    light = palette.VEIL_LIGHT if veil else palette.WASH_LIGHT
    dark = palette.VEIL_DARK if veil else palette.WASH_DARK
    line = np.array(palette.VEIL_LINE if veil else palette.WASH_LINE)
    tone = np.linspace(0, 1, TONES)[:, None, None]
    depth = np.linspace(0, 1, DEPTHS)[None, :, None]
    ink = np.array(dark) + (np.array(light) - np.array(dark)) * tone
    least, most = (0.25, 0.50) if veil else (0.42, 0.92)
    fill = 255 + (ink - 255) * (least + (most - least) * depth)
    return _pack(np.concatenate([fill.reshape(-1, 3), (fill + 2 * line).reshape(-1, 3) / 3]))


def _lay_veil(picture: Packed, view: Layers, colours: Packed, body: Layers | None) -> None:
    """Multiply the veil over what is there, more weakly where it lies behind the body."""
    ink = _unpack(colours)
    if body is not None:
        ground = np.full(picture.shape, np.inf, dtype=np.float32)
        ground[body.pixels] = body.depth
        behind = view.depth > ground[view.pixels]
        ink[behind] = 255 - (255 - ink[behind]) / 3
    picture[view.pixels] = _pack(_unpack(picture[view.pixels]) * ink / 255)


def _paint_eye(picture: Packed, view: Layers, tone: SmallArray, line: NDArray[np.bool_]) -> None:
    """Eyeballs shine through what covers them, with a line of their own."""
    colours = _unpack(picture[view.pixels]) * 0.25 + (205 + 50 * tone[:, None]) * 0.75
    colours[line] = colours[line] * 0.25 + np.array(palette.EYE, dtype=np.float32) * 0.75
    picture[view.pixels] = _pack(colours)


def _pack(colours: NDArray[np.floating]) -> Packed:
    """(k, 3) colours from 0 to 255 as one word each."""
    red, green, blue = (colours[:, i].round().astype(np.uint32) for i in range(3))
    packed: Packed = red | (green << np.uint32(8)) | (blue << np.uint32(16)) | np.uint32(0xFF000000)
    return packed


def _unpack(packed: Packed) -> SmallArray:
    """Words as (k, 3) colours from 0 to 255."""
    shifts = np.array([0, 8, 16], dtype=np.uint32)
    colours: SmallArray = ((packed[:, None] >> shifts) & np.uint32(255)).astype(np.float32)
    return colours


def _shrink(picture: Packed) -> Picture:
    """The mean of each block of pixels, as (height, width, 3) bytes."""
    from PIL import Image

    high, wide = picture.shape
    # the words' low byte comes first on every machine, whatever its own order
    words = np.ascontiguousarray(picture.astype("<u4", copy=False))
    image = Image.frombuffer("RGBX", (wide, high), words, "raw", "RGBX", 0, 1)
    small: Picture = np.array(image.reduce(OVERSAMPLE).convert("RGB"))
    return small


def multiply(page: Picture, left: int, top: int, picture: Picture) -> None:
    """Lay a multiplier picture on the page (in place) with its corner at (left, top)."""
    height, width = picture.shape[:2]
    part = page[top : top + height, left : left + width]
    part[:] = (part.astype(np.uint16) * picture[: part.shape[0], : part.shape[1]] + 127) // 255
