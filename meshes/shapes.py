"""Smooth implicit shapes: the clay the demo characters are made of.

A shape is a tree. The leaves, here, are primitives with an (approximate) signed distance, negative
inside; the inner nodes, in `combine.py`, blend, cut, grow or mirror what is below them. All lengths
are in the figure's own units and all points are (N, 3). Every primitive knows a capsule that
encloses it, so that a block of sample points far from it skips it: `evaluate` then returns None,
which means "outside, and too far away to matter".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Array",
    "Cull",
    "Ellipsoid",
    "HalfSpace",
    "Local",
    "Loft",
    "RoundCone",
    "Shape",
    "Vec",
    "as_vec",
]

Array = NDArray[np.float32]
Vec = NDArray[np.float64]
_EPS = np.float32(1e-9)


def as_vec(value: ArrayLike) -> Vec:
    """The value as float64."""
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
        return self.origin + self.scale * (as_vec([x, y, z]) @ self.axes)

    def points(self, local: ArrayLike) -> Vec:
        """World positions (N, 3) of local points (N, 3)."""
        return self.origin + self.scale * (as_vec(local) @ self.axes)

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
        self.a, self.b = as_vec(a), as_vec(b)
        self.ra, self.rb, self.flat, self.across = radius_a, radius_b, flat, as_vec(across)
        self.reach = max(radius_a, radius_b) * max(1.0, flat)

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        if self._far(cull):
            return None
        q: Array = p - self.a.astype(np.float32)
        ba = self.b - self.a
        if self.flat != 1.0:
            axis = self.across.astype(np.float32)
            stretch = 1.0 / self.flat - 1.0
            along = q @ (axis * np.float32(stretch))
            q = np.asarray(q + along[:, None] * axis, dtype=np.float32)
            ba = ba + (ba @ self.across) * self.across * stretch
        length = float(np.sqrt(ba @ ba))
        square = np.einsum("ij,ij->i", q, q)
        b = (self.ra - self.rb) / length if length > 0 else 2.0
        ra, rb, h = np.float32(self.ra), np.float32(self.rb), np.float32(length)
        if abs(b) >= 1.0:  # one ball holds the other
            if self.ra < self.rb:
                square = np.einsum("ij,ij->i", q - ba.astype(np.float32), q - ba.astype(np.float32))
            out = np.sqrt(square) - np.float32(max(self.ra, self.rb))
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
        self.a = self.b = as_vec(centre)
        self.radii = as_vec(radii)
        self.axes = np.eye(3) if axes is None else as_vec(axes)
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

        start, end = as_vec(a), as_vec(b)
        self.length = float(np.linalg.norm(end - start))
        self.along = (end - start) / self.length
        towards = as_vec(front) - (as_vec(front) @ self.along) * self.along
        self.front = towards / np.linalg.norm(towards)
        # the side is given where a mirror image is wanted, else right-handed (front, along)
        across = np.cross(self.along, self.front) if side is None else as_vec(side)
        across = across - (across @ self.along) * self.along - (across @ self.front) * self.front
        self.side = across / np.linalg.norm(across)
        rows = as_vec(sections)
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
        self.normal = as_vec(normal) / np.linalg.norm(as_vec(normal))
        self.level = float(as_vec(point) @ self.normal)

    def evaluate(self, p: Array, cull: Cull | None = None) -> Array | None:
        return np.asarray(p @ self.normal.astype(np.float32) - np.float32(self.level))

    def bounds(self) -> tuple[Vec, Vec]:
        return np.full(3, -np.inf), np.full(3, np.inf)
