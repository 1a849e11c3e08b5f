"""Trunk, neck, arms and legs as implicit shapes around the bones.

Half-widths are fractions of stature on an adult, read from girths in ANSUR II where it has them
(upper arm 310 mm, forearm 300, wrist 174, thigh 620, knee 385, calf 390, ankle 225 of 1756) and
shaped by eye between them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .bones import FRONT, LEFT, UP, Arm, Bones, Leg
from .combine import Blend
from .params import FigureParams
from .shapes import Ellipsoid, Loft, RoundCone, Shape

__all__ = ["arm_shape", "leg_shape", "neck_shape", "trunk_shape"]

Vec = NDArray[np.float64]
_CROTCH_FILL = 0.026  # how far the blended crotch sinks below the trunk's end, measured


def trunk_shape(p: FigureParams, bones: Bones) -> Shape:
    """From the crotch to the base of the neck, with shoulder girdle and buttocks."""
    low, high = bones.legs[0].hip, bones.trunk["neck"]
    lift = low[1] - p.hip
    a = np.array([0, low[1], 0.0])
    b = np.array([0, high[1], 0.0])
    span = float(b[1] - a[1])
    w, d = p.trunk_width, p.trunk_depth
    hips, waist, chest = p.hips, p.waist, p.chest
    # thighs and trunk flow together a little below the trunk's own end
    bottom = (p.crotch + lift + _CROTCH_FILL - a[1]) / span

    def row(t: float, half: float, front: float, back: float, size: float) -> list[float]:
        half, front, back = half * w * size, front * d * size, back * d * size
        return [t, 0.0, 0.0, half, half, front, back]

    sections = [
        row(bottom, 0.046, 0.036, 0.044, hips),
        row(0.5 * bottom, 0.084, 0.054, 0.064, hips),
        row(0.06, 0.093, 0.062, 0.064, hips),
        row(0.19, 0.088, 0.064, 0.056, 0.5 * (hips + waist)),
        row(0.33, 0.078, 0.062, 0.050, waist),
        row(0.43, 0.077, 0.062, 0.050, waist),
        row(0.56, 0.083, 0.066, 0.058, 0.5 * (waist + chest)),
        row(0.69, 0.090, 0.069, 0.066, chest),
        row(0.80, 0.089, 0.060, 0.069, chest),
        row(0.90, 0.064, 0.038, 0.054, chest),
        row(0.99, 0.036, 0.020, 0.040, chest),
    ]
    parts: list[Shape] = [Loft(a, b, FRONT, sections, 2.3, (0.25, 0.4), LEFT)]

    def at(t: float, x: float, z: float) -> Vec:
        return np.array([x, a[1] + t * span, z])

    if p.belly > 0:
        big = p.belly
        parts.append(
            Ellipsoid(
                at(0.33, 0, 0.030 * d),
                [0.080 * w * waist + 0.25 * big, 0.34 * span, 0.034 * d + big],
            )
        )
    shoulder_tilt = [(arm.shoulder, 1.0 if i == 0 else -1.0) for i, arm in enumerate(bones.arms)]
    for shoulder, s in shoulder_tilt:
        g = p.shoulders
        top = np.array([s * (shoulder[0] - 0.012), shoulder[1] + 0.002, shoulder[2] - 0.012])
        # breast: broad and flat on a man, fuller with `bust` above a half
        full = p.bust
        parts.append(
            Ellipsoid(
                at(0.71 - 0.04 * full, s * 0.042 * w * chest, (0.036 + 0.016 * full) * d * chest),
                [0.044 * w * chest, 0.040, (0.018 + 0.016 * full) * d * chest],
            )
        )
        # buttock
        parts.append(
            Ellipsoid(
                at(-0.035, s * 0.047 * w * hips, -0.034 * d * hips),
                [0.041 * w * hips, 0.051, 0.043 * d * hips],
            )
        )
        # trapezius, from the side of the neck to the tip of the shoulder, and down the back
        nape = bones.trunk["neck"] + np.array([s * 0.014, 0.002, -0.010 * d])
        parts.append(RoundCone(nape, top, 0.013 * g, 0.010 * g))
        parts.append(RoundCone(at(0.90, s * 0.03, -0.036 * d), top, 0.016 * g, 0.011 * g))
        # broad back muscle, from the armpit to the waist
        parts.append(
            RoundCone(
                at(0.74, s * 0.080 * w * chest, -0.030 * d),
                at(0.40, s * 0.052 * w * waist, -0.028 * d),
                0.020 * chest,
                0.017 * waist,
            )
        )
        # shoulder blade
        parts.append(
            Ellipsoid(at(0.77, s * 0.050 * w, -0.056 * d * chest), [0.030, 0.045, 0.015 * d])
        )
        # collar bone
        inner = bones.arms[0 if s > 0 else 1].clavicle * np.array([s, 1, 1])
        inner = inner + np.array([0, 0.004, 0.012 * d])
        parts.append(RoundCone(inner, top + np.array([0, 0.002, 0.010]), 0.0055, 0.007))
    return Blend(parts, 0.030)


def neck_shape(p: FigureParams, bones: Bones) -> Shape:
    """The neck, from inside the chest to inside the skull."""
    base = bones.trunk["neck"] + np.array([0, -0.012, 0.006])
    top = bones.head.point(0, 0.36, -0.03)
    g = p.neck_girth
    sections = [
        [0.0, 0, 0, 0.042 * g, 0.042 * g, 0.036 * g, 0.038 * g],
        [0.35, 0, 0, 0.034 * g, 0.034 * g, 0.036 * g, 0.035 * g],
        [0.7, 0, 0, 0.0325 * g, 0.0325 * g, 0.036 * g, 0.034 * g],
        [1.0, 0, 0, 0.034 * g, 0.034 * g, 0.038 * g, 0.036 * g],
    ]
    parts: list[Shape] = [Loft(base, top, FRONT, sections, 2.0, (0.4, 0.4), LEFT)]
    for s in (1.0, -1.0):
        # the muscle from behind the ear to the jugular notch
        upper = bones.head.point(0, 0.28, -0.10) + np.array([s * 0.028 * g, 0, 0])
        notch = bones.arms[0].clavicle * np.array([s * 0.9, 1, 1]) + np.array([0, 0.006, 0.008])
        parts.append(RoundCone(upper, notch, 0.008 * g, 0.006 * g))
    # larynx
    low, high = bones.trunk["neck"], bones.trunk["head"]
    throat = 0.55 * low + 0.45 * high + np.array([0, 0, 0.046 * g])
    parts.append(Ellipsoid(throat, [0.008 * g, 0.012 * g, 0.008 * g]))
    return Blend(parts, 0.012)


def arm_shape(p: FigureParams, arm: Arm) -> tuple[Shape, Shape]:
    """Upper arm and forearm (without the hand) of a left arm."""
    g, k = p.arm_girth, p.joint_knobs
    up = np.cross(-arm.back, (arm.elbow - arm.shoulder) / np.linalg.norm(arm.elbow - arm.shoulder))
    # station, shifts, then the half-widths up (outside), down (inside), front, back
    upper = [
        [-0.02, 0, 0, 0.0180, 0.032, 0.029, 0.030],
        [0.15, 0, 0, 0.0275, 0.030, 0.031, 0.031],
        [0.35, 0, 0, 0.0265, 0.0255, 0.029, 0.030],
        [0.55, 0, 0, 0.0225, 0.023, 0.029, 0.028],
        [0.8, 0, 0, 0.0195, 0.0205, 0.0245, 0.0235],
        [1.0, 0, 0, 0.0190, 0.0205, 0.0215, 0.0220],
    ]
    upper_shape = Blend(
        [
            Loft(arm.shoulder, arm.elbow, -arm.back, _scaled(upper, g), 2.1, (0.9, 0.8), up),
            # deltoid: a cap over the head of the humerus that ends in a point on the outside
            RoundCone(
                arm.shoulder,
                arm.shoulder + 0.42 * (arm.elbow - arm.shoulder) + 0.010 * g * up,
                0.0195 * g * p.shoulders,
                0.012 * g,
            ),
        ],
        0.014,
    )
    r, n = arm.hand.axes[0], arm.hand.axes[2]
    # half-widths toward the hand's back, its palm, the thumb side, the little finger's side
    fore = [
        [0.0, 0, 0, 0.0190, 0.0200, 0.0215, 0.0215],
        [0.13, 0, 0, 0.0215, 0.0235, 0.0265, 0.0250],
        [0.28, 0, 0, 0.0215, 0.0230, 0.0265, 0.0250],
        [0.5, 0, 0, 0.0180, 0.0190, 0.0220, 0.0215],
        [0.75, 0, 0, 0.0132, 0.0138, 0.0172, 0.0168],
        [0.92, 0, 0, 0.0118, 0.0122, 0.0160, 0.0155],
        [1.0, 0, 0, 0.0116, 0.0120, 0.0160, 0.0155],
    ]
    fore_shape = Blend(
        [
            Loft(arm.elbow, arm.wrist, r, _scaled(fore, g), 2.2, (0.8, 0.6), n),
            # point of the elbow, and the knob of the ulna at the wrist
            Ellipsoid(arm.elbow + 0.0175 * g * arm.back, np.full(3, 0.0105) * g * k),
            Ellipsoid(
                arm.wrist - 0.006 * arm.hand.axes[1] + 0.009 * g * n - 0.010 * g * r,
                np.full(3, 0.0062) * g * k,
            ),
        ],
        0.010,
    )
    return upper_shape, fore_shape


def leg_shape(p: FigureParams, leg: Leg) -> tuple[Shape, Shape]:
    """Thigh and shank (without the foot) of a left leg."""
    g, k = p.leg_girth, p.joint_knobs
    out = np.cross((leg.knee - leg.hip) / np.linalg.norm(leg.knee - leg.hip), leg.front)
    out = out if out @ LEFT > 0 else -out
    # station, shifts, then the half-widths outward, inward, front, back
    thigh = [
        [0.0, 0, 0, 0.042, 0.042, 0.050, 0.054],
        [0.18, 0.002, 0, 0.046, 0.046, 0.052, 0.054],
        [0.4, 0.001, 0, 0.046, 0.045, 0.052, 0.047],
        [0.62, 0, 0, 0.041, 0.039, 0.047, 0.040],
        [0.84, 0, 0, 0.034, 0.034, 0.039, 0.033],
        [1.0, 0, 0, 0.032, 0.0325, 0.0360, 0.030],
    ]
    knee, ankle = leg.knee, leg.ankle
    thigh_shape = Blend(
        [
            Loft(leg.hip, knee, leg.front, _scaled(thigh, g), 2.1, (0.7, 0.8), out),
            # teardrop of the inner thigh above the knee
            Ellipsoid(
                0.16 * leg.hip + 0.84 * knee - 0.016 * g * out + 0.018 * g * leg.front,
                np.array([0.014, 0.030, 0.016]) * g,
            ),
        ],
        0.016,
    )
    shank = [
        [0.0, 0, 0, 0.032, 0.0325, 0.0345, 0.030],
        [0.12, 0, 0, 0.0295, 0.0305, 0.031, 0.035],
        [0.30, 0, 0, 0.0290, 0.0315, 0.0265, 0.0440],
        [0.45, 0, 0, 0.0275, 0.0295, 0.0250, 0.0405],
        [0.68, 0, 0, 0.0205, 0.0210, 0.0205, 0.0265],
        [0.88, 0, 0, 0.0165, 0.0170, 0.0165, 0.0210],
        [1.0, 0, 0, 0.0180, 0.0185, 0.0190, 0.0235],
        [1.08, 0, 0, 0.0180, 0.0185, 0.0210, 0.0240],
    ]
    along = (ankle - knee) / np.linalg.norm(ankle - knee)
    shank_shape = Blend(
        [
            Loft(knee, ankle, leg.front, _scaled(shank, g), 2.1, (0.7, 0.5), out),
            # kneecap, head of the shin bone below it, and the two ankle bones
            Ellipsoid(
                knee + 0.022 * g * leg.front - 0.003 * along,
                np.array([0.016, 0.021, 0.014]) * g * k,
            ),
            Ellipsoid(
                knee + 0.022 * g * leg.front + 0.034 * along,
                np.array([0.011, 0.015, 0.011]) * g * k,
            ),
            Ellipsoid(
                ankle + 0.0165 * g * out - 0.002 * UP - 0.003 * leg.front,
                np.array([0.0065, 0.0095, 0.0085]) * g * k,
            ),
            Ellipsoid(
                ankle - 0.0165 * g * out + 0.004 * UP + 0.003 * leg.front,
                np.array([0.0065, 0.0095, 0.0090]) * g * k,
            ),
        ],
        0.012,
    )
    return thigh_shape, shank_shape


def _scaled(rows: list[list[float]], girth: float) -> list[list[float]]:
    return [[row[0], *(girth * value for value in row[1:])] for row in rows]
