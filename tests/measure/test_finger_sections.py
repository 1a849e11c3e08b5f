"""`measure.finger_sections`: the middles of a finger's sections."""

from __future__ import annotations

import numpy as np

from autoplace.measure.finger_sections import _slices

CELL = 0.001


def test_levels_with_the_same_middle_are_one():
    """Two levels of cells may have their middle at the same point: no length of line between."""
    grid = np.stack(np.meshgrid(*[np.arange(5)] * 2, np.arange(40), indexing="ij"), axis=-1)
    points = CELL * (grid.reshape(-1, 3) - [2.0, 2.0, 0.0])
    line = CELL * np.array([[0, 0, 2], [0, 0, 12], [0, 0, 12], [0, 0, 25], [0, 0, 36.0]])
    middles, area = _slices(line, points, np.ones(len(points)), CELL)
    assert np.abs(middles[:, :2]).max() < 1e-9
    assert np.all(np.diff(middles[:, 2]) > 0.0)
    assert abs(np.mean(area) / (25.0 * CELL**2) - 1.0) < 0.02


def test_a_line_of_one_point_has_no_sections():
    """Where a finger's levels all have one middle, nothing tells where it runs."""
    line = np.zeros((4, 3))
    middles, area = _slices(line, np.eye(3) * CELL, np.ones(3), CELL)
    assert middles.shape == (0, 3)
    assert area.shape == (0,)
