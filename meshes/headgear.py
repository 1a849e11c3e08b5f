"""What stands on or round a head: horns, long ears, helmets, hats, and hair larger than a head.

Places are in head heights from the chin under the ear canal, as in `faces.py`; all sizes are by
eye.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .bones import Bones
from .combine import Blend, Cut, Keep, spline, tube
from .faces import skull_shape
from .params import FigureParams
from .shapes import Ellipsoid, HalfSpace, Loft, RoundCone, Shape

__all__ = ["BIG_HAIR", "HEADGEAR"]

Path = list[tuple[float, float, float]]
Maker = Callable[[FigureParams, Bones, np.random.Generator], Shape]


def _pair(
    p: FigureParams, bones: Bones, path: Path, radii: list[float], flat: float = 1.0
) -> Shape:
    """The same curved rod on both sides of the head; `path` is the left one's."""
    at, s, w = bones.head, bones.head.scale, p.head.width
    rods: list[Shape] = []
    for x in (1.0, -1.0):
        line = spline(at.points([(x * w * a, b, c) for a, b, c in path]), 11)
        r = np.interp(np.linspace(0, 1, 11), np.linspace(0, 1, len(radii)), radii)
        rods.append(tube(line, list(r * s), 0.02 * s, flat, at.axes[2]))
    return Blend(rods, 0.0)


