"""Smooth implicit shapes: the clay the demo characters are made of.

A shape is a tree. The leaves are primitives with an (approximate) signed distance, negative inside;
the inner nodes blend, cut, grow or mirror what is below them. All lengths are in the figure's own
units and all points are (N, 3). Every primitive knows a capsule that encloses it, so that a block
of sample points far from it skips it: `evaluate` then returns None, which means "outside, and too
far away to matter".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Blend",
    "Cull",
    "Cut",
    "Ellipsoid",
    "Grow",
    "HalfSpace",
    "Keep",
    "Loft",
    "Local",
    "Mirror",
    "RoundCone",
    "Shape",
    "Wave",
    "capsule",
    "slab",
    "spline",
    "tube",
]

Array = NDArray[np.float32]
Vec = NDArray[np.float64]
_EPS = np.float32(1e-9)
# A shape farther than 1.25 k from the surface cannot bend it in one blend; a few blends in a row
# sink the surface further, so shapes are asked for a little beyond that.
_REACH = 1.6


def _vec(value: ArrayLike) -> Vec:
    return np.asarray(value, dtype=np.float64)


@dataclass(frozen=True)
class Local:
    """A right-handed local frame with a scale, in which a body region is described."""

    origin: Vec
    """(3,) world position of the local origin."""
    axes: Vec
    """(3, 3) unit rows: where the local x, y, z point in the world."""
    scale: float = 1.0
    """World length of one local unit."""

    def point(self, x: float, y: float, z: float) -> Vec:
        """World position of a local point."""
        return self.origin + self.scale * (_vec([x, y, z]) @ self.axes)

    def points(self, local: ArrayLike) -> Vec:
        """World positions (N, 3) of local points (N, 3)."""
        return self.origin + self.scale * (_vec(local) @ self.axes)

    def turned(self, axis: int, degrees: float) -> Vec:
        """The frame's axes turned about one of themselves (0, 1, 2) by the right-hand rule."""
        c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        i, j = (axis + 1) % 3, (axis + 2) % 3
        out = self.axes.copy()
        out[i] = c * self.axes[i] + s * self.axes[j]
        out[j] = -s * self.axes[i] + c * self.axes[j]
        return out


@dataclass(frozen=True)
class Cull:
    """The block of points now being sampled: anything farther than `radius` cannot touch it."""

    centre: Vec
    radius: float

    def wider(self, by: float) -> Cull:
        """The same block, asking for shapes within a longer reach."""
        return Cull(self.centre, self.radius + by)


class Shape:
    """Base of all shapes."""

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        """Signed distance (N,) at points (N, 3), or None where the whole block is far outside."""
        raise NotImplementedError

    def bounds(self) -> tuple[Vec, Vec]:
        """Lower and upper corner of a box that encloses the shape."""
        raise NotImplementedError


class _Primitive(Shape):
    """A leaf, enclosed by the capsule from `a` to `b` of radius `reach`."""

    a: Vec
    b: Vec
    reach: float

    def _far(self, cull: Cull | None) -> bool:
        if cull is None:
            return False
        gap, ab = cull.centre - self.a, self.b - self.a
        length = float(ab @ ab)
        if length > 0:
            gap = gap - min(max(float(gap @ ab) / length, 0.0), 1.0) * ab
        return float(gap @ gap) > (self.reach + cull.radius) ** 2

    def bounds(self) -> tuple[Vec, Vec]:
        return np.minimum(self.a, self.b) - self.reach, np.maximum(self.a, self.b) + self.reach


