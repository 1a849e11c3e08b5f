"""The flesh of the invented hands: from their bones to triangles."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .combine import Blend
from .hand_family import HandMember, HandPlan, Ray, rays_of
from .marching import march, reduce_faces
from .shapes import Ellipsoid, Loft, RoundCone, Shape

__all__ = ["KnownHand", "arm_axes", "build_hand", "known_hand"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_CELL = 0.0125
"""Of the sampling, shares of the hand; finer for hands of very many faces."""
_FINEST = 0.0042


@dataclass(frozen=True)
class KnownHand:
    """A hand's surface and its joints, in shares of a character's height."""

    member: HandMember
    vertices: FloatArray
    """(n, 3)"""
    faces: IntArray
    """(m, 3), facing outward; parts of their own are among them."""
    wrist: FloatArray
    """(3,) the wrist joint."""
    forearm: FloatArray
    """(3,) unit, from the elbow to the wrist."""
    palm: FloatArray
    """(3,) unit, out of the palm."""
    length: float
    """From the wrist to the end of the middle finger, stretched out."""
    joints: dict[str, FloatArray]
    """(4, 3) by finger name."""


def build_hand(member: HandMember) -> KnownHand:
    """Make one member of the family."""
    plan = member.plan
    rays = rays_of(plan)
    # claws are the end of their finger
    ends = {ray.name: _end(plan, ray) for ray in rays}
    pieces = [_flesh(plan, rays), *_worn(plan, rays)]
    cell = _CELL if member.faces < 40_000 else max(_FINEST, _CELL * (14_000 / member.faces) ** 0.5)
    vertices, faces, start = [], [], 0
    for number, piece in enumerate(pieces):
        v, f = march(piece, cell if number == 0 else _CELL)
        goal = member.faces if number == 0 else max(member.faces // 4, 60)
        v, f = reduce_faces(v, f, goal)
        vertices.append(v)
        faces.append(f + start)
        start += len(v)
    return known_hand(member, rays, ends, np.concatenate(vertices), np.concatenate(faces))


def known_hand(
    member: HandMember,
    rays: list[Ray],
    ends: dict[str, FloatArray],
    vertices: FloatArray,
    faces: IntArray,
) -> KnownHand:
    """A hand made in its own frame, brought to its size, side and turn.

    Args:
        member: the hand. rays: its bones. ends: (3,) of the fingers, by name.
        vertices: (n, 3), frame and lengths of the rays. faces: (m, 3).
    """
    arm = arm_axes(member.plan)[1]
    longest = max(
        (ray for ray in rays if ray.name != "thumb"),
        key=lambda ray: float(np.linalg.norm(ray.joints[0])) + _span(ray, ends[ray.name]),
    )
    reach = float(np.linalg.norm(longest.joints[0])) + _span(longest, ends[longest.name])
    flip = np.diag([1.0 if member.side == "left" else -1.0, 1.0, 1.0])
    turn = member.turn @ flip
    scale = member.length / reach
    at = np.array([0.4, 0.7, 0.1]) * [1.0 if member.side == "left" else -1.0, 1.0, 1.0]
    joints = {}
    for ray in rays:
        chain = np.concatenate([ray.joints[:3], ends[ray.name][None]])
        joints[ray.name] = chain @ turn.T * scale + at
    return KnownHand(
        member=member,
        vertices=vertices @ turn.T * scale + at,
        faces=faces if member.side == "left" else faces[:, ::-1].copy(),
        wrist=at,
        forearm=turn @ -arm,
        palm=turn @ np.array([0.0, 0.0, -1.0]),
        length=member.length,
        joints=joints,
    )


def _span(ray: Ray, end: FloatArray) -> float:
    """Length of a finger stretched out, from its knuckle on."""
    chain = np.concatenate([ray.joints[:3], end[None]])
    return float(np.linalg.norm(np.diff(chain, axis=0), axis=1).sum())


def _end(plan: HandPlan, ray: Ray) -> FloatArray:
    """(3,) the end of the finger, or of its claw."""
    last = ray.joints[3] - ray.joints[2]
    sheathed = ray.name == "middle" and plan.kind in ("mitten", "thumbless")
    more = plan.end_length if plan.ends == "claws" and not sheathed else 0.0
    # claws turn a little towards the palm
    return np.asarray(
        ray.joints[3]
        + more * last / np.linalg.norm(last)
        - 0.15 * more * ray.backs[2] * (more > 0.0)
    )


def arm_axes(plan: HandPlan) -> tuple[FloatArray, FloatArray]:
    """Side and direction, from the wrist to the elbow, of the forearm."""
    bend, aside = np.radians(plan.wrist)
    # the hand bends to the palm when the arm comes from the back's side
    way = np.array([np.sin(aside), -np.cos(aside) * np.cos(bend), np.sin(bend)])
    way /= np.linalg.norm(way)
    side = np.array([1.0, 0.0, 0.0]) - way[0] * way
    return side / np.linalg.norm(side), way


def _flesh(plan: HandPlan, rays: list[Ray]) -> Shape:
    """Palm, fingers and arm as one skin."""
    rest = [ray for ray in rays if ray.name != "thumb"]
    thumb = next((ray for ray in rays if ray.name == "thumb"), None)
    mitten = len(rest) == 1
    palm = Blend([*_palm(plan, rest, mitten), *_thenar(plan, rest, thumb)], 0.05)
    if mitten:
        fingers: Shape = Blend(_sheath(plan, rest[0]), 0.05)
    else:
        whole = [_finger(plan, ray) for ray in rest]
        whole += _bridge(plan, rest)
        fingers = Blend(whole, 0.004 if plan.fused is None else 0.008)
    hand: Shape = Blend([palm, fingers], 0.6 * plan.radius)
    if thumb is not None:
        hand = Blend([hand, _finger(plan, thumb)], 0.3 * plan.radius)
    shapes: list[Shape] = [hand, _forearm(plan)]
    body: Shape = Blend(shapes, 0.06)
    if plan.worn == "cuff" and not plan.part:
        body = Blend([body, _cuff(plan)], 0.015)
    return body


def _palm(plan: HandPlan, rest: list[Ray], mitten: bool) -> list[Shape]:
    """Metacarpals, the pads under the knuckles and the webs between the fingers."""
    parts: list[Shape] = []
    thick, r = plan.thickness, plan.radius
    # wrist 58 by 40 mm on a hand of 190 (from memory)
    wrist = np.array([0.0, 0.0, -0.012])
    for ray in rest:
        knuckle, back = ray.joints[0], ray.backs[0]
        way = (ray.joints[1] - knuckle) / np.linalg.norm(ray.joints[1] - knuckle)
        deep = 0.55 * r * thick**0.5
        parts.append(
            RoundCone(ray.base + wrist, knuckle - 0.3 * deep * back, 0.095 * thick, 1.12 * r)
        )
        parts.append(
            RoundCone(
                ray.base - np.array([0.0, 0.0, 0.03 * thick]),
                knuckle - deep * back,
                0.09 * thick,
                1.1 * r,
            )
        )
        # the flesh of the palm reaches as far as the web does
        web = knuckle + plan.web * _stretch(ray) * way
        parts.append(RoundCone(knuckle - deep * back, web - 0.9 * r * way, 1.1 * r, r))
        if plan.relief:
            parts.append(Ellipsoid(knuckle + (0.55 + plan.relief) * r * back, np.full(3, 0.62 * r)))
    for one, other in pairwise(rest):
        gap = float(np.linalg.norm(one.joints[0] - other.joints[0]))
        middle = 0.5 * (one.joints[0] + other.joints[0])
        base = 0.5 * (one.base + other.base) - np.array([0.0, 0.0, 0.015])
        web = 0.5 * sum(
            ray.joints[0]
            + plan.web
            * _stretch(ray)
            * (ray.joints[1] - ray.joints[0])
            / np.linalg.norm(ray.joints[1] - ray.joints[0])
            for ray in (one, other)
        )
        back = one.backs[0] + other.backs[0]
        back /= np.linalg.norm(back)
        fill = max(0.8 * r, 0.5 * gap)
        aim = (web - middle) / np.linalg.norm(web - middle)
        parts.append(RoundCone(base, middle - 0.35 * r * back, 0.09 * thick, max(0.95 * r, fill)))
        parts.append(
            RoundCone(
                middle - 0.3 * r * back, web - 0.75 * r * aim - 0.1 * r * back, 0.95 * r, 0.75 * r
            )
        )
    if mitten:
        breadth = max(0.17 * plan.radius / 0.058, 0.16)
        parts.append(
            Loft(
                [0.0, 0.0, -0.02],
                [0.0, 0.48, -0.02],
                [0.0, 0.0, 1.0],
                [
                    [0.0, 0.0, 0.0, 0.14, 0.14, 0.1 * thick, 0.1 * thick],
                    [0.5, 0.0, 0.0, breadth, breadth, 0.09 * thick, 0.1 * thick],
                    [1.0, 0.0, 0.0, breadth, breadth, 0.07 * thick, 0.07 * thick],
                ],
                2.4,
                (0.4, 0.4),
                [1.0, 0.0, 0.0],
            )
        )
    return parts


def _stretch(ray: Ray) -> float:
    """Length of a finger's bones."""
    return float(np.linalg.norm(np.diff(ray.joints, axis=0), axis=1).sum())


