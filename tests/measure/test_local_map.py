"""Points carried by the vertices around them: moves that are known in closed form."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from autoplace.measure.local_map import carry_by_vertices, moves_as_one

TURN = Rotation.from_rotvec([0.4, -1.1, 0.7]).as_matrix()
MIRROR = np.diag([-1.0, 1.0, 1.0])


@pytest.fixture(scope="module")
def tube() -> trimesh.Trimesh:
    """A rod along +Y of length 1 and radius 0.05, closed, finely cut."""
    y, around = np.linspace(0.0, 1.0, 81), np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    rings = [[0.05 * np.cos(a), h, 0.05 * np.sin(a)] for h in y for a in around]
    index = np.arange(80 * 24)
    right = index // 24 * 24 + (index + 1) % 24
    sides = np.concatenate(
        [np.stack([index, index + 24, right], 1), np.stack([right, index + 24, right + 24], 1)]
    )
    return trimesh.Trimesh(np.array(rings), sides, process=False)


POINTS = np.array([[0.0, 0.5, 0.0], [0.02, 0.3, -0.01], [-0.03, 0.7, 0.02], [0.0, 0.4, 0.05]])
"""On the rod's axis, beside it, and on its surface."""


def test_where_nothing_moved_points_are_the_same_to_the_last_bit(tube):
    """An unchanged surface moves nothing and fits without rest."""
    carried, misfit = carry_by_vertices(POINTS, tube.vertices, tube.vertices.copy(), tube.faces)
    assert np.array_equal(carried, POINTS)
    assert not misfit.any()


@pytest.mark.parametrize("scale", [1e-6, 0.01, 1.0, 100.0])
def test_a_turn_a_shift_and_other_units_are_followed_exactly(tube, scale):
    """A similarity of the surface is the map of the points too."""
    shift = np.array([3.0, -2.0, 9.0]) * scale
    new = scale * tube.vertices @ TURN.T + shift
    carried, misfit = carry_by_vertices(POINTS, tube.vertices, new, tube.faces)
    assert np.abs(carried - (scale * POINTS @ TURN.T + shift)).max() < 1e-9 * scale
    assert misfit.max() < 1e-9 * scale


def test_a_limb_that_grows_longer_and_thicker_takes_its_points_along(tube):
    """Stretched by 1.3 along and 1.5 across, a point keeps its shares of both."""
    grown = np.array([1.5, 1.3, 1.5])
    carried, _ = carry_by_vertices(POINTS, tube.vertices, grown * tube.vertices, tube.faces)
    assert np.abs(carried - grown * POINTS).max() < 0.0005


def test_a_limb_that_bends_keeps_points_on_its_axis(tube):
    """A rod bent to a quarter circle: what lay on its axis lies on that circle."""
    radius = 2.0 / np.pi

    def bent(points: np.ndarray) -> np.ndarray:
        angle, out = points[:, 1] / radius, radius - points[:, 0]
        return np.stack([radius - out * np.cos(angle), out * np.sin(angle), points[:, 2]], 1)

    axis = np.array([[0.0, h, 0.0] for h in (0.3, 0.5, 0.7)])
    carried, misfit = carry_by_vertices(axis, tube.vertices, bent(tube.vertices), tube.faces)
    assert np.linalg.norm(carried - bent(axis), axis=1).max() < 0.001
    assert np.all(misfit > 0.0)


def test_what_happens_far_away_does_not_count(tube):
    """A bump at one end of the rod leaves a point at the other end where it was."""
    new = tube.vertices.copy()
    new[tube.vertices[:, 1] > 0.9] *= [3.0, 1.0, 3.0]
    point = np.array([[0.0, 0.2, 0.0]])
    carried, _ = carry_by_vertices(point, tube.vertices, new, tube.faces)
    assert np.linalg.norm(carried - point) < 1e-4


def test_the_mirrored_change_moves_the_mirrored_points(tube):
    """Nothing prefers a side."""
    new = tube.vertices * [1.2, 1.1, 0.9] + 0.02 * np.sin(9.0 * tube.vertices[:, [1, 2, 0]])
    carried, _ = carry_by_vertices(POINTS, tube.vertices, new, tube.faces)
    mirrored, _ = carry_by_vertices(
        POINTS @ MIRROR, tube.vertices @ MIRROR, new @ MIRROR, tube.faces[:, ::-1]
    )
    assert np.abs(mirrored - carried @ MIRROR).max() < 1e-12


def test_vertices_in_another_order_do_not_correspond(tube):
    """A bent and grown rod is the same surface; one with its vertices shuffled is not."""
    grown = 100.0 * tube.vertices @ TURN.T * [1.0, 2.0, 1.0]
    shuffled = np.random.default_rng(3).permutation(tube.vertices)
    assert moves_as_one(tube.vertices, grown)
    assert not moves_as_one(tube.vertices, shuffled)
    assert not moves_as_one(tube.vertices, np.zeros_like(grown))
