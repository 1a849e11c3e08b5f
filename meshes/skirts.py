"""Garments that fall from the waist or the shoulders: skirts, gowns, a tailed coat, a cape.

Their sizes follow the figure below them, so that they fit a child of two heads and a giant.
"""

from __future__ import annotations

import numpy as np

from .bones import FRONT, LEFT, UP
from .clothes import tunic
from .combine import Blend, Cut, Grow, Keep, Wave
from .shapes import HalfSpace, Loft, Shape, Vec
from .wearer import Wearer, outline

__all__ = ["HEMS", "cape", "coat", "gown", "skirt", "skirt_floor", "skirt_long"]


def _feet(who: Wearer) -> tuple[float, float, float]:
    """How far feet and shoes reach to the side, ahead, and behind."""
    side, ahead, behind = 0.0, 0.0, 0.0
    for leg in who.bones.legs:
        wide = 0.20 * who.params.foot_breadth
        for x, z in ((wide, 0.6), (wide, 1.08), (0.0, 1.08), (0.1, -0.08)):
            at = leg.foot.point(x, 0.0, z)
            side, ahead, behind = max(side, at[0]), max(ahead, at[2]), max(behind, -at[2])
    return side, ahead, behind


def _core(who: Wearer) -> Shape:
    return Blend([who.trunk, Blend([who.thighs[0], who.thighs[1]], 0.002)], 0.022)


def _fall(who: Wearer, waist: float, hem: float, flare: float, floor: bool, pleats: int) -> Shape:
    """A skirt from the waist to a hem height, solid inside; the legs push it out."""
    core = _core(who)
    hip = who.bones.legs[0].hip[1]
    top, mid = outline(core, waist), outline(core, hip - 0.02)
    mid = tuple(max(a, b) + 0.012 for a, b in zip(top, mid, strict=True))  # type: ignore[assignment]
    end = [flare * v for v in mid]
    if floor:
        end = [max(a, b + 0.018) for a, b in zip(end, _feet(who), strict=True)]
        end[0] = max(end[0], 0.8 * end[1])
    span = waist - hem
    share = (hip - 0.02 - hem) / span
    rows = [
        [-0.08, 0, 0, end[0] * 1.02, end[0] * 1.02, end[1] * 1.02, end[2] * 1.02],
        [0.0, 0, 0, end[0], end[0], end[1], end[2]],
        [share, 0, 0, mid[0], mid[0], mid[1], mid[2]],
        [1.0, 0, 0, top[0] + 0.006, top[0] + 0.006, top[1] + 0.006, top[2] + 0.006],
    ]
    a, b = np.array([0.0, hem, 0.0]), np.array([0.0, waist, 0.0])
    cloth: Shape = Loft(a, b, FRONT, rows, 2.1, (0.1, 0.1), LEFT)
    if not floor:
        legs = [Grow(Blend([who.thighs[i], who.shanks[i]], 0.012), 0.010) for i in (0, 1)]
        legs = [Keep(leg, HalfSpace(np.array([0, hip, 0]), UP)) for leg in legs]
        cloth = Blend([cloth, *legs], 0.04)
    deep = 0.05 * end[0]
    cloth = Wave(cloth, b, -UP, LEFT, pleats, 0.0, deep, span)
    cloth = Keep(cloth, HalfSpace(b, UP), 0.004)
    return Keep(cloth, HalfSpace(a, -UP))


def _hem_short(who: Wearer) -> float:
    return 0.75 * float(who.along_leg(0, 1.0)[1]) + 0.25 * float(who.along_leg(0, 0.0)[1])


def _hem_long(who: Wearer) -> float:
    return 0.55 * float(who.along_leg(0, 1.0)[1]) + 0.45 * float(who.along_leg(0, 2.0)[1])


def _hem_floor(who: Wearer) -> float:
    return 0.006


def skirt(who: Wearer) -> Shape:
    """A pleated skirt to above the knee."""
    return _fall(who, who.trunk_at(0.24)[1], _hem_short(who), 1.35, False, 14)


def skirt_long(who: Wearer) -> Shape:
    """A skirt to the shin."""
    return _fall(who, who.trunk_at(0.26)[1], _hem_long(who), 1.45, False, 12)


def skirt_floor(who: Wearer) -> Shape:
    """A skirt to the floor, wide enough for the shoes: nothing of the legs shows."""
    return _fall(who, who.trunk_at(0.28)[1], _hem_floor(who), 1.7, True, 14)


def gown(who: Wearer) -> Shape:
    """A gown with sleeves, to the floor."""
    return Blend([tunic(who), skirt_floor(who)], 0.02)


HEMS = {"skirt": _hem_short, "skirt_long": _hem_long, "skirt_floor": _hem_floor, "gown": _hem_floor}
"""Garments that are open below, a single sheet of cloth, with the height of that opening."""


def _shell_below(who: Wearer, outside: Shape, hem: float, thick: float) -> Shape:
    shell: Shape = Cut(outside, Grow(outside, -thick))
    return Keep(shell, HalfSpace(np.array([0.0, hem, 0.0]), -UP), 0.004)


