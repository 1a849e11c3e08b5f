"""Heads: skull, face, ears, and the sockets and lids the eyeballs sit in.

The unit is the height of the head. The origin is at chin height under the ear canal, x toward the
figure's left, y up, z forward. Measures are from ANSUR II heads (length .874 of the height,
breadth .675, eyes at half the height, ear canal at .425) and by eye in between.
"""

from __future__ import annotations

import numpy as np

from .bones import Bones, eye_depth
from .combine import Blend, Cut, tube
from .params import FigureParams
from .shapes import Ellipsoid, Loft, RoundCone, Shape

__all__ = ["eyeball_radius", "head_shape", "skull_shape"]


def eyeball_radius(p: FigureParams) -> float:
    """Radius of the eyeballs, fraction of stature."""
    return p.head.eye_radius / p.heads


def skull_shape(p: FigureParams, bones: Bones, grow: float = 0.0) -> Shape:
    """The brain case, thicker by `grow` head heights (hair is laid on it)."""
    h, at = p.head, bones.head
    w, d = h.width, h.depth
    s = at.scale
    back = np.array([0.330 * w + grow, 0.325 + grow, 0.375 * d + grow]) * s
    front = np.array([0.292 * w + grow, 0.325 + grow, 0.350 * d + grow]) * s
    return Blend(
        [
            Ellipsoid(at.point(0, 0.675, -0.060 * d), back, at.axes),
            Ellipsoid(at.point(0, 0.665, 0.075 * d), front, at.axes),
        ],
        0.12 * s,
    )


def _ear(p: FigureParams, bones: Bones, s: float) -> Shape:
    """One ear; `s` is +1 for the left."""
    at, h = bones.head, p.head
    k, w = h.ear, h.width
    size = at.scale * k
    base = np.array([s * 0.300 * w, 0.430, -0.015])

    def q(out: float, up: float, ahead: float) -> np.ndarray:
        # the ear leans back and stands off the head behind
        lean, off = np.radians(12), np.radians(28)
        z = ahead * np.cos(lean) - up * np.sin(lean)
        y = ahead * np.sin(lean) + up * np.cos(lean)
        x = out * np.cos(off) - z * np.sin(off)
        z = z * np.cos(off) + out * np.sin(off)
        return at.point(*(base + k * np.array([s * x, y, z])))

    axes = np.stack([q(1, 0, 0) - q(0, 0, 0), q(0, 1, 0) - q(0, 0, 0), q(0, 0, 1) - q(0, 0, 0)])
    axes = axes / np.linalg.norm(axes, axis=1, keepdims=True)
    leaf = Ellipsoid(q(0.012, 0.01, -0.035), np.array([0.020, 0.118, 0.078]) * size, axes)
    angle = np.radians(np.linspace(-38, 205, 12))
    rim = [q(0.024, 0.018 + 0.108 * np.sin(a), -0.038 - 0.068 * np.cos(a) * -1) for a in angle]
    rim_shape = tube(rim, [0.017 * size] * 12, 0.004 * size)
    lobe = Ellipsoid(q(0.012, -0.098, -0.002), np.array([0.020, 0.038, 0.034]) * size, axes)
    shell = Cut(
        Blend([leaf, rim_shape, lobe], 0.016 * size),
        Ellipsoid(q(0.045, -0.005, -0.012), np.array([0.036, 0.060, 0.036]) * size, axes),
        0.016 * size,
    )
    tragus = Ellipsoid(q(0.020, -0.025, 0.032), np.array([0.014, 0.022, 0.014]) * size, axes)
    return Blend([shell, tragus], 0.012 * size)


