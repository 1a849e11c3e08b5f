"""How far a finger bends, on lines whose bends are known."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.finger_line import FingerLine
from autoplace.measure.finger_order import bend_towards

ALONG, PALM = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, -1.0])


def finger(bends: tuple[float, ...], bone: float = 1.0) -> FingerLine:
    """A line of bones of one length, each turned to the palm by degrees more than the last."""
    angles = np.radians(np.cumsum(bends))
    ways = np.cos(angles)[:, None] * ALONG + np.sin(angles)[:, None] * PALM
    steps = np.repeat(ways * bone / 10.0, 10, axis=0)
    points = np.concatenate([[np.zeros(3)], np.cumsum(steps, axis=0)])
    arc = np.linspace(0.0, bone * len(bends), len(points))
    tangents = np.gradient(points, arc, axis=0)
    tangents /= np.linalg.norm(tangents, axis=1, keepdims=True)
    return FingerLine(points, arc, tangents, np.full(len(points), 0.2), 0.0, arc[-1])


@pytest.mark.parametrize("bends", [(0.0, 0.0, 0.0), (18.0, 22.0, 12.0), (72.0, 88.0, 52.0)])
def test_bends_add_up_also_beyond_two_right_angles(bends: tuple[float, ...]) -> None:
    """From the hand's own direction on the end is turned by the sum of the bends, a fist's by more
    than half a turn."""
    assert np.degrees(bend_towards(finger(bends), ALONG, PALM)) == pytest.approx(sum(bends))


def test_a_finger_that_bends_back_counts_below_nothing() -> None:
    """A finger bent away from the palm has a negative bend."""
    bend = bend_towards(finger((-10.0, -5.0, -5.0)), ALONG, PALM)
    assert np.degrees(bend) == pytest.approx(-20.0)
