"""What a figure carries: sword, shield, staff, satchel; and a tail. Sizes are by eye."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .bones import FRONT, LEFT, UP
from .combine import Blend, spline, tube
from .shapes import Ellipsoid, Loft, RoundCone, Shape, Vec
from .wearer import Wearer, outline

__all__ = ["PROPS"]


def _grip(who: Wearer, i: int) -> tuple[Vec, Vec, Vec]:
    """Where hand `i` holds a thing, the way along the thumb's side, and out of the palm."""
    hand = who.bones.arms[i].hand
    flip = np.array([1.0 if i == 0 else -1.0, 1, 1])
    at = hand.point(0.0, 0.42, -0.16 * who.params.hand.thickness)
    return at * flip, hand.axes[0] * flip, -hand.axes[2] * flip


def _block(a: Vec, b: Vec, front: Vec, half: float, deep: float, power: float = 5.0) -> Shape:
    rows = [[t, 0, 0, half, half, deep, deep] for t in (0.0, 1.0)]
    return Loft(a, b, front, rows, power, (0.2, 0.2))


def sword(who: Wearer) -> Shape:
    """A broad sword in the right hand, pointing the way the thumb does."""
    at, way, palm = _grip(who, 1)
    size = who.params.hand.length
    handle = RoundCone(at - 0.5 * size * way, at + 0.35 * size * way, 0.09 * size, 0.09 * size)
    guard = RoundCone(
        at + 0.42 * size * way - 0.45 * size * palm,
        at + 0.42 * size * way + 0.45 * size * palm,
        0.08 * size,
        0.08 * size,
    )
    blade = _block(at + 0.4 * size * way, at + 3.4 * size * way, palm, 0.06 * size, 0.20 * size)
    return Blend([handle, guard, blade], 0.01 * size)


def staff(who: Wearer) -> Shape:
    """A staff as tall as its bearer, upright on the floor in the right hand."""
    at, _, _ = _grip(who, 1)
    foot, top = np.array([at[0], 0.004, at[2]]), np.array([at[0], 1.02, at[2]])
    r = 0.11 * who.params.hand.length
    return Blend([RoundCone(foot, top, r, r), Ellipsoid(top, np.full(3, 3.0 * r))], 0.02)


def shield(who: Wearer) -> Shape:
    """A round shield on the left forearm."""
    a, b = who.along_arm(0, 1.0), who.along_arm(0, 2.0)
    back = who.bones.arms[0].hand.axes[2]
    way = (b - a) / np.linalg.norm(b - a)
    out = back - (back @ way) * way
    out = out / np.linalg.norm(out)
    size = 0.75 * who.params.forearm + 0.03
    at = 0.45 * a + 0.55 * b + 0.045 * who.params.arm_girth * out
    return Ellipsoid(at, [size, size, 0.016], np.stack([way, np.cross(out, way), out]))


def satchel(who: Wearer) -> Shape:
    """A square bag on the back."""
    low, high = who.trunk_at(0.45), who.trunk_at(0.92)
    z = -outline(who.trunk, float(who.trunk_at(0.7)[1]))[2] - 0.040
    a, b = np.array([0, low[1], z]), np.array([0, high[1], z])
    half = 0.070 * who.params.trunk_width
    return _block(a, b, FRONT, half, 0.048)


def tail(who: Wearer) -> Shape:
    """An animal's tail from the base of the spine."""
    root = who.bones.trunk["pelvis"] + np.array([0, -0.01, -0.03 * who.params.trunk_depth])
    path = [
        root,
        root + np.array([0.0, -0.03, -0.11]),
        root + np.array([0.02, 0.0, -0.20]),
        root + np.array([0.05, 0.09, -0.24]),
    ]
    return tube(spline(np.array(path), 10), list(np.linspace(0.026, 0.014, 10)), 0.004)


def stub_wings(who: Wearer) -> Shape:
    """Small wings on the back."""
    root = who.trunk_at(0.78) + np.array([0, 0, -0.07 * who.params.trunk_depth])
    feathers: list[Shape] = []
    for x in (1.0, -1.0):
        for k in range(4):
            end = root + np.array([x * (0.20 - 0.02 * k), 0.10 - 0.055 * k, -0.08])
            start = root + np.array([x * 0.02, 0.01 - 0.012 * k, 0.0])
            feathers.append(RoundCone(start, end, 0.014, 0.010, 0.6, UP + 0 * LEFT))
    return Blend(feathers, 0.010)


PROPS: dict[str, tuple[str, Callable[[Wearer], Shape], float]] = {
    "satchel": ("satchel", satchel, 0.04),
    "shield": ("shield", shield, 0.06),
    "staff": ("staff", staff, 0.05),
    "sword": ("sword", sword, 0.05),
    "tail": ("tail", tail, 0.05),
    "wings": ("wings", stub_wings, 0.07),
}
"""Name of the part, maker, share of the face budget."""
