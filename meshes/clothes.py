"""Clothes that grow from the skin they cover: shirts, trousers, cuffs."""

from __future__ import annotations

import numpy as np

from .bones import FRONT, LEFT, UP
from .combine import Blend, Cut, Grow, Keep, slab
from .shapes import HalfSpace, Loft, Shape, Vec
from .wearer import Wearer

__all__ = ["breeches", "cuffs", "jersey", "shorts", "tee", "trousers", "tunic"]


def _sleeves(who: Wearer, cloth: Shape, end: float, band: float, thick: float) -> Shape:
    """Cut both sleeves at `end` along the arms and put a band there."""
    bands: list[Shape] = []
    for i in (0, 1):
        a, b = who.along_arm(i, end - band), who.along_arm(i, end)
        cloth = Cut(cloth, _beyond(b, b - a, 0.10), 0.003)
        piece = who.fores[i] if end > 1 else who.uppers[i]
        bands.append(Keep(Grow(piece, thick), slab(a, b, 0.004), 0.004))
    return Blend([cloth, *bands], 0.004)


def _beyond(at: Vec, way: Vec, radius: float) -> Shape:
    """A short thick log that starts at a point and runs on, to cut a sleeve or leg off with."""
    unit = way / np.linalg.norm(way)
    rows = [
        [0.0, 0, 0, radius, radius, radius, radius],
        [1.0, 0, 0, radius, radius, radius, radius],
    ]
    front = UP if abs(unit @ UP) < 0.8 else FRONT
    log = Loft(at - 0.02 * unit, at + 0.6 * unit, front, rows, 2.0, (0.3, 0.3))
    return Keep(log, HalfSpace(at, -unit))


def jersey(who: Wearer) -> Shape:
    """A fisherman's jersey: long sleeves with ribbed cuffs, a hem, a roll neck."""
    low, high = who.trunk_at(0.14), who.trunk_at(0.22)
    core = Blend([who.trunk, Blend([who.thighs[0], who.thighs[1]], 0.002)], 0.022)
    arms = [Blend([who.uppers[i], who.fores[i]], 0.010) for i in (0, 1)]
    cloth: Shape = Grow(Blend([core, Blend([*arms], 0.0)], 0.030), 0.0055)
    cloth = Keep(cloth, HalfSpace(low, -UP), 0.003)
    hem = Keep(Grow(core, 0.0130), slab(low, high, 0.006), 0.008)
    cloth = Blend([_sleeves(who, cloth, 1.93, 0.16, 0.0065), hem], 0.006)
    throat = who.bones.trunk["neck"]
    top = throat + 0.52 * (who.bones.trunk["head"] - throat)
    lean = np.array([0.0, 0.0, 0.016])
    collar = Keep(Grow(who.neck, 0.0105), slab(throat - lean * 0.2 - 0.012 * UP, top - lean), 0.0)
    roll = Keep(
        Grow(who.neck, 0.0140), slab(throat - lean * 0.6 + 0.014 * UP, top - lean, 0.010), 0.012
    )
    return Blend([cloth, Blend([collar, roll], 0.003)], 0.014)


def tunic(who: Wearer) -> Shape:
    """A plain shirt with long sleeves, tucked in, with a small standing collar."""
    low = who.trunk_at(0.18)
    arms = [Blend([who.uppers[i], who.fores[i]], 0.010) for i in (0, 1)]
    cloth: Shape = Grow(Blend([who.trunk, Blend([*arms], 0.0)], 0.030), 0.0050)
    cloth = Keep(cloth, HalfSpace(low, -UP), 0.003)
    cloth = _sleeves(who, cloth, 1.94, 0.12, 0.0065)
    throat = who.bones.trunk["neck"]
    lean = np.array([0.0, 0.0, 0.012])
    collar = Keep(
        Grow(who.neck, 0.0075),
        slab(throat - 0.02 * UP - 0.3 * lean, throat + 0.020 * UP - lean, 0.003),
        0.003,
    )
    return Blend([cloth, collar], 0.006)


def tee(who: Wearer) -> Shape:
    """A loose shirt with short sleeves and a ribbed neck."""
    low = who.trunk_at(0.02)
    legs = Blend([who.thighs[0], who.thighs[1]], 0.002)
    core = Blend([who.trunk, legs], 0.022)
    arms = Blend([who.uppers[0], who.uppers[1]], 0.0)
    cloth: Shape = Grow(Blend([core, Grow(arms, 0.004)], 0.034), 0.009)
    skirt_low, skirt_high = who.trunk_at(-0.02), who.trunk_at(0.42)
    w, d = who.params.trunk_width, who.params.trunk_depth
    rows = [
        [0.0, 0, 0.002, 0.112 * w, 0.112 * w, 0.082 * d, 0.086 * d],
        [1.0, 0, 0.002, 0.092 * w, 0.092 * w, 0.074 * d, 0.070 * d],
    ]
    cloth = Blend([cloth, Loft(skirt_low, skirt_high, FRONT, rows, 2.3, (0.3, 0.3), LEFT)], 0.02)
    cloth = Keep(cloth, HalfSpace(low, -UP), 0.006)
    for i in (0, 1):
        b = who.along_arm(i, 0.68)
        cloth = Cut(cloth, _beyond(b, b - who.along_arm(i, 0.2), 0.08), 0.006)
    throat = who.bones.trunk["neck"]
    lean = np.array([0.0, 0.0, 0.014])
    band = Keep(
        Grow(who.neck, 0.0085),
        slab(throat - 0.02 * UP, throat + 0.006 * UP - lean, 0.005),
        0.005,
    )
    return Blend([cloth, band], 0.004)