def head_shape(p: FigureParams, bones: Bones) -> Shape:
    """The whole head without eyeballs and hair."""
    at, h = bones.head, p.head
    s = at.scale
    w, d, jw = h.width, h.depth, h.width * h.jaw_width
    er = h.eye_radius

    def ball(x: float, y: float, z: float, rx: float, ry: float, rz: float) -> Ellipsoid:
        return Ellipsoid(at.point(x, y, z), np.array([rx, ry, rz]) * s, at.axes)

    def cone(
        a: tuple[float, float, float], b: tuple[float, float, float], ra: float, rb: float
    ) -> RoundCone:
        return RoundCone(at.point(*a), at.point(*b), ra * s, rb * s)

    # front of the face at each height, seen from the side
    rows = [
        [0.05, 0, 0.20 * d, 0.085 * jw, 0.085 * jw, 0.165 * d, 0.10],
        [0.12, 0, 0.17 * d, 0.135 * jw, 0.135 * jw, 0.205 * d, 0.13],
        [0.21, 0, 0.15 * d, 0.185 * jw, 0.185 * jw, 0.228 * d, 0.15],
        [0.32, 0, 0.14 * d, 0.232 * w, 0.232 * w, 0.245 * d, 0.17],
        [0.44, 0, 0.12 * d, 0.265 * w, 0.265 * w, 0.258 * d, 0.20],
        [0.56, 0, 0.10 * d, 0.276 * w, 0.276 * w, 0.305 * d, 0.22],
        [0.70, 0, 0.08 * d, 0.272 * w, 0.272 * w, 0.325 * d, 0.22],
    ]
    scaled = [[r[0], *(v * s for v in r[1:])] for r in rows]
    mass: list[Shape] = [
        skull_shape(p, bones),
        Loft(at.point(0, 0, 0), at.point(0, 1, 0), at.axes[2], scaled, 2.4, (0.3, 0.4), at.axes[0]),
    ]
    for x in (1.0, -1.0):
        mass += [
            # jaw: its angle below the ear, and its lower edge to the chin
            cone(
                (x * 0.195 * jw, 0.170, 0.050),
                (x * 0.040 * jw, 0.05, 0.305 * d),
                0.044 / h.soft,
                0.040,
            ),
            cone((x * 0.195 * jw, 0.170, 0.050), (x * 0.250 * w, 0.40, 0.01), 0.044, 0.040),
            # cheek bone and its arch
            ball(x * 0.185 * w, 0.405, 0.258 * d, 0.080, 0.048, 0.068),
            ball(x * 0.140 * w, 0.275, 0.215 * d, 0.095, 0.125, 0.105),
        ]
        if h.cheeks:
            c = h.cheeks
            mass.append(
                ball(x * 0.165 * w, 0.27, 0.235 * d, 0.10 + 0.03 * c, 0.12, 0.09 + 0.05 * c)
            )
        # the side of the head under the ear
        mass.append(ball(x * 0.185 * w, 0.440, -0.040, 0.100 * w, 0.170, 0.140))
    # the rounded bone that carries the teeth
    mass.append(ball(0, 0.235, 0.250 * d, 0.135 * jw, 0.115, 0.130))
    mass.append(ball(0, 0.055, 0.335 * d, 0.070 * h.chin * jw, 0.055 * h.chin, 0.055 * h.chin))
    head: Shape = Blend(mass, 0.075 * h.soft * s)
    floor = 0.80 + 0.14 * (h.soft - 1.0)
    # hollows: eye sockets, temples, below the lower lip
    for x in (1.0, -1.0):
        ex, ey, ez = x * h.eye_x, h.eye_y, eye_depth(h)
        head = Cut(
            head,
            ball(ex + x * 0.004, ey, ez + floor * er + 0.076, 1.40 * er, 1.02 * er, 0.076),
            0.060 * s,
        )
    groove = 1.0 / h.soft**2
    head = Cut(head, ball(0, 0.120, 0.422 * d, 0.050, 0.014, 0.016 * groove), 0.035 * s)
    detail: list[Shape] = []
    brow: list[Shape] = []
    for x in (1.0, -1.0):
        e, over = h.eye_x, h.eye_y + max(0.088, 1.28 * er)
        brow.append(
            cone(
                (x * e * 0.42, over, 0.388 * d),
                (x * e * 1.15, over + 0.017, 0.350 * d),
                0.026 * h.brow,
                0.024 * h.brow,
            )
        )
        brow.append(
            cone(
                (x * e * 1.15, over + 0.017, 0.350 * d),
                (x * e * 1.62, over - 0.028, 0.262 * d),
                0.024 * h.brow,
                0.020 * h.brow,
            )
        )
    head = Blend([head, Blend(brow, 0.02 * s)], 0.045 * s)
    # nose
    nl, nw = h.nose_length, h.nose_width
    face = 0.385 * d
    tip_y, tip_z = h.eye_y - 0.155 * nl, face + 0.100 * nl
    nose = Blend(
        [
            cone(
                (0, h.eye_y + 0.045, face + 0.012),
                (0, tip_y + 0.02, tip_z - 0.012),
                0.024,
                0.033 * nw,
            ),
            ball(0, tip_y, tip_z - 0.006, 0.040 * nw, 0.034, 0.038),
            ball(0.043 * nw, tip_y - 0.014, tip_z - 0.052, 0.030 * nw, 0.027, 0.038),
            ball(-0.043 * nw, tip_y - 0.014, tip_z - 0.052, 0.030 * nw, 0.027, 0.038),
        ],
        0.022 * s,
    )
    head = Blend([head, nose], 0.040 * s)
    for x in (1.0, -1.0):
        nostril = ball(x * 0.026 * nw, tip_y - 0.046, tip_z - 0.034, 0.013 * nw, 0.016, 0.020)
        head = Cut(head, nostril, 0.012 * s)
    # lips: fuller in the middle, meeting in a shallow line
    mw, lp = h.mouth_width, h.lips
    my, up = 0.200, 0.024 * h.smile
    mz = 0.392 * d + 0.030 * (h.soft - 1.0)
    upper = [
        (mw * 0.100, my + 0.002 + up, mz - 0.050),
        (mw * 0.055, my + 0.013 + 0.25 * up, mz - 0.010),
        (mw * 0.018, my + 0.019, mz + 0.008),
        (0.0, my + 0.014, mz + 0.008),
    ]
    lower = [
        (mw * 0.094, my - 0.003 + up, mz - 0.052),
        (mw * 0.050, my - 0.020 + 0.25 * up, mz - 0.014),
        (0.0, my - 0.026, mz + 0.002),
    ]
    for x in (1.0, -1.0):
        above = at.points([(x * a, b, c) for a, b, c in upper])
        below = at.points([(x * a, b, c) for a, b, c in lower])
        detail.append(tube(above, [r * s * lp for r in (0.008, 0.018, 0.021, 0.020)], 0.006 * s))
        detail.append(tube(below, [r * s * lp for r in (0.008, 0.021, 0.026)], 0.006 * s))
    head = Blend([head, Blend(detail, 0.010 * s)], 0.022 * s)
    line = [
        (mw * 0.108, my - 0.004 + 1.1 * up, mz - 0.042),
        (mw * 0.055, my - 0.004 + 0.25 * up, mz + 0.010),
        (0.0, my - 0.006, mz + 0.030),
        (-mw * 0.055, my - 0.004 + 0.25 * up, mz + 0.010),
        (-mw * 0.108, my - 0.004 + 1.1 * up, mz - 0.042),
    ]
    head = Cut(head, tube(at.points(line), [0.005 * s, *[0.0075 * s] * 3, 0.005 * s]), 0.012 * s)
    # lids: a solid a little larger than the eyeball, opened in an almond down to the eyeball's
    # front; behind the opening the eyeball is sunk in the flesh, so that no wall gets too thin
    for x, eye in zip((1.0, -1.0), bones.eyes, strict=True):
        r = er * s
        lid = Ellipsoid(eye, np.array([1.24, 1.16, 1.12]) * r, at.axes)
        head = Blend([head, lid], 0.036 * s)
        axes = at.turned(2, x * 7.0)
        opening = Ellipsoid(
            eye + 1.00 * r * axes[2] - 0.06 * r * axes[1],
            np.array([0.98, 0.46 * h.eye_open, 0.80]) * r,
            axes,
        )
        head = Cut(head, opening, 0.04 * r)
    ears = [_ear(p, bones, 1.0), _ear(p, bones, -1.0)]
    return Blend([head, *ears], 0.020 * s)
