"""Gaps in the middle of a trunk are told from the crotch."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.trunk_gaps import lowest_of_trunk

CELL = 0.01
LEVELS = np.arange(100) * CELL


def levels(*filled: tuple[float, float]) -> np.ndarray:
    """(100,) True from each low end up to the high one."""
    solid = np.zeros(len(LEVELS), dtype=bool)
    for low, high in filled:
        solid[round(low / CELL) : round(high / CELL)] = True
    return solid


@pytest.mark.parametrize(
    ("filled", "gap_area", "lowest"),
    [
        ([(0.47, 1.0)], 1.0, 0.47),
        ([(0.20, 0.50), (0.53, 1.0)], 0.1, 0.20),
        ([(0.20, 0.40), (0.43, 0.50), (0.53, 1.0)], 0.1, 0.20),
        ([(0.35, 0.40), (0.44, 1.0)], 1.1, 0.44),
        ([(0.0, 0.04), (0.09, 1.0)], 0.1, 0.09),
        ([(0.20, 0.40), (0.50, 1.0)], 0.1, 0.50),
    ],
    ids=["no_gap", "hovering_head", "two_gaps", "knees_that_touch", "feet_that_touch", "too_wide"],
)
def test_gaps_are_passed_and_the_crotch_is_not(filled, gap_area, lowest):
    """A gap with nothing in it and a trunk below is passed; thighs, feet or a wide gap end it."""
    solid = levels(*filled)
    area = np.where(solid, 1.0, gap_area)
    assert LEVELS[lowest_of_trunk(solid, area, 55, CELL)] == pytest.approx(lowest)
