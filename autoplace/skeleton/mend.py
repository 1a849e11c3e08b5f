"""Repairs what has one right answer in a skeleton, and says what it changed.

What is mended, and why there is one answer:

- order: a joint listed before its parent goes right after it; nothing else depends on the order.
- names: a limb whose joints all lie on the other side than their names say, and its counterpart
  likewise, swap the names of their sides; of two joints of one name that lie on either side, one
  takes the name that is missing.
- axes that are no frame by a little (not of length one, or off right angles as rounding does): the
  nearest frame. Left-handed ones whose aim and bend axis are known: the third axis turned round.
- places: joints that mirror one another but for rounding take the mean of both; where one of the
  pair is locked, a person decided, and in a mesh that is symmetric all over the other follows it.
- axes of a pair of which only one follows the recorded convention: the other's too.
- tips: the axes of their parent, which is what a joint without a child has.

Nothing else has one answer, and is left: which of two unlike sides is the better one, how far a
straight knee should bend, where a joint outside the body belongs. A locked joint is never moved.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.angles import angles_between
from autoplace.skeleton.checks.axes import AIM, TIP, UNIT
from autoplace.skeleton.checks.figure import Figure, percent, prepare
from autoplace.skeleton.checks.mirrored import (
    EXACT,
    MIRRORED,
    ROUNDING,
    SYMMETRIC,
    check_mirrored_axes,
)
from autoplace.skeleton.checks.tree import FATAL, check_tree, parents_first
from autoplace.skeleton.convention import Convention, recorded
from autoplace.skeleton.mend_names import rename_doubles, rename_swapped
from autoplace.skeleton.mend_record import Change, Mended
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.names import family, mirror_name
from autoplace.skeleton.orient import Direction, body_directions, orient

__all__ = ["Change", "Mended", "mend"]

FloatArray = NDArray[np.float64]

NEARLY = 1e-3
"""How far from right angles axes may be to be rounded: text files keep at least three decimals
(common practice, no source)."""
FOLLOWS = 0.5
"""Degrees within which axes followed the convention before a joint was moved by rounding: what that
turns a bone of a fiftieth of the height by (common practice, no source)."""


def mend(
    skeleton: Skeleton,
    *,
    convention: Convention | None = None,
    up: Direction = None,
    forward: Direction = None,
    whole_residual: float | None = None,
) -> Mended:
    """The skeleton with everything repaired that has one right answer.

    Mending what was mended changes nothing, and what was mended passes the check that asked for
    it.

    Args:
        skeleton: Any skeleton; of one with a broken tree only what can be told is mended.
        convention: What the axes mean; None takes what the skeleton records.
        up: As for `orient`.
        forward: As for `orient`.
        whole_residual: How far nearly all of the mesh is from its mirror image, in heights; None
            when unknown, and then no joint follows a locked counterpart.

    Raises:
        SkeletonError: up and forward lie along one line.
    """
    convention = convention or recorded(skeleton.settings)
    body = body_directions(skeleton, up=up, forward=forward)
    steps: list[Callable[[Skeleton], Mended]] = [lambda s: rename_doubles(s, body)]
    state = _run(Mended(skeleton, ()), steps)
    if any(f.check in FATAL or f.check == "aim_target" for f in check_tree(state.skeleton)):
        return state

    def figure(now: Skeleton) -> Figure:
        return prepare(now, convention=convention, up=up, forward=forward)

    def oriented(now: Skeleton) -> Skeleton | None:
        return None if convention is None else orient(now, convention, up=up, forward=forward)

    return _run(
        state,
        [
            _in_order,
            _framed(convention),
            lambda s: _with_axes(rename_swapped(s, figure(s)), s, oriented),
            lambda s: _with_axes(_mirrored(s, figure(s), body, whole_residual), s, oriented),
            lambda s: _like_counterpart(s, figure(s), oriented(s)),
            lambda s: _tips(s, figure(s)),
        ],
    )


def _run(state: Mended, steps: list[Callable[[Skeleton], Mended]]) -> Mended:
    for step in steps:
        done = step(state.skeleton)
        state = Mended(done.skeleton, (*state.changes, *done.changes))
    return state


def _in_order(skeleton: Skeleton) -> Mended:
    seen: set[str] = set()
    early = []
    for joint in skeleton:
        if joint.parent is not None and joint.parent not in seen:
            early.append(joint)
        seen.add(joint.name)
    if not early:
        return Mended(skeleton, ())
    changes = tuple(
        Change(
            joint.name,
            "order",
            f"listed before its parent '{joint.parent}'",
            "listed after it",
            "nothing but the reading of the file depends on the order",
        )
        for joint in early
    )
    return Mended(parents_first(skeleton), changes)


def _framed(convention: Convention | None) -> Callable[[Skeleton], Mended]:
    """Axes that are nearly a frame made one."""

    def mended(skeleton: Skeleton) -> Mended:
        joints, changes = [], []
        for joint in skeleton:
            axes, change = _frame_of(joint, convention)
            joints.append(joint if change is None else replace(joint, axes=axes))
            changes += [] if change is None else [change]
        return Mended(skeleton.with_joints(tuple(joints)), tuple(changes))

    return mended


def _frame_of(joint: Joint, convention: Convention | None) -> tuple[FloatArray, Change | None]:
    axes = np.asarray(joint.axes, dtype=np.float64)
    lengths = np.linalg.norm(axes, axis=1)
    if not (np.all(np.isfinite(axes)) and np.all(lengths > 0)):
        return axes, None
    rows = axes / lengths[:, None]
    off = float(np.abs(rows @ rows.T - np.eye(3)).max())
    scaled = bool(np.any(np.abs(lengths - 1.0) > UNIT.value))
    left_handed = np.linalg.det(rows) < 0
    if off > NEARLY or (left_handed and convention is None):
        return axes, None
    if not (scaled or left_handed or off > UNIT.value):
        return axes, None
    told = []
    if scaled:
        told.append("of lengths " + ", ".join(f"{length:.6g}" for length in lengths))
    if off > UNIT.value:
        told.append(f"off right angles by {off:.2g}")
    if left_handed and convention is not None:
        third = ({"X", "Y", "Z"} - {convention.aim[1], convention.bend[1]}).pop()
        rows["XYZ".index(third)] *= -1.0
        told.append("left-handed")
    left, _, right = np.linalg.svd(rows)
    why = "the nearest frame of unit axes at right angles"
    if left_handed:
        why = "the axis that neither aims nor bends follows from the other two"
    return left @ right, Change(joint.name, "axes", " and ".join(told), "a frame", why)


def _mirrored(
    skeleton: Skeleton, figure: Figure, body: FloatArray, whole_residual: float | None
) -> Mended:
    """Places of pairs that have one mirror image."""
    pairs = figure.pairs()
    offs = [
        float(np.linalg.norm(figure.mirrored(figure.at[i]) - figure.at[j])) / figure.height
        for i, j in pairs
    ]
    symmetric = sum(off <= ROUNDING.value for off in offs) * 2 > len(pairs)
    joints, changes = list(skeleton.joints), []
    for (i, j), off in zip(pairs, offs, strict=True):
        locked = [joints[k].locked for k in (i, j)]
        rounded = symmetric and EXACT.value < off <= ROUNDING.value
        told = whole_residual is not None and whole_residual <= SYMMETRIC.value
        copied = told and off > MIRRORED.value and any(locked)
        if all(locked) or not (rounded or copied):
            continue
        image = figure.mirrored(figure.at[j])
        place = figure.at[i] if locked[0] else image if locked[1] else 0.5 * (figure.at[i] + image)
        why = "the two mirror one another but for rounding, so their mean mirrors them both"
        if any(locked):
            kept = joints[i if locked[0] else j].name
            why = f"a person decided where '{kept}' stands"
        for k, at, fixed in ((i, place, locked[0]), (j, figure.mirrored(place), locked[1])):
            if not fixed:
                joints[k] = replace(joints[k], position=at @ body)
                changes.append(
                    Change(
                        joints[k].name,
                        "place",
                        f"{percent(off)} from the mirror image of '{mirror_name(joints[k].name)}'",
                        "its mirror image",
                        why,
                    )
                )
    return Mended(skeleton.with_joints(tuple(joints)), tuple(changes))


def _with_axes(
    done: Mended, before: Skeleton, oriented: Callable[[Skeleton], Skeleton | None]
) -> Mended:
    """What was moved or renamed, with its axes and those around it by the convention again.

    Only axes that followed the convention before do so after; others a person has turned.
    """
    if not done.changes:
        return done
    old, new = oriented(before), oriented(done.skeleton)
    if old is None or new is None:
        return done
    renamed = {c.joint for c in done.changes if c.what == "name"}
    joints, changes = [], []
    for was, ought, joint, next_ in zip(before, old, done.skeleton, new, strict=True):
        follows = _turned(was.axes, ought.axes) <= FOLLOWS
        turn = _turned(joint.axes, next_.axes)
        if turn <= 0 or not (follows or was.name in renamed or joint.name in renamed):
            joints.append(joint)
            continue
        joints.append(replace(joint, axes=next_.axes))
        if turn > AIM.value:
            changes.append(
                Change(
                    joint.name,
                    "axes",
                    f"{turn:.3g} degrees from the convention at the new place or name",
                    "by the convention",
                    "the recorded convention gives the axes of every joint",
                )
            )
    return Mended(done.skeleton.with_joints(tuple(joints)), (*done.changes, *changes))


def _like_counterpart(skeleton: Skeleton, figure: Figure, ought: Skeleton | None) -> Mended:
    """Axes of a mirrored pair that are not, and of which one alone follows the convention."""
    if ought is None:
        return Mended(skeleton, ())
    asked = {finding.joint for finding in check_mirrored_axes(figure)}
    joints, changes = list(skeleton.joints), []
    for i, j in figure.pairs():
        turns = [_turned(joints[k].axes, ought.joints[k].axes) for k in (i, j)]
        astray = [k for k, turn in zip((i, j), turns, strict=True) if turn > AIM.value]
        if joints[i].name not in asked or len(astray) != 1:
            continue
        k = astray[0]
        joints[k] = replace(joints[k], axes=ought.joints[k].axes)
        changes.append(
            Change(
                joints[k].name,
                "axes",
                f"{max(turns):.3g} degrees from those of '{mirror_name(joints[k].name)}', mirrored",
                "by the convention",
                f"'{mirror_name(joints[k].name)}' follows the convention, and mirrors it",
            )
        )
    return Mended(skeleton.with_joints(tuple(joints)), tuple(changes))


def _tips(skeleton: Skeleton, figure: Figure) -> Mended:
    """Joints without a child get their parent's axes."""
    joints, changes = list(skeleton.joints), []
    for i, joint in enumerate(joints):
        above = int(figure.parents[i])
        if above < 0 or figure.bones.target[i] >= 0 or family(joint.name) == "eye":
            continue
        off = _turned(joint.axes, joints[above].axes)
        if off > TIP.value:
            joints[i] = replace(joint, axes=joints[above].axes)
            changes.append(
                Change(
                    joint.name,
                    "axes",
                    f"{off:.3g} degrees from those of its parent '{joint.parent}'",
                    "those of its parent",
                    "a joint without a child turns nothing of its own",
                )
            )
    return Mended(skeleton.with_joints(tuple(joints)), tuple(changes))


def _turned(axes: FloatArray, other: FloatArray) -> float:
    """Greatest angle between axes of the same letter, degrees."""
    return float(angles_between(np.asarray(axes, float), np.asarray(other, float)).max())
