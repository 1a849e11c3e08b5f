"""Invented hands as they are modelled for games: boxes drawn out of boxes, with few faces.

Bones and traits are drawn as those of `hand_family`, but no surface is sampled. A palm is a row of
columns, one or two for each finger, that ends square at the knuckles; each finger is drawn out of
its columns with a ring at every joint, and the thumb out of the palm's side. Or the fingers are
closed boxes of their own that stick in the palm. There are mitten boxes, fists, and fists round a
staff. The joints are where the rings are: nothing is read off the mesh.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .dealing import deal
from .hand_clay import KnownHand, arm_axes, known_hand
from .hand_family import SHARES, HandMember, HandPlan, Ray, member_of, rays_of

__all__ = ["BOX_COUNT", "BOX_SHARES", "box_family", "build_boxes"]

FloatArray = NDArray[np.float64]

BOX_COUNT = 80
"""Members of the family."""
_SEED = 20261129

BOX_SHARES = {
    "kind": {"five": 8, "four": 5, "three": 3, "mitten": 4},
    "closeness": {"spread": 5, "ordinary": 8, "touching": 3},
    "curl": {"flat": 5, "relaxed": 7, "curled": 5, "fist": 3},
    "worn": {"nothing": 8, "cuff": 2, "held": 2},
    "sides": {"four": 6, "six": 3},
    "loops": {"one": 4, "two": 2, "three": 1},
    "sewn": {"drawn out": 3, "pieces": 1},
}
"""Kinds of the traits that are not as in `hand_family`: sides of a finger, rings at a joint, and
whether the fingers are of one surface with the palm."""
_LOOPS = {"one": (0.0,), "two": (-1.0, 1.0), "three": (-1.0, 0.0, 1.0)}
_APART = 0.55
"""Rings of one joint, in radii of the finger; farther where it is bent, lest they cross."""


SLIM = 0.85
"""Half the breadth of a box to the radius of the finger that it stands for: their sections are
about as large, and where round fingers would touch, boxes leave a gap."""


@dataclass(frozen=True)
class _Cut:
    """How one hand is cut."""

    columns: int
    """Of a finger: one makes it four-sided, two six-sided."""
    loops: tuple[float, ...]
    pieces: bool
    web: float
    """Where fingers leave the palm, share of the way from the knuckle to the fingertip."""
    flat: float
    """Thickness of a finger to its breadth."""
    end: float
    """The last ring to the one before."""
    rows: tuple[float, ...]
    """Rings of the palm, shares of the way from the wrist to the knuckles; the thumb begins
    between the first two."""
    staff: float
    """Radius of the thing held, shares of the hand."""
    staff_sides: int


def box_family() -> list[HandMember]:
    """All members, always the same."""
    rng = np.random.default_rng(_SEED)
    shares = {**SHARES, **BOX_SHARES}
    dealt = {trait: deal(rng, some, BOX_COUNT) for trait, some in shares.items()}
    members = []
    for number in range(BOX_COUNT):
        traits = {trait: cards[number] for trait, cards in dealt.items()}
        traits |= {"ends": "round", "relief": "none", "faces": "200"}
        if traits["worn"] == "held" and traits["curl"] in ("flat", "relaxed"):
            traits["curl"] = "fist"
        if traits["sewn"] == "drawn out" and traits["thumb"] == "under":
            # no box turns by a right angle where it is drawn out of a side
            traits["thumb"] = "ordinary"
        members.append(member_of(number, traits, _SEED, "b"))
    return members


def build_boxes(member: HandMember) -> KnownHand:
    """Make one member of the family."""
    plan, cut = member.plan, _cut(member)
    rays = rays_of(plan)
    rest = [ray for ray in rays if ray.name != "thumb"]
    net = _Net()
    arm = _arm(net, plan, len(rest) * cut.columns)
    knuckles, cells = _knuckles(net, plan, cut, rest)
    # the palm grows broad at once where the thumb begins
    low, high = net.at(arm[-1]), net.at(knuckles)
    rows = [net.ring(low + (high - low) * [[s**0.6, s, s]]) for s in cut.rows]
    rings = [*arm, *rows, knuckles]
    thumb = next((ray for ray in rays if ray.name == "thumb"), None)
    hole = len(arm) if thumb is not None and not cut.pieces else None
    for number, (one, other) in enumerate(pairwise(rings)):
        net.bridge(one, other, skip_last=number == hole)
    net.faces.append(arm[0][::-1])
    for ray, cell in zip(rest, cells, strict=True):
        if cut.pieces:
            net.faces.append(cell)
            own = _finger_rings(plan, cut, ray, 0)
            first = net.ring(own[0])
            net.faces.append(first[::-1])
            net.draw(first, [net.ring(ring) for ring in own[1:]])
        else:
            net.draw(cell, [net.ring(ring) for ring in _finger_rings(plan, cut, ray, 1)])
    if thumb is not None:
        _thumb(net, plan, cut, thumb, (rows[0], rows[1]))
    if member.traits["worn"] == "held":
        _staff(net, plan, cut, rest)
    vertices, faces = net.triangles()
    ends = {ray.name: ray.joints[3] for ray in rays}
    return known_hand(member, rays, ends, vertices, faces)


def _cut(member: HandMember) -> _Cut:
    rng = np.random.default_rng([_SEED, member.number, 1])
    traits = member.traits
    mitten = traits["kind"] == "mitten"
    thumb = (rng.uniform(0.12, 0.3), rng.uniform(0.62, 0.82))
    return _Cut(
        columns=2 if mitten or traits["sides"] == "six" else 1,
        loops=_LOOPS[traits["loops"]],
        pieces=traits["sewn"] == "pieces",
        web=rng.uniform(0.05, 0.25) if rng.random() < 0.6 else 0.0,
        flat=rng.uniform(0.75, 1.1),
        end=rng.uniform(0.45, 0.85),
        rows=thumb,
        staff=rng.uniform(0.03, 0.055),
        staff_sides=int(rng.integers(4, 9)),
    )


class _Net:
    """Corners and the polygons between them; every polygon turns to the right seen from outside."""

    def __init__(self) -> None:
        self.corners: list[FloatArray] = []
        self.faces: list[list[int]] = []

    def ring(self, points: FloatArray) -> list[int]:
        """Numbers of new corners (k, 3)."""
        first = len(self.corners)
        self.corners += list(np.asarray(points, dtype=np.float64))
        return list(range(first, first + len(points)))

    def at(self, ring: Sequence[int]) -> FloatArray:
        """(k, 3) corners of a ring."""
        return np.array([self.corners[k] for k in ring])

    def bridge(self, one: list[int], other: list[int], skip_last: bool = False) -> None:
        """Four-sided faces between two rings of as many corners, the second one farther out."""
        sides = len(one) - skip_last
        for k in range(sides):
            after = (k + 1) % len(one)
            self.faces.append([one[k], one[after], other[after], other[k]])

    def draw(self, first: list[int], rings: list[list[int]]) -> None:
        """A finger drawn out of a ring, closed at its end."""
        for one, other in pairwise([first, *rings]):
            self.bridge(one, other)
        self.faces.append([first, *rings][-1])

    def triangles(self) -> tuple[FloatArray, NDArray[np.int64]]:
        """Corners (n, 3) and triangles (m, 3), each polygon cut as strips are."""
        faces = []
        for face in self.faces:
            low, high = 0, len(face) - 1
            while high - low > 1:
                faces.append([face[low + 1], face[low], face[high]])
                if high - low > 2:
                    faces.append([face[high - 1], face[low + 1], face[high]])
                low, high = low + 1, high - 1
        return np.array(self.corners), np.array(faces, dtype=np.int64)


def _section(
    middle: FloatArray,
    across: FloatArray,
    back: FloatArray,
    breadth: float,
    thick: float,
    columns: int,
) -> FloatArray:
    """(2 columns + 2, 3) corners of a box's section: along the back away from the thumb, then along
    the palm to it. Half-widths; inner corners stand out."""
    place = np.linspace(1.0, -1.0, columns + 1)
    height = thick * (1.0 + (0.3 if columns > 1 else 0.0) * (0.5 - np.abs(place)))
    top = middle + breadth * place[:, None] * across + height[:, None] * back
    low = middle + breadth * place[:, None] * across - height[:, None] * back
    return np.concatenate([top, low[::-1]])


def _arm(net: _Net, plan: HandPlan, columns: int) -> list[list[int]]:
    """Rings of the forearm from its end to the wrist, with the hem of a glove where one is worn."""
    side, way = arm_axes(plan)
    front = np.cross(side, way)
    thick = plan.thickness**0.5
    # half-widths as those of the other invented hands
    rows = [(plan.arm, 0.17, 0.14), (0.5 * plan.arm, 0.15, 0.12), (0.0, 0.13, 0.09)]
    if plan.worn == "cuff":
        rows[1:] = [(0.3, 0.16, 0.13), (0.28, 0.24, 0.21), (0.04, 0.18, 0.14), (0.0, 0.13, 0.09)]
    return [
        net.ring(_section(way * at, side, -front, broad * thick, deep * thick, columns))
        for at, broad, deep in rows
    ]


def _half_sizes(plan: HandPlan, cut: _Cut, ray: Ray) -> FloatArray:
    """(4, 2) half the breadth and thickness of a finger at its joints and its end."""
    shares = np.array([1.0, 0.72, 0.36, 0.0])
    radii = SLIM * ray.radius * (plan.taper + (1.0 - plan.taper) * shares)
    breadth = radii
    if plan.kind == "mitten" and ray.name != "thumb":
        breadth = radii * max(2.2, 0.13 / ray.radius)
    return np.stack([breadth, cut.flat * radii], axis=1)


def _axes(ray: Ray, bone: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Across (to the thumb's side), along and back of a bone."""
    along = ray.joints[bone + 1] - ray.joints[bone]
    along = along / np.linalg.norm(along)
    return np.cross(along, ray.backs[bone]), along, ray.backs[bone]


