"""Hair and beards as sculpted masses."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .bones import Bones
from .combine import Blend, Cut, Wave, spline, tube
from .faces import skull_shape
from .params import FigureParams
from .shapes import Ellipsoid, HalfSpace, RoundCone, Shape

__all__ = ["BEARDS", "HAIRCUTS"]

Maker = Callable[[FigureParams, Bones, np.random.Generator], Shape]


def _scalp(p: FigureParams, bones: Bones, az: float, el: float, lift: float) -> np.ndarray:
    """A point over the skull: azimuth from the front toward the left, elevation, degrees."""
    h = p.head
    a, e = np.radians(az), np.radians(el)
    front = np.cos(a) > 0
    rz = (0.350 if front else 0.435) * h.depth + lift
    # below the widest part the hair hangs straight down instead of following the skull
    low = np.radians(-25)
    around = np.cos(max(e, low))
    x = (0.318 * h.width + lift) * np.sin(a) * around
    z = rz * np.cos(a) * around
    y = 0.67 + (0.325 + lift) * np.sin(max(e, low)) + 0.36 * min(e - low, 0.0)
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
    flat: float = 1.0,
    tip: float = 0.12,
    root: float = 0.5,
) -> Shape:
    """One strand through scalp points (azimuth, elevation, lift), widest past its middle."""
    points = spline([_scalp(p, bones, *w) for w in way], 10)
    t = np.linspace(0, 1, len(points))
    swell = np.where(
        t < 0.55,
        root + (1 - root) * np.sin(t / 0.55 * np.pi / 2),
        tip + (1 - tip) * np.cos((t - 0.55).clip(0) / 0.451 * np.pi / 2) ** 0.8,
    )
    s = bones.head.scale
    middle = points[len(points) // 2] - bones.head.point(0, 0.62, -0.02)
    return tube(points, list(width * s * swell), 0.0, flat, middle / np.linalg.norm(middle))


def _swept(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Short hair, parted on the left, swept over to the right and back."""
    s = bones.head.scale
    cap: Shape = _cap(p, bones, 0.022, 0.80, 0.27)
    locks: list[Shape] = []
    for i in range(8):  # from the parting over the top and down the right side
        f = i / 7
        az, el = 20 + 130 * f, 60 + 4 * np.sin(np.pi * f)
        lift = 0.055 - 0.020 * f + 0.006 * (i % 2)
        locks.append(
            _lock(
                p,
                bones,
                [
                    (az, el, 0.000),
                    (az - 22 - 8 * f, el + 13, lift),
                    (-18 - 62 * f, 62 + 4 * f, lift + 0.012),
                    (-42 - 78 * f, 38, 0.052),
                    (-58 - 84 * f + rng.uniform(-3, 3), 12 - 6 * f, 0.026),
                ],
                0.088,
                0.62,
            )
        )
    for i in range(6):  # the short side
        f = i / 5
        az = 30 + 125 * f
        locks.append(
            _lock(
                p,
                bones,
                [
                    (az, 58, -0.005),
                    (az + 12, 40, 0.030),
                    (az + 24 - 6 * f, 14, 0.030),
                    (az + 32 - 14 * f + rng.uniform(-3, 3), -8 - 10 * f, 0.012),
                ],
                0.078,
                0.55,
            )
        )
    for i in range(7):  # back of the head
        az = 118 + 20 * i
        locks.append(
            _lock(
                p,
                bones,
                [
                    (az - 8, 62, 0.0),
                    (az, 36, 0.036),
                    (az + 3, 4, 0.034),
                    (az + 3 + rng.uniform(-3, 3), -34, 0.006),
                ],
                0.085,
                0.55,
            )
        )
    return Blend([cap, Blend(locks, 0.014 * s)], 0.02 * s)


