"""Smooth implicit shapes put together: unions that flow, cuts, shells, mirror images, pleats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from .shapes import Array, Cull, HalfSpace, RoundCone, Shape, Vec, as_vec

__all__ = ["Blend", "Cut", "Grow", "Keep", "Mirror", "Wave", "slab", "spline", "tube"]

# A shape farther than 1.25 k from the surface cannot bend it in one blend; a few blends in a row
# sink the surface further, so shapes are asked for a little beyond that.
_REACH = 1.6


def _smooth_min(a: Array, b: Array, k: float) -> Array:
    """The smaller of two fields, rounded over a width k where they meet (quadratic blend)."""
    if k <= 0:
        return np.minimum(a, b)
    h = np.maximum(np.float32(k) - np.abs(a - b), 0)
    return np.asarray(np.minimum(a, b) - h * h * np.float32(0.25 / k), dtype=np.float32)


@dataclass
class Blend(Shape):
    """The union of `shapes`, rounded over the width `k` where they meet."""

    shapes: Sequence[Shape]
    k: float = 0.0

    def __post_init__(self) -> None:
        corners = [s.bounds() for s in self.shapes]
        self._lows = np.array([c[0] for c in corners])
        self._highs = np.array([c[1] for c in corners])
        self._memo: tuple[Array, float, Array | None] | None = None

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        near, inner = self.shapes, None
        if cull is not None:
            gap = np.maximum(self._lows - cull.centre, cull.centre - self._highs).clip(0)
            square = np.einsum("ij,ij->i", gap, gap)
            inner = cull.wider(_REACH * self.k)
            picked = np.flatnonzero(square < inner.radius * inner.radius)
            if len(picked) == 0:
                return None
            if len(picked) == 1:  # nothing here to blend with: no need to look further out
                return self.shapes[int(picked[0])].evaluate(p, cull)
            near = [self.shapes[int(i)] for i in picked]
            # skin and clothes ask for the same limb at the same points
            if self._memo is not None and self._memo[0] is p and self._memo[1] >= cull.radius:
                return self._memo[2]
        out: Array | None = None
        for shape in near:
            value = shape.evaluate(p, inner)
            if value is not None:
                out = value if out is None else _smooth_min(out, value, self.k)
        if cull is not None:
            self._memo = (p, cull.radius, out)
        return out

    def bounds(self) -> tuple[Vec, Vec]:
        # many shapes meeting in one place swell by more than the k / 4 of two
        return self._lows.min(axis=0) - self.k, self._highs.max(axis=0) + self.k


@dataclass
class Cut(Shape):
    """`shape` without `tool`, the new edge rounded over the width `k`."""

    shape: Shape
    tool: Shape
    k: float = 0.0

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        value = self.shape.evaluate(p, cull)
        if value is None:
            return None
        tool = self.tool.evaluate(p, None if cull is None else cull.wider(_REACH * self.k))
        return value if tool is None else -_smooth_min(-value, tool, self.k)

    def bounds(self) -> tuple[Vec, Vec]:
        return self.shape.bounds()


@dataclass
class Keep(Shape):
    """What `shape` and `window` have in common, the new edge rounded over the width `k`."""

    shape: Shape
    window: Shape
    k: float = 0.0

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        value = self.shape.evaluate(p, cull)
        if value is None:
            return None
        window = self.window.evaluate(p, None if cull is None else cull.wider(_REACH * self.k))
        return None if window is None else -_smooth_min(-value, -window, self.k)

    def bounds(self) -> tuple[Vec, Vec]:
        a, b = self.shape.bounds(), self.window.bounds()
        return np.maximum(a[0], b[0]), np.minimum(a[1], b[1])


@dataclass
class Grow(Shape):
    """`shape` made thicker by `by` all round (thinner where negative)."""

    shape: Shape
    by: float

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        wider = None if cull is None else cull.wider(max(self.by, 0.0) * 1.3)
        value = self.shape.evaluate(p, wider)
        return None if value is None else value - np.float32(self.by)

    def bounds(self) -> tuple[Vec, Vec]:
        low, high = self.shape.bounds()
        return low - max(self.by, 0) * 1.3, high + max(self.by, 0) * 1.3


@dataclass
class Mirror(Shape):
    """`shape` mirrored at the plane x = 0."""

    shape: Shape

    _memo: ClassVar[tuple[Array, Array] | None] = None

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        flip = np.array([-1, 1, 1], dtype=np.float32)
        other = None if cull is None else Cull(cull.centre * flip, cull.radius)
        if Mirror._memo is None or Mirror._memo[0] is not p:
            Mirror._memo = (p, p * flip)
        return self.shape.evaluate(Mirror._memo[1], other)

    def bounds(self) -> tuple[Vec, Vec]:
        low, high = self.shape.bounds()
        return np.array([-high[0], *low[1:]]), np.array([-low[0], *high[1:]])


@dataclass
class Wave(Shape):
    """`shape` with ridges that run along an axis: pleats in cloth, combed strands in hair.

    Seen along `axis` through `centre`, the surface rises and falls `count` times in a full turn.
    The height of the waves goes from `low` at `centre` to `high` at one `reach` along the axis.
    `twist` turns the ridges by so many radians on that way; `sharp` makes narrow furrows.
    """

    shape: Shape
    centre: Vec
    axis: Vec
    side: Vec
    count: int
    low: float
    high: float
    reach: float
    twist: float = 0.0
    sharp: bool = False

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        most = max(abs(self.low), abs(self.high))
        value = self.shape.evaluate(p, None if cull is None else cull.wider(1.5 * most))
        if value is None:
            return None
        q = p - self.centre.astype(np.float32)
        other = np.cross(self.axis, self.side)
        x, z = q @ self.side.astype(np.float32), q @ other.astype(np.float32)
        t = np.clip(q @ self.axis.astype(np.float32) / np.float32(self.reach), 0, 1)
        turn = np.arctan2(z, x) + t * np.float32(self.twist)
        if self.sharp:
            wave = 2 * np.sqrt(np.abs(np.cos(turn * np.float32(self.count / 2)))) - 1
        else:
            wave = np.cos(turn * np.float32(self.count))
        height = np.float32(self.low) + t * np.float32(self.high - self.low)
        return np.asarray(value - height * wave, dtype=np.float32)

    def bounds(self) -> tuple[Vec, Vec]:
        low, high = self.shape.bounds()
        most = 1.5 * max(abs(self.low), abs(self.high))
        return low - most, high + most


def slab(low: ArrayLike, high: ArrayLike, k: float = 0.0) -> Shape:
    """What lies between the two planes through `low` and `high`, square to the line between."""
    a, b = as_vec(low), as_vec(high)
    return Keep(HalfSpace(a, a - b), HalfSpace(b, b - a), k)


def spline(points: ArrayLike, count: int) -> Vec:
    """`count` points (count, D) along a smooth curve through the given points (N, D)."""
    from scipy.interpolate import CubicSpline

    given = as_vec(points)
    steps = np.linalg.norm(np.diff(given, axis=0), axis=1)
    at = np.concatenate([[0.0], np.cumsum(np.sqrt(steps))])
    return np.asarray(CubicSpline(at, given)(np.linspace(0.0, at[-1], count)))


def tube(
    points: ArrayLike,
    radii: Sequence[float],
    k: float = 0.0,
    flat: float = 1.0,
    across: ArrayLike = (0.0, 0.0, 1.0),
) -> Blend:
    """Round cones strung along a polyline (N, 3) with one radius per point."""
    line = as_vec(points)
    return Blend(
        [
            RoundCone(line[i], line[i + 1], radii[i], radii[i + 1], flat, across)
            for i in range(len(line) - 1)
        ],
        k,
    )