def _knuckles(
    net: _Net, plan: HandPlan, cut: _Cut, rest: list[Ray]
) -> tuple[list[int], list[list[int]]]:
    """The ring in which the palm ends, and the ring (a part of it) that each finger begins with.
    Where the web lies beyond the knuckles, both are drawn out that far."""

    def row(places: list[FloatArray]) -> tuple[list[int], list[list[int]]]:
        """Sections side by side made one: corners that two of them share lie between."""
        half = cut.columns + 1
        tops = [place[:half] for place in places]
        lows = [place[half:][::-1] for place in places]
        for side in (tops, lows):
            for one, other in pairwise(side):
                one[-1] = other[0] = 0.5 * (one[-1] + other[0])
        top = np.concatenate([tops[0], *[part[1:] for part in tops[1:]]])
        low = np.concatenate([lows[0], *[part[1:] for part in lows[1:]]])
        ring = net.ring(np.concatenate([top, low[::-1]]))
        upper, lower = ring[: len(top)], ring[len(top) :][::-1]
        cells = []
        for number in range(len(places)):
            own = slice(number * cut.columns, (number + 1) * cut.columns + 1)
            cells.append([*upper[own], *lower[own][::-1]])
        return ring, cells

    palms, webs = [], []
    for ray in rest:
        across, along, back = _axes(ray, 0)
        breadth, thick = _half_sizes(plan, cut, ray)[0]
        middle = ray.joints[0] - plan.depth * ray.radius * back
        up = back + np.array([0.0, 0.0, 1.0])
        up = up / np.linalg.norm(up)
        palms.append(_section(middle, across, up, breadth, 1.1 * thick, cut.columns))
        reach = cut.web * float(np.linalg.norm(np.diff(ray.joints, axis=0), axis=1).sum())
        webs.append(
            _section(middle + reach * along, across, back, breadth, 1.05 * thick, cut.columns)
        )
    ring, cells = row(palms)
    if cut.web == 0.0:
        return ring, cells
    outer, cells = row(webs)
    net.bridge(ring, outer)
    return ring, cells


