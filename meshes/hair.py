"""Hair and beards as sculpted masses."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .bones import Bones
from .faces import skull_shape
from .params import FigureParams
from .shapes import Blend, Cut, Ellipsoid, HalfSpace, Shape, tube

__all__ = ["BEARDS", "HAIRCUTS"]

Maker = Callable[[FigureParams, Bones, np.random.Generator], Shape]


def _scalp(p: FigureParams, bones: Bones, az: float, el: float, lift: float) -> np.ndarray:
    """A point over the skull: azimuth from the front toward the left, elevation, degrees."""
    h = p.head
    a, e = np.radians(az), np.radians(el)
    front = np.cos(a) > 0
    rz = (0.350 if front else 0.435) * h.depth + lift
    x = (0.318 * h.width + lift) * np.sin(a) * np.cos(e)
    z = rz * np.cos(a) * np.cos(e)
    y = 0.67 + (0.325 + lift) * np.sin(e)
    return bones.head.point(x, y, z)


def _cap(p: FigureParams, bones: Bones, thick: float, forehead: float, nape: float) -> Shape:
    """A smooth cap of hair, open at the face and ears."""
    at, s = bones.head, bones.head.scale
    cap: Shape = skull_shape(p, bones, thick)
    w, d = p.head.width, p.head.depth
    face = Ellipsoid(
        at.point(0, forehead - 0.36, 0.46 * d), np.array([0.285 * w, 0.36, 0.50 * d]) * s, at.axes
    )
    cap = Cut(cap, face, 0.02 * s)
    cap = Cut(cap, HalfSpace(at.point(0, nape, 0), at.axes[1]), 0.05 * s)
    for x in (1.0, -1.0):
        ear = Ellipsoid(
            at.point(x * 0.33 * w, 0.36, 0.01),
            np.array([0.12, 0.17 * p.head.ear, 0.12]) * s,
            at.axes,
        )
        cap = Cut(cap, ear, 0.02 * s)
    return cap


def _lock(
    p: FigureParams,
    bones: Bones,
    way: list[tuple[float, float, float]],
    width: float,
    taper: float = 0.15,
) -> Shape:
    """One strand along scalp points (azimuth, elevation, lift), thick in its first half."""
    points = np.array([_scalp(p, bones, *w) for w in way])
    t = np.linspace(0, 1, len(way))
    radii = width * bones.head.scale * (0.55 + 0.45 * np.sin(np.pi * np.minimum(t * 1.1, 1)))
    radii = radii * np.where(t > 0.6, 1 - (1 - taper) * (t - 0.6) / 0.4, 1.0)
    return tube(points, list(radii), 0.01 * bones.head.scale)


def _swept(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Short hair, parted on the left, swept over to the right and back."""
    s = bones.head.scale
    cap = _cap(p, bones, 0.035, 0.84, 0.28)
    locks: list[Shape] = []
    for i, start in enumerate(np.linspace(0, 1, 9)):
        # from the parting over the top to the right side
        az = 22 + 120 * start
        el = 62 - 6 * start + rng.uniform(-2, 2)
        sweep = [
            (az, el, 0.05),
            (az * 0.75 - 15, el + 14, 0.085 - 0.03 * start),
            (az * 0.55 - 60, el + 6, 0.085 - 0.03 * start),
            (az * 0.45 - 95, el - 22, 0.060),
            (az * 0.40 - 112, el - 46, 0.035 + 0.004 * (i % 2)),
        ]
        locks.append(_lock(p, bones, sweep, 0.070))
    for side in np.linspace(0, 1, 5):
        az = 38 + 110 * side
        locks.append(
            _lock(p, bones, [(az, 56, 0.03), (az + 10, 38, 0.045), (az + 20, 14, 0.032)], 0.060)
        )
    return Blend([cap, Blend(locks, 0.012 * s)], 0.03 * s)


HAIRCUTS: dict[str, Maker] = {"swept": _swept}
BEARDS: dict[str, Maker] = {}