class RoundCone(_Primitive):
    """Two balls and the cone that touches both; `flat` squeezes it along the unit vector `across`.

    The signed distance is the closed form for a cone with round ends (exact where `flat` is 1).
    """

    def __init__(
        self,
        a: ArrayLike,
        b: ArrayLike,
        radius_a: float,
        radius_b: float,
        flat: float = 1.0,
        across: ArrayLike = (0.0, 0.0, 1.0),
    ) -> None:
        self.a, self.b = _vec(a), _vec(b)
        self.ra, self.rb, self.flat, self.across = radius_a, radius_b, flat, _vec(across)
        self.reach = max(radius_a, radius_b) * max(1.0, flat)

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        if self._far(cull):
            return None
        q = p - self.a.astype(np.float32)
        ba = self.b - self.a
        if self.flat != 1.0:
            axis = self.across.astype(np.float32)
            stretch = 1.0 / self.flat - 1.0
            q = q + (q @ (axis * np.float32(stretch)))[:, None] * axis
            ba = ba + (ba @ self.across) * self.across * stretch
        length = float(np.sqrt(ba @ ba))
        square = np.einsum("ij,ij->i", q, q)
        b = (self.ra - self.rb) / length if length > 0 else 2.0
        ra, rb, h = np.float32(self.ra), np.float32(self.rb), np.float32(length)
        if abs(b) >= 1.0:  # one ball holds the other
            if self.ra < self.rb:
                square = np.einsum("ij,ij->i", q - ba.astype(np.float32), q - ba.astype(np.float32))
            out = np.sqrt(square) - max(ra, rb)
        else:
            slope, cosine = np.float32(b), np.float32(np.sqrt(1.0 - b * b))
            y = q @ (ba / length).astype(np.float32)
            x = np.sqrt(np.maximum(square - y * y, 0))
            k = y * cosine - x * slope
            out = x * cosine + y * slope - ra
            out = np.where(k < 0, np.sqrt(square) - ra, out)
            out = np.where(k > cosine * h, np.sqrt(x * x + (y - h) ** 2) - rb, out)
        if self.flat < 1.0:
            out = out * np.float32(0.5 * (1.0 + self.flat))
        return np.asarray(out, dtype=np.float32)


class Ellipsoid(_Primitive):
    """An ellipsoid with semi-axes `radii` along the unit rows of `axes`; first-order distance."""

    def __init__(self, centre: ArrayLike, radii: ArrayLike, axes: ArrayLike | None = None) -> None:
        self.a = self.b = _vec(centre)
        self.radii = _vec(radii)
        self.axes = np.eye(3) if axes is None else _vec(axes)
        self.reach = float(self.radii.max())

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        if self._far(cull):
            return None
        turned = (self.axes.T / self.radii).astype(np.float32)
        q = (p - self.a.astype(np.float32)) @ turned
        g = q / self.radii.astype(np.float32)
        k0 = np.sqrt(np.einsum("ij,ij->i", q, q)) + _EPS
        k1 = np.sqrt(np.einsum("ij,ij->i", g, g)) + _EPS / np.float32(self.radii.min())
        return np.asarray(k0 * (k0 - 1) / k1, dtype=np.float32)


class Loft(_Primitive):
    """A limb or trunk: oval sections along the line from `a` to `b`, smoothly interpolated.

    `sections` has one row per station: position along the line (0 at `a`, 1 at `b`, beyond is
    allowed), shift along `side`, shift along `front`, then the four half-widths towards +side,
    -side, +front, -front. `power` 2 gives ovals, higher values squarer sections. The ends are
    rounded over `caps` times the mean half-width.
    """

    _TABLE = 64

    def __init__(
        self,
        a: ArrayLike,
        b: ArrayLike,
        front: ArrayLike,
        sections: Sequence[Sequence[float]],
        power: float = 2.0,
        caps: tuple[float, float] = (0.6, 0.6),
        side: ArrayLike | None = None,
    ) -> None:
        from scipy.interpolate import PchipInterpolator

        start, end = _vec(a), _vec(b)
        self.length = float(np.linalg.norm(end - start))
        self.along = (end - start) / self.length
        towards = _vec(front) - (_vec(front) @ self.along) * self.along
        self.front = towards / np.linalg.norm(towards)
        # the side is given where a mirror image is wanted, else right-handed (front, along)
        across = np.cross(self.along, self.front) if side is None else _vec(side)
        across = across - (across @ self.along) * self.along - (across @ self.front) * self.front
        self.side = across / np.linalg.norm(across)
        rows = _vec(sections)
        self.t0, self.t1 = float(rows[0, 0]), float(rows[-1, 0])
        fine = np.linspace(self.t0, self.t1, self._TABLE)
        self.table = PchipInterpolator(rows[:, 0], rows[:, 1:])(fine).astype(np.float32)
        self.step = np.diff(self.table, axis=0, append=self.table[-1:])
        self.start, self.power = start, power
        ends = self.table[[0, -1], 2:].mean(axis=1)
        self.caps = (float(caps[0] * ends[0]), float(caps[1] * ends[1]))
        self.a = start + self.t0 * self.length * self.along
        self.b = start + self.t1 * self.length * self.along
        shift = np.abs(self.table[:, :2]).sum(axis=1).max()
        self.reach = float(shift + max(self.table[:, 2:].max() * 1.2, *self.caps))

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        if self._far(cull):
            return None
        q = p - self.start.astype(np.float32)
        basis = np.stack([self.along / self.length, self.side, self.front], axis=1)
        t, x, z = (q @ basis.astype(np.float32)).T
        at = (t - np.float32(self.t0)) * np.float32((self._TABLE - 1) / (self.t1 - self.t0))
        at = np.clip(at, 0, self._TABLE - 1)
        low = np.minimum(at.astype(np.int32), self._TABLE - 2)
        row = self.table[low] + self.step[low] * (at - low)[:, None]
        x, z = x - row[:, 0], z - row[:, 1]
        rx = np.where(x >= 0, row[:, 2], row[:, 3])
        rz = np.where(z >= 0, row[:, 4], row[:, 5])
        before = np.maximum(np.float32(self.t0) - t, 0) * np.float32(self.length)
        after = np.maximum(t - np.float32(self.t1), 0) * np.float32(self.length)
        w = before / np.float32(self.caps[0]) + after / np.float32(self.caps[1])
        rw = np.where(before > 0, np.float32(self.caps[0]), np.float32(self.caps[1]))
        u, v = np.abs(x) / rx, np.abs(z) / rz
        if self.power == 2.0:
            k0 = np.sqrt(u * u + v * v + w * w) + _EPS
            k1 = np.sqrt((u / rx) ** 2 + (v / rz) ** 2 + (w / rw) ** 2) + _EPS / rx
            return np.asarray(k0 * (k0 - 1) / k1, dtype=np.float32)
        n = np.float32(self.power)
        un, vn, wn = u ** (n - 1), v ** (n - 1), w ** (n - 1)
        k0 = (un * u + vn * v + wn * w) ** (1 / n) + _EPS
        grad = np.sqrt((un / rx) ** 2 + (vn / rz) ** 2 + (wn / rw) ** 2)
        grad = grad / k0 ** (n - 1) + _EPS
        return np.asarray((k0 - 1) / grad, dtype=np.float32)


