"""What the figures of wilder deals wear and carry beside `box_gear`: to the floor, all round, in
one piece with the hand, across the back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .box_body import joined
from .box_bones import BoxBones, BoxParams
from .box_gear import CARRIED
from .boxes import Net, Way, loop, unit

__all__ = ["ALSO", "WILD_HEADWEAR", "WILD_PLATES", "WILD_WORN", "welded"]

FloatArray = NDArray[np.float64]
Maker = Callable[[BoxParams, BoxBones], Net]
UP, LEFT, FRONT = np.array([0.0, 1, 0]), np.array([1.0, 0, 0]), np.array([0.0, 0, 1])
_FLOOR = 0.006
_FOUR = (45, 135, 225, 315)


def _heights(bones: BoxBones) -> tuple[float, float]:
    """Of hips and shoulders."""
    return float(bones.sides[0].hip[1]), float(bones.sides[0].shoulder[1])


def _drape(
    p: BoxParams, bones: BoxBones, top: float, low: float, open_by: float, flare: float
) -> Net:
    """A cloth of one layer round the trunk, open before the figure by so many degrees to a side."""
    net, (hip, _) = Net(), _heights(bones)
    feet = max(abs(side.ankle[0]) for side in bones.sides) + p.foot_half
    angles = np.radians(np.linspace(open_by, 360.0 - open_by, 15))
    rows = []
    for t in (0.0, 0.2, 0.5, 0.75, 1.0):
        y = top + t * (low - top)
        wide = 1.12 * max(p.chest[0], p.seat[0], p.waist[0]) * (1.0 - t)
        wide += t * max(flare * p.seat[0], 1.1 * feet)
        deep = 1.15 * max(p.chest[1], p.seat[1], p.waist[1]) * (1.0 - t)
        deep += t * max(flare * p.seat[1], 0.8 * p.foot_length)
        if y < hip:
            wide = max(wide, 1.05 * (p.hip_x + p.leg))
        rows.append(
            [[wide * np.sin(a), y, deep * np.cos(a) - 0.03 * t * (open_by > 0)] for a in angles]
        )
    net.sheet(rows)
    return net


def _cape_floor(p: BoxParams, bones: BoxBones) -> Net:
    """Behind the figure, from the shoulders to the floor and wider than the feet."""
    net, (_, top) = Net(), _heights(bones)
    top += 0.9 * p.arm
    feet = max(abs(side.ankle[0]) for side in bones.sides) + 1.4 * p.foot_half
    rows = []
    for t in np.linspace(0.0, 1.0, 6):
        y, z = top + t * (_FLOOR - top), -1.12 * p.chest[1] - t * 0.35 * p.foot_length
        wide = (1.0 - t) * 0.95 * p.chest[0] + t * max(feet, 1.2 * p.chest[0])
        rows.append([[u * wide, y, z + 0.3 * wide * u * u] for u in np.linspace(-1, 1, 7)])
    net.sheet(rows)
    return net


def _sleeves(p: BoxParams, bones: BoxBones) -> Net:
    """Sleeves that widen toward the wrist, of one layer, over a robe to the floor."""
    _, top = _heights(bones)
    net = _drape(p, bones, top + 0.5 * p.arm, _FLOOR, 0.0, 1.4)
    for side, flipped in zip(bones.sides, (False, True), strict=True):
        net.mirror = flipped
        line = [side.shoulder, side.elbow, side.wrist + 0.1 * p.hand_length * side.hand[1]]
        way = [line[1] - line[0], line[2] - line[0], line[2] - line[1]]
        net.loft(
            [loop(Way(at, ahead, FRONT if abs(unit(ahead) @ FRONT) < 0.9 else UP), s * p.arm,
                  s * p.arm, np.arange(8) * 45.0)
             for at, ahead, s in zip(line, way, (1.3, 1.8, 2.6), strict=True)],
            start=False, end=False,
        )  # fmt: skip
    return net


WILD_WORN: dict[str, Maker] = {
    "cape_floor": _cape_floor,
    "cape_round": lambda p, b: _drape(
        p, b, _heights(b)[1] + 0.6 * p.arm, 1.5 * _FLOOR, 35.0, 1.5),
    "coat": lambda p, b: _drape(
        p, b, _heights(b)[1] - 1.2 * p.arm, 0.6 * float(b.sides[0].knee[1]), 20.0, 1.35),
    "jacket": lambda p, b: _drape(
        p, b, _heights(b)[1] + 0.5 * p.arm, _heights(b)[0] - 0.3 * p.leg, 28.0, 1.25),
    "gown": lambda p, b: _drape(
        p, b, _heights(b)[0] + 0.35 * (_heights(b)[1] - _heights(b)[0]), _FLOOR, 0.0, 1.7),
    "robe_sleeves": _sleeves,
}  # fmt: skip


def _hood(p: BoxParams, bones: BoxBones) -> Net:
    """Round the head and open at the face, down to the shoulders."""
    net, head = Net(), 1.0 / p.heads
    wide, deep = p.head_half[0] * head, p.head_half[1] * head
    angles = np.radians(np.linspace(48.0, 312.0, 11))
    rows = []
    for y, s in ((1.10, 0.30), (1.02, 0.85), (0.70, 1.18), (0.30, 1.16), (-0.12, 1.25)):
        rows.append([[s * wide * np.sin(a), bones.chin + y * head, s * deep * np.cos(a)]
                     for a in angles])  # fmt: skip
    net.sheet(rows)
    return net


def _brim(p: BoxParams, bones: BoxBones) -> Net:
    """A low hat with a brim of more than two heads' breadth."""
    net, head = Net(), 1.0 / p.heads
    base = bones.chin + 0.72 * head
    net.loft(
        [loop(Way(np.array([0.0, base + y * head, 0.0]), UP, FRONT), s * p.head_half[1] * head,
              s * p.head_half[0] * head, np.arange(10) * 36.0)
         for y, s in ((-0.04, 2.3), (0.02, 1.1), (0.24, 1.02), (0.40, 0.6))], start=False,
    )  # fmt: skip
    return net


