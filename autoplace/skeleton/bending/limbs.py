"""Elbows, knees, hips, shoulders, wrists and toes: does what hangs on them go the right way?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.angles import angle_between
from autoplace.skeleton.bend_axes import arm_forward, leg_backward
from autoplace.skeleton.bending.hand_shape import find_hand
from autoplace.skeleton.bending.keying import signed_angle
from autoplace.skeleton.bending.records import Value
from autoplace.skeleton.bending.subject import FORWARD, LEFT, UP, Subject
from autoplace.skeleton.hinge import reject, unit
from autoplace.skeleton.pose import Posed

__all__ = [
    "measure_elbow",
    "measure_hip",
    "measure_knee",
    "measure_shoulder",
    "measure_toes",
    "measure_wrist",
]

FloatArray = NDArray[np.float64]

PLANE_SEEN = 5.0
"""Degrees: a limb bent by less at rest shows no plane to stay in (the limit that the project's own
targets take); common practice, no source."""
PLANE_KNOWN = 10.0
"""Degrees: the plane of joints that leave it less sure than this is nothing to be held to: the most
that a limb may leave its plane by."""


def measure_elbow(subject: Subject, posed: Posed) -> list[Value]:
    """How far elbows bend, how near the hand comes to the shoulder, in what plane, which way."""
    values = []
    for side in subject.sides_with("shoulder", "elbow", "wrist"):
        chain = (f"{side}_shoulder", f"{side}_elbow", f"{side}_wrist")
        forward = arm_forward(unit(subject.between(chain[0], chain[1])), side)
        values += _hinge(subject, posed, chain, forward)
    return values


def measure_knee(subject: Subject, posed: Posed) -> list[Value]:
    """The same for knees: heel to seat, backward."""
    values = []
    for side in subject.sides_with("hip", "knee", "ankle"):
        chain = (f"{side}_hip", f"{side}_knee", f"{side}_ankle")
        backward = leg_backward(unit(subject.between(chain[0], chain[1])))
        values += _hinge(subject, posed, chain, backward)
    return values


def _hinge(
    subject: Subject, posed: Posed, chain: tuple[str, str, str], toward: FloatArray
) -> list[Value]:
    """A limb of two bones bent about its middle joint; `toward` (3,) is where it should bend to."""
    root, joint, end = chain
    upper, lower = subject.between(root, joint), subject.between(joint, end)
    bent = subject.between(joint, end, posed)
    whole = float(np.linalg.norm(upper) + np.linalg.norm(lower))
    if not (np.any(upper) and np.any(lower)):
        return []
    # the upper bone may have been carried along; look from where it stands at rest
    carried = posed.turn[subject.index[root]]
    bent = carried.T @ bent
    aside = bent - (bent @ unit(upper)) * unit(upper)
    values = [
        Value("bent", joint, angle_between(upper, bent)),
        Value("near", joint, 100.0 * float(np.linalg.norm(upper + bent)) / whole),
        Value("way", joint, angle_between(aside, reject(unit(upper), toward))),
    ]
    normal = np.cross(upper, lower)
    if angle_between(upper, lower) >= PLANE_SEEN and _doubt(subject, chain) <= PLANE_KNOWN:
        values.append(Value("plane", joint, abs(90.0 - angle_between(normal, bent))))
    return values


def _doubt(subject: Subject, chain: tuple[str, str, str]) -> float:
    """How surely the plane of three joints is known, degrees: the middle one's spread against the
    line between the others, over how far it stands from that line (as `hinge.fit_hinge` has it)."""
    first, middle, last = (subject.skeleton[name].spread for name in chain)
    line = unit(subject.between(chain[0], chain[2]))
    off = subject.between(chain[0], chain[1])
    bow = float(np.linalg.norm(off - (off @ line) * line))
    noise = float(np.sqrt(middle**2 + 0.25 * (first**2 + last**2)))
    return float(np.degrees(np.arctan2(noise, bow)))


def measure_hip(subject: Subject, posed: Posed) -> list[Value]:
    """How high the knee is raised before the body, and how far it strays sideways."""
    values = []
    for side in subject.sides_with("hip", "knee"):
        hip, knee = f"{side}_hip", f"{side}_knee"
        thigh, rest = subject.between(hip, knee, posed), subject.between(hip, knee)
        length = float(np.linalg.norm(thigh))
        if length == 0:
            continue
        values += [
            Value("up", hip, 100.0 * float(thigh @ UP) / length),
            Value("ahead", hip, 100.0 * float(thigh @ FORWARD) / length),
            Value("aside", hip, abs(_off_plane(thigh, LEFT) - _off_plane(rest, LEFT))),
        ]
    return values


def measure_shoulder(subject: Subject, posed: Posed) -> list[Value]:
    """How high the elbow is raised, and how far off the frontal plane."""
    values = []
    for side in subject.sides_with("shoulder", "elbow"):
        joint = f"{side}_shoulder"
        arm = subject.between(joint, f"{side}_elbow", posed)
        length = float(np.linalg.norm(arm))
        if length == 0:
            continue
        values += [
            Value("up", joint, 100.0 * float(arm @ UP) / length),
            Value("aside", joint, abs(_off_plane(arm, FORWARD))),
        ]
    return values


def measure_wrist(subject: Subject, posed: Posed) -> list[Value]:
    """How far the hand goes to the palm's side, and how far it strays to the thumb's or the little
    finger's."""
    values = []
    for side in subject.sides_with("wrist"):
        hand = find_hand(subject, side)
        joint = f"{side}_wrist"
        if hand is None:
            continue
        before, after = subject.bone(joint), subject.bone(joint, posed)
        palm = hand.palm
        to_palm = signed_angle(before, after, palm.bend)
        values += [
            Value("palmward", joint, to_palm),
            Value("aside", joint, abs(_off_plane(after, palm.thumbward))),
        ]
    return values


def measure_toes(subject: Subject, posed: Posed) -> list[Value]:
    """How far the toes rise, and how far they stray from where the foot points."""
    values = []
    for side in subject.sides_with("ankle", "ball", "toe_tip"):
        ball, tip = f"{side}_ball", f"{side}_toe_tip"
        before, after = subject.between(ball, tip), subject.between(ball, tip, posed)
        if not np.any(before):
            continue
        sole = subject.between(f"{side}_ankle", ball)
        level = unit(np.cross(UP, sole)) if np.linalg.norm(np.cross(UP, sole)) > 0 else LEFT
        # `level` is the foot's own left for one that points forward: a negative turn lifts the toes
        values += [
            Value("up", ball, -signed_angle(before, after, level)),
            Value("aside", ball, abs(_off_plane(after, level) - _off_plane(before, level))),
        ]
    return values


def _off_plane(vector: FloatArray, normal: FloatArray) -> float:
    """Degrees by which a vector (3,) leaves the plane with unit `normal` (3,), with its sign."""
    length = float(np.linalg.norm(vector))
    if length == 0:
        return 0.0
    return float(np.degrees(np.arcsin(np.clip(vector @ normal / length, -1.0, 1.0))))
