"""The likeliest places of a finger's three joints along its line, from all that speaks for them.

The knuckles of one hand lie about equally far behind their webs, so a hand's fingers are searched
together: first each finger is given its best score for every place of its knuckle, then the
distance that all knuckles share is chosen, then each finger's own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["BonePrior", "FingerScores", "KnucklePrior", "choose_joints", "score_finger"]

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
    """Best log-likelihood of a finger for every place of its knuckle, its own place left out."""

    knuckle: FloatArray
    """(n,) candidate places, visible lengths from the web."""
    score: FloatArray
    """(n,) log-likelihood."""
    middle: FloatArray
    """(n,) the best place of the proximal interphalangeal joint for each."""
    end: FloatArray
    """(n,) the best place of the distal interphalangeal joint for each."""


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
    whole = (1.0 - places[knuckle])[:, None]
    rows = [_near(places, expected) for expected in (prior.middle, prior.end)]
    second, third = (places[row] for row in rows)
    own = [
        gain[row] - _against(places[row], expected)
        for row, expected in zip(rows, (prior.middle, prior.end), strict=True)
    ]
    one = (second[None, :] - places[knuckle][:, None]) / whole
    three = (1.0 - third)[None, :] / whole
    pair = own[0][None, :] - _against(one, prior.first_bone)
    pair[one < LEAST_BONE] = -np.inf
    tail = own[1][None, :] - _against(three, prior.last_bone)
    total = pair[:, :, None] + tail[:, None, :]
    total[(1.0 - one)[:, :, None] - three[:, None, :] < LEAST_BONE] = -np.inf
    flat = total.reshape(len(knuckle), -1)
    best = flat.argmax(axis=1)
    j, k = np.unravel_index(best, total.shape[1:])
    score = gain[knuckle] + flat[np.arange(len(knuckle)), best]
    return FingerScores(places[knuckle], score, second[j], third[k])


def choose_joints(
    prior: KnucklePrior, scores: Mapping[str, FingerScores], visible: Mapping[str, float]
) -> tuple[dict[str, tuple[float, float, float]], float]:
    """Choose the joints of all fingers of a hand together.

    Args:
        prior: expectations of the knuckles.
        scores: by finger name.
        visible: length of each visible finger, share of the hand's length.

    Returns:
        Places of the three joints by finger name, in visible lengths from the web, and how far
        behind the web the knuckles of this hand lie (share of its length, the index finger's).
    """
    shared = prior.behind + prior.shared_spread * np.linspace(-3.0, 3.0, 61)
    total = -_against(shared, (prior.behind, prior.shared_spread))
    picks: dict[str, IntArray] = {}
    for name, finger in scores.items():
        behind = -finger.knuckle * visible[name]
        expected = shared + prior.further.get(name, 0.0)
        value = finger.score[None, :] - _against(
            behind[None, :] - expected[:, None], (0.0, prior.own_spread)
        )
        picks[name] = value.argmax(axis=1)
        total = total + value.max(axis=1)
    best = int(np.argmax(total))
    chosen = {}
    for name, finger in scores.items():
        i = int(picks[name][best])
        chosen[name] = (float(finger.knuckle[i]), float(finger.middle[i]), float(finger.end[i]))
    return chosen, float(shared[best])


def _against(values: FloatArray, expected: tuple[float, float]) -> FloatArray:
    """Half the squared distance from what is expected, in standard deviations."""
    return np.asarray(0.5 * ((values - expected[0]) / expected[1]) ** 2)


def _near(places: FloatArray, expected: tuple[float, float]) -> IntArray:
    """Places near to what is expected; the nearest one at least."""
    near = np.flatnonzero(np.abs(places - expected[0]) <= FARTHEST * expected[1])
    return near if len(near) else np.array([int(np.argmin(np.abs(places - expected[0])))])
