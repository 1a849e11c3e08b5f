"""The plane in which a skeleton's sides mirror one another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.skeleton.symmetry_plane import SymmetryPlane, symmetry_plane
from tests.figures import moved
from tests.placed_figure import placed_figure


def test_the_plane_of_a_figure_about_zero_is_at_zero():
    """Also after rounding of single-precision files, and then images are clean."""
    rounded = {j.name: j.position.astype(np.float32).astype(float) for j in placed_figure()}
    plane = symmetry_plane(moved(placed_figure(), rounded))
    assert plane.middle == 0.0
    assert np.array_equal(plane.left, [1.0, 0.0, 0.0])
    point = np.array([0.1234567891234, 0.3, -0.7])
    assert np.array_equal(plane.image(point), point * [-1, 1, 1])


def test_a_shifted_figure_has_a_shifted_plane():
    """Points mirror about where the figure stands, displacements about zero."""
    aside = np.array([2.5, 0.0, 0.0])
    figure = moved(placed_figure(), {j.name: j.position + aside for j in placed_figure()})
    plane = symmetry_plane(figure)
    assert plane.middle == pytest.approx(2.5, abs=1e-12)
    assert plane.image(np.array([2.7, 1.0, 0.5])) == pytest.approx([2.3, 1.0, 0.5])
    assert np.array_equal(plane.image_of_shift(np.array([0.2, 0.1, 0.3])), [-0.2, 0.1, 0.3])


def test_a_file_whose_left_is_another_axis_is_mirrored_along_that():
    """Left follows from what the file says of up and forward; here it is +Y."""
    turned = {j.name: j.position[[2, 0, 1]] for j in placed_figure()}  # left +Y, up +Z, ahead +X
    figure = replace(
        moved(placed_figure(), turned),
        source=replace(placed_figure().source, up="+Z", forward="+X"),
        settings={},
    )
    plane = symmetry_plane(figure)
    assert np.array_equal(plane.left, [0.0, 1.0, 0.0])
    assert np.array_equal(plane.image(np.array([0.3, 0.1, 0.9])), [0.3, -0.1, 0.9])


def test_an_image_of_an_image_is_the_point():
    """In a plane that stands askew, to rounding."""
    left = np.array([2.0, -1.0, 2.0]) / 3.0
    plane = SymmetryPlane(left, 0.4)
    point = np.array([0.3, 1.7, -0.2])
    assert plane.image(plane.image(point)) == pytest.approx(point, abs=1e-15)
    assert plane.beside(plane.image(point)) == pytest.approx(-plane.beside(point), abs=1e-15)
    foot = plane.at_side_of(point, 0.4 * left)
    assert plane.beside(foot) == pytest.approx(0.0, abs=1e-15)
    assert np.cross(point - foot, left) == pytest.approx(np.zeros(3), abs=1e-15)
