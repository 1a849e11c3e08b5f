"""From a test's rules to a pose: which joints are turned, by how much, and which way."""

from __future__ import annotations

from collections.abc import Sequence
from fnmatch import fnmatchcase

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.bending.hand_shape import thumbward
from autoplace.skeleton.bending.records import TurnRule
from autoplace.skeleton.bending.subject import DOWN, FORWARD, LEFT, UP, Subject
from autoplace.skeleton.names import family, is_tip, side_of, stem
from autoplace.skeleton.pose import AXIS_ROLES, Pose, Turn

__all__ = [
    "LOOKS",
    "flexion",
    "keyed_pose",
    "rest_angle",
    "signed_angle",
    "turn_sign",
    "turned_joints",
]

FloatArray = NDArray[np.float64]

LOOKS = {"leftward": LEFT, "rightward": -LEFT, "upward": UP, "downward": DOWN}
"""Where a look is turned to, of a face that looks forward."""
ALONG = np.sin(np.radians(5.0))
"""A direction within 5 degrees of an axis says nothing about turns around it; common practice."""


def turned_joints(subject: Subject, rule: TurnRule) -> list[str]:
    """Names of the joints that a rule turns, in the skeleton's order; never tips."""
    return [
        joint.name
        for joint in subject.skeleton
        if not is_tip(joint.name)
        and family(joint.name) is not None
        and any(fnmatchcase(stem(joint.name), pattern) for pattern in rule.joints)
    ]


def keyed_pose(subject: Subject, rules: Sequence[TurnRule]) -> Pose:
    """The turns of the joints that the rules name, as an animator would key them.

    Empty when the convention does not promise that all of these joints flex (see `flexion`), for
    then nobody would key them so.
    """
    degrees: dict[str, list[float]] = {}
    for rule in rules:
        names = turned_joints(subject, rule)
        for name in names:
            sign = turn_sign(subject, rule, name)
            if sign == 0.0:
                return {}
            amounts = []
            if rule.to is not None:
                amounts.append(max(rule.to - sign * rest_angle(subject, rule, name), 0.0))
            if rule.by is not None:
                amounts.append(rule.by / (len(names) if rule.shared else 1))
            amount = min(amounts)
            row = degrees.setdefault(name, [0.0, 0.0, 0.0])
            row[AXIS_ROLES.index(rule.axis)] += sign * amount
    return {name: Turn(*row) for name, row in degrees.items()}


def flexion(subject: Subject, name: str) -> float:
    """+1 or -1: the sign of a value on the bend axis that flexes the joint; 0 where the recorded
    convention makes no promise.

    Under `mirror = "axes"` the right joint of a pair may need the opposite value, which is part of
    that choice: it does where its bend axis is not the mirror image of the left one's.
    """
    convention = subject.convention
    sign = convention.flex_sign(name)
    other = f"left_{stem(name)}"
    together = family(name) == "eye" and convention.eyes == "together"
    parallel = convention.mirror == "axes" and side_of(name) == "right" and not together
    if parallel and subject.has(other):
        image = subject.axis(other, "bend") * np.array([1.0, -1.0, -1.0])
        return sign if float(image @ subject.axis(name, "bend")) >= 0 else -sign
    return sign


def signed_angle(start: FloatArray, end: FloatArray, axis: FloatArray) -> float:
    """Degrees about the unit `axis` (3,) from one direction (3,) to another, -180 to 180."""
    start = start - (start @ axis) * axis
    end = end - (end @ axis) * axis
    if np.linalg.norm(start) < 1e-12 or np.linalg.norm(end) < 1e-12:
        return 0.0
    return float(np.degrees(np.arctan2(np.cross(start, end) @ axis, start @ end)))


def rest_angle(subject: Subject, rule: TurnRule, name: str) -> float:
    """Degrees about the joint's axis that it has already, from where the rule counts."""
    axis, bone = subject.axis(name, rule.axis), subject.bone(name)
    if rule.start == "down":
        start = DOWN
    else:
        above = subject.parents[subject.index[name]]
        if above < 0:
            return 0.0
        start = subject.at[subject.index[name]] - subject.at[above]
    length = float(np.linalg.norm(start))
    if length == 0 or np.linalg.norm(np.cross(start / length, axis)) < ALONG:
        return 0.0
    return signed_angle(start, bone, axis)


def turn_sign(subject: Subject, rule: TurnRule, name: str) -> float:
    """+1 or -1: the sign of a value on the rule's axis that turns a joint the way the rule says; 0
    where the convention makes no promise, or the hand does not show its thumb's side."""
    if rule.sense in LOOKS:
        first = turned_joints(subject, rule)[0]
        if family(name) != "eye" or subject.convention.eyes == "together":
            name = first
        way = np.cross(subject.axis(name, rule.axis), FORWARD) @ LOOKS[rule.sense]
        return 1.0 if float(way) >= 0 else -1.0
    if rule.axis == "bend" and rule.sense in ("flex", "extend"):
        return flexion(subject, name) * (1.0 if rule.sense == "flex" else -1.0)
    axis = subject.axis(name, rule.axis)
    side = side_of(name)
    if rule.sense == "raise":
        outward = LEFT if side == "left" else -LEFT
        return 1.0 if float(np.cross(axis, DOWN) @ outward) >= 0 else -1.0
    toward = thumbward(subject, side or "left")
    if toward is None:
        return 0.0
    sign = 1.0 if float(np.cross(axis, subject.bone(name)) @ toward) >= 0 else -1.0
    return sign if rule.sense == "thumbward" else -sign
