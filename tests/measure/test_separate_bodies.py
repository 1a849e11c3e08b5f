"""`measure.separate_bodies`: figures are counted, not props and loose limbs."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.separate_bodies import count_bodies
from autoplace.measure.solid import Solid


def solid_of(*boxes: tuple[slice, slice, slice]) -> Solid:
    coverage = np.zeros((100, 60, 20), dtype=np.float32)
    for box in boxes:
        coverage[box] = 1.0
    return Solid(coverage, np.zeros(3), 1 / 60)


FIGURE = (slice(5, 25), slice(0, 60), slice(5, 15))


@pytest.mark.parametrize(
    ("others", "count"),
    [
        ([], 1),
        ([(slice(60, 80), slice(0, 60), slice(5, 15))], 2),
        ([(slice(60, 70), slice(0, 32), slice(5, 13))], 2),
        ([(slice(60, 62), slice(0, 60), slice(5, 7))], 1),
        ([(slice(60, 66), slice(0, 60), slice(5, 11))], 1),
        ([(slice(60, 80), slice(20, 40), slice(5, 15))], 1),
    ],
    ids=[
        "alone",
        "twins",
        "with_a_child",
        "with_a_spear",
        "with_a_thick_staff",
        "with_a_loose_chest",
    ],
)
def test_figures_are_counted(others, count):
    """A second piece counts when it is tall and large at once."""
    assert count_bodies(solid_of(FIGURE, *others)) == count


def test_nothing_is_no_body():
    """An empty solid has no figure."""
    assert count_bodies(solid_of()) == 0


def test_the_halves_of_a_robot_are_one_figure():
    """A chest with its head that hovers over a pelvis with its legs is no second figure."""
    chest = (slice(5, 25), slice(29, 60), slice(5, 15))
    legs = (slice(5, 25), slice(0, 27), slice(5, 15))
    assert count_bodies(solid_of(chest, legs)) == 1
