"""T-pose and A-pose: the arms brought there by turns of the joints, and how they look then."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.angles import angle_between
from autoplace.skeleton.bending.hand_shape import find_hand
from autoplace.skeleton.bending.keying import flexion, signed_angle
from autoplace.skeleton.bending.records import Value
from autoplace.skeleton.bending.subject import LEFT, UP, Subject
from autoplace.skeleton.hinge import unit
from autoplace.skeleton.pose import Pose, Posed, Turn, axis_turns, turn_for

__all__ = ["DOWN_OF", "measure_stance", "stance_pose"]

FloatArray = NDArray[np.float64]

DOWN_OF = {"T-pose": 0.0, "A-pose": 45.0}
"""Degrees that the arms point below the horizontal, by the pose's name."""


def stance_pose(subject: Subject, name: str) -> Pose:
    """The turns that bring both arms to a stance.

    The shoulder turns the upper arm the shortest way; the elbow takes back what it is bent on its
    bend axis. Clavicles, wrists and fingers keep their rest.
    """
    pose: dict[str, Turn] = {}
    for side in subject.sides_with("shoulder", "elbow", "wrist"):
        shoulder, elbow = f"{side}_shoulder", f"{side}_elbow"
        upper = subject.bone(shoulder)
        own = np.asarray(subject.skeleton[shoulder].axes)
        pose[shoulder] = turn_for(_shortest(upper, _arm(side, name)), own, subject.convention)
        if flexion(subject, elbow):
            axis = subject.axis(elbow, "bend")
            bend = signed_angle(upper, subject.bone(elbow), axis)
            pose[elbow] = Turn(bend=-bend)
    return pose


def measure_stance(subject: Subject, posed: Posed, name: str) -> list[Value]:
    """How near the arms come to the stance, how straight they are, and which way the palms face."""
    values = []
    for side in subject.sides_with("shoulder", "elbow", "wrist"):
        shoulder, elbow, wrist = (f"{side}_{stem}" for stem in ("shoulder", "elbow", "wrist"))
        upper = subject.between(shoulder, elbow, posed)
        lower = subject.between(elbow, wrist, posed)
        values += [
            Value("reached", shoulder, angle_between(upper, _arm(side, name))),
            Value("straight", elbow, angle_between(upper, lower)),
        ]
        hand = find_hand(subject, side)
        if hand is not None:
            facing = posed.turn[subject.index[wrist]] @ hand.palm.facing
            wanted = _facing(side, name)
            values.append(Value("palm", wrist, angle_between(facing, wanted)))
    return values


def _arm(side: str, name: str) -> FloatArray:
    out = LEFT if side == "left" else -LEFT
    down = np.radians(DOWN_OF[name])
    return np.asarray(np.cos(down) * out - np.sin(down) * UP)


def _facing(side: str, name: str) -> FloatArray:
    """Down in a T-pose; in an A-pose toward the thigh, at right angles to the arm."""
    out = LEFT if side == "left" else -LEFT
    down = np.radians(DOWN_OF[name])
    return np.asarray(-np.cos(down) * UP - np.sin(down) * out)


def _shortest(start: FloatArray, end: FloatArray) -> FloatArray:
    """(3, 3) the smallest rotation from one unit direction to another."""
    axis = np.cross(start, end)
    if np.linalg.norm(axis) < 1e-12:
        if float(start @ end) > 0:
            return np.eye(3)
        axis = np.cross(start, UP if abs(start @ UP) < 0.9 else LEFT)
    return axis_turns(unit(axis)[None], np.array([angle_between(start, end)]))[0]
