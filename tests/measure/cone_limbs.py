"""One leg and one arm of round cones, in any pose, with all joints known by construction.

Working frame: +X the figure's left, +Y up, +Z ahead, floor y = 0, height 1. Lengths are those of an
adult: thigh .24, shank .24, foot .15; upper arm .165, forearm .153, hand .11 (Winter 2009; de Leva
1996; US Army 2012 survey).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from autoplace.measure.limb_record import Limb
from autoplace.measure.solid import Solid, fill_solid
from tests.measure.blocks import CELL, CROTCH, limb_of
from tests.measure.surfaces import elliptic_cone, rotation
from tests.mesh.capsule_figures import box, capsule, joined

FOOT_LENGTH, HEEL_BACK, FOOT_HALF, FOOT_HIGH = 0.15, 0.03, 0.025, 0.03
"""Length of the foot, how far the heel lies behind the ankle, half its width, and its height."""
ANKLE_HIGH = 0.045


@dataclass(frozen=True)
class KnownLeg:
    """A leg with what it was made from."""

    solid: Solid
    limb: Limb
    hip: np.ndarray
    knee: np.ndarray
    ankle: np.ndarray
    heel: np.ndarray
    """(3,) rearmost point of the sole, in its middle line."""
    toe: np.ndarray
    """(3,) foremost point of the sole, in its middle line."""
    up: np.ndarray
    """(3,) unit, out of the foot's top."""


def a_leg(
    side: str = "left",
    knee_bend: float = 4.0,
    thigh_forward: float = 2.0,
    toe_out: float = 0.0,
    foot_down: float | None = None,
) -> KnownLeg:
    """A leg under a block of trunk; angles in degrees.

    A foot stands flat on the floor unless `foot_down` says how far its toes point down from
    square to the shank.
    """
    sign = 1.0 if side == "left" else -1.0
    thigh = rotation((-1, 0, 0), thigh_forward) @ [0, -1.0, 0]
    shank = rotation((-1, 0, 0), thigh_forward - knee_bend) @ [0, -1.0, 0]
    fall = 0.235 * (-thigh[1]) + 0.24 * (-shank[1])
    lift = 0.0 if foot_down is None else 0.52 - ANKLE_HIGH - fall
    hip = np.array([sign * 0.06, ANKLE_HIGH + fall + lift, 0.0])
    knee = hip + 0.235 * thigh
    ankle = knee + 0.24 * shank
    turn = rotation((0, 1, 0), sign * toe_out)
    if foot_down is not None:
        turn = rotation((-1, 0, 0), thigh_forward - knee_bend - foot_down) @ turn
    foot = box((-FOOT_HALF, 0, -HEEL_BACK), (FOOT_HALF, FOOT_HIGH, FOOT_LENGTH - HEEL_BACK))
    foot = (foot[0] - [0, ANKLE_HIGH, 0]) @ turn.T + ankle, foot[1]
    trunk = box((-0.12, CROTCH, -0.08), (0.12, 0.8, 0.07))
    cones = [
        capsule(hip, knee, 0.055, 0.038, columns=32),
        # narrowest just below the knee, then the calf
        capsule(knee, knee + 0.08 * shank, 0.034, 0.036, columns=32),
        capsule(knee + 0.08 * shank, ankle, 0.036, 0.020, columns=32),
    ]
    solid = fill_solid(*joined(trunk, *cones, foot), CELL)
    heel, toe = (ankle + turn @ [0, -ANKLE_HIGH, z] for z in (-HEEL_BACK, FOOT_LENGTH - HEEL_BACK))
    start = hip + 0.06 * thigh
    line = [start, knee, ankle, toe + turn @ [0, 0.02, -0.01]]
    limb = limb_of(solid, "leg", side, np.array(line), 0.07)
    return KnownLeg(solid, limb, hip, knee, ankle, heel, toe, turn @ [0, 1.0, 0])


@dataclass(frozen=True)
class KnownArm:
    """An arm with what it was made from."""

    solid: Solid
    limb: Limb
    shoulder: np.ndarray
    elbow: np.ndarray
    wrist: np.ndarray
    tip: np.ndarray
    armpit: np.ndarray
    """(3,) where the arm's underside meets the side of the trunk."""