def _finger_rings(plan: HandPlan, cut: _Cut, ray: Ray, first: int) -> list[FloatArray]:
    """Sections of a finger from a joint on, the last two at its end."""
    sizes = _half_sizes(plan, cut, ray)
    columns = cut.columns if ray.name != "thumb" else 1
    rings = []
    if first == 0:
        across, along, back = _axes(ray, 0)
        middle = ray.joints[0] - plan.depth * ray.radius * back - 0.6 * ray.radius * along
        rings.append(_section(middle, across, back, *sizes[0], columns))
    for joint in (1, 2):
        (across, before, back), (_, after, beyond) = _axes(ray, joint - 1), _axes(ray, joint)
        up = (back + beyond) / np.linalg.norm(back + beyond)
        half = 0.5 * float(np.arccos(np.clip(before @ after, -1.0, 1.0)))
        apart = ray.radius * max(_APART, 1.1 * cut.flat * np.tan(half))
        bones = [
            float(np.linalg.norm(ray.joints[k + 1] - ray.joints[k])) for k in (joint - 1, joint)
        ]
        for step in cut.loops:
            way = before if step < 0.0 else after
            own = up if step == 0.0 else (back if step < 0.0 else beyond)
            reach = min(apart, 0.4 * bones[0 if step < 0.0 else 1])
            middle = ray.joints[joint] - plan.depth * ray.radius * up + step * reach * way
            rings.append(_section(middle, across, own, *sizes[joint], columns))
    across, along, back = _axes(ray, 2)
    middle = ray.joints[3] - plan.depth * ray.radius * back
    near = middle - 0.7 * ray.radius * along
    rings.append(_section(near, across, back, *sizes[3], columns))
    rings.append(_section(ray.joints[3], across, back, *(cut.end * sizes[3]), columns))
    return rings


