"""Arms, hands, legs and feet as tubes of few sides, grown from a loop or stuck in."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .box_bones import FINGER_NAMES, BoxParams, SideBones, palm_end, palm_half
from .boxes import Ids, Net, Way, loop, unit

__all__ = ["Style", "arm_tube", "drawn_foot", "foot_block", "hand_block", "leg_angles", "leg_tube"]

Vec = NDArray[np.float64]
Row = tuple[float, float]
UP, FRONT = np.array([0.0, 1, 0]), np.array([0.0, 0, 1])
_FOUR = (45.0, 135.0, 225.0, 315.0)


@dataclass(frozen=True)
class Style:
    """How a figure is modelled."""

    build: str
    """"one": a single skin; "stuck": closed tubes in one another; "parts": likewise, each an
    object; "clothes": open shells, no skin beneath; "robot": boxes with gaps."""
    sides: int
    square: float
    """Exponent of the sections."""
    many_loops: bool
    """Three loops at elbow and knee instead of one."""
    feet: str
    """"shoe": a block; "drawn": the leg's loops drawn forward; "stump": the leg ends flat."""
    muscle: float
    """How much calf and forearm swell."""


def _line(points: list[Vec], t: float) -> tuple[Vec, Vec]:
    """Where the polyline is at `t` (0 to 1 on the first bone, to 2 on the second), and its way."""
    way = [unit(b - a) for a, b in pairwise(points)]
    bone = 0 if t < 1.0 else 1
    at = points[bone] + (t - bone) * (points[bone + 1] - points[bone])
    near = abs(t - 1.0)
    ahead = unit(way[0] + way[1]) if near < 0.02 else way[bone]
    return at, ahead


def _tube(
    net: Net,
    points: list[Vec],
    first: list[Vec],
    rows: list[Row],
    angles: list[float],
    square: float,
    grown_from: Ids | None,
    open_start: bool,
) -> Ids:
    """Loops at rows of (t, radius) along two bones; the last loop is left open and returned."""
    last = grown_from
    for t, radius in rows:
        at, ahead = _line(points, t)
        way = Way(at, ahead, first[0] if t < 1.0 else first[1])
        ring = net.ring(loop(way, radius, radius, angles, square))
        if last is not None:
            net.bridge(last, ring)
        elif not open_start:
            net.cap(ring, at_start=True)
        last = ring
    assert last is not None
    return last


def arm_tube(
    net: Net,
    p: BoxParams,
    side: SideBones,
    style: Style,
    grown_from: Ids | None = None,
    span: tuple[float, float] = (0.0, 2.0),
    scale: float = 1.0,
) -> Ids:
    """The arm between two places on it (0 shoulder, 1 elbow, 2 wrist); its last loop, open."""
    r, swell = scale * p.arm, style.muscle
    start = 0.30 if grown_from is not None else -0.10
    rows = [(start, r), (0.55, 0.95 * r)]
    rows += [(0.90, 0.85 * r)] * style.many_loops + [(1.0, 0.86 * r)]
    rows += [(1.12, 0.85 * r)] * style.many_loops
    rows += [(1.35, (0.84 + swell) * r), (1.94, 0.66 * r)]
    rows = _between(rows, span)
    count = len(grown_from) if grown_from is not None else style.sides
    step = 360.0 / count
    angles = [(k - 1) * step for k in range(count)] if count != 4 else [315.0, 45.0, 135.0, 225.0]
    points = [side.shoulder, side.elbow, side.wrist]
    first = []
    for a, b in pairwise(points):
        way = unit(b - a)
        ahead = FRONT if abs(FRONT @ way) < 0.9 else UP
        first.append(np.cross(unit(ahead - (ahead @ way) * way), way))
    return _tube(
        net, points, first, rows, angles, style.square, grown_from, style.build == "clothes"
    )


def _between(rows: list[Row], span: tuple[float, float]) -> list[Row]:
    """Rows inside a span, with its ends put in."""
    low, high = span
    t = [row[0] for row in rows]
    radius = [row[1] for row in rows]
    kept = [row for row in rows if low < row[0] < high or (low <= 0.0 and row[0] <= 0.0)]
    if low > 0.0:
        kept = [(low, float(np.interp(low, t, radius))), *kept]
    if high < t[-1]:
        kept = [*kept, (high, float(np.interp(high, t, radius)))]
    elif not kept or kept[-1][0] < t[-1]:
        kept = [*kept, rows[-1]]
    return kept


def hand_block(
    net: Net, p: BoxParams, side: SideBones, grown_from: Ids | None, open_start: bool = False
) -> None:
    """The hand, as a box with boxes for fingers."""
    names = FINGER_NAMES[p.hand]
    thumb, along, back = side.hand
    length = p.hand_length
    breadth, thick = palm_half(p.hand)
    q = max(len(names), 1)
    across = np.linspace(-breadth, breadth, q + 1)
    lengths = {"fist": (0.10, 0.36, 0.62), "block": (0.10, 0.40, 0.92)}
    stations = lengths.get(p.hand, (0.12, 0.38, palm_end(p.hand)))
    rings = []
    for s, wide, deep in zip(stations, (0.78, 1.0, 1.0), (0.9, 1.0, 0.85), strict=True):
        at = side.wrist + length * s * along
        upper = [at + length * (wide * x * thumb + deep * thick * back) for x in across]
        lower = [at + length * (wide * x * thumb - deep * thick * back) for x in across[::-1]]
        rings.append(net.ring([*upper, *lower]))
    if grown_from is not None:
        net.bridge(grown_from, rings[0])
    elif not open_start:
        net.cap(rings[0], at_start=True)
    has_thumb = p.hand != "block"
    net.strip(rings[0], rings[1], without=(q,) if has_thumb else ())
    net.strip(rings[1], rings[2])
    if has_thumb:
        _thumb(net, p, side, [rings[0][q], rings[0][q + 1], rings[1][q + 1], rings[1][q]])
    end = rings[2]
    if not names:
        net.cap(end)
        return
    for j, name in enumerate(names):
        i = q - 1 - j
        mirror = 2 * q + 1
        quad = [end[i], end[i + 1], end[mirror - i - 1], end[mirror - i]]
        line = side.fingers[name]
        half = length * breadth / q
        _sausage(net, quad, line, back, (0.80 * half, 0.80 * thick * length), (315, 45, 135, 225))


