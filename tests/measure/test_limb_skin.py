"""A limb is read between its cells."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.limb_skin import beyond, end_of, limb_skin, share_level
from autoplace.measure.solid import Solid, fill_solid
from tests.measure.test_solid import CLOSED

CELL = 0.07


def shifted(name: str, shift: np.ndarray) -> Solid:
    vertices, faces = CLOSED[name]
    return fill_solid(
        vertices + shift, faces, CELL, vertices.min(axis=0), vertices.max(axis=0) + 0.1
    )


def cells_of(solid: Solid) -> np.ndarray:
    return solid.to_points(np.argwhere(solid.inside))


LEVEL, SLANTED = np.array([0.0, 1.0, 0.0]), np.array([0.6, 0.64, 0.48])


@pytest.mark.parametrize(("name", "way"), [("ball", LEVEL), ("ball", SLANTED), ("box", LEVEL)])
def test_an_end_moves_with_the_shape_however_the_cells_lie(name, way):
    """Wherever a shape lies among the cells, its round or flat end is found at the same place of it
    to a quarter of a cell; the end of a ball is found where it is to a tenth in the mean."""
    vertices, _ = CLOSED[name]
    errors = []
    for step in np.linspace(0.0, 1.0, 9):
        shift = step * CELL * np.array([1.0, 0.7, 0.4])
        solid = shifted(name, shift)
        skin = limb_skin(solid, cells_of(solid))
        end = end_of((skin.points - shift) @ way, skin.share, CELL)
        errors.append((end - (vertices @ way).max()) / CELL)
    assert np.ptp(errors) < 0.25
    if name == "ball":
        assert abs(np.mean(errors)) < 0.1


def test_covered_shares_of_a_limb_are_its_volume():
    """Cells and the partly covered ones around them hold the whole volume."""
    solid = shifted("ball", np.zeros(3))
    skin = limb_skin(solid, cells_of(solid))
    assert skin.share.sum() == pytest.approx(float(solid.coverage.sum()), rel=0.01)


def test_a_level_of_shares_lies_between_the_cells():
    """Half of a row of five cells, the last half covered, lies in the middle of its length 4.5."""
    places, share = np.arange(5.0), np.array([1.0, 1.0, 1.0, 1.0, 0.5])
    assert share_level(places, share, 1.0, 0.5) == pytest.approx(-0.5 + 2.25, abs=0.01)


def test_a_cell_belongs_to_what_lies_beyond_a_level_by_its_own_part():
    """A cell whose middle is a quarter before the level has a quarter of itself beyond it."""
    np.testing.assert_allclose(beyond(np.array([0.0, 0.75, 3.0]), 1.0, 1.0), [0.0, 0.25, 1.0])