def _crown(p: BoxParams, bones: BoxBones) -> Net:
    """Spikes in a ring round the crown."""
    net, head = Net(), 1.0 / p.heads
    for turn in np.arange(8) * 45.0:
        out = np.array([np.sin(np.radians(turn)), 0.0, np.cos(np.radians(turn))])
        at = np.array([0.0, bones.chin + 0.86 * head, 0.0])
        at = at + 0.74 * head * out * [p.head_half[0], 0.0, p.head_half[1]]
        way = unit(UP + 0.25 * out)
        net.loft([loop(Way(at + t * 0.30 * head * way, way, FRONT if abs(out[2]) < 0.9 else LEFT),
                       s * head, s * head, np.arange(4) * 90.0)
                  for t, s in ((0.0, 0.09), (1.0, 0.008))])  # fmt: skip
    return net


def _great_horns(p: BoxParams, bones: BoxBones) -> Net:
    """Two horns from the crown's sides, upward and together, half a head tall."""
    net, head = Net(), 1.0 / p.heads
    for flipped in (False, True):
        net.mirror = flipped
        root = np.array([0.6 * p.head_half[0] * head, bones.chin + 0.85 * head, 0.0])
        line = (root, root + np.array([0.22, 0.16, 0.0]) * head,
                root + np.array([0.26, 0.44, 0.04]) * head, root + np.array([0.12, 0.66, 0.1])
                * head)  # fmt: skip
        ahead = (unit(LEFT + 0.6 * UP), unit(LEFT + UP), UP, unit(UP - 0.5 * LEFT))
        net.rod(line, [s * head for s in (0.11, 0.10, 0.06, 0.01)], FRONT, ways=ahead)
    return net


WILD_HEADWEAR: dict[str, Maker] = {
    "hood": _hood,
    "brim": _brim,
    "crown": _crown,
    "great_horns": _great_horns,
}