def _thenar(plan: HandPlan, rest: list[Ray], thumb: Ray | None) -> list[Shape]:
    """The balls of the thumb and of the little finger, and the skin between thumb and index."""
    r, thick = plan.radius, plan.thickness
    last = rest[-1]
    heel = 0.5 * (last.base + last.joints[0]) + np.array([-0.01, -0.03, -0.045 * thick])
    parts: list[Shape] = [Ellipsoid(heel, np.array([0.06, 0.16, 0.06]) * thick**0.5)]
    if thumb is not None:
        bone = thumb.joints[1] - thumb.joints[0]
        length = float(np.linalg.norm(bone))
        axes = np.stack([np.cross(bone / length, thumb.backs[0]), bone / length, thumb.backs[0]])
        middle = 0.5 * (thumb.joints[0] + thumb.joints[1]) - 0.25 * r * thumb.backs[0]
        parts.append(Ellipsoid(middle, np.array([1.45 * r, 0.62 * length, 1.25 * r]), axes))
        inner = rest[0].base + 0.55 * (rest[0].joints[0] - rest[0].base)
        inner = inner - np.array([0.0, 0.0, 0.02 * thick])
        outer = 0.25 * thumb.joints[0] + 0.75 * thumb.joints[1] - 0.2 * r * thumb.backs[0]
        parts.append(RoundCone(inner, outer, 0.055 * thick, 0.9 * r))
    return parts