def coat(who: Wearer) -> Shape:
    """A coat with long sleeves, cut away in front, that ends behind in two tails at the calves."""
    p = who.params
    knee, ankle = float(who.along_leg(0, 1.0)[1]), float(who.along_leg(0, 2.0)[1])
    hem = 0.6 * knee + 0.4 * ankle
    waist = float(who.trunk_at(0.30)[1])
    core = Blend([who.trunk, Blend([*who.uppers, *who.fores], 0.010)], 0.030)
    side, ahead, behind = outline(_core(who), float(who.bones.legs[0].hip[1]) - 0.02)
    rows = [
        [0.0, 0, 0, 1.15 * side, 1.15 * side, 1.1 * ahead, 1.5 * behind + 0.02],
        [0.8, 0, 0, side + 0.012, side + 0.012, ahead + 0.012, behind + 0.016],
        [1.0, 0, 0, 0.9 * side, 0.9 * side, 0.9 * ahead, 0.9 * behind],
    ]
    low, high = np.array([0.0, hem, 0.0]), np.array([0.0, waist + 0.02, 0.0])
    tails = Loft(low, high, FRONT, rows, 2.2, (0.1, 0.1), LEFT)
    outside = Blend([Grow(core, 0.011), tails], 0.02)
    shell = _shell_below(who, outside, hem, 0.011)
    # in front the skirts of the coat are cut away, behind they are slit to the seat
    shell = Cut(shell, _wedge(hem - 0.05, waist + 0.05, 1.6 * side, 0.002, 0.4, 0.02), 0.006)
    shell = Cut(shell, _wedge(hem - 0.05, waist - 0.04, 0.35 * side, 0.002, 0.02, 0.4), 0.006)
    open_top = float(who.trunk_at(1.05)[1])
    breast = _wedge(open_top, waist, 0.040 * p.trunk_width, 0.003, 0.4, 0.0)
    shell = Cut(shell, breast, 0.004)
    neck = who.bones.trunk["neck"]
    shell = Cut(shell, Grow(Blend([who.neck, who.head], 0.01), 0.004), 0.004)
    for i in (0, 1):  # the sleeves end before the hand
        a, b = who.along_arm(i, 1.0), who.along_arm(i, 1.90)
        shell = Keep(shell, HalfSpace(b, b - a), 0.003) if _alone(who, i, b, neck) else shell
    return shell


def _alone(who: Wearer, i: int, cut: Vec, neck: Vec) -> bool:
    """Is nothing but the hand beyond the plane in which a sleeve ends?"""
    a = who.along_arm(i, 1.0)
    way = (cut - a) / np.linalg.norm(cut - a)
    rest = [neck, who.along_leg(0, 1.6), who.along_leg(1, 1.6), who.along_arm(1 - i, 1.0)]
    return all(float((point - cut) @ way) < -0.05 for point in rest)


def _wedge(y0: float, y1: float, half0: float, half1: float, front: float, back: float) -> Shape:
    """An opening that narrows from one height to another, ahead or behind of the axis."""
    rows = [
        [0.0, 0, 0, half0, half0, max(front, 0.0005), max(back, 0.0005)],
        [1.0, 0, 0, half1, half1, max(front, 0.0005), max(back, 0.0005)],
    ]
    return Loft(np.array([0, y0, 0]), np.array([0, y1, 0]), FRONT, rows, 5.0, (0.2, 0.2), LEFT)


def cape(who: Wearer) -> Shape:
    """A cape that hangs from the shoulders behind, to the calves."""
    knee, ankle = float(who.along_leg(0, 1.0)[1]), float(who.along_leg(0, 2.0)[1])
    hem = 0.4 * knee + 0.6 * ankle
    neck = who.bones.trunk["neck"]
    sx = float(who.bones.arms[0].shoulder[0])
    chest = outline(who.trunk, float(who.trunk_at(0.75)[1]))
    seat = outline(_core(who), float(who.bones.legs[0].hip[1]) - 0.02)
    behind = max(chest[2], seat[2]) + 0.022
    rows = [
        [0.0, 0, 0, 1.35 * sx, 1.35 * sx, 0.02, behind + 0.07],
        [0.5, 0, 0, 1.20 * sx, 1.20 * sx, 0.02, behind + 0.03],
        [0.85, 0, 0, 1.05 * sx, 1.05 * sx, 0.02, behind],
        [0.97, 0, 0, 0.85 * sx, 0.85 * sx, 0.02, chest[2] + 0.012],
        [1.0, 0, 0, 0.6 * sx, 0.6 * sx, 0.02, 0.8 * chest[2]],
    ]
    a, b = np.array([0.0, hem, 0.0]), np.array([0.0, neck[1] + 0.004, 0.0])
    drape: Shape = Loft(a, b, FRONT, rows, 2.6, (0.1, 0.1), LEFT)
    drape = Wave(drape, b, -UP, LEFT, 12, 0.0, 0.010, neck[1] - hem)
    shell = _shell_below(who, drape, hem, 0.011)
    return Keep(shell, HalfSpace(np.array([0.0, 0.0, -0.35 * behind]), FRONT), 0.004)