def _yoke(p: BoxParams, bones: BoxBones) -> Net:
    """One wide plate over both shoulders, touching neither."""
    net, (_, top) = Net(), _heights(bones)
    y = top + 1.5 * p.arm
    loops = []
    for u in np.linspace(-1.0, 1.0, 7):
        at = np.array([u * 1.45 * p.shoulder_x, y - 0.6 * p.arm * u * u, 0.0])
        s = 1.0 + 0.4 * abs(u)
        loops.append(loop(Way(at, LEFT, UP), 0.3 * p.arm * s, 1.3 * p.chest[1], _FOUR, 8.0))
    net.loft(loops)
    return net


def _pauldrons(p: BoxParams, bones: BoxBones) -> Net:
    """A great boss over each shoulder, as wide as half the chest."""
    net = Net()
    for side, flipped in zip(bones.sides, (False, True), strict=True):
        net.mirror = flipped
        at = side.shoulder + 0.9 * p.arm * UP + 0.5 * p.arm * LEFT
        net.ball(Way(at, UP, FRONT), np.array([2.4, 2.6, 1.6]) * p.arm, 4, 8)
    return net


WILD_PLATES: dict[str, Maker] = {"yoke": _yoke, "pauldrons": _pauldrons}


def _wings(p: BoxParams, bones: BoxBones, few: bool) -> Net:
    """From between the shoulder blades, up and out: a quadrangle of one layer, or many feathers."""
    net, (hip, top) = Net(), _heights(bones)
    z = -1.02 * p.chest[1]
    root = np.array([0.12 * p.chest[0], 0.6 * top + 0.4 * hip, z])
    tall = 0.30 + 0.5 * (top - hip)
    for flipped in (False, True):
        net.mirror = flipped
        tip = root + np.array([0.28, 0.75 * tall, -0.10])
        low = root + np.array([0.24, -0.55 * tall, -0.06])
        if few:
            net.sheet([[root + 0.12 * tall * UP, tip], [root - 0.12 * tall * UP, low]], both=True)
            continue
        for k, t in enumerate(np.linspace(0.0, 1.0, 9)):
            end = (1.0 - t) * tip + t * low + 0.05 * np.sin(np.pi * t) * LEFT
            start = root + (0.15 - 0.3 * t) * tall * UP - 0.002 * k * FRONT
            way = unit(end - start)
            half = 0.025 * np.cross(FRONT, way)
            net.sheet([[start - half, start + half], [end - 1.2 * half, end + 1.2 * half]])
    return net


def _across_back(p: BoxParams, bones: BoxBones, half: FloatArray, taper: float) -> Net:
    net, (hip, top) = Net(), _heights(bones)
    way = unit(UP + 0.75 * LEFT)
    axes = np.stack([np.cross(FRONT, way), FRONT, way])
    at = [0.0, 0.45 * hip + 0.55 * top, -1.05 * p.chest[1] - 0.02]
    net.box(at, axes, half, taper)
    return net


def _sword_back(p: BoxParams, bones: BoxBones) -> Net:
    net = _across_back(p, bones, np.array([0.028, 0.008, 0.27]), 0.8)
    way = unit(UP + 0.75 * LEFT)
    middle = np.mean(net.points, axis=0)
    net.box(middle - 0.33 * way, np.stack([np.cross(FRONT, way), FRONT, way]), [0.01, 0.01, 0.06])
    return net


def _shield_back(p: BoxParams, bones: BoxBones) -> Net:
    net, (hip, top) = Net(), _heights(bones)
    at = np.array([0.0, 0.4 * hip + 0.6 * top, -1.05 * p.chest[1] - 0.03])
    net.loft([loop(Way(at + z * FRONT, -FRONT, UP), s * 0.16, s * 0.15, np.arange(10) * 36.0)
              for z, s in ((0.012, 1.0), (-0.004, 1.0), (-0.025, 0.3))])  # fmt: skip
    return net


def _quiver(p: BoxParams, bones: BoxBones) -> Net:
    net = _across_back(p, bones, np.array([0.035, 0.035, 0.15]), 1.2)
    way = unit(UP + 0.75 * LEFT)
    axes = np.stack([np.cross(FRONT, way), FRONT, way])
    middle = np.mean(net.points, axis=0)
    for k in (-1.0, 0.0, 1.0):
        net.box(middle + 0.19 * way + 0.018 * k * axes[0], axes, [0.003, 0.003, 0.07])
    return net