def breeches(who: Wearer) -> Shape:
    """Wide breeches, tucked into boots."""
    legs: list[Shape] = []
    g = who.params.leg_girth
    for i in (0, 1):
        a, b = who.along_leg(i, 0.1), who.along_leg(i, 1.36)
        rows = [
            [0.0, 0, 0, 0.048 * g, 0.048 * g, 0.052 * g, 0.056 * g],
            [0.5, 0, 0, 0.047 * g, 0.044 * g, 0.049 * g, 0.046 * g],
            [0.8, 0, 0, 0.045 * g, 0.043 * g, 0.046 * g, 0.045 * g],
            [1.0, 0, 0, 0.036 * g, 0.036 * g, 0.036 * g, 0.042 * g],
        ]
        legs.append(Loft(a, b, FRONT, rows, 2.1, (0.3, 0.2), (1 - 2 * i) * LEFT))
    cloth = Blend([Grow(who.trunk, 0.0045), Blend(legs, 0.002)], 0.028)
    return Keep(cloth, HalfSpace(who.trunk_at(0.26), UP), 0.002)


def trousers(who: Wearer) -> Shape:
    """Trousers turned up above the ankle."""
    top = who.trunk_at(0.20)
    legs = [Blend([who.thighs[i], who.shanks[i]], 0.012) for i in (0, 1)]
    loose: list[Shape] = []
    for i in (0, 1):
        a, b, g = who.along_leg(i, 0.8), who.along_leg(i, 1.66), who.params.leg_girth
        r = [0.036 * g, 0.034 * g, 0.031 * g]
        rows = [[t, 0, -0.002, v, v, v, v * 1.08] for t, v in zip((0.0, 0.5, 1.0), r, strict=True)]
        loose.append(Loft(a, b, FRONT, rows, 2.2, (0.5, 0.5), LEFT))
    pairs = [Blend([Grow(legs[i], 0.0055), loose[i]], 0.012) for i in (0, 1)]
    cloth: Shape = Blend([Grow(who.trunk, 0.0045), Blend(pairs, 0.002)], 0.024)
    cloth = Keep(cloth, HalfSpace(top, UP), 0.002)
    cuffs: list[Shape] = []
    for i in (0, 1):
        a, b = who.along_leg(i, 1.58), who.along_leg(i, 1.68)
        cloth = Cut(cloth, _beyond(b, b - a, 0.07), 0.002)
        cuffs.append(Keep(Grow(pairs[i], 0.0028), slab(a, b, 0.003), 0.003))
    return Blend([cloth, *cuffs], 0.002)


def shorts(who: Wearer) -> Shape:
    """Wide shorts to above the knee."""
    legs: list[Shape] = []
    g = who.params.leg_girth
    for i in (0, 1):
        a, b = who.along_leg(i, 0.1), who.along_leg(i, 1.0)
        rows = [
            [0.0, 0, 0, 0.050 * g, 0.044 * g, 0.054 * g, 0.058 * g],
            [1.0, 0, 0, 0.056 * g, 0.049 * g, 0.056 * g, 0.054 * g],
        ]
        legs.append(Loft(a, b, FRONT, rows, 2.2, (0.4, 0.3), (1 - 2 * i) * LEFT))
    cloth: Shape = Blend([Grow(who.trunk, 0.0065), Blend(legs, 0.002)], 0.03)
    cloth = Keep(cloth, HalfSpace(who.trunk_at(0.24), UP), 0.003)
    for i in (0, 1):
        b = who.along_leg(i, 0.74)
        cloth = Cut(cloth, _beyond(b, b - who.along_leg(i, 0.2), 0.075), 0.006)
    return cloth


def cuffs(who: Wearer) -> Shape:
    """Turned-over cuffs of mittens or gloves."""
    bands: list[Shape] = []
    for i in (0, 1):
        a, b = who.along_arm(i, 1.74), who.along_arm(i, 1.95)
        bands.append(Keep(Grow(who.fores[i], 0.0125), slab(a, b, 0.008), 0.010))
    return Blend(bands, 0.0)
