"""What figures of loops and boxes wear and carry: sheets, open cones, plates, weapons."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from .box_body import crotch_height, trunk_rows
from .box_bones import BoxBones, BoxParams
from .boxes import Net, Way, loop, unit

__all__ = ["CARRIED", "PLATES", "WORN"]

FloatArray = NDArray[np.float64]
Maker = Callable[[BoxParams, BoxBones], Net]
UP, LEFT, FRONT = np.array([0.0, 1, 0]), np.array([1.0, 0, 0]), np.array([0.0, 0, 1])


def _hip(bones: BoxBones) -> float:
    return float(bones.sides[0].hip[1])


def _cape(p: BoxParams, bones: BoxBones, low: float, both: bool = False) -> Net:
    """A sheet of one layer (or two back to back) behind the figure, from the shoulders down."""
    net = Net()
    top = float(bones.sides[0].shoulder[1]) + 0.9 * p.arm
    half, back = p.chest[0] * 0.95, p.chest[1] * 1.12
    rows = []
    for t in np.linspace(0.0, 1.0, 6):
        y = top + t * (low - top)
        wide, z = half * (1.0 + 0.55 * t), -back - 0.05 * t
        rows.append([[u * wide, y, z + 0.25 * wide * u * u] for u in np.linspace(-1, 1, 7)])
    net.sheet(rows, both)
    return net


def _cone(p: BoxParams, bones: BoxBones, low: float, start: float, flare: float) -> Net:
    """An open cone from a height above the hips down to `low`."""
    net = Net()
    hip = _hip(bones)
    rows, _ = trunk_rows(p, bones, 0)
    top = hip + start * (rows[3][0] - hip)
    feet = max(abs(side.ankle[0]) for side in bones.sides) + p.foot_half
    loops = []
    for t in (0.0, 0.25, 0.6, 1.0):
        y = top + t * (low - top)
        wide = (1 - t) * 1.1 * max(p.waist[0], 0.9 * p.seat[0]) + t * max(
            flare * p.seat[0], feet * 1.05
        )
        deep = (1 - t) * 1.12 * max(p.waist[1], p.seat[1]) + t * max(
            flare * p.seat[1], 0.62 * p.foot_length
        )
        wide = max(wide, 1.08 * p.seat[0]) if y < hip + 0.2 * p.leg else wide
        way = Way(np.array([0.0, y, t * 0.2 * p.foot_length]), UP, FRONT)
        loops.append(loop(way, deep, wide, np.arange(10) * 36.0))
    net.loft(loops[::-1], start=False, end=False)
    return net


def _tabard(p: BoxParams, bones: BoxBones) -> Net:
    """Two sheets, before and behind, from the waist to the knees."""
    net = Net()
    hip, knee = _hip(bones), float(bones.sides[0].knee[1])
    for s in (1.0, -1.0):
        rows = []
        for y, out in ((hip + 0.05, 1.1), (hip - 0.02, 1.2), (knee, 1.4)):
            z = s * out * max(p.seat[1], p.leg)
            rows.append([[u * s * 0.6 * p.seat[0], y, z] for u in (-1.0, 0.0, 1.0)])
        net.sheet(rows)
    return net


WORN: dict[str, Maker] = {
    "cape": lambda p, b: _cape(p, b, 0.45 * float(b.sides[0].knee[1])),
    "cape_short": lambda p, b: _cape(p, b, _hip(b), both=True),
    "skirt": lambda p, b: _cone(p, b, 0.85 * float(b.sides[0].knee[1]), 0.35, 1.5),
    "robe": lambda p, b: _cone(p, b, 0.10 * _hip(b), 0.7, 1.4),
    "robe_floor": lambda p, b: _cone(p, b, 0.008, 0.7, 1.5),
    "tabard": _tabard,
}


def _pads(p: BoxParams, bones: BoxBones) -> Net:
    """A plate over each shoulder, and a collar."""
    net = Net()
    for side, flipped in zip(bones.sides, (False, True), strict=True):
        net.mirror = flipped
        way = unit(side.elbow - side.shoulder)
        at = side.shoulder + 0.12 * p.upper_arm * way + 0.4 * p.arm * UP
        over = unit(UP + 0.6 * LEFT)
        net.ball(Way(at, over, FRONT), np.array([1.7, 1.7, 1.1]) * p.arm, 3, 6)
    return net


def _breastplate(p: BoxParams, bones: BoxBones) -> Net:
    net = Net()
    rows, pit = trunk_rows(p, bones, 0)
    some = [(rows[pit - 1][0], *p.waist), (rows[pit][0], *p.chest), (rows[pit + 1][0] - 0.004,
            *p.chest)]  # fmt: skip
    net.loft(
        [loop(Way(np.array([0.0, y, 0.0]), UP, FRONT), 1.15 * d, 1.04 * w, np.arange(8) * 45.0, 4.0)
         for y, w, d in some], start=False, end=False,
    )  # fmt: skip
    return net


PLATES: dict[str, Maker] = {"pads": _pads, "breastplate": _breastplate}


def _grip(p: BoxParams, bones: BoxBones, side: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Where a hand holds, and its directions toward the thumb and along the hand."""
    one = bones.sides[side]
    return one.wrist + 0.42 * p.hand_length * one.hand[1], one.hand[0], one.hand[1]


