"""Feet, bare or in shoes, in units of foot length from the heel."""

from __future__ import annotations

import numpy as np

from .bones import Leg
from .combine import Blend, Grow, Keep, slab, tube
from .params import FigureParams
from .shapes import Ellipsoid, HalfSpace, Loft, RoundCone, Shape

__all__ = ["foot_shape"]

# Toe by toe: root and end of the toe (outward, forward), radius; the hallux first. Tips lie at
# 1.0, .98, .95, .91 and .85 of the foot length.
_TOES = (
    ((-0.085, 0.70), (-0.072, 0.938), 0.064),
    ((-0.010, 0.72), (0.005, 0.935), 0.045),
    ((0.048, 0.70), (0.068, 0.905), 0.041),
    ((0.100, 0.67), (0.122, 0.865), 0.039),
    ((0.145, 0.63), (0.166, 0.815), 0.038),
)


def _bare(p: FigureParams, leg: Leg) -> Shape:
    foot, s = leg.foot, leg.foot.scale
    x, y, z = foot.axes
    b = p.foot_breadth
    high = p.ankle / s  # height of the ankle in foot lengths; ordinary feet have .263
    h = high / 0.263
    # station (forward), then half-widths outward, inward, up, down from a line at a low height
    line = 0.075 * h
    rows = [
        [0.035, 0.0, 0.0, 0.105, 0.105, 0.150 * h, 0.075 * h],
        [0.10, 0.0, 0.0, 0.128, 0.128, 0.215 * h, 0.085 * h],
        [0.22, 0.0, 0.0, 0.130, 0.132, 0.225 * h, 0.085 * h],
        [0.40, 0.010, 0.0, 0.138, 0.135, 0.195 * h, 0.080 * h],
        [0.55, 0.018, 0.0, 0.160, 0.150, 0.135 * h, 0.080 * h],
        [0.70, 0.022, 0.0, 0.172, 0.175, 0.072 * h, 0.080 * h],
        [0.79, 0.020, 0.0, 0.160, 0.165, 0.040 * h, 0.075 * h],
    ]
    scaled = [
        [r[0], r[1] * s, 0.0, *(v * s * (b if i < 2 else 1) for i, v in enumerate(r[3:]))]
        for r in rows
    ]
    a = foot.point(0, line, 0)
    parts: list[Shape] = [
        Loft(a, foot.point(0, line, 1), y, scaled, 2.3, (0.45, 0.3), x),
        # tendon of the heel, ball of the big toe, edge of the little one
        RoundCone(
            foot.point(0, 0.24 * h, 0.075),
            leg.ankle + 0.10 * s * y - 0.085 * s * z,
            0.055 * s,
            0.05 * s,
        ),
        Ellipsoid(
            foot.point(-0.105 * b, 0.085 * h, 0.72), np.array([0.068, 0.075, 0.085]) * s, foot.axes
        ),
        Ellipsoid(
            foot.point(0.150 * b, 0.065 * h, 0.60), np.array([0.058, 0.062, 0.09]) * s, foot.axes
        ),
    ]
    sole: Shape = Blend(parts, 0.08 * s)
    toes: list[Shape] = []
    for i, (root, end, radius) in enumerate(_TOES):
        r0 = radius * (0.95 if i else 0.85)
        low = radius * 0.92
        knee = np.array([0.5 * (root[0] + end[0]) * b, low + 0.022, 0.35 * root[1] + 0.65 * end[1]])
        points = [
            foot.point(root[0] * b, 0.085 * h, root[1]),
            foot.point(*knee),
            foot.point(end[0] * b, low, end[1]),
        ]
        toe = tube(points, [r0 * s, r0 * 0.96 * s, radius * 0.98 * s], 0.02 * s)
        nail = Ellipsoid(
            foot.point(end[0] * b, low + 0.62 * radius, end[1] + 0.1 * radius),
            np.array([0.62, 0.42, 0.72]) * radius * s,
            foot.axes,
        )
        toes.append(Blend([toe, nail], 0.006 * s))
    whole = Blend([sole, Blend(toes, 0.010 * s)], 0.045 * s)
    return Keep(whole, HalfSpace(foot.origin, -y), 0.03 * s)


