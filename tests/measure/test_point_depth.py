"""`measure.point_depth`: how deep a few points lie, to the nearest point of the triangles."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from autoplace.measure.point_depth import depth_of_points
from tests.mesh.capsule_figures import box, capsule

BELOW = 1e-4
LINE = np.array([[0.0, 0.0, 0.0], [0.0, 1.0, 0.2]])


@pytest.fixture(name="cube")
def fixture_cube():
    """A box of sides 1, with the fewest triangles that make one."""
    return box((-0.5, -0.5, -0.5), (0.5, 0.5, 0.5))


def test_a_point_just_under_a_large_triangle_is_no_deeper_than_it_is(cube):
    """No corner is near; the face itself is."""
    at = np.array([[0.2, 0.5 - BELOW, 0.1], [0.2, 0.5 + BELOW, 0.1]])
    assert depth_of_points(*cube, at) == pytest.approx([BELOW, -BELOW])


def test_a_point_beyond_an_edge_and_a_corner_is_as_far_as_these(cube):
    at = np.array([[0.8, 0.9, 0.0], [0.6, 0.7, 0.7]])
    assert depth_of_points(*cube, at) == pytest.approx([-0.5, -0.3])


def test_depths_do_not_depend_on_the_order_of_the_triangles():
    """To the last digit: what placing checks and what is checked of the file later is the same."""
    vertices, faces = capsule(*LINE, 0.1, 0.08)
    draw = np.random.default_rng(7)
    at = draw.uniform(-0.2, 1.2, (50, 3))
    shuffled = draw.permutation(faces)
    assert depth_of_points(vertices, faces, at).tolist() == (
        depth_of_points(vertices, shuffled, at).tolist()
    )


def test_depths_agree_with_another_library():
    """`trimesh.proximity.signed_distance`, positive inside too."""
    vertices, faces = capsule(*LINE, 0.1, 0.08)
    at = np.random.default_rng(8).uniform(-0.2, 1.2, (100, 3))
    known = trimesh.proximity.signed_distance(trimesh.Trimesh(vertices, faces), at)
    assert depth_of_points(vertices, faces, at) == pytest.approx(known, abs=1e-7)
