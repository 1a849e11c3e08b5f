"""Where a finger's three joints lie along its line, from all that speaks for them.

Every place is weighed by how likely it is, and a joint is put at the mean of them all. The best
place alone would jump from one bump of the skin to another when both are about as likely.

The knuckles of one hand lie about equally far behind their webs, so a hand's fingers are weighed
together: first each finger for every place of its knuckle, then the distance that all knuckles
share, then each finger's own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "BonePrior",
    "FingerScores",
    "JointPlaces",
    "KnucklePrior",
    "mean_and_spread",
    "score_finger",
    "weigh_joints",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FARTHEST = 4.5
"""Places farther than so many standard deviations from where a joint is expected are left out."""
LEAST_BONE = 0.1
"""Shortest bone, share of the whole finger."""


@dataclass(frozen=True)
class BonePrior:
    """What is expected of a finger beyond its knuckle, each with one standard deviation."""

    middle: tuple[float, float]
    """Place of the proximal interphalangeal joint, share of the visible finger from its web."""
    end: tuple[float, float]
    """Place of the distal interphalangeal joint, likewise."""
    first_bone: tuple[float, float]
    """Knuckle to proximal interphalangeal joint, share of the whole finger from its knuckle."""
    last_bone: tuple[float, float]
    """Distal interphalangeal joint to the end, likewise."""


@dataclass(frozen=True)
class KnucklePrior:
    """How far knuckles lie behind their webs, shares of the hand's length."""

    behind: float
    """Expected for the index finger."""
    shared_spread: float
    """Of what all fingers of a hand share: modellers differ."""
    own_spread: float
    """Of each finger about that."""
    further: Mapping[str, float]
    """How much further behind than the index finger's, by finger name."""


@dataclass(frozen=True)
class FingerScores:
    """Likelihood of a finger for every place of its knuckle, its own place left out."""

    knuckle: FloatArray
    """(n,) candidate places, visible lengths from the web."""
    score: FloatArray
    """(n,) log-likelihood, over all places of the joints beyond."""
    beyond: FloatArray
    """(n, 2) mean place of the proximal and the distal interphalangeal joint for each."""
    square: FloatArray
    """(n, 2) mean of the squares of these places."""


@dataclass(frozen=True)
class JointPlaces:
    """The three joints of a finger, in visible lengths from the web."""

    mean: FloatArray
    """(3,)"""
    spread: FloatArray
    """(3,) one standard deviation."""


def score_finger(
    prior: BonePrior, places: FloatArray, turn: FloatArray, sharpness: float
) -> FingerScores:
    """Score every place of a finger's knuckle with the best places of the joints beyond it.

    Args:
        prior: expectations.
        places: (n,) candidate places along the finger, in visible lengths from the web; rising.
        turn: (n,) turn of the skin of the back towards the palm at each, radians; 0 if unknown.
        sharpness: turn that makes a place e times as likely to be a joint, radians.

    Returns:
        The scores.
    """
    gain = turn / sharpness
    knuckle = np.flatnonzero(places < prior.middle[0] - prior.middle[1])
    length = (1.0 - places[knuckle])[:, None]
    rows = [_near(places, expected) for expected in (prior.middle, prior.end)]
    second, third = (places[row] for row in rows)
    own = [
        gain[row] - _against(places[row], expected)
        for row, expected in zip(rows, (prior.middle, prior.end), strict=True)
    ]
    one = (second[None, :] - places[knuckle][:, None]) / length
    three = (1.0 - third)[None, :] / length
    pair = own[0][None, :] - _against(one, prior.first_bone)
    pair[one < LEAST_BONE] = -np.inf
    tail = own[1][None, :] - _against(three, prior.last_bone)
    total = pair[:, :, None] + tail[:, None, :]
    total[(1.0 - one)[:, :, None] - three[:, None, :] < LEAST_BONE] = -np.inf
    best = total.max(axis=(1, 2))
    likely = np.exp(total - best[:, None, None])
    whole = likely.sum(axis=(1, 2))
    sides = (likely.sum(axis=2) / whole[:, None], likely.sum(axis=1) / whole[:, None])
    beyond, square = (
        np.stack([sides[0] @ second**power, sides[1] @ third**power], axis=1) for power in (1, 2)
    )
    return FingerScores(places[knuckle], gain[knuckle] + best + np.log(whole), beyond, square)


def weigh_joints(
    prior: KnucklePrior, scores: Mapping[str, FingerScores], visible: Mapping[str, float]
) -> tuple[dict[str, JointPlaces], float]:
    """Weigh the joints of all fingers of a hand together.

    Args:
        prior: expectations of the knuckles.
        scores: by finger name.
        visible: length of each visible finger, share of the hand's length.

    Returns:
        The joints by finger name, and how far behind the web the knuckles of this hand lie (share
        of its length, the index finger's).
    """
    shared = prior.behind + prior.shared_spread * np.linspace(-3.0, 3.0, 61)
    total = -_against(shared, (prior.behind, prior.shared_spread))
    knuckles: dict[str, FloatArray] = {}
    for name, finger in scores.items():
        behind = -finger.knuckle * visible[name]
        expected = shared + prior.further.get(name, 0.0)
        value = finger.score[None, :] - _against(
            behind[None, :] - expected[:, None], (0.0, prior.own_spread)
        )
        best = value.max(axis=1, keepdims=True)
        likely = np.exp(value - best)
        knuckles[name] = likely / likely.sum(axis=1, keepdims=True)
        total = total + best[:, 0] + np.log(likely.sum(axis=1))
    of_shared = np.exp(total - total.max())
    of_shared = of_shared / of_shared.sum()
    joints = {}
    for name, finger in scores.items():
        of_knuckle = of_shared @ knuckles[name]
        own = np.stack([finger.knuckle, finger.knuckle**2], axis=1)
        mean, square = (
            of_knuckle @ np.column_stack([own[:, k], (finger.beyond, finger.square)[k]])
            for k in (0, 1)
        )
        joints[name] = JointPlaces(mean, np.sqrt(np.maximum(square - mean**2, 0.0)))
    return joints, float(of_shared @ shared)


def mean_and_spread(values: FloatArray, likely: FloatArray) -> tuple[float, float]:
    """Mean and one standard deviation of values (n,), each as likely as (n,) says."""
    share = likely / likely.sum()
    mean = float(share @ values)
    return mean, float(np.sqrt(max(float(share @ values**2) - mean**2, 0.0)))


def _against(values: FloatArray, expected: tuple[float, float]) -> FloatArray:
    """Half the squared distance from what is expected, in standard deviations."""
    return np.asarray(0.5 * ((values - expected[0]) / expected[1]) ** 2)


def _near(places: FloatArray, expected: tuple[float, float]) -> IntArray:
    """Places near to what is expected; the nearest one at least."""
    near = np.flatnonzero(np.abs(places - expected[0]) <= FARTHEST * expected[1])
    return near if len(near) else np.array([int(np.argmin(np.abs(places - expected[0])))])
