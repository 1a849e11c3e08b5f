"""Curl, spread and fist: do fingers go to the palm, in their planes, and none across another?"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.angles import angle_between
from autoplace.skeleton.bending.gaps import segment_gap, thumb_gap
from autoplace.skeleton.bending.hand_shape import Hand, find_hand
from autoplace.skeleton.bending.keying import flexion
from autoplace.skeleton.bending.records import Value
from autoplace.skeleton.bending.subject import Subject
from autoplace.skeleton.hinge import unit
from autoplace.skeleton.names import SIDES
from autoplace.skeleton.pose import Pose, Posed

__all__ = ["measure_curl", "measure_fist", "measure_spread", "measure_thumb"]

FloatArray = NDArray[np.float64]

ON_PALM = 0.12
"""A tip this near to the palm lies on it, share of the hand's length: the target for a fist."""


def measure_curl(subject: Subject, posed: Posed) -> list[Value]:
    """Every finger: toward the palm, in one plane, about one axis."""
    values = []
    for hand in _hands(subject):
        for finger in hand.long_fingers:
            values += _curl(subject, posed, hand, finger)
    return values


def measure_thumb(subject: Subject, posed: Posed) -> list[Value]:
    """The thumb's tip goes across the palm, toward the far knuckle."""
    values = []
    for hand in _hands(subject):
        if "thumb" not in hand.fingers or not hand.long_fingers:
            continue
        chain = hand.fingers["thumb"]
        goal = subject.place(hand.fingers[hand.long_fingers[-1]][0])
        before, after = (
            float(np.linalg.norm(subject.place(chain[-1], at) - goal)) for at in (None, posed)
        )
        name = f"{hand.side}_thumb"
        values += [
            Value("across", name, 100.0 * (before - after) / _length(subject, chain)),
            Value("axes", name, _axes_apart(subject, chain)),
            Value("tip", name, 100.0 * hand.from_palm(subject.place(chain[-1], posed))),
        ]
    return values


def measure_spread(subject: Subject, posed: Posed, pose: Pose) -> list[Value]:
    """Neighbours apart from one another, in the plane of the palm."""
    values = []
    for hand in _hands(subject):
        for first, second in pairwise(hand.long_fingers):
            before, after = (
                angle_between(*(_line(subject, hand, finger, at) for finger in (first, second)))
                for at in (None, posed)
            )
            turned = any(pose.get(hand.fingers[f][0]) for f in (first, second))
            if turned:
                name = f"{hand.side}_{first}"
                values.append(Value("apart", f"{name} and {second}", after - before))
        for finger in hand.long_fingers:
            knuckle, tip = hand.fingers[finger][0], hand.fingers[finger][-1]
            gone = subject.between(knuckle, tip, posed) - subject.between(knuckle, tip)
            lifted = 100.0 * abs(float(gone @ hand.palm.facing)) / hand.length
            values.append(Value("out_of_palm", f"{hand.side}_{finger}", lifted))
    return values


def measure_fist(subject: Subject, posed: Posed) -> list[Value]:
    """Tips on the palm, all by one sign on one axis, and no finger across another."""
    values = []
    for hand in _hands(subject):
        for finger in hand.long_fingers:
            tip = posed.positions[subject.index[hand.fingers[finger][-1]]]
            values.append(Value("tip", f"{hand.side}_{finger}", 100.0 * hand.from_palm(tip)))
            off = _worst_axis(subject, hand, finger)
            values.append(Value("same_sign", f"{hand.side}_{finger}", off))
        if "thumb" in hand.fingers and hand.long_fingers:
            away = 100.0 * thumb_gap(subject, posed, hand)
            values.append(Value("thumb", f"{hand.side}_thumb", away))
        for first, second in pairwise(hand.long_fingers):
            name = f"{hand.side}_{first} and {second}"
            values.append(Value("order", name, _order(subject, posed, hand, first, second)))
            values.append(Value("gap", name, _gap(subject, posed, hand, first, second)))
    return values


def _hands(subject: Subject) -> list[Hand]:
    found = (find_hand(subject, side) for side in SIDES)
    return [hand for hand in found if hand is not None]


def _line(subject: Subject, hand: Hand, finger: str, posed: Posed | None) -> FloatArray:
    """(3,) from a finger's knuckle to its tip, laid on the palm's plane."""
    line = subject.between(hand.fingers[finger][0], hand.fingers[finger][-1], posed)
    return line - (line @ hand.palm.facing) * hand.palm.facing


def _curl(subject: Subject, posed: Posed, hand: Hand, finger: str) -> list[Value]:
    chain = hand.fingers[finger]
    name = f"{hand.side}_{finger}"
    length = _length(subject, chain)
    values = [Value("axes", name, _axes_apart(subject, chain))]
    before, after = (hand.from_palm(subject.place(chain[-1], at)) for at in (None, posed))
    if after > ON_PALM:
        # a tip that is on the palm has nowhere to go
        values.insert(0, Value("nearer", name, 100.0 * (before - after) / before))
    mean = unit(np.mean(_axes(subject, chain), axis=0))
    # how far the joints lie from one plane with that axis, over how far they do at rest
    spread = [float(np.ptp([subject.place(n, at) @ mean for n in chain])) for at in (None, posed)]
    values.append(Value("plane", name, 100.0 * (spread[1] - spread[0]) / length))
    return values


def _axes(subject: Subject, chain: tuple[str, ...]) -> list[FloatArray]:
    """(3,) the axes of a finger's joints that flex."""
    return [subject.axis(joint, "bend") * flexion(subject, joint) for joint in chain[:-1]]


def _axes_apart(subject: Subject, chain: tuple[str, ...]) -> float:
    """Greatest angle between the bend axes of two joints of a finger, degrees."""
    axes = _axes(subject, chain)
    return max(angle_between(first, second) for first in axes for second in axes)


def _worst_axis(subject: Subject, hand: Hand, finger: str) -> float:
    """Degrees from the axis that flexes toward the palm, of the joint where it is most."""
    return max(
        angle_between(subject.axis(joint, "bend") * flexion(subject, joint), hand.palm.bend)
        for joint in hand.fingers[finger][:-1]
    )


def _order(subject: Subject, posed: Posed, hand: Hand, first: str, second: str) -> float:
    """How far the first finger keeps on the thumb's side of the second, percent of the distance
    between their knuckles; of their joints the ones where it is least. Negative is crossed."""
    one, two = hand.fingers[first], hand.fingers[second]
    across = hand.palm.thumbward
    spacing = max(abs(float((subject.place(one[0]) - subject.place(two[0])) @ across)), 1e-12)
    count = min(len(one), len(two))
    kept = [
        float((subject.place(a, posed) - subject.place(b, posed)) @ across)
        for a, b in zip(one[-count:], two[-count:], strict=True)
    ]
    return 100.0 * min(kept) / spacing


def _gap(subject: Subject, posed: Posed, hand: Hand, first: str, second: str) -> float:
    """Least distance between the bones of two fingers, percent of that between their knuckles."""
    one = [subject.place(name, posed) for name in hand.fingers[first]]
    two = [subject.place(name, posed) for name in hand.fingers[second]]
    spacing = max(float(np.linalg.norm(one[0] - two[0])), 1e-12)
    gaps = [segment_gap(a, b, c, d) for a, b in pairwise(one) for c, d in pairwise(two)]
    return 100.0 * min(gaps) / spacing


def _length(subject: Subject, chain: tuple[str, ...]) -> float:
    at = np.array([subject.place(name) for name in chain])
    return max(float(np.linalg.norm(np.diff(at, axis=0), axis=1).sum()), 1e-12)
