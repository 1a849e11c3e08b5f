"""Heads made of loops, and what is on them: eyes, snouts, ears, hair, helmets, hats."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from .box_bones import BoxBones, BoxParams
from .boxes import Net, Way, loop, unit

__all__ = ["FACES", "HEADWEAR", "eyes_net", "head_loops", "nose_net"]

FloatArray = NDArray[np.float64]
UP, LEFT, FRONT = np.array([0.0, 1, 0]), np.array([1.0, 0, 0]), np.array([0.0, 0, 1])
_SHAPES = {
    # height in heads, share of the half width, share of the half depth, forward in half depths
    "oval": (
        (0.00, 0.46, 0.50, 0.30),
        (0.10, 0.66, 0.78, 0.18),
        (0.28, 0.90, 0.92, 0.06),
        (0.50, 1.00, 1.00, 0.00),
        (0.72, 0.96, 0.97, -0.02),
        (0.90, 0.70, 0.72, -0.04),
        (1.00, 0.28, 0.30, -0.04),
    ),
    "ball": (
        (0.00, 0.42, 0.42, 0.0),
        (0.14, 0.80, 0.80, 0.0),
        (0.36, 1.00, 1.00, 0.0),
        (0.62, 1.00, 1.00, 0.0),
        (0.86, 0.74, 0.74, 0.0),
        (1.00, 0.30, 0.30, 0.0),
    ),
    "box": (
        (0.00, 0.90, 0.90, 0.0),
        (0.05, 1.00, 1.00, 0.0),
        (0.50, 1.00, 1.00, 0.0),
        (0.95, 1.00, 1.00, 0.0),
        (1.00, 0.90, 0.90, 0.0),
    ),
}
_SQUARE = {"oval": 2.3, "ball": 2.0, "box": 9.0}


def _size(p: BoxParams) -> tuple[float, float, float]:
    """Head height, half width and half depth in figure heights."""
    head = 1.0 / p.heads
    return head, p.head_half[0] * head, p.head_half[1] * head


def _ring(p: BoxParams, bones: BoxBones, row: tuple[float, float, float, float], count: int,
          grow: float = 1.0) -> FloatArray:  # fmt: skip
    head, wide, deep = _size(p)
    y, w, d, z = row
    way = Way(np.array([0.0, bones.chin + y * head, z * deep]), UP, FRONT)
    angles = np.arange(count) * 360.0 / count + (45.0 if count == 4 else 0.0)
    return loop(way, grow * d * deep, grow * w * wide, angles, _SQUARE[p.head_shape])


def head_loops(
    p: BoxParams, bones: BoxBones, columns: int, apart: bool = False
) -> list[FloatArray]:
    """Loops from the neck's top (or the chin, when the head is an object apart) to the crown."""
    rows = _SHAPES[p.head_shape]
    loops = [_ring(p, bones, row, columns) for row in rows]
    if not apart:
        head = 1.0 / p.heads
        angles = np.arange(columns) * 360.0 / columns
        way = Way(np.array([0.0, bones.chin + 0.04 * head, 0.0]), UP, FRONT)
        loops.insert(0, loop(way, p.neck, p.neck, angles, 2.0))
    return loops


def eyes_net(kind: str, p: BoxParams, bones: BoxBones) -> Net | None:
    """Both eyes: flat discs or domes on the face, balls, or none."""
    if kind == "painted":
        return None
    net, head = Net(), 1.0 / p.heads
    size = (0.075 + 0.02 * (p.heads < 4)) * head
    for at in bones.eyes:
        if kind == "disc":
            ring = loop(Way(at + 0.03 * head * FRONT, FRONT, UP), 1.2 * size, size,
                        np.arange(8) * 45.0)  # fmt: skip
            net.cap(net.ring(ring))
        else:
            net.ball(Way(at, UP, FRONT), np.full(3, size), 4, 8)
    return net


