"""Which three joints of a chain bend it: hip, knee and ankle, or shoulder, elbow and wrist.

The two bones between them are of about equal length, take up most of the limb, and what lies
between lies on them; in the foot the chain turns forward.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.angles import angle_between
from autoplace.skeleton.roles.tree import JointTree

__all__ = ["ARM", "LEG", "LimbKind", "best_triple"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class LimbKind:
    """How a kind of limb is told."""

    name: str
    parts: tuple[str, str, str]
    """What the three joints that bend it are called, from the trunk outward."""
    before: tuple[str, ...]
    after: tuple[str, ...]
    ratio: float
    """Length of the upper to that of the lower bone."""


LEG = LimbKind("leg", ("hip", "knee", "ankle"), (), ("ball", "toe_tip"), 1.0)
"""Thigh and shank are 0.245 and 0.246 of the height (Winter 2009, figure 4.1)."""
ARM = LimbKind("arm", ("shoulder", "elbow", "wrist"), ("clavicle",), ("finger",), 1.08)
"""Upper arm and forearm are 0.165 and 0.153 of the height (Winter 2009; de Leva 1996)."""

UNEVEN = 2.0
"""What counts how much in the choice, in points that have no unit; common practice, no source. This
for the logarithm of how far the two bones are from their usual ratio;"""
COVERED = 3.0
"""this for the share of the limb's length that the two bones take up;"""
BEFORE = 2.0
"""this for the share of a leg that lies before its first joint;"""
CLAVICLE = 0.4
"""this for an arm with one joint before its shoulder, as most have;"""
PASSED_OVER = 0.3
"""this for each joint within that is left out, such as a twist helper,"""
OFF_THE_BONE = 10.0
"""and this for its distance from the bone, in lengths of the bone, up to one point;"""
AT_THE_HAND = 0.5
"""this for ending where the fingers begin, or where the foot turns by FOOT_TURN degrees;"""
FOOT_TURN = 45.0
AT_A_TIP = 0.5
"""this for ending at a joint that the file calls the end of a chain;"""
SURE_WORD, DOUBTFUL_WORD, OTHER_WORD = 1.5, 0.7, 1.5
"""and these for each joint whose name says what it is, may say it, or says something else."""
LONGEST = 16
"""Joints of a chain that are looked at."""


def best_triple(
    tree: JointTree, kind: LimbKind, path: Sequence[int], hand: int | None
) -> tuple[float, tuple[int, int, int]]:
    """The best points, and the places in `path` (at least three joints) of the three joints.

    `hand` is the place from which fingers hang, if any do.
    """
    at = tree.at[list(path)]
    end = min(len(path) if hand is None else hand + 1, LONGEST)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(at[:end], axis=0), axis=1))])
    whole = float(along[-1])
    best, middle = -np.inf, (0, 1, 2)
    if not whole > 0:
        return best, middle
    said = [_words(tree, kind, joint) for joint in path[:end]]
    for a, b, c in combinations(range(end), 3):
        upper, lower = float(np.linalg.norm(at[b] - at[a])), float(np.linalg.norm(at[c] - at[b]))
        if min(upper, lower) < 1e-3 * whole:
            continue
        points = COVERED * (upper + lower) / whole
        points -= UNEVEN * abs(float(np.log(upper / lower / kind.ratio)))
        points -= AT_A_TIP * tree.tips[path[c]]
        if kind is LEG:  # what comes before an arm is a clavicle
            points -= BEFORE * along[a] / whole
        elif a == 1:
            points += CLAVICLE
        points += said[a][0] + said[b][1] + said[c][2]
        if c == hand:
            points += AT_THE_HAND
        elif hand is None and kind is LEG and c + 1 < len(path):
            turn = angle_between(at[c] - at[b], at[c + 1] - at[c])
            points += AT_THE_HAND * min(1.0, turn / FOOT_TURN)
        if points > best:  # the last term is dear and can only lessen it
            points -= _passed_over(at, a, b) + _passed_over(at, b, c)
        if points > best:
            best, middle = points, (a, b, c)
    return best, middle


def _words(tree: JointTree, kind: LimbKind, joint: int) -> tuple[float, float, float]:
    """Points for a joint as the first, second and third of the limb, by its name."""
    reading = tree.readings[joint]
    one, two, three = (
        (SURE_WORD if reading.sure else DOUBTFUL_WORD)
        if reading.says(part)
        else (-OTHER_WORD if reading.parts else 0.0)
        for part in kind.parts
    )
    return one, two, three


def _passed_over(at: FloatArray, start: int, end: int) -> float:
    """What the joints strictly between two of the three cost."""
    bone = at[end] - at[start]
    length = float(np.linalg.norm(bone))
    cost = 0.0
    for place in range(start + 1, end):
        step = at[place] - at[start]
        share = min(1.0, max(0.0, float(step @ bone) / length**2))
        off = float(np.linalg.norm(step - share * bone)) / length
        cost += PASSED_OVER + min(1.0, OFF_THE_BONE * off)
    return cost
