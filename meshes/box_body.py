"""Bodies made of loops: as one skin, of tubes stuck together, of open shells, of rigid boxes."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .box_bones import BoxBones, BoxParams, SideBones
from .box_heads import head_loops
from .box_limbs import (
    Style,
    arm_tube,
    drawn_foot,
    foot_block,
    hand_block,
    leg_angles,
    leg_tube,
)
from .boxes import Ids, Net, Way, loop, unit

__all__ = ["body_nets", "crotch_height", "joined", "trunk_rows"]

FloatArray = NDArray[np.float64]
Row = tuple[float, float, float]
UP, FRONT = np.array([0.0, 1, 0]), np.array([0.0, 0, 1])
SIDES = ("left", "right")


def crotch_height(p: BoxParams, bones: BoxBones) -> float:
    """Where the legs part: below the hips by two thirds of a leg's radius."""
    return float(bones.sides[0].hip[1]) - 0.7 * p.leg


def trunk_rows(p: BoxParams, bones: BoxBones, mids: int) -> tuple[list[Row], int]:
    """Height, half width and half depth of the trunk's loops, and the row at the armpit."""
    hip, neck = float(bones.sides[0].hip[1]), float(bones.trunk["neck"][1])
    shoulder = float(bones.sides[0].shoulder[1])
    pit = shoulder - 1.15 * p.arm
    top = min(shoulder + 1.0 * p.arm, neck - 0.006)
    low = hip - 0.15 * p.leg
    seat = hip + 0.22 * max(pit - hip, 0.02)
    waist = seat + 0.45 * (pit - seat)
    rows = [(low, *p.seat), (seat, p.seat[0], p.seat[1]), (waist, *p.waist)]
    armpit = len(rows)
    rows.append((pit, *p.chest))
    for i in range(mids):
        rows.append((pit + (i + 1) / (mids + 1) * (top - pit), p.chest[0] * 1.02, p.chest[1]))
    rows.append((top, p.chest[0] * 0.92, p.chest[1] * 0.8))
    rows.append((neck, p.neck * 1.15, p.neck * 1.1))
    return rows, armpit


def _trunk_loop(row: Row, count: int, square: float) -> FloatArray:
    way = Way(np.array([0.0, row[0], 0.0]), UP, FRONT)
    angles = np.arange(count) * 360.0 / count
    if count == 4:
        angles = angles + 45.0
    return loop(way, row[2], row[1], angles, square)


def _hem_row(p: BoxParams, bones: BoxBones) -> Row:
    """Height, half width and half depth of the end of a tunic about both thighs."""
    share, flare = p.hem or (0.0, 1.0)
    thighs = [side.hip + share * (side.knee - side.hip) for side in bones.sides]
    wide = max(p.seat[0], *(abs(float(at[0])) + p.leg for at in thighs))
    deep = max(p.seat[1], *(abs(float(at[2])) + p.leg for at in thighs))
    return float(np.mean([at[1] for at in thighs])), flare * wide, flare * deep