def nose_net(p: BoxParams, bones: BoxBones) -> Net:
    """A wedge in the middle of the face."""
    net, head = Net(), 1.0 / p.heads
    _, _, deep = _size(p)
    z = 0.93 * deep
    a = np.array([0.0, bones.chin + 0.42 * head, z])
    b = np.array([0.06 * head, bones.chin + 0.27 * head, z])
    tip = np.array([0.0, bones.chin + 0.29 * head, z + 0.11 * head])
    ids = net.ring([a, b, b * [-1, 1, 1], tip])
    for face in ((0, 3, 1), (0, 2, 3), (2, 1, 3)):
        net.polygon([ids[i] for i in face])
    return net


def snout_net(p: BoxParams, bones: BoxBones) -> Net:
    """A muzzle: a box that tapers forward, with a nose on its end."""
    net, head = Net(), 1.0 / p.heads
    _, wide, deep = _size(p)
    y = bones.chin + 0.26 * head
    loops = []
    for z, scale in ((0.5 * deep, 1.0), (1.05 * deep, 0.85), (1.0 * deep + 0.30 * head, 0.55)):
        way = Way(np.array([0.0, y - 0.04 * head * (1 - scale), z]), FRONT, UP)
        angles = np.arange(6) * 60.0
        loops.append(loop(way, 0.20 * head * scale, 0.55 * wide * scale, angles, 3.0))
    net.loft(loops)
    return net


FACES: dict[str, Callable[[BoxParams, BoxBones], Net]] = {"nose": nose_net, "snout": snout_net}


def _both(build: Callable[[Net], None]) -> Net:
    net = Net()
    for flipped in (False, True):
        net.mirror = flipped
        build(net)
    return net


def _ears(p: BoxParams, bones: BoxBones, length: float, aside: float, width: float) -> Net:
    head, wide, _ = _size(p)

    def one(net: Net) -> None:
        root = np.array([0.55 * wide, bones.chin + 0.86 * head, -0.02 * head])
        way = unit(UP + aside * LEFT)
        loops = [
            loop(Way(root + t * length * head * way, way, FRONT), 0.05 * head * s, width * head * s,
                 (45, 135, 225, 315), 8.0)
            for t, s in ((0.0, 1.0), (0.5, 1.15), (1.0, 0.35))
        ]  # fmt: skip
        net.loft(loops)

    return _both(one)


def _hanging_ears(p: BoxParams, bones: BoxBones) -> Net:
    """Long flaps that hang down beside the face."""
    head, wide, _ = _size(p)

    def one(net: Net) -> None:
        rows = [
            (0.60 * wide, 0.90, 0.06, UP + LEFT),
            (1.20 * wide, 0.86, 0.10, LEFT - 0.5 * UP),
            (1.38 * wide, 0.50, 0.15, -UP),
            (1.42 * wide, 0.02, 0.10, -UP),
        ]
        net.loft(
            [loop(Way(np.array([x, bones.chin + y * head, 0.0]), way, FRONT), half * head,
                  0.05 * head, (45, 135, 225, 315), 8.0) for x, y, half, way in rows]
        )  # fmt: skip

    return _both(one)


def _hair_block(p: BoxParams, bones: BoxBones) -> Net:
    """A cap of thick slabs over skull and nape."""
    net, head = Net(), 1.0 / p.heads
    _, _, deep = _size(p)
    rows = _SHAPES[p.head_shape]
    upper = [row for row in rows if row[0] >= 0.62]
    if len(upper) < 3:
        upper = [(0.66, *rows[-2][1:]), *upper]
    loops = [_ring(p, bones, row, 8, 1.10) for row in upper]
    loops[-1] = loops[-1] + 0.05 * head * UP
    net.loft(loops)
    net.box([0, bones.chin + 0.42 * head, -0.80 * deep], np.eye(3),
            [0.85 * _size(p)[1], 0.34 * head, 0.28 * deep])  # fmt: skip
    return net


def _hair_cards(p: BoxParams, bones: BoxBones) -> Net:
    """Strands as sheets hung round the head, open and overlapping."""
    net = Net()
    head, wide, deep = _size(p)
    for turn in np.arange(70.0, 291.0, 20.0):
        a = np.radians(turn)
        out = np.array([np.sin(a), 0.0, np.cos(a)])
        across = np.array([np.cos(a), 0.0, -np.sin(a)])
        rows = []
        for y, far in ((0.99, 0.25), (0.80, 0.92), (0.50, 1.08), (0.12, 1.06), (-0.20, 0.95)):
            at = np.array([out[0] * wide * far, bones.chin + y * head, out[2] * deep * far])
            half = 0.16 * head * (0.6 if y in (0.99, -0.20) else 1.0)
            rows.append([at - half * across, at + half * across])
        net.sheet(rows)
    return net