def _shoe(p: FigureParams, leg: Leg, boot: bool) -> Shape:
    foot, s = leg.foot, leg.foot.scale
    x, y, z = foot.axes
    b = p.foot_breadth * (1.10 if boot else 1.0)
    h = p.ankle / s / 0.263
    line = 0.10 * h
    rows = [
        [0.02, 0.0, 0.0, 0.120, 0.120, 0.160 * h, 0.06 * h],
        [0.12, 0.0, 0.0, 0.142, 0.142, 0.230 * h, 0.07 * h],
        [0.24, 0.0, 0.0, 0.145, 0.145, 0.235 * h, 0.07 * h],
        [0.42, 0.010, 0.0, 0.150, 0.148, 0.185 * h, 0.07 * h],
        [0.58, 0.018, 0.0, 0.170, 0.165, 0.130 * h, 0.07 * h],
        [0.76, 0.018, 0.0, 0.180, 0.185, 0.098 * h, 0.07 * h],
        [0.88, 0.010, 0.0, 0.166, 0.172, 0.088 * h, 0.07 * h],
    ]
    scaled = [
        [r[0], r[1] * s, 0.0, *(v * s * (b if i < 2 else 1) for i, v in enumerate(r[3:]))]
        for r in rows
    ]
    line_a, line_b = foot.point(0, line, 0), foot.point(0, line, 1)
    body: Shape = Loft(line_a, line_b, y, scaled, 2.4, (0.4, 1.0), x)
    # the sole follows the outline of the upper, a little wider; a heel under the back
    deep = [[*row[:6], 0.40 * h * s] for row in scaled]
    # the ends reach as far as those of the upper: they are given relative to the mean half-width
    ends = [sum(scaled[i][3:]) / sum(deep[i][3:]) for i in (0, -1)]
    caps = (0.4 * ends[0], 1.0 * ends[1])
    outline = Grow(Loft(line_a, line_b, y, deep, 2.4, caps, x), 0.014 * s)
    welt = Keep(outline, slab(foot.point(0, 0.045 * h, 0), foot.point(0, 0.100 * h, 0), 0.01 * s))
    heel = Keep(outline, slab(foot.point(0, -0.05, 0), foot.point(0, 0.06 * h, 0)), 0.01 * s)
    heel = Keep(heel, HalfSpace(foot.point(0, 0, 0.27), z), 0.02 * s)
    ball = Keep(outline, slab(foot.point(0, -0.05, 0), foot.point(0, 0.06 * h, 0)), 0.01 * s)
    ball = Keep(ball, HalfSpace(foot.point(0, 0, 0.40), -z), 0.05 * s)
    whole: Shape = Blend([body, Blend([welt, heel, ball], 0.004 * s)], 0.008 * s)
    g = p.leg_girth
    if boot:
        rows = [
            [-0.04, 0, 0, 0.030, 0.030, 0.032, 0.034],
            [0.10, 0, 0, 0.0275, 0.0275, 0.0285, 0.032],
            [0.30, 0, 0, 0.0320, 0.0325, 0.0300, 0.0410],
            [0.55, 0, 0, 0.0390, 0.0395, 0.0350, 0.0500],
            [0.66, 0, 0, 0.0410, 0.0410, 0.0390, 0.0490],
        ]
        steps = ((0.54, 1.04), (0.56, 1.11), (0.66, 1.13), (0.68, 1.08))
    else:
        rows = [
            [-0.05, 0, 0, 0.0235, 0.0235, 0.027, 0.029],
            [0.06, 0, 0, 0.0220, 0.0220, 0.0235, 0.027],
        ]
        steps = ((0.04, 1.02), (0.05, 1.12), (0.085, 1.12), (0.095, 1.02))
    rows = [[r[0], 0, 0, *(v * g for v in r[3:])] for r in rows]
    shaft = Loft(leg.ankle, leg.knee, leg.front, rows, 2.1, (0.5, 0.15), x)
    cuff = [[t, 0, 0, *(v * k for v in rows[-1][3:])] for t, k in steps]
    band = Loft(leg.ankle, leg.knee, leg.front, cuff, 2.1, (0.15, 0.15), x)
    whole = Blend([Blend([whole, shaft], 0.10 * s), band], 0.004)
    return Keep(whole, HalfSpace(foot.origin, -y), 0.01 * s)


def foot_shape(p: FigureParams, leg: Leg) -> Shape:
    """The foot of a left leg, standing on the plane through `leg.foot.origin`."""
    if not p.shoes:
        return _bare(p, leg)
    return _shoe(p, leg, p.shoes == "boot")