def _tousled(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """A child's mop: thick locks from a crown at the back, a fringe, ends that turn outward."""
    s = bones.head.scale
    cap: Shape = _cap(p, bones, 0.014, 0.80, 0.26)
    locks: list[Shape] = []
    crown = (180.0, 66.0, 0.02)
    for ring, (reach, lift, width, n) in enumerate(
        ((-8.0, 0.045, 0.105, 17), (12.0, 0.075, 0.100, 13), (38.0, 0.095, 0.090, 8))
    ):
        for i in range(n):
            az = 360.0 * (i + 0.5 * (ring % 2)) / n
            front = np.cos(np.radians(az))
            # the fringe ends above the eyes, the sides over the ears, the back at the nape
            end = reach + 16 * front + rng.uniform(-5, 5)
            turn = rng.uniform(-9, 9)
            top = _between(crown, (az, end, 0.0), 0.34)
            low = _between(crown, (az, end, 0.0), 0.70)
            locks.append(
                _lock(
                    p,
                    bones,
                    [
                        crown,
                        (top[0], top[1], lift),
                        (low[0] + 0.4 * turn, low[1], lift + 0.01),
                        (az + turn, end, 0.040 + 0.25 * lift),
                        (az + 1.8 * turn, end - 9, 0.075),
                    ],
                    width,
                    0.60,
                    0.10,
                )
            )
    return Blend([cap, Blend(locks, 0.010 * s)], 0.02 * s)


def _tail(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Long hair combed back from the forehead into a tail."""
    s, at = bones.head.scale, bones.head
    cap: Shape = _cap(p, bones, 0.034, 0.80, 0.26)
    knot = _scalp(p, bones, 180, 28, 0.05)
    # combed strands run from the hairline to the knot
    way = knot - at.point(0, 0.62, 0.10)
    way = way / np.linalg.norm(way)
    combed = Wave(
        cap, at.point(0, 0.62, 0.0), way, at.axes[0], 26, 0.010 * s, 0.0, 0.5 * s, 0, True
    )
    band = Ellipsoid(knot, np.array([0.075, 0.075, 0.045]) * s, _frame_along(way, at.axes[0]))
    strands: list[Shape] = []
    for i in range(6):
        a = 2 * np.pi * i / 6
        out = np.array([np.cos(a), np.sin(a)]) * 0.035
        path = [
            (out[0] * 0.6, 0.865 + out[1] * 0.5, -0.44),
            (out[0] * 1.6, 0.85 + out[1], -0.60),
            (out[0] * 1.8, 0.62 + out[1], -0.68),
            (out[0] * 1.5 + rng.uniform(-0.01, 0.01), 0.36, -0.60),
            (out[0] * 0.6 + rng.uniform(-0.01, 0.01), 0.12 - 0.02 * i, -0.55),
        ]
        line = spline(at.points(path), 12)
        t = np.linspace(0, 1, 12)
        width = (0.036 + 0.038 * np.sin(np.pi * np.clip(t * 1.05, 0, 1)) ** 0.7) * s
        strands.append(tube(line, list(width)))
    tail = Blend(strands, 0.016 * s)
    return Blend([Blend([combed, band], 0.05 * s), tail], 0.02 * s)


def _shaggy(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Thick wavy hair to below the ears."""
    s = bones.head.scale
    cap: Shape = _cap(p, bones, 0.022, 0.82, 0.20)
    locks: list[Shape] = []
    for ring, (drop, lift, width, n) in enumerate(
        ((0.0, 0.055, 0.095, 17), (22.0, 0.085, 0.10, 13))
    ):
        for i in range(n):
            az = -150 + 300 * i / (n - 1) + 180
            az = (az + 180) % 360 - 180
            away = abs(az)
            end = -66 + 1.4 * drop + rng.uniform(-5, 5) if away > 62 else 24 + drop * 0.4
            part = 12 if az >= 0 else -8
            w = 6 * (1 if i % 2 else -1)
            locks.append(
                _lock(
                    p,
                    bones,
                    [
                        (part + 0.30 * az, 72 - 8 * ring, -0.01),
                        (0.55 * az, 60, lift),
                        (az + 0.5 * w, 30 if away > 62 else 42, lift + 0.01),
                        (az - w, 0.5 * (end + 20), lift * 0.8 + 0.015),
                        (az + w, end, 0.060),
                    ],
                    width,
                    0.60,
                )
            )
    return Blend([cap, Blend(locks, 0.012 * s)], 0.02 * s)


def _between(
    a: tuple[float, float, float], b: tuple[float, float, float], share: float
) -> tuple[float, float]:
    """Azimuth and elevation on the great circle between two directions."""

    def unit(az: float, el: float) -> np.ndarray:
        q, e = np.radians(az), np.radians(el)
        return np.array([np.sin(q) * np.cos(e), np.sin(e), np.cos(q) * np.cos(e)])

    u, v = unit(a[0], a[1]), unit(b[0], b[1])
    w = (1 - share) * u + share * v
    w /= np.linalg.norm(w)
    return float(np.degrees(np.arctan2(w[0], w[2]))), float(np.degrees(np.arcsin(w[1])))


def _frame_along(way: np.ndarray, side: np.ndarray) -> np.ndarray:
    x = side - (side @ way) * way
    x = x / np.linalg.norm(x)
    return np.stack([x, np.cross(way, x), way])


def _full(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """A full beard with a moustache."""
    at, h = bones.head, p.head
    s, w, d, jw = at.scale, h.width, h.depth, h.width * h.jaw_width
    mass: list[Shape] = []
    for x in (1.0, -1.0):
        ear = at.point(x * 0.265 * w, 0.38, 0.03)
        jaw = at.point(x * 0.205 * jw, 0.15, 0.10)
        chin = at.point(x * 0.06, -0.01, 0.31 * d)
        mass += [
            RoundCone(ear, jaw, 0.026 * s, 0.060 * s),
            RoundCone(jaw, chin, 0.060 * s, 0.105 * s),
        ]
    base: Shape = Blend(mass, 0.06 * s)
    locks: list[Shape] = []
    for i in range(13):
        f = (i - 6) / 6
        x = 0.250 * np.sin(f * 1.25) * jw
        z = 0.36 * d - 0.26 * abs(f) ** 1.8
        top = 0.15 + 0.16 * abs(f) ** 1.5
        long = 0.40 * (1 - 0.62 * abs(f)) + rng.uniform(-0.02, 0.02)
        sway = 0.03 * (1 if i % 2 else -1)
        path = [
            (x * 0.98, top, z - 0.02),
            (x * 1.06, top - 0.25 * long, z + 0.055),
            (x * 0.98 + sway, top - 0.62 * long, z + 0.06),
            (x * 0.72 - 0.4 * sway, top - long - 0.06, z + 0.025 - 0.04 * (1 - abs(f))),
        ]
        line = spline(at.points(path), 9)
        t = np.linspace(0, 1, 9)
        width = (0.030 + 0.040 * np.sin(np.pi * np.clip(t * 0.9 + 0.12, 0, 1))) * (1 - 0.55 * t**3)
        locks.append(tube(line, list(width * s)))
    for x in (1.0, -1.0):  # moustache
        for k in range(3):
            path = [
                (x * 0.008, 0.245 - 0.012 * k, 0.445 * d),
                (x * 0.06, 0.250 - 0.020 * k, 0.440 * d),
                (x * 0.125, 0.205 - 0.030 * k, 0.385 * d),
                (x * (0.185 - 0.02 * k), 0.150 - 0.045 * k, 0.325 * d),
            ]
            line = spline(at.points(path), 8)
            width = np.array([0.018, 0.026, 0.032, 0.033, 0.031, 0.027, 0.020, 0.008]) * s
            locks.append(tube(line, list(width)))
    return Blend([base, Blend(locks, 0.012 * s)], 0.025 * s)


HAIRCUTS: dict[str, Maker] = {
    "shaggy": _shaggy,
    "swept": _swept,
    "tail": _tail,
    "tousled": _tousled,
}
BEARDS: dict[str, Maker] = {"full": _full}
