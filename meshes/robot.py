"""A machine of rigid parts: shells round the bones, with a ball in every joint."""

from __future__ import annotations

import numpy as np

from .bones import FRONT, LEFT, UP
from .combine import Blend, Mirror
from .shapes import Ellipsoid, Loft, Shape, Vec
from .wearer import Wearer

__all__ = ["robot_parts"]

Parts = dict[str, tuple[Shape, float]]


def _case(
    a: Vec, b: Vec, front: Vec, rows: list[tuple[float, float, float]], side: Vec | None = None
) -> Shape:
    """A squarish shell along a bone; rows of station, half-width to the sides, half-depth."""
    table = [[t, 0, 0, half, half, deep, deep] for t, half, deep in rows]
    return Loft(a, b, front, table, 4.0, (0.25, 0.25), side)


def _arm(who: Wearer, i: int) -> Parts:
    arm, g = who.bones.arms[i], who.params.arm_girth
    r = 0.030 * g
    front = -arm.back
    upper = _case(
        arm.shoulder, arm.elbow, front, [(0.16, 1.05 * r, 1.05 * r), (0.86, 0.85 * r, 0.9 * r)]
    )
    fore = _case(
        arm.elbow,
        arm.wrist,
        front,
        [(0.14, 0.85 * r, 0.9 * r), (0.35, 1.0 * r, 1.05 * r), (0.94, 0.72 * r, 0.72 * r)],
    )
    ball = Ellipsoid(arm.shoulder, np.full(3, 1.15 * r))
    hinge = Ellipsoid(arm.elbow, np.full(3, 0.82 * r))
    return {
        "shoulder": (ball, 0.03),
        "upper_arm": (upper, 0.04),
        "elbow": (hinge, 0.02),
        "forearm": (fore, 0.04),
        "hand": (who.hands[i], 0.14),
    }


def _leg(who: Wearer, i: int) -> Parts:
    leg, g = who.bones.legs[i], who.params.leg_girth
    r = 0.040 * g
    thigh = _case(
        leg.hip, leg.knee, leg.front, [(0.20, 1.05 * r, 1.1 * r), (0.88, 0.85 * r, 0.9 * r)]
    )
    shank = _case(
        leg.knee,
        leg.ankle,
        leg.front,
        [(0.12, 0.82 * r, 0.85 * r), (0.3, 0.9 * r, 1.0 * r), (0.94, 0.62 * r, 0.66 * r)],
    )
    return {
        "hip": (Ellipsoid(leg.hip, np.full(3, 1.05 * r)), 0.03),
        "thigh": (thigh, 0.04),
        "knee": (Ellipsoid(leg.knee, np.full(3, 0.86 * r)), 0.02),
        "shank": (shank, 0.04),
        "foot": (who.feet[i], 0.07),
    }


def robot_parts(who: Wearer) -> Parts:
    """The parts of the machine by name: shape and share of the face budget."""
    p, bones = who.params, who.bones
    w, d = p.trunk_width, p.trunk_depth
    hip, neck = bones.legs[0].hip, bones.trunk["neck"]
    span = float(neck[1] - hip[1])
    a, b = np.array([0, hip[1], 0.0]), np.array([0, neck[1], 0.0])
    low = p.crotch - p.hip
    seat = _case(
        a,
        b,
        FRONT,
        [(low / span, 0.055 * w, 0.045 * d), (0.0, 0.090 * w, 0.060 * d), (0.16, 0.080 * w, 0.055)],
        LEFT,
    )
    waist = _case(a, b, FRONT, [(0.10, 0.058 * w, 0.042 * d), (0.50, 0.058 * w, 0.042 * d)], LEFT)
    inner = float(bones.arms[0].shoulder[0])
    wide = max(inner - 0.018 * p.arm_girth, 0.06 * w)
    chest = _case(
        a,
        b,
        FRONT,
        [
            (0.40, 0.070 * w, 0.058 * d),
            (0.62, min(0.095 * w, wide), 0.072 * d),
            (0.84, wide, 0.068 * d),
            (0.94, 0.7 * wide, 0.052 * d),
        ],
        LEFT,
    )
    parts: Parts = {
        "head": (_head(who), 0.08),
        "neck": (_case(neck - 0.03 * UP, bones.head.point(0, 0.25, -0.05), FRONT,
                       [(0.0, 0.035 * p.neck_girth, 0.035 * p.neck_girth),
                        (1.0, 0.030 * p.neck_girth, 0.030 * p.neck_girth)], LEFT), 0.03),
        "chest": (chest, 0.07),
        "waist": (waist, 0.03),
        "seat": (seat, 0.05),
    }  # fmt: skip
    for i, side in enumerate(("left", "right")):
        for name, (shape, share) in (_arm(who, i) | _leg(who, i)).items():
            whole = shape if i == 0 or name in ("hand", "foot") else Mirror(shape)
            parts[f"{side}_{name}"] = (whole, share)
    return parts


def _head(who: Wearer) -> Shape:
    at, s, h = who.bones.head, who.bones.head.scale, who.params.head
    box = Loft(
        at.point(0, 0, 0.02),
        at.point(0, 1, 0.02),
        at.axes[2],
        [
            [0.06, 0, 0, 0.24 * h.width * s, 0.24 * h.width * s, 0.30 * h.depth * s, 0.28 * s],
            [0.50, 0, 0, 0.33 * h.width * s, 0.33 * h.width * s, 0.36 * h.depth * s, 0.36 * s],
            [0.92, 0, 0, 0.28 * h.width * s, 0.28 * h.width * s, 0.30 * h.depth * s, 0.30 * s],
        ],
        4.0,
        (0.2, 0.3),
        at.axes[0],
    )
    bumps: list[Shape] = [
        Ellipsoid(
            at.point(x * 0.33 * h.width, 0.48, 0.02), np.array([0.06, 0.12, 0.12]) * s, at.axes
        )
        for x in (1.0, -1.0)
    ]
    lamps = [
        Ellipsoid(at.point(x * h.eye_x, h.eye_y, 0.37 * h.depth), np.full(3, 0.07) * s)
        for x in (1.0, -1.0)
    ]
    mouth = Ellipsoid(at.point(0, 0.2, 0.31 * h.depth), np.array([0.12, 0.03, 0.04]) * s, at.axes)
    return Blend([box, *bumps, *lamps, mouth], 0.01 * s)