def an_arm(
    side: str = "left",
    arm_down: float = 0.0,
    elbow_bend: float = 10.0,
    palm: float = 1.0,
    end: float = 0.010,
    trunk_half: float = 0.11,
    cuff: float = 1.0,
    bracer: float = 1.0,
    sleeve: float = 1.0,
    plate: bool = False,
) -> KnownArm:
    """An arm beside a block of trunk; angles in degrees, 0 is level.

    `palm` is the breadth of the hand over that of the wrist; 1 leaves no hand to see. `end` is
    half the breadth of its flat end. `cuff` is the breadth of a glove's cuff over that of the
    wrist, beyond which it ends; 1 leaves none. `bracer` is the same of a bracer from near
    the elbow to the wrist, and `sleeve` that of the mouth of a sleeve that widens from there to
    the wrist. `plate` is a thick rod along the upper arm, above it.
    """
    sign = 1.0 if side == "left" else -1.0
    upper = rotation((0, 0, -sign), arm_down) @ [sign, 0, 0]
    fore = rotation((0, -sign, 0), elbow_bend) @ np.array([sign, 0, 0])
    fore = rotation((0, 0, -sign), arm_down) @ fore
    shoulder = np.array([sign * 0.105, 0.79, -0.01])
    elbow = shoulder + 0.165 * upper
    wrist = elbow + 0.153 * fore
    tip = wrist + 0.11 * fore
    trunk = box((-trunk_half, CROTCH, -0.08), (trunk_half, 0.83, 0.07))
    radius, wrist_radius = 0.028, 0.016
    pieces = [
        trunk,
        capsule(shoulder, elbow, radius, 0.022, columns=32),
        capsule(elbow, elbow + 0.05 * fore, 0.022, 0.024, columns=32),
        capsule(elbow + 0.05 * fore, wrist, 0.024, wrist_radius, columns=32),
    ]
    if plate:
        over = shoulder + np.array([0.0, 0.05, 0.0])
        pieces.append(capsule(over + 0.03 * upper, over + 0.12 * upper, 0.03, 0.03, columns=16))
    if cuff > 1.0:
        ends = wrist - 0.05 * fore, wrist - 0.03 * fore
        pieces.append(capsule(*ends, cuff * wrist_radius, cuff * wrist_radius, columns=32))
    if bracer > 1.0:
        ends = elbow + 0.03 * fore, wrist
        pieces.append(capsule(*ends, bracer * wrist_radius, bracer * wrist_radius, columns=32))
    # the hand: a flat cone that broadens to the palm and then narrows to the fingertips
    frame = np.stack([np.cross([0, 1.0, 0], fore), [0, 1.0, 0], fore], axis=1)
    frame[:, 0] /= np.linalg.norm(frame[:, 0])
    frame[:, 1] = np.cross(fore, frame[:, 0])
    if sleeve > 1.0:
        mouth = sleeve * wrist_radius
        cone = elliptic_cone((0.024, 0.024), (mouth, mouth), 0.093, columns=32, rings=8)
        pieces.append(((cone[0] - [0, 0, 0.093]) @ frame.T + wrist, cone[1]))
    for low, high, start, length in (
        ((wrist_radius, 0.013), (palm * wrist_radius, 0.013), 0.0, 0.04),
        ((palm * wrist_radius, 0.013), (end, 0.009), 0.04, 0.07),
    ):
        cone = elliptic_cone(low, high, length, columns=32, rings=8)
        pieces.append(((cone[0] + [0, 0, start]) @ frame.T + wrist, cone[1]))
    solid = fill_solid(*joined(*pieces), CELL)
    limb = limb_of(solid, "arm", side, np.array([shoulder + 0.04 * upper, elbow, wrist, tip]), 0.05)
    # the arm's lower edge, at the trunk's side wall
    along = (sign * trunk_half - shoulder[0]) / upper[0]
    point = shoulder + along * upper
    under = radius + (0.022 - radius) * along / 0.165
    armpit = np.array([point[0], point[1] - under / abs(upper[0]), point[2]])
    return KnownArm(solid, limb, shoulder, elbow, wrist, tip, armpit)