def _finger(plan: HandPlan, ray: Ray) -> Shape:
    """Bones clad in flesh that lies rather on the palm's side; bumps over the joints; the end."""
    r, j = ray.radius, ray.joints
    thumb = ray.name == "thumb"
    shares = np.array([1.0, 0.72, 0.36, 0.0])
    radii = r * (plan.taper + (1.0 - plan.taper) * shares)
    if thumb:
        radii = radii * [1.15, 1.05, 1.0, 1.0]
    shift = [-plan.depth * r * back for back in (*ray.backs, ray.backs[2])]
    last = (j[3] - j[2]) / np.linalg.norm(j[3] - j[2])
    end = j[3] - radii[3] * last
    line = [j[k] + shift[k] for k in range(3)] + [end + 0.6 * shift[3]]
    parts: list[Shape] = [RoundCone(line[k], line[k + 1], radii[k], radii[k + 1]) for k in range(3)]
    if plan.relief:
        for k in (1, 2):
            back = ray.backs[k - 1] + ray.backs[k]
            back /= np.linalg.norm(back)
            height = (0.42 + plan.relief * 0.9) * radii[k]
            parts.append(Ellipsoid(j[k] + shift[k] + height * back, np.full(3, 0.6 * radii[k])))
    shape: Shape = Blend(parts, 0.35 * r)
    across = np.cross(last, ray.backs[2])
    if plan.ends == "nails":
        bed = end + 0.05 * r * last + 0.72 * radii[3] * ray.backs[2]
        plate = Ellipsoid(
            bed, np.array([0.62, 0.8, 0.36]) * radii[3], np.stack([across, last, ray.backs[2]])
        )
        shape = Blend([shape, plate], 0.08 * r)
    if plan.ends == "long nails":
        bed = end + 0.5 * radii[3] * ray.backs[2]
        tip = j[3] + plan.end_length * last + 0.3 * radii[3] * ray.backs[2]
        shape = Blend(
            [shape, RoundCone(bed, tip, 0.32 * radii[3], 0.2 * radii[3], 2.2, across)], 0.05 * r
        )
    if plan.ends == "claws":
        tip = _end(plan, ray)
        way = (tip - end) / np.linalg.norm(tip - end)
        sharp = 0.22 * radii[3]
        shape = Blend([shape, RoundCone(end, tip - sharp * way, 0.85 * radii[3], sharp)], 0.1 * r)
    return shape


def _bridge(plan: HandPlan, rest: list[Ray]) -> list[Shape]:
    """Flesh between the two fingers that are grown together up to their middle joints."""
    if plan.fused is None:
        return []
    one, other = (next(ray for ray in rest if ray.name == name) for name in plan.fused)
    start = 0.5 * (one.joints[0] + other.joints[0])
    end = 0.5 * (one.joints[1] + other.joints[1])
    gap = float(np.linalg.norm(one.joints[1] - other.joints[1]))
    size = max(0.75 * plan.radius, 0.35 * gap)
    aim = (end - start) / np.linalg.norm(end - start)
    across = (one.joints[1] - other.joints[1]) / gap
    broad = max(1.0, 0.5 * gap / size)
    return [RoundCone(start, end - 0.5 * size * aim, size, 0.9 * size, broad, across)]


