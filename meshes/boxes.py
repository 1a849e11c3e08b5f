"""Surfaces as modelled by hand: loops of a few points joined by strips, boxes, sheets.

A `Net` is built point by point. Loops run counter-clockwise about the direction in which they are
joined, so that the strips between them face outward. While a net's `mirror` is set, what is added
is the mirror image at x = 0 of what is given.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Net", "Way", "loop", "unit"]

FloatArray = NDArray[np.float64]
Ids = list[int]
_FLIP = np.array([-1.0, 1.0, 1.0])


def unit(vector: ArrayLike) -> FloatArray:
    """The vector at length one."""
    found = np.asarray(vector, dtype=float)
    return np.asarray(found / np.linalg.norm(found))


@dataclass(frozen=True)
class Way:
    """A frame to draw loops in: they lie across `ahead`, and their angles begin at `first`."""

    at: FloatArray
    ahead: FloatArray
    first: FloatArray

    def across(self) -> tuple[FloatArray, FloatArray]:
        """Unit directions of the angles 0 and 90 degrees, at right angles to `ahead`."""
        ahead = unit(self.ahead)
        first = unit(self.first - (self.first @ ahead) * ahead)
        return first, np.cross(ahead, first)


def loop(
    way: Way, half_first: float, half_second: float, angles: ArrayLike, square: float = 2.0
) -> FloatArray:
    """(n, 3) points at `angles` (degrees) of a superellipse: 2 is round, 8 nearly a box."""
    first, second = way.across()
    a = np.radians(np.asarray(angles, dtype=float))
    c, s = np.cos(a), np.sin(a)
    reach = (np.abs(c) ** square + np.abs(s) ** square) ** (-1.0 / square)
    return (
        way.at + np.outer(half_first * reach * c, first) + np.outer(half_second * reach * s, second)
    )


@dataclass
class Net:
    """Points and the polygons between them."""

    points: list[FloatArray] = field(default_factory=list)
    polygons: list[tuple[int, ...]] = field(default_factory=list)
    mirror: bool = False

    def ring(self, points: Iterable[ArrayLike]) -> Ids:
        """Ids of points put in."""
        start = len(self.points)
        for point in points:
            placed = np.asarray(point, dtype=float)
            self.points.append(placed * _FLIP if self.mirror else placed)
        return list(range(start, len(self.points)))

    def polygon(self, ids: Sequence[int]) -> None:
        """One polygon, counter-clockwise as seen from outside."""
        self.polygons.append(tuple(reversed(ids)) if self.mirror else tuple(ids))

    def strip(self, a: Ids, b: Ids, without: Iterable[int] = ()) -> None:
        """Quads from loop `a` ahead to loop `b` of as many points, but for some columns."""
        gone, n = set(without), len(a)
        for k in range(n):
            if k not in gone:
                m = (k + 1) % n
                self.polygon((a[k], a[m], b[m], b[k]))

    def bridge(self, a: Ids, b: Ids) -> None:
        """Triangles from loop `a` ahead to loop `b` of another number of points."""
        if len(a) == len(b):
            return self.strip(a, b)
        i = j = 0
        while i < len(a) or j < len(b):
            if j == len(b) or (i < len(a) and (i + 1) * len(b) <= (j + 1) * len(a)):
                self.polygon((a[i % len(a)], a[(i + 1) % len(a)], b[j % len(b)]))
                i += 1
            else:
                self.polygon((a[i % len(a)], b[(j + 1) % len(b)], b[j % len(b)]))
                j += 1
        return None

    def cap(self, ids: Ids, at_start: bool = False) -> None:
        """The loop closed by one polygon."""
        self.polygon(ids[::-1] if at_start else ids)

    def loft(self, loops: Sequence[ArrayLike], start: bool = True, end: bool = True) -> list[Ids]:
        """Loops of equal number joined in their order, with or without caps."""
        rings = [self.ring(np.asarray(points)) for points in loops]
        for a, b in pairwise(rings):
            self.strip(a, b)
        if start:
            self.cap(rings[0], at_start=True)
        if end:
            self.cap(rings[-1])
        return rings

    def rod(
        self,
        line: ArrayLike,
        radii: Sequence[float],
        first: FloatArray,
        sides: int = 5,
        ways: Sequence[FloatArray] | None = None,
    ) -> None:
        """A round rod along the points of a line (n, 3), with a radius at each; it lies across
        `ways`, unsaid the line's own direction, and its angles begin at `first`."""
        at = np.asarray(line, dtype=float)
        last = len(at) - 1
        if ways is None:
            ways = [at[min(k + 1, last)] - at[max(k - 1, 0)] for k in range(len(at))]
        angles = np.arange(sides) * 360.0 / sides
        self.loft(
            [
                loop(Way(one, way, first), r, r, angles)
                for one, way, r in zip(at, ways, radii, strict=True)
            ]
        )

    def box(self, centre: ArrayLike, axes: ArrayLike, half: ArrayLike, taper: float = 1.0) -> None:
        """A box; `axes` (3, 3) are unit rows, and its end along the third is as
        wide as `taper`."""
        middle, frame, size = (np.asarray(a, dtype=float) for a in (centre, axes, half))
        if np.linalg.det(frame) < 0:
            frame = frame * np.array([[-1.0], [1.0], [1.0]])
        loops = []
        for along, scale in ((-1.0, 1.0), (1.0, taper)):
            way = Way(middle + along * size[2] * frame[2], frame[2], frame[0])
            loops.append(
                loop(way, scale * size[0], scale * size[1], (45, 135, 225, 315), square=64.0)
            )
        self.loft(loops)

    def sheet(self, grid: ArrayLike, both: bool = False) -> None:
        """Quads through a (rows, columns, 3) grid, of one layer, or of two back to back."""
        table = np.asarray(grid, dtype=float)
        for back in (False, True) if both else (False,):
            rows = [self.ring(row) for row in table]
            for a, b in pairwise(rows):
                for k in range(len(a) - 1):
                    quad = (a[k], b[k], b[k + 1], a[k + 1])
                    self.polygon(quad[::-1] if back else quad)

    def ball(self, way: Way, radii: ArrayLike, rings: int, columns: int) -> None:
        """A globe of rings and columns about `ahead`; radii along first, second and ahead."""
        a, b, c = np.asarray(radii, dtype=float)
        loops = []
        for turn in np.linspace(-90.0, 90.0, rings + 2)[1:-1]:
            high, out = np.sin(np.radians(turn)), np.cos(np.radians(turn))
            at = Way(way.at + high * c * unit(way.ahead), way.ahead, way.first)
            loops.append(loop(at, a * out, b * out, np.arange(columns) * 360.0 / columns))
        self.loft(loops)

    def triangles(self) -> tuple[FloatArray, NDArray[np.int64]]:
        """Vertices (n, 3) and triangles (m, 3); each polygon is a fan from its first point,
        and points of no polygon are left out."""
        faces = [
            (poly[0], poly[k], poly[k + 1])
            for poly in self.polygons
            for k in range(1, len(poly) - 1)
        ]
        used, rows = np.unique(np.array(faces, dtype=np.int64), return_inverse=True)
        return np.array(self.points)[used], rows.reshape(-1, 3)
