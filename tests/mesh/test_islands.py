"""Connected sets of triangles."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.mesh.islands import KEPT_ISLANDS, find_islands
from tests.mesh.capsule_figures import box, figure, joined, sphere


def ball(x, radius=0.4):
    return sphere(np.array([x, 0.0, 0.0]), radius, rings=6)


def test_pieces_of_one_object_are_told_apart():
    """Two balls in one object are two islands, numbered in the order of their faces."""
    islands = find_islands(figure({"both": joined(ball(0), ball(1))}))
    assert islands.count == 2
    half = len(islands.label) // 2
    np.testing.assert_array_equal(islands.label, np.repeat([0, 1], half))


def test_seams_are_joined_by_position():
    """Corners that share a place but not a vertex do not break a surface up."""
    vertices, faces = ball(0)
    soup = (vertices[faces].reshape(-1, 3), np.arange(faces.size).reshape(-1, 3))
    assert find_islands(figure({"soup": soup})).count == 1


def test_parts_that_share_a_border_are_one_island():
    """A head and a body cut apart along a ring of vertices hang together over the two parts."""
    vertices, faces = ball(0)
    upper = vertices[faces][:, :, 2].mean(axis=1) > 0
    parts = {"head": (vertices, faces[upper]), "body": (vertices, faces[~upper])}
    islands = find_islands(figure(parts))
    assert islands.count == 1
    assert set(islands.part_of_face) == {0, 1}


@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e6])
@pytest.mark.parametrize("shift", [0.0, 1000.0])
def test_any_magnitude_and_place(scale, shift):
    """Balls a thousandth of the size apart stay apart at any magnitude and far from the origin."""
    pair = joined(ball(0), ball(0.801))
    vertices = (pair[0] + shift) * scale
    assert find_islands(figure({"pair": (vertices, pair[1])})).count == 2


def test_many_small_pieces_are_put_together():
    """Beyond the largest ones, the small pieces of a part are one group; other parts are not."""
    beads = joined(*[ball(x, 0.1 + 0.001 * x) for x in range(300)])
    islands = find_islands(figure({"beads": beads, "box": box((0, 5, 0), (1, 6, 1))}))
    assert islands.count == KEPT_ISLANDS + 2
    assert islands.grouped.sum() == 1
    group = int(np.argmax(islands.grouped))
    assert set(islands.part_of_face[islands.label == group]) == {0}


def test_jittered_soup_is_joined_again():
    """Unwelded triangles whose corners are a hair apart are one island."""
    vertices, faces = sphere(np.zeros(3), 1.0, rings=24)
    corners = vertices[faces].reshape(-1, 3)
    corners = corners + np.random.default_rng(0).normal(size=corners.shape) * 2e-5
    soup = (corners, np.arange(faces.size).reshape(-1, 3))
    assert find_islands(figure({"soup": soup})).count == 1
