"""The wrist is where the arm begins to broaden, however the mesh ends below it."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.hand_region import HandRegion
from autoplace.measure.hand_wrist import find_wrist
from autoplace.measure.solid import Solid

LENGTH, CELL = 0.18, 0.0027
ROOTS = np.array([0.0, 0.09, 0.0])
"""Middle of the roots of the fingers, half a hand beyond the wrist."""


def wrist_of(end: float, slope: float) -> float:
    """Height, in hands, of the wrist found on a round arm that broadens to a palm from height 0 on;
    the arm is cut off at a height, aslant by a slope."""
    x = np.arange(-20, 21) * CELL
    y = np.arange(-40, 60) * CELL
    grid = np.stack(np.meshgrid(x, y, x, indexing="ij"), axis=-1)
    radius = 0.025 + 0.012 * np.clip(grid[..., 1] / 0.06, 0.0, 1.0)
    around = (radius - np.hypot(grid[..., 0], grid[..., 2])) / CELL + 0.5
    above = (grid[..., 1] - end - slope * grid[..., 0]) / CELL + 0.5
    beyond = (0.13 - grid[..., 1]) / CELL + 0.5
    coverage = np.clip(np.minimum(np.minimum(around, above), beyond), 0.0, 1.0)
    origin = np.array([x[0], y[0], x[0]])
    region = HandRegion(Solid(coverage.astype(np.float32), origin, CELL), np.eye(3), np.zeros(3))
    return float(find_wrist(region, ROOTS, LENGTH).position[1]) / LENGTH


@pytest.mark.parametrize("slope", [0.0, 0.3, 0.6])
@pytest.mark.parametrize("end", [-0.06, -0.045, -0.03])
def test_an_arm_cut_off_aslant_has_its_wrist_where_a_long_one_has(end, slope):
    """Sections of which the mesh's end takes a part say nothing: the wrist stays within 1 percent
    of the hand."""
    assert wrist_of(end, slope) == pytest.approx(wrist_of(-0.3, 0.0), abs=0.01)