def _horns(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Two horns that rise and turn inward."""
    k = rng.uniform(0.8, 1.5)
    path = [(0.20, 0.90, 0.10), (0.36, 0.95 + 0.12 * k, 0.12), (0.42, 0.95 + 0.26 * k, 0.08)]
    return _pair(p, bones, [*path, (0.37, 0.95 + 0.42 * k, 0.04)], [0.075, 0.065, 0.045, 0.012])


def _ram(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Horns wound beside the head."""
    path = [
        (0.20, 0.90, 0.02),
        (0.42, 0.93, -0.14),
        (0.53, 0.74, -0.17),
        (0.52, 0.54, -0.02),
        (0.50, 0.56, 0.15),
        (0.56, 0.70, 0.17),
    ]
    return _pair(p, bones, path, [0.09, 0.09, 0.08, 0.065, 0.045, 0.012])


def _antlers(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Branching antlers, as wide as the shoulders."""
    s, at, w = bones.head.scale, bones.head, p.head.width
    path = [(0.14, 0.94, 0.0), (0.36, 1.10, -0.03), (0.56, 1.32, 0.0), (0.60, 1.66, 0.06)]
    beams = _pair(p, bones, path, [0.05, 0.045, 0.038, 0.012])
    tines: list[Shape] = [beams]
    for x in (1.0, -1.0):
        for a, b in (
            ((0.36, 1.10, -0.03), (0.40, 1.34, 0.12)),
            ((0.52, 1.26, 0.0), (0.78, 1.40, 0.08)),
        ):
            ends = at.points([(x * w * a[0], a[1], a[2]), (x * w * b[0], b[1], b[2])])
            tines.append(RoundCone(ends[0], ends[1], 0.036 * s, 0.012 * s))
    return Blend(tines, 0.02 * s)


def _antennae(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Two feelers with a ball at the end."""
    s, at, w = bones.head.scale, bones.head, p.head.width
    rods = _pair(p, bones, [(0.12, 0.94, 0.05), (0.18, 1.20, 0.10), (0.28, 1.42, 0.16)], [0.03] * 3)
    balls = [Ellipsoid(at.point(x * 0.28 * w, 1.42, 0.16), np.full(3, 0.075) * s) for x in (1, -1)]
    return Blend([rods, *balls], 0.01 * s)


def _long_ears(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Ears of a hare, upright."""
    k = rng.uniform(0.7, 1.2)
    path = [(0.15, 0.90, -0.02), (0.21, 0.95 + 0.30 * k, -0.05), (0.27, 0.95 + 0.62 * k, -0.06)]
    path.append((0.25, 0.95 + 0.85 * k, -0.02))
    return _pair(p, bones, path, [0.07, 0.115, 0.105, 0.03], 0.45)


def _hanging_ears(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Ears of a doll or hound that hang beside the head, below the chin."""
    path = [(0.20, 0.93, -0.02), (0.44, 0.98, -0.03), (0.56, 0.72, -0.02), (0.58, 0.36, 0.0)]
    path.append((0.55, rng.uniform(-0.05, 0.15), 0.02))
    return _pair(p, bones, path, [0.06, 0.08, 0.10, 0.12, 0.06], 0.7)


def _cat_ears(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Short pointed ears."""
    path = [(0.18, 0.84, -0.02), (0.24, 1.00, -0.02), (0.30, 1.15, -0.02)]
    return _pair(p, bones, path, [0.13, 0.085, 0.02], 0.5)


def _helmet(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """An open helmet over skull and ears, with a brim and a crest."""
    at, s, w, d = bones.head, bones.head.scale, p.head.width, p.head.depth
    shell: Shape = skull_shape(p, bones, 0.085)
    cheek = [
        RoundCone(at.point(x * 0.31 * w, 0.62, 0.0), at.point(x * 0.29 * w, 0.20, 0.10), t, t)
        for x in (1.0, -1.0)
        for t in (0.09 * s,)
    ]
    shell = Blend([shell, *cheek], 0.06 * s)
    face = Ellipsoid(
        at.point(0, 0.40, 0.50 * d), np.array([0.255 * w, 0.42, 0.46 * d]) * s, at.axes
    )
    shell = Cut(shell, face, 0.02 * s)
    shell = Cut(shell, HalfSpace(at.point(0, 0.18, 0), at.axes[1]), 0.03 * s)
    brim = Ellipsoid(at.point(0, 0.80, 0.08), np.array([0.44 * w, 0.035, 0.53 * d]) * s, at.axes)
    crest = tube(
        spline(at.points([(0, 0.90, 0.36), (0, 1.12, 0.12), (0, 1.10, -0.20), (0, 0.8, -0.50)]), 9),
        [0.05 * s] * 9,
        0.02 * s,
        0.6,
        at.axes[0],
    )
    return Blend([shell, brim, crest], 0.02 * s)


def _closed_helmet(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """A helmet round the whole head, with a slit to look through."""
    at, s, w, d = bones.head, bones.head.scale, p.head.width, p.head.depth
    bowl: Shape = Ellipsoid(
        at.point(0, 0.57, 0.04), np.array([0.44 * w, 0.55, 0.52 * d]) * s, at.axes
    )
    bowl = Keep(bowl, HalfSpace(at.point(0, 0.06, 0), -at.axes[1]), 0.04 * s)
    slit = Ellipsoid(at.point(0, 0.56, 0.58 * d), np.array([0.36 * w, 0.06, 0.16]) * s, at.axes)
    rim = Loft(
        at.point(0, 0.04, 0.03),
        at.point(0, 0.14, 0.03),
        at.axes[2],
        [[t, 0, 0, 0.33 * w * s, 0.33 * w * s, 0.36 * d * s, 0.38 * d * s] for t in (0.0, 1.0)],
        2.2,
        (0.1, 0.1),
        at.axes[0],
    )
    return Blend([Cut(bowl, slit, 0.02 * s), rim], 0.03 * s)


def _bubble(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """A ball of glass round the head, as for the deep sea or beyond the sky."""
    at, s, w, d = bones.head, bones.head.scale, p.head.width, p.head.depth
    wide = max(0.52, 0.46 * w, 0.50 * d)
    ball = Ellipsoid(at.point(0, 0.54, 0.03), np.array([wide, 0.60, wide]) * s, at.axes)
    return Keep(ball, HalfSpace(at.point(0, 0.02, 0), -at.axes[1]), 0.02 * s)


def _hat(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """A hat with a brim wider than the shoulders of a child, and a tall leaning point."""
    at, s, w, d = bones.head, bones.head.scale, p.head.width, p.head.depth
    high = rng.uniform(1.3, 1.9)
    brim = Ellipsoid(at.point(0, 0.80, -0.02), np.array([0.70 * w, 0.045, 0.72 * d]) * s, at.axes)
    low = RoundCone(at.point(0, 0.86, -0.02), at.point(0, 1.05, -0.04), 0.37 * w * s, 0.25 * s)
    tip = RoundCone(at.point(0, 1.05, -0.04), at.point(0.10, high, -0.20), 0.22 * s, 0.03 * s)
    return Blend([brim, Blend([low, tip], 0.10 * s)], 0.06 * s)


def _face_opening(p: FigureParams, bones: Bones, top: float) -> Shape:
    at, s, w, d = bones.head, bones.head.scale, p.head.width, p.head.depth
    return Ellipsoid(
        at.point(0, top - 0.46, 0.55 * d), np.array([0.29 * w, 0.46, 0.52 * d]) * s, at.axes
    )


def _ball_of_hair(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """A great ball of curls, twice as wide as the face."""
    at, s, w, d = bones.head, bones.head.scale, p.head.width, p.head.depth
    k = rng.uniform(1.0, 1.35)
    mass: list[Shape] = [
        Ellipsoid(
            at.point(0, 0.72, -0.10), np.array([0.50 * w * k, 0.46 * k, 0.48 * d * k]) * s, at.axes
        )
    ]
    for _ in range(22):
        az, el = rng.uniform(40, 320), rng.uniform(-25, 80)
        a, e = np.radians(az), np.radians(el)
        x, y, z = np.sin(a) * np.cos(e), np.sin(e), np.cos(a) * np.cos(e)
        where = at.point(0.46 * w * k * x, 0.72 + 0.42 * k * y, -0.10 + 0.44 * d * k * z)
        mass.append(Ellipsoid(where, np.full(3, 0.12 * s)))
    return Cut(Blend(mass, 0.05 * s), _face_opening(p, bones, 0.82), 0.04 * s)


def _spikes(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Thick spikes that stand off in all directions but the face."""
    at, s, w, d = bones.head, bones.head.scale, p.head.width, p.head.depth
    cap: Shape = Cut(skull_shape(p, bones, 0.03), _face_opening(p, bones, 0.80), 0.02 * s)
    cap = Cut(cap, HalfSpace(at.point(0, 0.28, 0), at.axes[1]), 0.04 * s)
    spikes: list[Shape] = []
    for ring, (el, n) in enumerate(((12.0, 9), (42.0, 8), (72.0, 4))):
        for i in range(n):
            az = 62 + 236 * (i + 0.5) / n if ring == 0 else 360 * (i + 0.5 * (ring % 2)) / n
            a, e = np.radians(az + rng.uniform(-6, 6)), np.radians(el + rng.uniform(-6, 6))
            way = np.array([np.sin(a) * np.cos(e), np.sin(e), np.cos(a) * np.cos(e)])
            size = np.array([0.33 * w, 0.33, 0.38 * d])
            long = 1.0 + rng.uniform(0.7, 1.3)
            foot = np.array([0, 0.67, -0.03]) + 0.8 * size * way
            tip = np.array([0, 0.67, -0.03]) + long * size * (way + np.array([0, 0.25, -0.2]))
            spikes.append(RoundCone(at.point(*foot), at.point(*tip), 0.14 * s, 0.015 * s))
    return Blend([cap, Blend(spikes, 0.03 * s)], 0.04 * s)


def _long_hair(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Straight hair that hangs down the back to the waist."""
    at, s, w, d = bones.head, bones.head.scale, p.head.width, p.head.depth
    cap: Shape = Cut(skull_shape(p, bones, 0.035), _face_opening(p, bones, 0.82), 0.02 * s)
    cap = Cut(cap, HalfSpace(at.point(0, 0.24, 0), at.axes[1]), 0.04 * s)
    nape, low = at.point(0, 0.66, -0.30 * d), bones.trunk["spine_2"].copy()
    behind = -0.075 * p.trunk_depth * p.chest - 0.030
    low[2] = behind
    high = nape.copy()
    middle = bones.trunk["neck"] + np.array([0, 0.0, behind - bones.trunk["neck"][2] - 0.008])
    strands: list[Shape] = []
    for i in range(-2, 3):
        x = np.array([0.13 * i * w * s, 0, 0])
        end = low + 0.75 * x + np.array([0, rng.uniform(-0.03, 0.03), 0])
        line = spline(np.array([high + x, middle + 1.1 * x, end]), 9)
        strands.append(tube(line, [0.10 * s] * 6 + [0.09 * s, 0.07 * s, 0.03 * s], 0.01, 0.6))
    return Blend([cap, Blend(strands, 0.03 * s)], 0.05 * s)


def _pigtails(p: FigureParams, bones: Bones, rng: np.random.Generator) -> Shape:
    """Two thick tails that stand off the sides of the head and hang."""
    at, s = bones.head, bones.head.scale
    cap: Shape = Cut(skull_shape(p, bones, 0.03), _face_opening(p, bones, 0.80), 0.02 * s)
    cap = Cut(cap, HalfSpace(at.point(0, 0.28, 0), at.axes[1]), 0.04 * s)
    end = rng.uniform(-0.05, 0.25)
    path = [(0.28, 0.82, -0.10), (0.56, 0.86, -0.14), (0.74, 0.62, -0.14), (0.76, end, -0.10)]
    tails = _pair(p, bones, path, [0.06, 0.12, 0.17, 0.05])
    return Blend([cap, tails], 0.03 * s)


HEADGEAR: dict[str, tuple[Maker, float]] = {
    "antennae": (_antennae, 0.05),
    "antlers": (_antlers, 0.08),
    "bubble": (_bubble, 0.08),
    "cat_ears": (_cat_ears, 0.04),
    "closed_helmet": (_closed_helmet, 0.10),
    "hanging_ears": (_hanging_ears, 0.08),
    "hat": (_hat, 0.09),
    "helmet": (_helmet, 0.12),
    "horns": (_horns, 0.06),
    "long_ears": (_long_ears, 0.07),
    "ram_horns": (_ram, 0.08),
}
"""Maker and share of the face budget; horns and ears may also grow from the skin."""
BIG_HAIR: dict[str, Maker] = {
    "ball": _ball_of_hair,
    "long": _long_hair,
    "pigtails": _pigtails,
    "spikes": _spikes,
}
