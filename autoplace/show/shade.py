"""The character as a transparent wash: studio shading, depth of flesh, outlines.

The picture is made at twice the size and brought down, so its edges are smooth. It is a
multiplier: white where nothing is, so that it can be laid over paper and rules.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.show import palette
from autoplace.show.raster import Layers, rasterise

__all__ = ["Surface", "corner_normals", "multiply", "wash"]

FloatArray = NDArray[np.float64]
SmallArray = NDArray[np.float32]
IntArray = NDArray[np.int64]
Picture = NDArray[np.uint8]

OVERSAMPLE = 2
"""Pixels rendered per pixel shown, each way."""
TONES, DEPTHS = 256, 64
"""Steps of the colour table."""
FLESH = 0.10
"""Depth of solid, in heights, at which the wash reaches 63 percent: about a thigh (from memory)."""
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

    def near(self, points: FloatArray, reach: float, rivals: FloatArray | None = None) -> Surface:
        """Only the faces with their middle within `reach` of the points (k, 3).

        Faces that lie nearer to one of the `rivals` (r, 3) are left out too.
        """
        if not len(self.faces) or not len(points):
            return Surface(self.vertices, self.faces[:0], self.normals)
        low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
        middle = self.vertices[self.faces].mean(axis=1)
        chosen = np.flatnonzero(((middle >= low) & (middle <= high)).all(axis=1))
        gap = _nearest_square(middle[chosen], points)
        keep = gap <= reach**2
        if rivals is not None and len(rivals):
            keep &= gap <= _nearest_square(middle[chosen], rivals)
        return Surface(self.vertices, self.faces[chosen[keep]], self.normals)


def _nearest_square(spots: FloatArray, points: FloatArray) -> FloatArray:
    """(n,) squared distance of each spot (n, 3) to the nearest of the points (k, 3)."""
    gap = np.full(len(spots), np.inf)
    for point in points:
        gap = np.minimum(gap, ((spots - point) ** 2).sum(axis=1))
    return gap


def corner_normals(vertices: FloatArray, faces: IntArray) -> SmallArray:
    """(n, 3) unit normals, area-weighted over the faces at each place (seams are joined)."""
    if not len(faces):
        return np.zeros((len(vertices), 3), dtype=np.float32)
    a, b, c = (vertices[faces[:, i]] for i in range(3))
    across = np.cross(b - a, c - a)
    size = float(np.ptp(vertices, axis=0).max()) or 1.0
    # vertices that share a place (to a millionth of the size) share their normal
    cells = np.round((vertices - vertices.min(axis=0)) / size * 1e6).astype(np.int64)
    place = np.unique(cells @ np.array([1, 1 << 21, 1 << 42]), return_inverse=True)[1]
    count = int(place.max()) + 1
    total = np.empty((count, 3))
    for axis in range(3):
        total[:, axis] = np.bincount(
            place[faces].ravel(), weights=np.repeat(across[:, axis], 3), minlength=count
        )
    length = np.linalg.norm(total, axis=1, keepdims=True)
    unit = total / np.maximum(length, 1e-30)
    result: SmallArray = unit[place].astype(np.float32)
    return result


def wash(
    layers: tuple[tuple[Surface, str], ...],
    axes: FloatArray,
    middle: FloatArray,
    scale: float,
    width: int,
    height: int,
) -> Picture:
    """(height, width, 3) multiplier picture of surfaces seen along one direction.

    layers: surfaces with what they are: 'body', 'veil' (hair, garments) or 'eye'; painted in
    that order. axes: (3, 3) unit rows: right, up and toward the eye, in the working frame.
    middle: (2,) right and up coordinate at the picture's centre. scale: pixels per height.
    """
    big = OVERSAMPLE
    wide, high = width * big, height * big
    picture = np.full((high * wide, 3), 255, dtype=np.uint8)
    body_depth: SmallArray | None = None
    for surface, kind in layers:
        if not len(surface.faces):
            continue
        seen = surface.vertices @ axes.T
        screen = np.column_stack(
            [
                (seen[:, 0] - middle[0]) * scale * big + wide / 2,
                (middle[1] - seen[:, 1]) * scale * big + high / 2,
            ]
        )
        view = rasterise(screen, -seen[:, 2], surface.faces, wide, high)
        if not len(view.pixels):
            continue
        tone = _tone(view, surface, screen, axes)
        line = _outline(view, scale * big)
        if kind == "eye":
            _paint_eye(picture, view, tone, line)
            continue
        colours = _table(kind)[
            (tone * (TONES - 1)).astype(np.int64) * DEPTHS
            + ((1 - np.exp(view.thickness * np.float32(-1 / FLESH))) * (DEPTHS - 1)).astype(
                np.int64
            )
        ]
        ink = np.array(palette.VEIL_LINE if kind == "veil" else palette.WASH_LINE, dtype=np.uint8)
        colours[line] = (colours[line].astype(np.uint16) + 2 * ink) // 3
        if kind == "veil":
            if body_depth is not None:
                behind = view.depth > body_depth[view.pixels]
                colours[behind] = 255 - (255 - colours[behind]) // 3
            colours = (picture[view.pixels].astype(np.uint16) * colours // np.uint16(255)).astype(
                np.uint8
            )
        else:
            body_depth = view.depth_image().ravel()
        picture[view.pixels] = colours
    return _shrink(picture.reshape(high, wide, 3), big)


def _tone(view: Layers, surface: Surface, screen: FloatArray, axes: FloatArray) -> SmallArray:
    """(k,) brightness 0 to 1 of each covered pixel, from the lamps and the slant of the surface."""
    seen = np.zeros(len(surface.faces), dtype=bool)
    seen[view.face] = True
    shown = np.flatnonzero(seen)
    place = (np.cumsum(seen) - 1)[view.face]
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
    bright = np.clip(0.10 + 0.74 * key + 0.20 * fill - 0.62 * slant**2.2, 0, 1)

    safe = np.where(area == 0, np.float32(1), area)
    az, bz = bright[:, 1] - bright[:, 0], bright[:, 2] - bright[:, 0]
    slope_x = np.where(area == 0, 0, (az * by - bz * ay) / safe).astype(np.float32)
    slope_y = np.where(area == 0, 0, (ax * bz - bx * az) / safe).astype(np.float32)
    start = bright[:, 0] - slope_x * at[:, 0, 0] - slope_y * at[:, 0, 1]
    row, column = np.divmod(view.pixels, view.width)
    tone = start[place] + slope_x[place] * (column + np.float32(0.5))
    tone += slope_y[place] * (row + np.float32(0.5))
    result: SmallArray = np.clip(tone, 0, 1).astype(np.float32)
    return result


def _outline(view: Layers, scale: float) -> NDArray[np.bool_]:
    """(k,) true for covered pixels next to the background or a jump in depth."""
    # 5 pixels: steeper than a slope of 80 degrees between two neighbours (common practice)
    jump = np.float32(max(5.0 / scale, 0.008))
    padded = np.full((view.height + 2) * (view.width + 2), np.inf, dtype=np.float32)
    row, column = np.divmod(view.pixels, view.width)
    stride = view.width + 2
    here = (row + 1) * stride + column + 1
    padded[here] = view.depth
    line = np.zeros(len(here), dtype=bool)
    for step in (1, -1, stride, -stride):
        # only the nearer side of a jump is inked, or every line would be doubled
        line |= padded[here + step] - view.depth > jump
    # a picture's border is no outline
    line &= (row > 0) & (column > 0) & (row < view.height - 1) & (column < view.width - 1)
    return line


def _table(kind: str) -> Picture:
    """(TONES * DEPTHS, 3) colours by brightness and depth of flesh."""
    light, dark = (
        (palette.VEIL_LIGHT, palette.VEIL_DARK)
        if kind == "veil"
        else (palette.WASH_LIGHT, palette.WASH_DARK)
    )
    tone = np.linspace(0, 1, TONES)[:, None, None]
    depth = np.linspace(0, 1, DEPTHS)[None, :, None]
    ink = np.array(dark) + (np.array(light) - np.array(dark)) * tone
    strength = (0.25 if kind == "veil" else 0.42) + (0.25 if kind == "veil" else 0.5) * depth
    table: Picture = (255 + (ink - 255) * strength).reshape(-1, 3).round().astype(np.uint8)
    return table


def _paint_eye(picture: Picture, view: Layers, tone: SmallArray, line: NDArray[np.bool_]) -> None:
    """Eyeballs shine through what covers them, with a line of their own."""
    ball = 205 + 50 * tone[:, None]
    under = picture[view.pixels].astype(np.float32)
    colours = under * 0.25 + ball * 0.75
    colours[line] = colours[line] * 0.25 + np.array(palette.EYE, dtype=np.float32) * 0.75
    picture[view.pixels] = colours.astype(np.uint8)


def _shrink(picture: Picture, factor: int) -> Picture:
    """The mean of each factor-by-factor block."""
    from PIL import Image

    small: Picture = np.array(Image.fromarray(picture).reduce(factor))
    return small


def multiply(page: Picture, left: int, top: int, picture: Picture) -> None:
    """Lay a multiplier picture on the page (in place) with its corner at (left, top)."""
    height, width = picture.shape[:2]
    part = page[top : top + height, left : left + width]
    part[:] = (part.astype(np.uint16) * picture[: part.shape[0], : part.shape[1]] + 127) // 255
