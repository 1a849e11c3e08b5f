"""Joints of a finger are weighed over all places, not picked."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.place.chain_search import (
    BonePrior,
    KnucklePrior,
    mean_and_spread,
    score_finger,
    weigh_joints,
)
from autoplace.place.placed_point import placed
from autoplace.place.skin_bend import told_beside

PLACES = np.arange(-1.1, 0.92, 0.02)
BONES = BonePrior((0.33, 0.07), (0.65, 0.06), (0.42, 0.05), (0.28, 0.05))
KNUCKLES = KnucklePrior(0.06, 0.05, 0.015, {})
VISIBLE = {"index": 0.42}


def bump(at: float, size: float) -> np.ndarray:
    return size * np.exp(-0.5 * ((PLACES - at) / 0.06) ** 2)


def joints_of(turn: np.ndarray) -> np.ndarray:
    scores = {"index": score_finger(BONES, PLACES, turn, 0.1)}
    found, _ = weigh_joints(KNUCKLES, scores, VISIBLE)
    return found["index"].mean


def test_a_bump_of_the_skin_draws_the_joint_to_itself():
    """The end joint goes most of the way to a bump a spread beyond where it is expected."""
    plain, drawn = joints_of(np.zeros(len(PLACES)))[2], joints_of(bump(0.71, 0.4))[2]
    assert 0.5 * (0.71 - plain) < drawn - plain < 0.71 - plain


def test_no_joint_jumps_from_bump_to_bump():
    """As one of two bumps grows and the other wanes, the joint goes from the one to the other by
    less than a hundredth of the finger at a time."""
    ends = [
        joints_of(bump(0.60, 0.4 * (1.0 - part)) + bump(0.71, 0.4 * part))[2]
        for part in np.linspace(0.0, 1.0, 41)
    ]
    assert ends[-1] - ends[0] > 0.06
    assert np.abs(np.diff(ends)).max() < 0.01
    assert (np.diff(ends) > 0.0).all()


def test_knuckles_of_a_hand_draw_one_another():
    """A finger whose skin shows nothing follows the knuckle of its neighbour."""
    none = np.zeros(len(PLACES))
    shown = bump(-0.30, 0.5)

    def knuckle_beside(turn: np.ndarray) -> float:
        turns = {"index": none, "middle": turn}
        scores = {name: score_finger(BONES, PLACES, t, 0.1) for name, t in turns.items()}
        found, _ = weigh_joints(KNUCKLES, scores, dict.fromkeys(turns, 0.42))
        return float(found["index"].mean[0])

    assert knuckle_beside(shown) < knuckle_beside(none) - 0.03


def test_mean_and_spread_are_those_of_a_normal_distribution():
    """Of values as likely as a normal distribution has them."""
    values = np.linspace(-8.0, 12.0, 4001)
    mean, spread = mean_and_spread(values, np.exp(-0.5 * ((values - 2.0) / 0.7) ** 2))
    assert (mean, spread) == (pytest.approx(2.0), pytest.approx(0.7))


@pytest.mark.parametrize("found", [(1.2, 0.3), (0.4, 0.9), (1.0, 2.5)])
def test_what_was_told_makes_of_the_expectation_what_was_found(found):
    """Weighed together, the expectation and what was told beside it give the place found."""
    expected = (1.0, 1.0)
    told = told_beside(expected, found)
    rows = [
        (k, np.full(3, place), spread, k)
        for k, (place, spread) in zip("ab", (expected, told), strict=True)
    ]
    assert placed(rows).position == pytest.approx(np.full(3, found[0]))
    assert told[1] > 0.0