class HalfSpace(Shape):
    """Everything on the side of `point` that the unit `normal` points away from."""

    def __init__(self, point: ArrayLike, normal: ArrayLike) -> None:
        self.normal = _vec(normal) / np.linalg.norm(_vec(normal))
        self.level = float(_vec(point) @ self.normal)

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        return np.asarray(p @ self.normal.astype(np.float32) - np.float32(self.level))

    def bounds(self) -> tuple[Vec, Vec]:
        return np.full(3, -np.inf), np.full(3, np.inf)


def _smooth_min(a: Array, b: Array, k: float) -> Array:
    """The smaller of two fields, rounded over a width k where they meet (quadratic blend)."""
    if k <= 0:
        return np.minimum(a, b)
    h = np.maximum(np.float32(k) - np.abs(a - b), 0)
    return np.asarray(np.minimum(a, b) - h * h * np.float32(0.25 / k), dtype=np.float32)


@dataclass
class Blend(Shape):
    """The union of `shapes`, rounded over the width `k` where they meet."""

    shapes: list[Shape] = field(default_factory=list)
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
                return self.shapes[picked[0]].evaluate(p, cull)
            near = [self.shapes[i] for i in picked]
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
    a, b = _vec(low), _vec(high)
    return Keep(HalfSpace(a, a - b), HalfSpace(b, b - a), k)


def spline(points: ArrayLike, count: int) -> Vec:
    """`count` points (count, D) along a smooth curve through the given points (N, D)."""
    from scipy.interpolate import CubicSpline

    given = _vec(points)
    steps = np.linalg.norm(np.diff(given, axis=0), axis=1)
    at = np.concatenate([[0.0], np.cumsum(np.sqrt(steps))])
    return np.asarray(CubicSpline(at, given)(np.linspace(0.0, at[-1], count)))


def capsule(a: ArrayLike, b: ArrayLike, radius: float) -> RoundCone:
    """A rod with round ends."""
    return RoundCone(a, b, radius, radius)


def tube(
    points: ArrayLike,
    radii: Sequence[float],
    k: float = 0.0,
    flat: float = 1.0,
    across: ArrayLike = (0.0, 0.0, 1.0),
) -> Blend:
    """Round cones strung along a polyline (N, 3) with one radius per point."""
    line = _vec(points)
    return Blend(
        [
            RoundCone(line[i], line[i + 1], radii[i], radii[i + 1], flat, across)
            for i in range(len(line) - 1)
        ],
        k,
    )