def _bag(p: BoxParams, bones: BoxBones) -> Net:
    """At the left hip, with a strap over the right shoulder."""
    net, (hip, top) = Net(), _heights(bones)
    x = 1.05 * max(p.seat[0], p.hip_x + p.leg)
    net.box([x + 0.03, hip, 0.0], np.eye(3), [0.03, 0.05, 0.06])
    for z in (1.08 * p.chest[1], -1.08 * p.chest[1]):
        a, b = np.array([x, hip + 0.04, 0.4 * z]), np.array([-0.7 * p.chest[0], top + p.arm, z])
        net.sheet([[a - 0.012 * UP, a + 0.012 * UP], [b - 0.012 * UP, b + 0.012 * UP]])
    return net


def _pouches(p: BoxParams, bones: BoxBones) -> Net:
    """A belt with pouches all round."""
    net, (hip, top) = Net(), _heights(bones)
    y = hip + 0.2 * (top - hip)
    wide, deep = 1.1 * max(p.seat[0], p.waist[0]), 1.12 * max(p.seat[1], p.waist[1])
    net.loft([loop(Way(np.array([0.0, y + s * 0.015, 0.0]), UP, FRONT), deep, wide,
                   np.arange(10) * 36.0) for s in (-1, 1)], start=False, end=False)  # fmt: skip
    for turn in (60.0, 100.0, 150.0, 215.0, 265.0, 300.0):
        a = np.radians(turn)
        out = np.array([np.sin(a), 0.0, np.cos(a)])
        at = np.array([wide * out[0], y - 0.02, deep * out[2]]) + 0.015 * out
        net.box(at, np.stack([np.cross(UP, out), UP, out]), [0.022, 0.028, 0.018])
    return net


def _flaps(p: BoxParams, bones: BoxBones, turns: tuple[float, ...], out_by: float) -> Net:
    """Flaps of cloth or leather that hang from a belt, as thick as boards and stood off the legs,
    reaching half way to the knees and more."""
    net, (hip, top) = Net(), _heights(bones)
    y = hip + 0.3 * (top - hip)
    wide, deep = 1.02 * max(p.seat[0], p.waist[0]), 1.02 * max(p.seat[1], p.waist[1])
    long = 0.9 * (y - float(bones.sides[0].knee[1]))
    for turn in turns:
        a = np.radians(turn)
        out = np.array([np.sin(a), 0.0, np.cos(a)])
        way = unit(-UP + out_by * out)
        at = np.array([wide * out[0], y, deep * out[2]])
        side = unit(np.cross(way, out))
        net.loft([loop(Way(at + t * long * way, way, side), s * p.leg, 0.28 * p.leg, _FOUR, 8.0)
                  for t, s in ((-0.08, 0.55), (0.25, 0.75), (0.8, 0.6), (1.0, 0.35))])  # fmt: skip
    net.loft([loop(Way(np.array([0.0, y + s * 0.02, 0.0]), UP, FRONT), 1.04 * deep, 1.04 * wide,
                   np.arange(10) * 36.0) for s in (-1, 1)])  # fmt: skip
    return net


def _beard(p: BoxParams, bones: BoxBones) -> Net:
    """From the cheeks down over the chest, in a point."""
    net, head = Net(), 1.0 / p.heads
    wide, deep = p.head_half[0] * head, p.head_half[1] * head
    low = min(0.5 * head, 0.6 * (bones.chin - _heights(bones)[0]))
    at = [(0.30 * head, 0.85 * wide, 0.80), (-0.05 * head, 0.7 * wide, 0.95), (-low, 0.1 * wide,
          0.9)]  # fmt: skip
    net.loft([loop(Way(np.array([0.0, bones.chin + y, z * max(deep, p.chest[1])]), -UP, FRONT),
                   0.25 * deep, w, np.arange(6) * 60.0) for y, w, z in at])  # fmt: skip
    return net


