"""The point of the body beneath cloth: nearest, and interpolated in its triangle."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy import sparse

from autoplace.skeleton.skin.worn_shares import nearest_beneath
from tests.figures import X, Y
from tests.tubes import tube

TRIANGLE = np.array([[0.0, 0, 0], [1.0, 0, 0], [0.0, 1.0, 0]])


@pytest.mark.parametrize(
    ("point", "shares", "gap"),
    [
        ((0.25, 0.25, 0.3), (0.5, 0.25, 0.25), 0.3),  # over the inside
        ((-1.0, -1.0, 0.0), (1.0, 0.0, 0.0), np.sqrt(2.0)),  # beyond a corner
        ((0.5, -0.4, 0.3), (0.5, 0.5, 0.0), 0.5),  # beyond a side
        ((1.0, 1.0, 0.0), (0.0, 0.5, 0.5), np.sqrt(0.5)),  # beyond the long side
    ],
)
def test_the_nearest_point_of_one_triangle(point, shares, gap):
    """Worked by hand: the foot inside, on a side, and at a corner."""
    found = nearest_beneath(np.array([point]), TRIANGLE, np.array([[0, 1, 2]]))
    assert found.shares[0] == pytest.approx(shares, abs=1e-12)
    assert found.gap[0] == pytest.approx(gap)


def test_a_triangle_without_area_has_sides():
    """Three corners on a line: the nearest point lies on the line."""
    line = np.array([[0.0, 0, 0], [1.0, 0, 0], [3.0, 0, 0]])
    found = nearest_beneath(np.array([[2.0, 1.0, 0.0]]), line, np.array([[0, 1, 2]]))
    assert found.gap[0] == pytest.approx(1.0)
    assert found.points(line)[0] == pytest.approx([2.0, 0.0, 0.0])


def test_points_near_a_surface_agree_with_another_library():
    """Points about a tube: as near as trimesh finds, for 98 of 100; it is off by 2e-7 itself."""
    vertices, faces = tube(0.0 * Y, Y, 0.1, rings=12, sides=12)
    draw = np.random.default_rng(4)
    points = draw.normal(0.0, 0.1, (500, 3))
    points[:, 1] = draw.uniform(0.0, 1.0, 500)
    _, known, _ = trimesh.proximity.closest_point(trimesh.Trimesh(vertices, faces), points)
    found = nearest_beneath(points, vertices, faces)
    assert np.all(found.gap > known - 1e-6)
    assert np.mean(found.gap < known + 1e-9) >= 0.98


def test_rows_are_carried_by_the_shares_of_the_corners():
    """Half way between two corners with values 0 and 1 is a half."""
    found = nearest_beneath(0.5 * X[None], TRIANGLE, np.array([[0, 1, 2]]))
    matrix = sparse.csr_matrix(np.array([[0.0], [1.0], [7.0]]))
    assert found.carried(matrix).toarray() == pytest.approx(np.array([[0.5]]))


def test_other_points_may_take_the_place_of_some():
    """Only the named rows change."""
    points = np.array([[0.1, 0.1, 1.0], [0.2, 0.1, 1.0]])
    first = nearest_beneath(points, TRIANGLE, np.array([[0, 1, 2]]))
    high = TRIANGLE + np.array([0, 0, 0.9])
    other = nearest_beneath(points[1:], high, np.array([[0, 1, 2]]))
    both = first.replaced(np.array([1]), other)
    assert both.gap == pytest.approx([1.0, 0.1])
    assert list(first.gap) == pytest.approx([1.0, 1.0])
