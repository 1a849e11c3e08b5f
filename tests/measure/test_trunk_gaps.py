"""Gaps in the middle of a trunk are told from the crotch."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.trunk_gaps import hangs_behind, lowest_of_trunk

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


def body(trunk: tuple[float, float], behind: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Cells (20, 100, 40) of a figure on two legs and of its middle plane: a trunk between two
    heights, a head above .55, limbs at both sides of the gap and below; and a sheet behind all."""
    inside = np.zeros((20, len(LEVELS), 40), dtype=bool)
    solid = levels(trunk, (0.55, 1.0))
    inside[:, solid, 15:25] = True
    for column in (2, 3, 4, 15, 16, 17):
        inside[column, ~solid, 15:25] = True
    inside[:, levels(behind), 5:7] = True
    return inside, inside[9:11].all(axis=0)


@pytest.mark.parametrize(
    ("trunk", "behind", "hanging"),
    [
        ((0.30, 0.55), (0.05, 0.30), (0.05, 0.30)),
        ((0.30, 0.55), (0.05, 0.60), (0.05, 0.30)),
        ((0.30, 0.51), (0.45, 0.60), (0.0, 0.0)),
        ((0.30, 0.51), (0.05, 0.60), (0.05, 0.30)),
    ],
    ids=["tail", "coat", "cape_behind_an_open_throat", "long_cape_behind_an_open_throat"],
)
def test_what_hangs_behind_legs_is_told_from_what_hangs_behind_a_throat(trunk, behind, hanging):
    """Where the trunk goes on below, a cape fills the gap; between the legs it is no trunk."""
    found = hangs_behind(*body(trunk, behind), CELL)
    assert np.array_equal(found[levels(behind)], levels(hanging)[levels(behind)])