def _gloves(p: BoxParams, bones: BoxBones) -> Net:
    """A big ball round each fist."""
    net = Net()
    for side, flipped in zip(bones.sides, (False, True), strict=True):
        net.mirror = flipped
        at = side.wrist + 0.45 * p.hand_length * side.hand[1]
        net.ball(Way(at, side.hand[1], side.hand[0]), np.full(3, max(0.5 * p.hand_length, 1.5
                 * p.arm)), 4, 8)  # fmt: skip
    return net


def _boots(p: BoxParams, bones: BoxBones) -> Net:
    """Cuffs at mid-shin, and a wedge behind that looks like a hock."""
    net = Net()
    for side, flipped in zip(bones.sides, (False, True), strict=True):
        net.mirror = flipped
        way = unit(side.knee - side.ankle)
        long = float(np.linalg.norm(side.knee - side.ankle))
        net.loft([loop(Way(side.ankle + t * long * way, way, side.foot[2]), s * p.leg, s * p.leg,
                       np.arange(8) * 45.0) for t, s in ((0.0, 0.8), (0.3, 0.95), (0.55, 1.35))],
                 start=False, end=False)  # fmt: skip
        at = side.ankle + 0.25 * long * way - 0.9 * p.leg * side.foot[2]
        net.loft([loop(Way(at - t * 1.1 * p.leg * side.foot[2] + 0.2 * t * long * way,
                           -side.foot[2], UP), s * p.leg, s * p.leg, _FOUR, 6.0)
                  for t, s in ((0.0, 0.7), (1.0, 0.15))])  # fmt: skip
    return net


def _long_tail(p: BoxParams, bones: BoxBones) -> Net:
    """Thick at the root, down to the floor and back up."""
    net, (hip, _) = Net(), _heights(bones)
    z = -p.seat[1]
    line = np.array([[0, hip + 0.02, 0.5 * z], [0, 0.7 * hip, z - 0.06], [0, 0.25 * hip, z - 0.14],
                     [0, 0.12 * hip + 0.02, z - 0.26], [0, 0.4 * hip, z - 0.36]])  # fmt: skip
    net.rod(line, [r * p.leg for r in (0.9, 0.8, 0.65, 0.45, 0.1)], LEFT, sides=6)
    return net


ALSO: dict[str, Maker] = {
    "wings_few": lambda p, b: _wings(p, b, True),
    "wings_many": lambda p, b: _wings(p, b, False),
    "sword_back": _sword_back,
    "shield_back": _shield_back,
    "quiver": _quiver,
    "bag": _bag,
    "pouches": _pouches,
    "flaps": lambda p, b: _flaps(p, b, (28.0, 90.0, 150.0, 210.0, 270.0, 332.0), 0.45),
    "loincloth": lambda p, b: _flaps(p, b, (0.0, 90.0, 180.0, 270.0), 0.3),
    "beard": _beard,
    "gloves": _gloves,
    "boots": _boots,
    "long_tail": _long_tail,
}
_CORNERS = 2


def welded(host: Net, kind: str, p: BoxParams, bones: BoxBones) -> Net:
    """A net with a weapon that shares points with its right hand, or a shield with its left."""
    prop = CARRIED[kind](p, bones)
    side, flip = (bones.sides[0], 1.0) if kind == "shield" else (bones.sides[1], -1.0)
    at = side.wrist + 0.42 * p.hand_length * side.hand[1]
    if kind == "shield":
        at = 0.5 * (side.elbow + side.wrist)
    held = at * [flip, 1.0, 1.0]
    whole = joined([host, prop])
    points, start = np.array(whole.points), len(host.points)
    near = start + np.argsort(np.linalg.norm(points[start:] - held, axis=1), kind="stable")
    to = np.argsort(np.linalg.norm(points[:start] - held, axis=1), kind="stable")
    place = dict(zip(near[:_CORNERS].tolist(), to[:_CORNERS].tolist(), strict=True))
    polygons = [tuple(place.get(i, i) for i in poly) for poly in whole.polygons]
    return replace(whole, polygons=polygons)