def _spikes(p: BoxParams, bones: BoxBones) -> Net:
    net = _hair_block(p, bones)
    head, wide, deep = _size(p)
    for x, z in ((0.0, 0.5), (0.5, 0.1), (-0.5, 0.1), (0.0, -0.3), (0.4, -0.6), (-0.4, -0.6)):
        at = np.array([x * wide, bones.chin + 0.92 * head, z * deep])
        way = unit(np.array([x, 1.1, z - 0.3]))
        net.loft(
            [loop(Way(at + t * 0.34 * head * way, way, FRONT), s * head, s * head,
                  np.arange(4) * 90.0, 2.0) for t, s in ((0.0, 0.14), (1.0, 0.01))]
        )  # fmt: skip
    return net


def _helmet(p: BoxParams, bones: BoxBones, closed: bool) -> Net:
    """A shell round the skull, open at the face or down to the neck with a slit; with a crest."""
    net = Net()
    head, wide, deep = _size(p)
    rows = [row for row in _SHAPES[p.head_shape] if row[0] >= (0.0 if closed else 0.45)]
    loops = [_ring(p, bones, row, 10, 1.16) for row in rows]
    loops[-1] = loops[-1] + 0.08 * head * UP
    net.loft(loops, start=False)
    if not closed:
        for s in (1.0, -1.0):
            net.box([s * 1.12 * wide, bones.chin + 0.32 * head, 0.0], np.eye(3),
                    [0.05 * head, 0.26 * head, 0.55 * deep])  # fmt: skip
    net.box([0, bones.chin + 1.10 * head, -0.1 * deep], np.eye(3),
            [0.04 * head, 0.16 * head, 0.8 * deep])  # fmt: skip
    return net


def _horned(p: BoxParams, bones: BoxBones) -> Net:
    net = _helmet(p, bones, closed=False)
    head, wide, _ = _size(p)
    for flipped in (False, True):
        net.mirror = flipped
        root = np.array([1.05 * wide, bones.chin + 0.78 * head, 0.0])
        line = (root, root + np.array([0.25, 0.08, 0.0]) * head,
                root + np.array([0.36, 0.42, 0.0]) * head)  # fmt: skip
        radii = [s * head for s in (0.10, 0.08, 0.015)]
        net.rod(line, radii, FRONT, ways=(LEFT, unit(LEFT + UP), UP))
    return net


def _hat(p: BoxParams, bones: BoxBones, tall: float) -> Net:
    """A cone or a cylinder with a flat brim of one layer."""
    net = Net()
    head, wide, deep = _size(p)
    base, top = bones.chin + 0.80 * head, 0.9 if tall < 0.6 else 0.08
    angles = np.arange(8) * 45.0
    loops = [
        loop(Way(np.array([0.0, base + y * head, 0.0]), UP, FRONT), 1.06 * deep * s,
             1.06 * wide * s, angles)
        for y, s in ((-0.02, 1.8), (0.0, 1.0), (0.4 * tall, 0.75), (tall, top))
    ]  # fmt: skip
    net.loft(loops, start=False)
    return net


HEADWEAR: dict[str, Callable[[BoxParams, BoxBones], Net]] = {
    "hair_block": _hair_block,
    "hair_cards": _hair_cards,
    "spikes": _spikes,
    "helmet": lambda p, b: _helmet(p, b, False),
    "closed_helmet": lambda p, b: _helmet(p, b, True),
    "horned_helmet": _horned,
    "wizard_hat": lambda p, b: _hat(p, b, 1.1),
    "top_hat": lambda p, b: _hat(p, b, 0.55),
    "long_ears": lambda p, b: _ears(p, b, 0.85, 0.25, 0.13),
    "cat_ears": lambda p, b: _ears(p, b, 0.30, 0.35, 0.14),
    "hanging_ears": _hanging_ears,
}