def _thumb(
    net: _Net, plan: HandPlan, cut: _Cut, ray: Ray, rows: tuple[list[int], list[int]]
) -> None:
    """The thumb drawn out of the palm's side between two of its rings, or a box of its own."""
    rings = _finger_rings(plan, cut, ray, 1)
    if cut.pieces:
        across, _, back = _axes(ray, 0)
        size = _half_sizes(plan, cut, ray)[0]
        start = ray.joints[0] + 0.15 * (ray.joints[1] - ray.joints[0])
        first = net.ring(_section(start, across, back, *(1.1 * size), 1))
        net.faces.append(first[::-1])
        net.draw(first, [net.ring(ring) for ring in rings])
        return
    one, other = rows
    hole = [one[-1], one[0], other[0], other[-1]]
    flat = net.at(hole) - net.at(hole).mean(axis=0)
    # of the ways to join two squares the one that twists least
    own = rings[0] - rings[0].mean(axis=0)
    shifts = [np.roll(np.arange(4), k) for k in range(4)]
    order = max(shifts, key=lambda shift: float((flat * own[shift]).sum()))
    # the ball of the thumb turns half of the way from the palm's side to the thumb
    middle = 0.5 * (ray.joints[0] + ray.joints[1])
    ball = 1.15 * np.linalg.norm(own, axis=1).mean() * _unit(_unit(flat) + _unit(own[order]))
    net.draw(hole, [net.ring(middle + ball), *(net.ring(ring[order]) for ring in rings)])


def _unit(ways: FloatArray) -> FloatArray:
    """Directions (k, 3) of length one."""
    return np.asarray(ways / np.linalg.norm(ways, axis=1, keepdims=True))


def _staff(net: _Net, plan: HandPlan, cut: _Cut, rest: list[Ray]) -> None:
    """A staff across the hand where the fingers close, a piece of its own."""
    middle = np.mean(
        [ray.joints[0] + 0.6 * (ray.joints[1] - ray.joints[0]) for ray in rest], axis=0
    )
    back = np.mean([ray.backs[1] for ray in rest], axis=0)
    middle = middle - (cut.staff + 0.9 * plan.radius) * back / np.linalg.norm(back)
    turns = 2.0 * np.pi * np.arange(cut.staff_sides) / cut.staff_sides
    round_ = cut.staff * np.stack([np.zeros_like(turns), np.sin(turns), np.cos(turns)], axis=1)
    across = np.array([1.0, 0.0, 0.0])
    first = net.ring(middle - 0.8 * across + round_)
    net.faces.append(first[::-1])
    net.draw(first, [net.ring(middle + 0.8 * across + round_)])