def _sheath(plan: HandPlan, ray: Ray) -> list[Shape]:
    """The one broad finger of a mitten."""
    r, j = plan.radius, ray.joints
    size = 1.12 * r
    # four fingers side by side, less towards the end
    broad = max(2.4, 0.15 / size)
    radii = size * np.array([1.0, 1.0, 0.97, 0.9])
    last = (j[3] - j[2]) / np.linalg.norm(j[3] - j[2])
    line = [*j[:3], j[3] - radii[3] * last]
    across = np.array([1.0, 0.0, 0.0])
    return [
        RoundCone(line[k], line[k + 1], radii[k], radii[k + 1], broad, across) for k in range(3)
    ]


def _forearm(plan: HandPlan) -> Shape:
    """The piece of forearm, cut off square."""
    side, way = arm_axes(plan)
    front = np.cross(side, way)
    thick = plan.thickness**0.5
    # half-widths 29 by 20 mm at the wrist of a hand of 190, twice as thick below the elbow (from
    # memory)
    rows = [
        [-0.06, 0.0, 0.0, 0.15 * thick, 0.15 * thick, 0.105 * thick, 0.105 * thick],
        [0.15, 0.0, 0.0, 0.155 * thick, 0.155 * thick, 0.115 * thick, 0.115 * thick],
        [0.6, 0.0, 0.0, 0.20 * thick, 0.20 * thick, 0.17 * thick, 0.17 * thick],
        [1.3, 0.0, 0.0, 0.24 * thick, 0.24 * thick, 0.22 * thick, 0.22 * thick],
    ]
    rows = [row for row in rows if row[0] < plan.arm] + [[plan.arm, *_row_at(rows, plan.arm)]]
    start = np.array([0.0, 0.0, -0.01])
    return Loft(start, start + way, front, rows, 2.2, (0.4, 0.12), side)


def _row_at(rows: list[list[float]], at: float) -> list[float]:
    table = np.array(rows)
    return [float(np.interp(at, table[:, 0], table[:, k])) for k in range(1, 7)]


def _cuff(plan: HandPlan) -> Shape:
    """The wide hem of a glove over the wrist."""
    side, way = arm_axes(plan)
    thick = plan.thickness**0.5
    rows = [
        [0.02, 0.0, 0.0, *([0.2 * thick] * 2), *([0.17 * thick] * 2)],
        [0.3, 0.0, 0.0, *([0.28 * thick] * 2), *([0.25 * thick] * 2)],
    ]
    return Loft([0.0, 0.0, -0.01], way, np.cross(side, way), rows, 2.0, (0.3, 0.2), side)


def _worn(plan: HandPlan, rays: list[Ray]) -> list[Shape]:
    """What the hand wears or holds, as parts of their own."""
    if plan.worn == "cuff":
        return [_cuff(plan)] if plan.part else []
    if plan.worn == "ring":
        ray = rays[-2] if len(rays) > 3 else rays[-1]
        middle = ray.joints[0] + 0.72 * (ray.joints[1] - ray.joints[0])
        way = (ray.joints[1] - ray.joints[0]) / np.linalg.norm(ray.joints[1] - ray.joints[0])
        reach = (1.3 if len(rays) > 2 else 2.9) * plan.radius
        return [_hoop(middle, way, ray.backs[0], reach, 0.3 * plan.radius)]
    if plan.worn == "bracelet":
        side, way = arm_axes(plan)
        middle = 0.12 * way + np.array([0.0, 0.0, -0.01])
        return [_hoop(middle, way, side, 0.19 * plan.thickness**0.5, 0.022)]
    if plan.worn == "held":
        rest = [ray for ray in rays if ray.name != "thumb"]
        middle = np.mean(
            [ray.joints[0] + 0.6 * (ray.joints[1] - ray.joints[0]) for ray in rest], axis=0
        )
        back = np.mean([ray.backs[1] for ray in rest], axis=0)
        middle = middle - 2.2 * plan.radius * back / np.linalg.norm(back)
        across = np.array([1.0, 0.0, 0.0])
        return [RoundCone(middle - 0.7 * across, middle + 0.7 * across, 0.04, 0.04)]
    return []


def _hoop(middle: FloatArray, way: FloatArray, side: FloatArray, reach: float, r: float) -> Shape:
    """A ring about a direction."""
    first = side - (side @ way) * way
    first /= np.linalg.norm(first)
    second = np.cross(way, first)
    turns = np.linspace(0.0, 2.0 * np.pi, 17)
    line = middle + reach * (np.cos(turns)[:, None] * first + np.sin(turns)[:, None] * second)
    return Blend([RoundCone(a, b, r, r) for a, b in pairwise(line)], 0.0)