def _sword(p: BoxParams, bones: BoxBones) -> Net:
    net = Net(mirror=True)
    at, thumb, along = _grip(p, bones, 1)
    axes = np.stack([along, np.cross(thumb, along), thumb])
    long = 0.34
    net.box(at, axes, [0.010, 0.010, 0.055])
    net.box(at + 0.06 * thumb, axes, [0.050, 0.014, 0.010])
    net.box(at + (0.07 + 0.5 * long) * thumb, axes, [0.020, 0.005, 0.5 * long], 0.4)
    return net


def _staff(p: BoxParams, bones: BoxBones) -> Net:
    net = Net(mirror=True)
    at, thumb, _ = _grip(p, bones, 1)
    loops = [
        loop(Way(at + t * thumb, thumb, np.cross(thumb, UP) if abs(thumb @ UP) < 0.9 else FRONT),
             r, r, np.arange(6) * 60.0)
        for t, r in ((-0.45, 0.010), (0.40, 0.012), (0.42, 0.035), (0.50, 0.035))
    ]  # fmt: skip
    net.loft(loops)
    return net


def _shield(p: BoxParams, bones: BoxBones) -> Net:
    """A plate of one layer with a rim, strapped to the left forearm."""
    net = Net()
    one = bones.sides[0]
    back = one.hand[2]
    at = 0.5 * (one.elbow + one.wrist) + 1.8 * p.arm * back
    rim = net.ring(loop(Way(at, back, one.hand[0]), 0.15, 0.12, np.arange(8) * 45.0))
    middle = net.ring([at + 0.03 * back])[0]
    for a, b in zip(rim, rim[1:] + rim[:1], strict=True):
        net.polygon((a, b, middle))
    return net


def _backpack(p: BoxParams, bones: BoxBones) -> Net:
    net = Net()
    y = 0.5 * (_hip(bones) + float(bones.sides[0].shoulder[1])) + 0.02
    tall = 0.36 * (float(bones.sides[0].shoulder[1]) - _hip(bones))
    net.box([0, y, -p.chest[1] - 0.045], np.eye(3), [0.7 * p.chest[0], tall, 0.05])
    for s in (1.0, -1.0):
        net.box([s * 0.45 * p.chest[0], y, p.chest[1] * 1.02], np.eye(3),
                [0.012, tall, 0.006])  # fmt: skip
    return net


def _tail(p: BoxParams, bones: BoxBones) -> Net:
    net = Net()
    y = crotch_height(p, bones) + 0.6 * p.leg
    z = -p.seat[1]
    line = np.array([[0, y, 0.6 * z], [0, y - 0.01, z - 0.05], [0, y + 0.04, z - 0.13],
                     [0, y + 0.13, z - 0.16]])  # fmt: skip
    net.rod(line, (0.022, 0.020, 0.026, 0.006), LEFT)
    return net


CARRIED: dict[str, Maker] = {
    "sword": _sword,
    "staff": _staff,
    "shield": _shield,
    "backpack": _backpack,
    "tail": _tail,
}