def _one_skin(p: BoxParams, bones: BoxBones, style: Style) -> dict[str, Net]:
    columns, mids, inner = {6: (8, 0, 1), 8: (8, 1, 3)}.get(style.sides, (12, 2, 3))
    net = Net()
    rows, pit = trunk_rows(p, bones, mids)
    crotch_y = crotch_height(p, bones)
    if p.hem is not None:
        rows, pit = [_hem_row(p, bones), *rows], pit + 1
        crotch_y = rows[0][0]
    top = pit + mids + 1
    rings = [net.ring(_trunk_loop(row, columns, style.square)) for row in rows]
    left, right = columns // 4, 3 * columns // 4
    holes = (left - 1, left, right - 1, right)
    for i, (a, b) in enumerate(pairwise(rings)):
        net.strip(a, b, without=holes if pit <= i < top else ())
    last = rings[-1]
    for points in head_loops(p, bones, columns):
        ring = net.ring(points)
        net.strip(last, ring)
        last = ring
    net.cap(last)
    middle = columns // 2
    front, back = net.points[rings[0][0]], net.points[rings[0][middle]]
    crotch = net.ring(
        [
            np.array([0.0, crotch_y, (1 - t) * front[2] + t * back[2]])
            for t in (np.arange(inner) + 1) / (inner + 1)
        ]
    )
    angles = leg_angles(columns, inner)
    for side, flipped in zip(bones.sides, (False, True), strict=True):
        net.mirror = flipped

        def at(ring: Ids, k: int, flipped: bool = flipped) -> int:
            return ring[-k % columns if flipped else k]

        hole = [at(rings[top], k) for k in (left + 1, left, left - 1)]
        hole += [at(rings[i], left - 1) for i in range(top - 1, pit, -1)]
        hole += [at(rings[pit], k) for k in (left - 1, left, left + 1)]
        hole += [at(rings[i], left + 1) for i in range(pit + 1, top)]
        wrist = arm_tube(net, p, side, style, hole)
        hand_block(net, p, side, wrist)
        start = [at(rings[0], 0), *crotch, at(rings[0], middle)]
        start += [at(rings[0], k) for k in range(middle - 1, 0, -1)]
        shown = (0.0 if p.hem is None else p.hem[0] + 0.02, 2.0)
        ankle = leg_tube(net, p, side, style, start, angles, shown)
        _foot(net, p, side, style, ankle, angles)
    return {"body": net}


def _foot(
    net: Net, p: BoxParams, side: SideBones, style: Style, ankle: Ids, angles: list[float]
) -> None:
    if style.feet == "drawn":
        drawn_foot(net, p, side, ankle, angles)
        return
    way = Way(side.ankle - (p.ankle if style.feet == "stump" else 0.4 * p.ankle) * UP, -UP, FRONT)
    end = net.ring(loop(way, 0.66 * p.leg, 0.66 * p.leg, angles, style.square))
    net.strip(ankle, end)
    net.cap(end)
    if style.feet == "shoe":
        foot_block(net, p, side, 4 if style.square > 4 else 6)


def _tubes(p: BoxParams, bones: BoxBones, style: Style) -> dict[str, Net]:
    """Closed or open tubes that stick in one another."""
    opened = style.build == "clothes"
    nets = {"torso": Net(), "head": Net()}
    rows, _ = trunk_rows(p, bones, 0)
    low = crotch_height(p, bones)
    bottom = (low, 0.8 * rows[0][1], 0.8 * rows[0][2])
    count = max(style.sides, 4)
    if opened:  # a shirt over trousers, nothing beneath
        hem = [(rows[1][0], 1.06 * rows[1][1], 1.06 * rows[1][2]), *rows[2:]]
        nets["torso"].loft([_trunk_loop(r, count, style.square) for r in hem], False, False)
        nets["trousers"] = Net()
        nets["trousers"].loft(
            [_trunk_loop(r, count, style.square) for r in (bottom, *rows[:2])], False, False
        )
    else:
        nets["torso"].loft([_trunk_loop(r, count, style.square) for r in (bottom, *rows)])
    loops = head_loops(p, bones, max(style.sides, 6), apart=True)
    nets["head"].loft(loops, start=not opened)
    neck = float(bones.trunk["neck"][1])
    throat = [(neck - 0.02, p.neck, p.neck), (neck + p.neck_gap + 0.12 / p.heads, p.neck, p.neck)]
    nets["head"].loft([_trunk_loop(r, count, 2.0) for r in throat], not opened, not opened)
    for name, side, flipped in zip(SIDES, bones.sides, (False, True), strict=True):
        arm, leg = Net(mirror=flipped), Net(mirror=flipped)
        if opened:
            arm_tube(arm, p, side, style, span=(0.0, 1.05), scale=1.25)
            arm_tube(arm, p, side, style, span=(0.95, 2.0))
            hand_block(arm, p, side, None, open_start=True)
            leg_tube(leg, p, side, style, span=(0.0, 1.8), scale=1.1)
            ankle = leg_tube(leg, p, side, style, span=(1.6, 2.0))
        else:
            wrist = arm_tube(arm, p, side, style)
            hand_block(arm, p, side, wrist)
            ankle = leg_tube(leg, p, side, style)
        n = style.sides
        angles = [45.0, 135, 225, 315] if n == 4 else [k * 360.0 / n for k in range(n)]
        _foot(leg, p, side, style, ankle, angles)
        nets[f"arm_{name}"], nets[f"leg_{name}"] = arm, leg
    return nets


