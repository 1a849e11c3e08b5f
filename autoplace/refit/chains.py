"""Put fitted finger joints into an existing skeleton, and say what was kept instead."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.place.evidence import Placed
from autoplace.skeleton.angles import turn_angle
from autoplace.skeleton.checks import check
from autoplace.skeleton.model import Finding, Joint, Skeleton
from autoplace.skeleton.names import FINGERS, finger_of, metacarpal_of, side_of
from autoplace.skeleton.orient import orient

__all__ = ["Findings", "Fitted", "Refitted", "hand_findings", "with_chains"]

FloatArray = NDArray[np.float64]

ENDS = ("metacarpal", "1", "2", "3", "tip")
WRIST_TURNED = 5.0
"""Degrees between a wrist's axes and where they would point now, beyond which it is told: twice
what the knuckle's own spread turns them by (common practice, no source)."""
OURS = ("missing_fingers", "kept_finger", "locked_finger", "wrist_axes")
"""Checks whose findings about a hand are replaced when its fingers are fitted anew."""


@dataclass(frozen=True)
class Fitted:
    """What was found of one hand, in the skeleton's frame and units."""

    points: Mapping[str, Placed]
    """By joint name."""
    fingers: tuple[str, ...]
    missing: str = ""
    """Why no fingers were found; empty when they were."""


@dataclass(frozen=True)
class Refitted:
    """The skeleton with its new finger joints."""

    skeleton: Skeleton
    changed: tuple[str, ...]
    """Joints moved, turned or added."""
    kept: Mapping[str, str]
    """Why a finger joint stands where it stood, by name."""
    turned: Mapping[str, float]
    """By wrist, degrees its axes lie beside where they would point now."""


@dataclass(frozen=True)
class Findings:
    """Of a skeleton whose fingers were fitted anew."""

    all: tuple[Finding, ...]
    new: tuple[Finding, ...]
    """Those about its hands."""


def with_chains(skeleton: Skeleton, fitted: Mapping[str, Fitted]) -> Refitted:
    """The skeleton with the fitted joints in place; what is no finger joint is the same record.

    A locked joint keeps its place, and its axes follow its neighbours. Joints are only added for a
    finger that is not there at all, and where metacarpals are asked for.
    """
    kept: dict[str, str] = {}
    joints = {joint.name: joint for joint in skeleton.joints}
    added: list[Joint] = []
    for side, hand in fitted.items():
        there = {f for f in FINGERS if any(_of(name) == (side, f) for name in joints)}
        kept |= {
            name: hand.missing or f"the hand has {_fingers(hand.fingers)}"
            for name in joints
            if side_of(name) == side and _of(name)[1] in there - set(hand.fingers)
        }
        for name, point in hand.points.items():
            old = joints.get(name)
            finger = _of(name)[1]
            if old is None:
                if finger not in there or metacarpal_of(name):
                    added.append(_placed(Joint(name, _parent(name, hand), np.zeros(3)), point))
                else:
                    kept[f"{side}_{finger}"] = f"it has no joint {name}, and none was added"
            elif old.locked:
                kept[name] = "it is locked"
            else:
                joints[name] = _placed(old, point)
        joints |= _hung_from_metacarpals(joints, added, side)
    ordered = _parents_first([*joints.values(), *_in_order(added)], skeleton)
    turned = orient(skeleton.with_joints(ordered))
    before = {joint.name: joint for joint in skeleton.joints}
    final = []
    for joint in ordered:
        on, finger = _of(joint.name)
        if finger and on and on in fitted and finger in fitted[on].fingers:
            joint = replace(joint, axes=turned[joint.name].axes)
        final.append(joint)
    return Refitted(
        skeleton.with_joints(tuple(final)),
        tuple(joint.name for joint in final if not _same(joint, before.get(joint.name))),
        kept,
        {
            name: float(turn_angle(turned[name].axes @ before[name].axes.T))
            for side in fitted
            if fitted[side].fingers and (name := f"{side}_wrist") in before
        },
    )


def hand_findings(
    skeleton: Skeleton,
    result: Refitted,
    fitted: Mapping[str, Fitted],
    depth_at: Callable[[FloatArray], FloatArray],
) -> Findings:
    """The findings of the skeleton, with those about the fitted hands made anew.

    `depth_at` gives how deep points (n, 3), skeleton frame, lie in the mesh, shares of the height.
    """

    def ours(finding: Finding) -> bool:
        name = finding.joint or ""
        side = side_of(name)
        return side in fitted and (finding.check in OURS or bool(_of(name)[1]))

    told: list[Finding] = []
    for side, hand in fitted.items():
        if hand.missing:
            told.append(
                Finding(
                    "missing_fingers",
                    f"{side}_wrist",
                    "warning",
                    f"No fingers were found on the {side} hand, so its joints stay as they were: "
                    f"{hand.missing}.",
                    "If the hand has fingers, check that the wrist's joint lies in the wrist and "
                    "that the hand's part is not left out.",
                )
            )
    told += _about_kept(result, fitted)
    for name, angle in result.turned.items():
        if angle > WRIST_TURNED:
            told.append(
                Finding(
                    "wrist_axes",
                    name,
                    "note",
                    f"'{name}' was left as it is; its axes lie {angle:.0f} degrees beside where "
                    "the fingers would have them point now.",
                    "Nothing, if the wrist is bound already; else orient the skeleton again.",
                )
            )
    checked = [f for f in check(result.skeleton, depth_at=depth_at) if ours(f)]
    new = (*told, *checked)
    return Findings((*(f for f in skeleton.findings if not ours(f)), *new), new)


