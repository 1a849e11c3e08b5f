"""T-pose and A-pose from whatever pose the figure was modelled in."""

from __future__ import annotations

import numpy as np
import pytest

from tests.skeleton.bending.bent import bent, figure


@pytest.mark.parametrize("pose", ["T", "A", "hanging", "straight"])
def test_arms_are_brought_there(pose):
    """From every pose the upper arms reach both stances and the elbows straighten."""
    result = bent(figure(pose), "stances")["stances"]
    assert set(result.poses) == {"T-pose", "A-pose"}
    for of in ("reached", "straight"):
        assert max(m.value for m in result.measures if m.of == of) < 1e-5


def test_a_figure_in_the_stance_is_not_turned():
    """The straight T-pose needs no turn to be a T-pose."""
    pose = bent(figure("straight"), "stances")["stances"].poses["T-pose"]
    turns = np.array([list(vars(turn).values()) for turn in pose.values()])
    assert np.abs(turns).max() == pytest.approx(0, abs=1e-6)


def test_palms_are_told_as_they_come():
    """In the T-pose the palms of a figure made palm down face down; nothing is held against it."""
    result = bent(figure("T"), "stances")["stances"]
    palms = [m for m in result.measures if m.of == "palm" and m.pose == "T-pose"]
    assert len(palms) == 2
    assert all(m.passed is None and m.value < 10 for m in palms)
