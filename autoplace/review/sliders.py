"""Sliders that bend a skeleton: what they are for this skeleton, and the pose that they make.

Nought is the pose the mesh is modelled in. A slider is a straight rule: each of its joints turns by
so many degrees a unit, and several sliders add up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.review.slider_rules import SliderRule, read_slider_rules
from autoplace.skeleton.bending.fist import closed_fist
from autoplace.skeleton.bending.keying import rest_angle, turn_sign, turned_joints
from autoplace.skeleton.bending.subject import Subject, subject_of
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import SIDES, finger_of, mirror_name, side_of
from autoplace.skeleton.pose import AXIS_ROLES, Pose, Turn

__all__ = ["Slider", "pose_of", "sliders_for"]

FloatArray = NDArray[np.float64]

LEAST_WAY = 1.0
"""Degrees or percent; a slider with less to go is not offered (common practice, no source)."""


@dataclass(frozen=True)
class Slider:
    """One slider on one skeleton."""

    key: str
    """Such as 'left_elbow'; unique."""
    label: str
    """For a person: 'left elbow'."""
    group: str
    """Heading to list it under."""
    unit: str
    """'degrees', or 'percent' of the way to the ends of several joints' ranges."""
    low: float
    """Whole number, not above nought, which is the rest pose."""
    high: float
    """Whole number, not below nought."""
    turns: Mapping[str, Turn]
    """By joint: degrees that it turns about its own axes for one unit of the slider."""
    side: str | None
    """'left' or 'right', the character's own; None for the middle and for both eyes."""
    twin: str | None
    """Key of the slider of the other side, if there is one; equal values mirror the motion."""
    source: str
    """Where the ends are from: published ranges of motion."""


def sliders_for(skeleton: Skeleton) -> tuple[Slider, ...]:
    """The sliders whose joints the skeleton has, in the order to list them.

    A slider is missing where the recorded convention does not promise that its axis bends the
    joint. Ends come from published ranges, less what the joint is bent by at rest. The skeleton may
    be in any frame and units. Raises SkeletonError for a broken tree.
    """
    subject = subject_of(skeleton)
    found: dict[str, Slider] = {}
    for rule in read_slider_rules():
        ways = _ways_of(subject, rule)
        turns = _turns_of(subject, rule, ways)
        for side in SIDES if rule.sides else (None,):
            slider = _slider(rule, side, ways, turns)
            if slider is not None:
                found[slider.key] = slider
    return tuple(_with_twin(slider, found) for slider in found.values())


def pose_of(sliders: Iterable[Slider], values: Mapping[str, float]) -> Pose:
    """The pose that slider values make, by key; sliders without a value are at nought.

    A value beyond an end counts as the end. Where several sliders turn one joint, their turns add
    up, but not beyond the farthest that one of them alone goes.
    """
    total: dict[str, FloatArray] = {}
    least: dict[str, FloatArray] = {}
    most: dict[str, FloatArray] = {}
    for slider in sliders:
        value = min(max(float(values.get(slider.key, 0.0)), slider.low), slider.high)
        for name, turn in slider.turns.items():
            unit = np.array([turn.bend, turn.third, turn.aim])
            ends = np.stack([slider.low * unit, slider.high * unit])
            nought = np.zeros(3)
            total[name] = total.get(name, nought) + value * unit
            least[name] = np.minimum(least.get(name, nought), ends.min(axis=0))
            most[name] = np.maximum(most.get(name, nought), ends.max(axis=0))
    pose = {}
    for name, degrees in total.items():
        held = np.clip(degrees, least[name], most[name])
        if np.any(held):
            pose[name] = Turn(*(float(value) for value in held))
    return pose


@dataclass(frozen=True)
class _Way:
    """How far one joint goes by one turn of a rule."""

    joint: str
    row: int
    """Number of the axis in `AXIS_ROLES`."""
    sign: float
    """+1 or -1 for the value that turns it up; 0 where nothing is promised."""
    share: float
    """Of the turn, where several joints share it."""
    ahead: float
    """Degrees of the whole turn from rest to the end of its range."""
    back: float
    """The same the other way."""


def _ways_of(subject: Subject, rule: SliderRule) -> list[_Way]:
    """The ways of all joints that a rule turns, on both sides."""
    ways = []
    for turn in rule.turns:
        names = turned_joints(subject, turn)
        if rule.finger:
            names = [name for name in names if finger_of(name) == rule.finger]
        for name in names:
            sign = turn_sign(subject, turn, name)
            ahead = back = math.inf
            if turn.to is not None:
                rest = sign * rest_angle(subject, turn, name)
                ahead = max(turn.range - rest, 0.0)
                back = max(rest + (rule.back or 0.0), 0.0)
            if turn.by is not None:
                ahead = min(ahead, turn.range)
                back = min(back, rule.back or 0.0)
            share = 1.0 / len(names) if turn.shared else 1.0
            ways.append(_Way(name, AXIS_ROLES.index(turn.axis), sign, share, ahead, back))
    return ways


def _turns_of(subject: Subject, rule: SliderRule, ways: list[_Way]) -> Pose:
    """What each joint turns by for one unit of the slider."""
    percent = rule.unit == "percent"
    degrees: dict[str, FloatArray] = {}
    for way in ways:
        row = degrees.setdefault(way.joint, np.zeros(3))
        row[way.row] += way.sign * way.share * (way.ahead if percent else 1.0)
    whole = {name: Turn(*(float(value) for value in row)) for name, row in degrees.items()}
    if not percent:
        return whole
    reached = closed_fist(subject, whole) if rule.closed and whole else whole
    return {
        name: Turn(0.01 * turn.bend, 0.01 * turn.third, 0.01 * turn.aim)
        for name, turn in reached.items()
    }


def _slider(rule: SliderRule, side: str | None, ways: list[_Way], turns: Pose) -> Slider | None:
    """The slider of a rule, on one side or over all; None when there is nothing for it to turn."""
    own = [way for way in ways if side in (None, side_of(way.joint))]
    if not own or any(way.sign == 0.0 for way in own):
        return None
    joints = {way.joint: turns[way.joint] for way in own}
    low, high = 0, 100
    if rule.unit == "degrees":
        # several joints go together, so that the first that has no way left stops them all;
        # a little is added lest rounding noise take a whole degree
        low = -math.floor(min(way.back for way in own) + 1e-6)
        high = math.floor(min(way.ahead for way in own) + 1e-6)
    if high - low < LEAST_WAY or all(turn == Turn() for turn in joints.values()):
        return None
    return Slider(
        key=f"{side}_{rule.key}" if side else rule.key,
        label=f"{side} {rule.label}" if side else rule.label,
        group=rule.group,
        unit=rule.unit,
        low=float(low),
        high=float(high),
        turns=joints,
        side=side,
        twin=None,
        source=rule.source,
    )


def _with_twin(slider: Slider, found: Mapping[str, Slider]) -> Slider:
    other = mirror_name(slider.key)
    if slider.side is None or other not in found:
        return slider
    return replace(slider, twin=other)