def _sausage(
    net: Net, quad: Ids, line: Vec, back: Vec, half: tuple[float, float], angles: tuple[float, ...]
) -> None:
    """A finger grown from a quad along its joints."""
    last = quad
    way = unit(line[3] - line[0])
    shares = ((0, 1, 0.45, 1.0), (1, 2, 0.0, 0.95), (2, 3, 0.0, 0.88), (2, 3, 1.0, 0.66))
    for a, b, t, scale in shares:
        at = Way(line[a] + t * (line[b] - line[a]), way, back)
        ring = net.ring(loop(at, scale * half[1], scale * half[0], angles, 24.0))
        net.strip(last, ring)
        last = ring
    net.cap(last)


def _thumb(net: Net, p: BoxParams, side: SideBones, quad: Ids) -> None:
    back, length = side.hand[2], p.hand_length
    breadth, thick = palm_half(p.hand)
    if "thumb" in side.fingers:
        line = side.fingers["thumb"]
    else:  # of a fist: it lies across the folded fingers
        start = side.wrist + length * (0.22 * side.hand[1] + breadth * side.hand[0])
        way = unit(side.hand[1] + 0.25 * side.hand[0])
        line = start + length * np.array([-0.05, 0.12, 0.24, 0.36])[:, None] * way
    last, way = quad, unit(line[3] - line[0])
    half = length * min(0.8 * thick, 0.085)
    for a, b, t, scale in ((1, 2, 0.0, 1.0), (2, 3, 0.0, 0.95), (2, 3, 1.0, 0.7)):
        at = Way(line[a] + t * (line[b] - line[a]), way, back)
        ring = net.ring(loop(at, scale * half, scale * half, _FOUR, 24.0))
        net.strip(last, ring)
        last = ring
    net.cap(last)


def leg_angles(columns: int, inner: int) -> list[float]:
    """Angles of a leg's loop that grows from half a trunk's loop and a crotch of some points."""
    half = columns // 2
    crotch = [180.0 * (i + 1) / (inner + 1) for i in range(inner)]
    outer = [180.0 + 180.0 * (j + 1) / half for j in range(half - 1)]
    return [0.0, *crotch, 180.0, *outer]


def leg_tube(
    net: Net,
    p: BoxParams,
    side: SideBones,
    style: Style,
    grown_from: Ids | None = None,
    angles: list[float] | None = None,
    span: tuple[float, float] = (0.0, 2.0),
    scale: float = 1.0,
) -> Ids:
    """The leg between two places on it (0 hip, 1 knee, 2 ankle); its last loop, open."""
    r, swell = scale * p.leg, style.muscle
    rows = [(0.42, 0.97 * r)] if grown_from is not None else [(-0.05, r), (0.42, 0.97 * r)]
    rows += [(0.88, 0.80 * r)] * style.many_loops + [(1.0, 0.80 * r)]
    rows += [(1.12, 0.78 * r)] * style.many_loops
    rows += [(1.38, (0.78 + swell) * r), (1.92, 0.62 * r)]
    rows = _between(rows, span)
    if angles is None:
        n = style.sides
        angles = list(_FOUR) if n == 4 else [k * 360.0 / n for k in range(n)]
    points = [side.hip, side.knee, side.ankle]
    ahead = side.foot[2]
    first = []
    for a, b in pairwise(points):
        way = unit(b - a)
        first.append(unit(ahead - (ahead @ way) * way) if abs(ahead @ way) < 0.9 else UP)
    return _tube(
        net, points, first, rows, angles, style.square, grown_from, style.build == "clothes"
    )


def drawn_foot(
    net: Net, p: BoxParams, side: SideBones, grown_from: Ids, angles: list[float]
) -> None:
    """The leg's loops drawn forward into a foot."""
    _, up, toes = side.foot
    sole = side.ankle - p.ankle * up
    heel = 0.26 * p.foot_length
    last = grown_from
    for high, front in ((0.72, 0.30), (0.38, 0.66), (0.0, 0.74)):
        fore = front * p.foot_length
        at = sole + high * p.ankle * up + 0.5 * (fore - heel) * toes
        way = Way(at, -up, toes)
        ring = net.ring(loop(way, 0.5 * (fore + heel), p.foot_half, angles, 3.0))
        net.strip(last, ring)
        last = ring
    net.cap(last)


def foot_block(net: Net, p: BoxParams, side: SideBones, sides: int = 4) -> None:
    """A shoe: a block of its own from the heel to the toes."""
    _, up, toes = side.foot
    sole = side.ankle - p.ankle * up
    angles = list(_FOUR) if sides == 4 else [k * 360.0 / sides for k in range(sides)]
    loops = []
    for z, high, wide in (
        (-0.26, 0.80, 0.75),
        (-0.10, 1.15, 0.95),
        (0.14, 1.15, 1.0),
        (0.44, 0.70, 1.1),
        (0.66, 0.55, 0.95),
        (0.75, 0.38, 0.6),
    ):
        tall = 0.5 * high * p.ankle
        at = sole + tall * up + z * p.foot_length * toes
        loops.append(loop(Way(at, toes, up), tall, wide * p.foot_half, angles, 12.0))
    net.loft(loops)
