"""Hands: palm, ball of the thumb, fingers with pads, knuckles and nails.

Lengths are fractions of the hand's own length. The palm is a loft that reaches forward to the web
between the fingers, which lies 28 % of the way from knuckle to fingertip (from ANSUR II palm
lengths and the joint centres of Buchholz et al. 1992); the knuckle joints lie well inside it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .bones import Arm, Finger
from .combine import Blend, Cut
from .params import Hand
from .shapes import Ellipsoid, Loft, RoundCone, Shape

__all__ = ["hand_shape"]

Vec = NDArray[np.float64]


def _finger_shape(finger: Finger, nails: bool, broad: bool) -> Shape:
    """Three bones with a little waist at each, pads on the palm side and a nail on the back."""
    j, g = finger.joints, finger.girth
    across = [np.cross(finger.dorsal[i], j[i + 1] - j[i]) for i in range(3)]
    across = [a / np.linalg.norm(a) for a in across]
    last = (j[3] - j[2]) / np.linalg.norm(j[3] - j[2])
    thumb = finger.name == "thumb"
    radii = (1.15, 1.05, 0.98, 0.80) if thumb else (1.06, 1.03, 0.92, 0.76)
    if broad and not thumb:
        radii = (0.95, 0.98, 0.95, 0.80)
    end = j[3] - radii[3] * g * last
    if broad and not thumb:  # the one broad finger of a mitten
        line = [j[0], j[1], j[2], end]
        cones = [
            RoundCone(line[i], line[i + 1], radii[i] * g, radii[i + 1] * g, 1.75, across[i])
            for i in range(3)
        ]
        return Blend(cones, 0.02 * g)
    parts: list[Shape] = [
        RoundCone(j[0], j[1], radii[0] * g, radii[1] * g * 0.97),
        RoundCone(j[1], j[2], radii[1] * g * 0.97, radii[2] * g * 0.97),
        RoundCone(j[2], end, radii[2] * g * 0.97, radii[3] * g),
        # bend joints are a little wider than the bones between them
        Ellipsoid(j[1] + 0.10 * g * finger.dorsal[0], np.full(3, radii[1] * g * 1.02)),
        Ellipsoid(j[2] + 0.06 * g * finger.dorsal[1], np.full(3, radii[2] * g * 1.0)),
    ]
    for i, share, size in ((0, 0.62, 0.86), (1, 0.5, 0.80), (2, 0.52, 0.84)):
        if thumb and i == 0:
            continue
        middle = (1 - share) * j[i] + share * j[i + 1] - 0.30 * g * finger.dorsal[i]
        length = float(np.linalg.norm(j[i + 1] - j[i]))
        axes = np.stack([across[i], (j[i + 1] - j[i]) / length, finger.dorsal[i]])
        parts.append(Ellipsoid(middle, [size * g, 0.42 * length, 0.80 * g], axes))
    shape: Shape = Blend(parts, 0.45 * g)
    if nails:
        axes = np.stack([across[2], last, finger.dorsal[2]])
        bed = end + 0.02 * g * last + 0.66 * radii[3] * g * finger.dorsal[2]
        plate = Ellipsoid(bed, np.array([0.62, 0.74, 0.42]) * g, axes)
        shape = Blend([shape, plate], 0.10 * g)
    return shape


def hand_shape(hand: Hand, arm: Arm) -> Shape:
    """The hand of a left arm, from a little above the wrist to the fingertips."""
    at, s = arm.hand, arm.hand.scale
    r, u, n = at.axes
    b, th = hand.breadth, hand.thickness
    mitten = len(hand.fingers) == 2
    # toward the thumb, the little finger, the back, the palm
    rows = [
        [0.0, 0.0, 0.0, 0.142, 0.138, 0.104, 0.108],
        [0.12, 0.0, 0.0, 0.160, 0.155, 0.090, 0.112],
        [0.28, 0.0, 0.0, 0.172, 0.176, 0.078, 0.096],
        [0.42, 0.0, 0.0, 0.182, 0.184, 0.072, 0.080],
        [0.52, 0.0, 0.0, 0.176, 0.172, 0.058, 0.070],
        [0.575, 0.0, 0.0, 0.166, 0.150, 0.048, 0.058],
    ]
    scaled = [
        [t, x * s, z * s, rp * s * b, rm * s * b, zp * s * th, zm * s * th]
        for t, x, z, rp, rm, zp, zm in rows
    ]
    palm: list[Shape] = [
        Loft(at.origin, at.point(0, 1, 0), n, scaled, 2.5, (0.3, 0.25), r),
        # heel of the hand on the little finger's side
        Ellipsoid(
            at.point(-0.105 * b, 0.20, -0.060 * th),
            np.array([0.072 * b, 0.165, 0.062 * th]) * s,
            at.axes,
        ),
    ]
    thumb = next((f for f in arm.fingers if f.name == "thumb"), None)
    rest = [f for f in arm.fingers if f.name != "thumb"]
    if thumb is not None:
        bone = thumb.joints[1] - thumb.joints[0]
        length = float(np.linalg.norm(bone))
        axes = np.stack([np.cross(bone / length, thumb.dorsal[0]), bone / length, thumb.dorsal[0]])
        centre = 0.48 * thumb.joints[0] + 0.52 * thumb.joints[1] - 0.006 * s * n
        palm.append(Ellipsoid(centre, np.array([0.078, 0.165, 0.074]) * s, axes))
        # the web of skin between thumb and index finger
        index = rest[0].joints[0] + s * (-0.03 * n - 0.02 * u)
        palm.append(RoundCone(index, thumb.joints[1] - 0.012 * s * n, 0.050 * s, 0.040 * s, 0.8, n))
    body: Shape = Blend(palm, 0.075 * s)
    # the hollow of the palm
    hollow = Ellipsoid(
        at.point(-0.005, 0.30, -0.175 * th), np.array([0.085 * b, 0.14, 0.085]) * s, at.axes
    )
    body = Cut(body, hollow, 0.06 * s)
    shapes: list[Shape] = [body]
    knuckles: list[Shape] = []
    for finger in rest:
        g = finger.girth
        back = finger.dorsal[0]
        if not mitten:
            knuckles.append(Ellipsoid(finger.joints[0] + 0.55 * g * back, np.full(3, 0.80) * g))
            # tendon running back over the hand
            root = at.point(0.35 * float((finger.joints[0] - at.origin) @ r) / s, 0.12, 0.055 * th)
            knuckles.append(
                RoundCone(root, finger.joints[0] + 0.8 * g * back, 0.022 * s, 0.025 * s)
            )
    if knuckles:
        shapes[0] = Blend([body, *knuckles], 0.045 * s)
    # fingers round into the palm at their roots, but stay apart from one another
    fingers = Blend([_finger_shape(f, hand.nails, mitten) for f in rest], 0.012 * s)
    shapes.append(fingers)
    hand_all: Shape = Blend(shapes, (0.04 if mitten else 0.035) * s)
    if thumb is not None:
        hand_all = Blend([hand_all, _finger_shape(thumb, hand.nails, mitten)], 0.05 * s)
    return hand_all
