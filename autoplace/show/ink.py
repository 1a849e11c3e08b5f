"""Smooth shapes on a picture: lines, discs, rings and leaves, anti-aliased by signed distance.

Every shape is a distance in pixels from its outline; a pixel takes as much ink as the outline
leaves it (half of it at distance zero). Only the shape's own box is touched.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from autoplace.show.palette import Colour

__all__ = ["Band", "Box", "Ink"]

Box = tuple[float, float, float, float]
"""left, top, right, bottom in pixels."""
Point = tuple[float, float]
Picture = NDArray[np.uint8]
SmallArray = NDArray[np.float32]
Distance = Callable[[SmallArray, SmallArray], SmallArray]

SMALL = 1000
"""Pixels of a box below which looking for the touched ones costs more than it saves."""

ZERO, ONE = np.float32(0), np.float32(1)

Band = tuple[float, Colour, float]
"""Ink laid where the distance is below the first number, in a colour, with an alpha."""


class Ink:
    """Draws on a (height, width, 3) uint8 picture, in place, inside `clip`."""

    def __init__(self, picture: NDArray[np.uint8], clip: Box | None = None) -> None:
        """Draw on `picture`; `clip` is the box that no shape leaves (default: the picture)."""
        self.picture = picture
        height, width = picture.shape[:2]
        left, top, right, bottom = clip or (0, 0, width, height)
        self.clip = (
            max(int(left), 0),
            max(int(top), 0),
            min(int(right), width),
            min(int(bottom), height),
        )

    def inside(self, clip: Box) -> Ink:
        """The same picture with another clip box."""
        return Ink(self.picture, clip)

    def discs(self, centre: Point, bands: list[Band]) -> None:
        """Filled circles about one centre, laid one on another; a band's number is its radius."""
        x, y = centre
        reach = max(band[0] for band in bands)
        self._fill(
            (x - reach, y - reach, x + reach, y + reach),
            lambda px, py: np.sqrt((px - x) ** 2 + (py - y) ** 2),
            bands,
        )

    def disc(self, centre: Point, radius: float, colour: Colour, alpha: float = 1.0) -> None:
        """A filled circle."""
        self.discs(centre, [(radius, colour, alpha)])

    def ring(self, centre: Point, radius: float, bands: list[Band]) -> None:
        """Circle lines around `radius`; a band's number is half the line's width."""
        x, y = centre
        reach = radius + max(band[0] for band in bands)
        self._fill(
            (x - reach, y - reach, x + reach, y + reach),
            lambda px, py: np.abs(np.sqrt((px - x) ** 2 + (py - y) ** 2) - np.float32(radius)),
            bands,
        )

    def lozenge(self, centre: Point, bands: list[Band]) -> None:
        """Squares stood on a corner; a band's number is the distance from centre to corner."""
        x, y = centre
        reach = max(band[0] for band in bands)
        slant = np.float32(np.sqrt(0.5))
        self._fill(
            (x - reach, y - reach, x + reach, y + reach),
            lambda px, py: (np.abs(px - x) + np.abs(py - y)) * slant,
            [(size * float(slant), colour, alpha) for size, colour, alpha in bands],
        )

    def line(
        self, start: Point, end: Point, width: float, colour: Colour, alpha: float = 1.0
    ) -> None:
        """A straight line with round ends."""

        def distance(px: SmallArray, py: SmallArray) -> SmallArray:
            along, across = _along(px, py, start, end)
            length = np.float32(np.hypot(end[0] - start[0], end[1] - start[1]))
            over = along - np.clip(along, 0, length)
            gap: SmallArray = np.sqrt(over * over + across * across)
            return gap

        self._fill(_box_of((start, end), width / 2), distance, [(width / 2, colour, alpha)])

    def convex(self, corners: list[Point], bands: list[Band]) -> None:
        """A convex shape, corners in turn either way round; a band's number is how far it reaches
        beyond the outline (corners stay sharp)."""
        area = sum(
            a[0] * b[1] - a[1] * b[0]
            for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)
        )
        turn = corners if area > 0 else corners[::-1]

        def distance(px: SmallArray, py: SmallArray) -> SmallArray:
            gap = np.full(np.broadcast_shapes(px.shape, py.shape), -np.inf, dtype=np.float32)
            for start, end in zip(turn, [*turn[1:], turn[0]], strict=True):
                if np.hypot(end[0] - start[0], end[1] - start[1]) > 1e-6:
                    gap = np.maximum(gap, -_along(px, py, start, end)[1])
            return gap

        self._fill(_box_of(tuple(corners), max(band[0] for band in bands)), distance, bands)

    def leaf(
        self,
        start: Point,
        end: Point,
        half_width: float,
        bands: list[Band],
        vein: tuple[Colour, float] | None = None,
    ) -> None:
        """A willow leaf: full near `start`, running out to a thin tip at `end`.

        A band's number is how far it reaches beyond the leaf's outline, pixels (0 fills it).
        `vein` is the colour and alpha of a line along the leaf's fuller part.
        """
        length = np.float32(np.hypot(end[0] - start[0], end[1] - start[1]))
        if length < 1e-6:
            return
        lines: list[SmallArray] = []

        def distance(px: SmallArray, py: SmallArray) -> SmallArray:
            along, across = _along(px, py, start, end)
            across = np.abs(across)
            inside = np.minimum(np.maximum(along, ZERO), length)
            share = inside / length
            # sqrt(t) (1 - t), scaled to 1 at its top (t = 1/3)
            outline = np.float32(half_width * 2.598) * np.sqrt(share) * (1 - share)
            off = across - np.maximum(outline, np.float32(0.7))
            over = along - inside
            if vein is not None:
                beyond = np.abs(along - np.float32(0.37) * length) - np.float32(0.25) * length
                lines.append(np.maximum(across, beyond))
            gap: SmallArray = np.where(
                over == 0, off, np.sqrt(over * over + np.maximum(off, ZERO) ** 2)
            )
            return gap

        reach = half_width + max(band[0] for band in bands)
        box = _box_of((start, end), reach)
        self._fill(box, distance, bands)
        if vein is not None and lines:
            self._fill(box, lambda px, py: lines[0], [(half_width * 0.14, *vein)])

    def box(
        self, box: Box, radius: float, fill: Colour, line: Colour | None = None, width: float = 1.2
    ) -> None:
        """A filled box with rounded corners; a line of `width` runs inside its edge."""
        left, top, right, bottom = box
        x, y = (left + right) / 2, (top + bottom) / 2
        wide = np.float32((right - left) / 2 - radius)
        high = np.float32((bottom - top) / 2 - radius)
        bands: list[Band] = [(0.0, fill, 1.0)]
        if line is not None:
            bands = [(0.0, line, 1.0), (-width, fill, 1.0)]

        def distance(px: SmallArray, py: SmallArray) -> SmallArray:
            dx, dy = np.abs(px - x) - wide, np.abs(py - y) - high
            outside = np.sqrt(np.maximum(dx, ZERO) ** 2 + np.maximum(dy, ZERO) ** 2)
            gap: SmallArray = outside + np.minimum(np.maximum(dx, dy), ZERO) - np.float32(radius)
            return gap

        rim = int(np.ceil(radius + width)) + 2
        edge = int(np.ceil(width)) + 2
        if right - left <= 4 * rim or bottom - top <= 4 * rim:
            self._fill(box, distance, bands)
            return
        # only corners and edges need the distance; the rest of a large box is plain
        a, b = int(np.floor(left)), int(np.ceil(right))
        c, d = int(np.floor(top)), int(np.ceil(bottom))
        self._plain(a + rim, c + edge, b - rim, d - edge, fill)
        self._plain(a + edge, c + rim, b - edge, d - rim, fill)
        for piece in (
            (a, c, a + rim, c + rim),
            (b - rim, c, b, c + rim),
            (a, d - rim, a + rim, d),
            (b - rim, d - rim, b, d),
            (a + rim, c, b - rim, c + edge),
            (a + rim, d - edge, b - rim, d),
            (a, c + rim, a + edge, d - rim),
            (b - edge, c + rim, b, d - rim),
        ):
            self.inside(piece)._fill(piece, distance, bands)

    def _plain(self, left: int, top: int, right: int, bottom: int, colour: Colour) -> None:
        """One colour from edge to edge, without blending."""
        height, width = self.picture.shape[:2]
        left, right = max(left, 0), min(right, width)
        top, bottom = max(top, 0), min(bottom, height)
        if right > left and bottom > top:
            # a row copied as bytes is many times faster than three numbers spread out
            row = np.tile(np.array(colour, dtype=np.uint8), right - left)
            self.picture.reshape(height, -1)[top:bottom, 3 * left : 3 * right] = row

    def _fill(self, box: Box, distance: Distance, bands: list[Band]) -> None:
        """Blend each band's colour where `distance` is below its number, within the clip box."""
        left = max(int(np.floor(box[0])) - 1, self.clip[0])
        top = max(int(np.floor(box[1])) - 1, self.clip[1])
        right = min(int(np.ceil(box[2])) + 1, self.clip[2])
        bottom = min(int(np.ceil(box[3])) + 1, self.clip[3])
        if right <= left or bottom <= top:
            return
        px = np.arange(left, right, dtype=np.float32)[None, :] + np.float32(0.5)
        py = np.arange(top, bottom, dtype=np.float32)[:, None] + np.float32(0.5)
        gap = distance(px, py)
        part = self.picture[top:bottom, left:right]
        if gap.size > SMALL:
            touched = gap < np.float32(max(band[0] for band in bands) + 0.5)
            if 2 * np.count_nonzero(touched) < gap.size:
                # a slanting leaf leaves most of its box as it is
                there = np.nonzero(touched)
                part[there] = _blend(part[there], gap[there], bands)
                return
        part[:] = _blend(part, gap, bands)


def _blend(picture: Picture, gap: SmallArray, bands: list[Band]) -> SmallArray:
    """Pixels (..., 3) under each band's colour as far as their distance `gap` (...) is below it."""
    gap = gap[..., None]
    blend: SmallArray = picture.astype(np.float32)
    for edge, colour, alpha in bands:
        cover = np.minimum(np.maximum(np.float32(edge + 0.5) - gap, ZERO), ONE)
        if alpha != 1.0:
            cover *= np.float32(alpha)
        blend += (np.array(colour, dtype=np.float32) - blend) * cover
    blend += np.float32(0.5)
    return blend


def _along(
    px: SmallArray, py: SmallArray, start: Point, end: Point
) -> tuple[SmallArray, SmallArray]:
    """Coordinates along and across the line from `start` to `end`, in pixels."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = float(np.hypot(dx, dy)) or 1.0
    cosine, sine = np.float32(dx / length), np.float32(dy / length)
    x, y = px - np.float32(start[0]), py - np.float32(start[1])
    return x * cosine + y * sine, y * cosine - x * sine


def _box_of(points: tuple[Point, ...], margin: float) -> Box:
    """The box around points, with a margin."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs) - margin, min(ys) - margin, max(xs) + margin, max(ys) + margin
