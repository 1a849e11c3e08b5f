"""The likeliest places of a finger's three joints along its line, from all that speaks for them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["ChainPrior", "find_joints"]

FloatArray = NDArray[np.float64]


FARTHEST = 4.5
"""Places farther than so many standard deviations from where a joint is expected are left out."""
LEAST_BONE = 0.1
"""Shortest bone, share of the whole finger."""


@dataclass(frozen=True)
class ChainPrior:
    """What is expected of a finger. Shares of the visible finger (from its web to its end) for
    places; shares of the whole finger (from its knuckle to its end) for bones; each with one
    standard deviation."""

    knuckle: tuple[float, float]
    """Place of the knuckle; negative is behind the web."""
    middle: tuple[float, float]
    """Place of the proximal interphalangeal joint."""
    end: tuple[float, float]
    """Place of the distal interphalangeal joint."""
    first_bone: tuple[float, float]
    """Knuckle to proximal interphalangeal joint."""
    last_bone: tuple[float, float]
    """Distal interphalangeal joint to the end of the finger."""


def find_joints(
    prior: ChainPrior, places: FloatArray, turn: FloatArray, sharpness: float
) -> tuple[int, int, int]:
    """Choose the three places with the highest joint likelihood.

    Args:
        prior: expectations.
        places: (n,) candidate places along the finger, in visible lengths from the web; rising.
        turn: (n,) turn of the skin of the back towards the palm at each, radians; 0 if unknown.
        sharpness: turn that makes a place e times as likely to be a joint, radians.

    Returns:
        Indices of knuckle, proximal and distal interphalangeal joint.
    """

    def against(values: FloatArray, expected: tuple[float, float]) -> FloatArray:
        return 0.5 * ((values - expected[0]) / expected[1]) ** 2

    gain = turn / sharpness
    scores, rows = [], []
    for expected in (prior.knuckle, prior.middle, prior.end):
        score = gain - against(places, expected)
        near = np.flatnonzero(np.abs(places - expected[0]) <= FARTHEST * expected[1])
        if not len(near):
            near = np.array([int(np.argmin(np.abs(places - expected[0])))])
        scores.append(score[near])
        rows.append(near)
    first, second, third = (places[near] for near in rows)
    whole = np.maximum(1.0 - first, 1e-3)[:, None]
    one = (second[None, :] - first[:, None]) / whole
    three = (1.0 - third)[None, :] / whole
    pair = scores[0][:, None] + scores[1][None, :] - against(one, prior.first_bone)
    pair[one < LEAST_BONE] = -np.inf
    tail = scores[2][None, :] - against(three, prior.last_bone)
    total = pair[:, :, None] + tail[:, None, :]
    total[(1.0 - one)[:, :, None] - three[:, None, :] < LEAST_BONE] = -np.inf
    i, j, k = np.unravel_index(int(np.argmax(total)), total.shape)
    return int(rows[0][i]), int(rows[1][j]), int(rows[2][k])