def _about_kept(result: Refitted, fitted: Mapping[str, Fitted]) -> list[Finding]:
    """One finding for each finger with joints that were kept."""
    told = []
    for side, hand in fitted.items():
        for finger in FINGERS:
            names = [n for n in result.kept if _of(n) == (side, finger)]
            if not names or hand.missing:
                continue
            if finger not in hand.fingers:
                told.append(
                    Finding(
                        "kept_finger",
                        names[0],
                        "warning",
                        f"The {side} {finger} finger stays as it was: {result.kept[names[0]]}.",
                        "If the finger is gone, take its joints out; if it is misnamed, name the "
                        "fingers with --fingers.",
                    )
                )
            else:
                told.append(
                    Finding(
                        "locked_finger",
                        names[0],
                        "note",
                        f"{_listed(names)} {'is' if len(names) == 1 else 'are'} locked and stay"
                        f"{'s' * (len(names) == 1)} in place; the rest of the finger was fitted.",
                        "Unlock what should be fitted too.",
                    )
                )
    return told


def _of(name: str) -> tuple[str | None, str | None]:
    """Side and finger of a joint's name."""
    return side_of(name), finger_of(name) or metacarpal_of(name)


def _parent(name: str, hand: Fitted) -> str:
    side, finger = _of(name)
    before = ENDS[: ENDS.index(name.rsplit("_", 1)[1])]
    above = [n for end in before if (n := f"{side}_{finger}_{end}") in hand.points]
    return above[-1] if above else f"{side}_wrist"


def _hung_from_metacarpals(
    joints: Mapping[str, Joint], added: list[Joint], side: str
) -> dict[str, Joint]:
    """Knuckles that hung from the wrist, hung from the metacarpal that was added."""
    found = {}
    for joint in added:
        finger = metacarpal_of(joint.name)
        knuckle = joints.get(f"{side}_{finger}_1")
        if finger and side_of(joint.name) == side and knuckle and knuckle.parent == joint.parent:
            found[knuckle.name] = replace(knuckle, parent=joint.name)
    return found


def _placed(joint: Joint, point: Placed) -> Joint:
    return replace(joint, position=point.position, spread=point.spread, evidence=point.evidence)


def _in_order(joints: list[Joint]) -> list[Joint]:
    """Thumb first, from the palm to the tip."""

    def rank(joint: Joint) -> tuple[str, int, int]:
        side, finger = _of(joint.name)
        end = joint.name.rsplit("_", 1)[1]
        return str(side), FINGERS.index(str(finger)), ENDS.index(end)

    return sorted(joints, key=rank)


def _parents_first(joints: list[Joint], skeleton: Skeleton) -> tuple[Joint, ...]:
    """The joints with added ones behind their parents' other children; the rest in order."""
    old = set(skeleton.names)
    result = [joint for joint in joints if joint.name in old]
    waiting = [joint for joint in joints if joint.name not in old]
    for joint in waiting:
        family = {joint.parent}
        last = 0
        for at, other in enumerate(result):
            if other.name in family or (other.parent in family and _before(other.name, joint.name)):
                family.add(other.name)
                last = at
        result.insert(last + 1, joint)
    return tuple(_sorted(result))


def _before(name: str, new: str) -> bool:
    """Whether an existing joint stands before a new one: fingers do by their order."""
    finger, own = _of(name)[1], _of(new)[1]
    return finger is None or own is None or FINGERS.index(finger) <= FINGERS.index(own)


def _sorted(joints: list[Joint]) -> list[Joint]:
    """The same order, but no joint before its parent."""
    done: dict[str, Joint] = {}
    names = {joint.name for joint in joints}
    waiting = joints
    while waiting:
        later = []
        for joint in waiting:
            if joint.parent is None or joint.parent in done or joint.parent not in names:
                done[joint.name] = joint
            else:
                later.append(joint)
        if len(later) == len(waiting):
            return joints  # a circle, which the tree's own check refuses
        waiting = later
    return list(done.values())


def _same(joint: Joint, old: Joint | None) -> bool:
    return old is not None and (
        joint is old
        or (
            joint.parent == old.parent
            and np.array_equal(joint.position, old.position)
            and np.array_equal(joint.axes, old.axes)
        )
    )


def _fingers(names: tuple[str, ...]) -> str:
    return f"{len(names)} fingers, {', '.join(names)}"


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]