def _segment(
    net: Net,
    a: FloatArray,
    b: FloatArray,
    first: FloatArray,
    rows: list[Row],
) -> None:
    """A box along a bone; rows of station and half-widths."""
    ahead = unit(b - a)
    first = first if abs(first @ ahead) < 0.95 else UP
    loops = [
        loop(Way(a + t * (b - a), ahead, first), u, v, (45, 135, 225, 315), 24.0)
        for t, u, v in rows
    ]
    net.loft(loops)


def _robot(p: BoxParams, bones: BoxBones, style: Style) -> dict[str, Net]:
    """Boxes along the bones with gaps between, some with a neck and balls in the joints."""
    nets = {name: Net() for name in ("chest", "pelvis", "head")}
    hip, neck = float(bones.sides[0].hip[1]), float(bones.trunk["neck"][1])
    span = neck - hip
    low, high = np.array([0.0, hip, 0.0]), np.array([0.0, neck, 0.0])
    below = -0.6 * p.leg / span
    _segment(
        nets["pelvis"],
        low,
        high,
        FRONT,
        [(below, 0.8 * p.seat[1], 0.8 * p.seat[0]), (0.18, p.seat[1], p.seat[0])],
    )
    _segment(nets["chest"], low, high, FRONT,
             [(0.24, 0.9 * p.waist[1], 0.8 * p.waist[0]), (0.6, p.chest[1], p.chest[0]),
              (0.96, 0.8 * p.chest[1], 0.95 * p.chest[0])])  # fmt: skip
    nets["head"].loft(head_loops(p, bones, 4, apart=True))
    if style.many_loops:
        _segment(
            nets["head"],
            high - 0.03 * UP,
            high + (p.neck_gap + 0.1 / p.heads) * UP,
            FRONT,
            [(0.0, 0.7 * p.neck, 0.7 * p.neck), (1.0, 0.7 * p.neck, 0.7 * p.neck)],
        )
    for name, side, flipped in zip(SIDES, bones.sides, (False, True), strict=True):
        pieces = {
            "upper_arm": (side.shoulder, side.elbow, p.arm, (-0.08, 0.88)),
            "forearm": (side.elbow, side.wrist, 0.95 * p.arm, (0.10, 0.93)),
            "thigh": (side.hip, side.knee, p.leg, (0.10, 0.90)),
            "shin": (side.knee, side.ankle, 0.95 * p.leg, (0.08, 0.94)),
        }
        for piece, (a, b, r, (start, end)) in pieces.items():
            net = nets[f"{piece}_{name}"] = Net(mirror=flipped)
            _segment(net, a, b, FRONT, [(start, r, r), (end, 0.85 * r, 0.85 * r)])
            if style.many_loops:
                net.ball(Way(a, UP, FRONT), np.full(3, 0.6 * r), 3, 6)
        hand = nets[f"hand_{name}"] = Net(mirror=flipped)
        hand_block(hand, p, side, None)
        foot = nets[f"foot_{name}"] = Net(mirror=flipped)
        foot_block(foot, p, side)
    return nets


def body_nets(p: BoxParams, bones: BoxBones, style: Style) -> dict[str, Net]:
    """The body's objects by name."""
    if style.build == "one":
        return _one_skin(p, bones, style)
    if style.build == "robot":
        return _robot(p, bones, style)
    nets = _tubes(p, bones, style)
    if style.build == "parts":
        return nets
    if style.build == "clothes":
        shirt, trousers = nets.pop("torso"), nets.pop("trousers")
        return {"shirt": shirt, "trousers": trousers, **nets}
    return {"body": joined(nets.values())}


def joined(nets: Iterable[Net]) -> Net:
    """Several nets as one."""
    whole = Net()
    for net in nets:
        start = len(whole.points)
        whole.points += net.points
        whole.polygons += [tuple(i + start for i in poly) for poly in net.polygons]
    return whole
