"""The row of webs, and which one stands out of it."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.finger_webs import BEHIND, GROWN, IN_ROW, PALM, beyond_row

PAIRS = [("index", "middle"), ("middle", "ring"), ("ring", "pinky")]
ROW = PALM - 0.5 * np.array([sum(BEHIND.get(name, 0.0) for name in pair) for pair in PAIRS])
"""Webs of a hand of length 1 as they follow the knuckles."""


def test_webs_in_a_row_stay() -> None:
    """Webs that follow the knuckles, and such as stray a little, are left where they are."""
    assert beyond_row(ROW, PAIRS) == pytest.approx(0.0)
    out = np.array([0.0, 0.9 * IN_ROW * ROW[1] / PALM, 0.0])
    assert beyond_row(ROW + out, PAIRS) == pytest.approx(0.0)


@pytest.mark.parametrize("number", range(3))
def test_a_web_of_grown_fingers_is_brought_back_to_the_row(number: int) -> None:
    """Fingers grown together up to a joint begin where the others do; the hand's length is guessed
    from the webs, so by a thousandth of it more or less."""
    out = np.zeros(3)
    out[number] = 0.15
    assert beyond_row(ROW + out, PAIRS) == pytest.approx(out, abs=1e-3)


def test_nothing_jumps_between_the_two() -> None:
    """From a web in the row to a grown one the correction grows without a jump."""
    middle = np.array([0.0, 1.0, 0.0])
    ways = np.linspace(0.5 * IN_ROW, 1.5 * GROWN, 200)
    moved = [float(beyond_row(ROW + way * middle, PAIRS)[1]) for way in ways]
    assert np.all(np.diff(moved) >= 0.0)
    assert np.diff(moved).max() < 6.0 * (ways[1] - ways[0])


@pytest.mark.parametrize("count", [0, 1])
def test_one_web_has_no_row(count: int) -> None:
    """Where there is no other web nothing is moved."""
    assert beyond_row(np.full(count, 0.8), PAIRS[:count]) == pytest.approx(0.0)
