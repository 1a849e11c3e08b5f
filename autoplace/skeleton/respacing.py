"""Spine and neck with other numbers of joints, spaced evenly along the curve that they follow.

The curve is smooth and goes through the joint below the chain (the pelvis), the chain as it stands
and the joint that it leads to (the neck, the head). Along it the joints lie at equal distances, by
arc length:

- spine: the first joint and the chest keep their places, the others lie evenly between them. Of one
  joint only the chest is left. Where there was only the chest, the others lie evenly between pelvis
  and chest.
- neck: `neck` keeps its place, the others lie evenly between it and the head, as placing puts them.

What hangs from the chest or the neck does not move, for neither does. What hung from a joint that
is gone hangs from the end of the chain.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from autoplace.errors import SkeletonError
from autoplace.skeleton.model import Evidence, Joint, Skeleton
from autoplace.skeleton.names import MOST_NECK_JOINTS, MOST_SPINE_JOINTS

__all__ = [
    "CHAINS",
    "chain_joints",
    "evenly_spaced",
    "is_of_chain",
    "must_be_possible",
    "replaced_chain",
    "with_chain",
]

FloatArray = NDArray[np.float64]

CHAINS = {"spine": ("chest", "neck"), "neck": ("neck", "head")}
"""Chain to the joint that it always has, and the joint that it leads to."""
MOST = {"spine": MOST_SPINE_JOINTS, "neck": MOST_NECK_JOINTS}
STEPS = 64
"""Straight pieces that the curve between two joints is measured by: for an arc of 90 degrees the
length is right to 3e-5 of itself (closed form)."""
SAME = 1e-9
"""Joints of a chain nearer than this, as a share of its length, count as one (far below what
single-precision files keep)."""


def must_be_possible(chain: str, count: int) -> None:
    """Raises SkeletonError for a chain that is none, or a number of joints that it cannot have."""
    if chain not in CHAINS:
        raise SkeletonError(f"There is no chain '{chain}' to space anew: take spine or neck.")
    if isinstance(count, bool) or not isinstance(count, int) or not 1 <= count <= MOST[chain]:
        raise SkeletonError(
            f"A {chain} of {count} joints is not possible; give a number from 1 to {MOST[chain]}."
        )


def is_of_chain(name: str, chain: str) -> bool:
    """Whether a joint of this name is one of the 'spine' (the chest too) or of the 'neck'."""
    return name == CHAINS[chain][0] or re.fullmatch(rf"{chain}_\d+", name) is not None


def chain_joints(skeleton: Skeleton, chain: str) -> tuple[Joint, ...]:
    """The joints of the spine or the neck from below.

    Raises SkeletonError when the skeleton lacks the chest, the neck, or for a neck the head.
    """
    last, onward = CHAINS[chain]
    needed = (last,) if chain == "spine" else (last, onward)
    for name in needed:
        if name not in skeleton:
            raise SkeletonError(
                f"The skeleton has no '{name}', so its {chain} cannot get another number of joints."
            )
    found = tuple(joint for joint in skeleton if is_of_chain(joint.name, chain))
    for below, above in pairwise(found):
        if above.parent != below.name:
            raise SkeletonError(
                f"The {chain} is no chain: '{above.name}' should hang from '{below.name}', not "
                f"from '{above.parent}'."
            )
    return found


def evenly_spaced(
    skeleton: Skeleton, chain: str, count: int, at: Mapping[str, FloatArray]
) -> FloatArray:
    """(count, 3) places of a chain with so many joints, along the one that stands `at` by name."""
    joints = chain_joints(skeleton, chain)
    below, onward = joints[0].parent, CHAINS[chain][1]
    names = [below] if below is not None else []
    names += [joint.name for joint in joints]
    first = len(names) - len(joints)
    last = len(names) - 1
    if onward in at:
        names.append(onward)
    curve, knots = _curve(np.array([at[name] for name in names]))
    if chain == "neck":
        shares = np.arange(count) / count
        start, end = knots[first], knots[-1]
    elif len(joints) > 1 and count > 1:
        shares = np.arange(count) / (count - 1)
        start, end = knots[first], knots[last]
    else:
        shares = np.arange(1, count + 1) / count
        start, end = knots[0], knots[last]
    places = _along(curve, start, end, shares)
    # what keeps its place keeps it to the last bit
    if chain == "neck":
        places[0] = at[joints[0].name]
    else:
        places[-1] = at[joints[-1].name]
        if len(joints) > 1 and count > 1:
            places[0] = at[joints[0].name]
    return places


def with_chain(skeleton: Skeleton, chain: str, count: int) -> Skeleton:
    """The skeleton with another number of joints in its spine or neck; axes are not filled.

    The joints are spaced as `evenly_spaced` does. One that neither has its name nor its place from
    before has the spread of its neighbours and the evidence 'respaced'.

    Raises SkeletonError as `must_be_possible` and `chain_joints` do.
    """
    must_be_possible(chain, count)
    old = chain_joints(skeleton, chain)
    places = evenly_spaced(skeleton, chain, count, {j.name: j.position for j in skeleton})
    names = _names(chain, count)
    known = {joint.name: joint for joint in old}
    joints: list[Joint] = []
    for index, (name, place) in enumerate(zip(names, places, strict=True)):
        before = known.get(name)
        parent = joints[-1].name if joints else old[0].parent
        if before is not None and np.array_equal(before.position, place):
            aim = None if before.aim in known else before.aim
            joints.append(replace(before, parent=parent, aim=aim))
            continue
        spread = _spread_near(old, place)
        note = f"joint {index + 1} of {count}, spaced evenly along the {chain} as placed"
        evidence = (Evidence("respaced", place, spread, 1.0, note),)
        joints.append(Joint(name, parent, place, spread=spread, evidence=evidence))
    return replaced_chain(skeleton, old, joints, CHAINS[chain][1])


def replaced_chain(
    skeleton: Skeleton, old: Sequence[Joint], new: Sequence[Joint], onward: str
) -> Skeleton:
    """The skeleton with `new` joints in place of the `old` ones of a chain, parents first in both.

    The joint `onward` hangs from the end of the new chain where it hung from that of the old one,
    and so does what hung from a joint that is gone. An aim at a joint that is gone is dropped.
    """
    gone = {joint.name for joint in old} - {joint.name for joint in new}
    end, was = new[-1].name, old[-1].name
    joints: list[Joint] = []
    for joint in skeleton:
        if joint.name == old[0].name:
            joints += new
        if any(joint.name == other.name for other in old):
            continue
        if joint.parent in gone or (joint.name == onward and joint.parent == was):
            joint = replace(joint, parent=end)
        if joint.aim in gone:
            joint = replace(joint, aim=None)
        joints.append(joint)
    return skeleton.with_joints(tuple(joints))


def _names(chain: str, count: int) -> list[str]:
    if chain == "spine":
        return [*(f"spine_{number}" for number in range(1, count)), "chest"]
    return ["neck", *(f"neck_{number}" for number in range(2, count + 1))]


def _spread_near(joints: Sequence[Joint], place: FloatArray) -> float:
    """The spread of the two joints of the chain that lie nearest, by how near they are."""
    apart = np.array([float(np.linalg.norm(joint.position - place)) for joint in joints])
    nearest = np.argsort(apart, kind="stable")[:2]
    if len(nearest) == 1 or not apart[nearest].sum() > 0:
        return float(joints[int(nearest[0])].spread)
    share = apart[nearest] / apart[nearest].sum()
    first, second = (float(joints[int(i)].spread) for i in nearest)
    return float(share[1] * first + share[0] * second)


def _curve(points: FloatArray) -> tuple[CubicSpline | FloatArray, FloatArray]:
    """The curve through points (k, 3) over their chords, and where on it each lies (k,).

    Points on top of one another lie at one place; of a single place the curve is that.
    """
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    knots = np.concatenate([[0.0], np.cumsum(steps)])
    apart = np.concatenate([[True], steps > SAME * knots[-1]])
    if apart.sum() < 2:
        return points[0], knots
    apart_knots, index = knots[apart], np.cumsum(apart) - 1
    ends = "natural" if len(apart_knots) > 2 else "not-a-knot"
    return CubicSpline(apart_knots, points[apart], bc_type=ends), apart_knots[index]


def _along(
    curve: CubicSpline | FloatArray, start: float, end: float, shares: FloatArray
) -> FloatArray:
    """(n, 3) points of a curve at shares (n,) of the arc between two places on it."""
    if not isinstance(curve, CubicSpline):
        return np.tile(curve, (len(shares), 1))
    pieces = STEPS * max(1, len(curve.x))
    at = np.linspace(start, end, pieces + 1)
    steps = np.linalg.norm(np.diff(curve(at), axis=0), axis=1)
    arc = np.concatenate([[0.0], np.cumsum(steps)])
    return np.asarray(curve(np.interp(shares * arc[-1], arc, at)), dtype=np.float64)
