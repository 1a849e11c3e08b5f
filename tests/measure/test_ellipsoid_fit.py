"""Ellipsoids fitted to points, against shapes that are known and a reference minimiser."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from autoplace.measure.ellipsoid_fit import EllipsoidFit, fit_ellipsoid
from tests.measure.test_fits import cap

CENTRE = np.array([3.0, -2.0, 5.0])
LENGTHS = np.array([0.6, 1.0, 1.4])
TURN = Rotation.from_euler("xyz", [20, -35, 50], degrees=True).as_matrix()


def oval(count=200, half_angle=180.0, noise=0.0, seed=0):
    """Points of an ellipsoid, about its longest axis, with radial noise before it is stretched."""
    ball = (cap(count, half_angle, noise, seed) - CENTRE) / 1.7
    return CENTRE + (ball * LENGTHS) @ TURN


@pytest.mark.parametrize("half_angle", [60, 90, 180])
def test_exact_points_give_the_exact_ellipsoid(half_angle):
    """Centre, half axes and their directions come back from a whole one and from its front."""
    fit = fit_ellipsoid(oval(half_angle=half_angle))
    assert isinstance(fit, EllipsoidFit)
    np.testing.assert_allclose(fit.center, CENTRE, atol=1e-7)
    np.testing.assert_allclose(fit.lengths, LENGTHS, atol=1e-7)
    np.testing.assert_allclose(np.abs(fit.axes @ TURN.T), np.eye(3), atol=1e-6)
    assert fit.residual < 1e-8
    assert fit.radius == pytest.approx(np.prod(LENGTHS) ** (1 / 3))


def test_told_spread_is_the_scatter():
    """The told spread of the centre is that of many noisy fits, within a third."""
    fits = [fit_ellipsoid(oval(150, 90, 0.01, seed)) for seed in range(80)]
    centres = np.array([fit.center for fit in fits])
    scatter = np.sqrt(np.linalg.eigvalsh(np.cov(centres.T))[-1])
    assert np.median([fit.center_spread for fit in fits]) == pytest.approx(scatter, rel=0.33)


@pytest.mark.parametrize("seed", range(3))
def test_agrees_with_a_reference_minimiser(seed):
    """It lies within its told spread of what scipy finds for the same distances."""
    points = oval(200, 180, 0.01, seed)

    def distance(x):
        local = (points - x[:3]) @ Rotation.from_rotvec(x[6:]).as_matrix().T / x[3:6]
        value = np.linalg.norm(local, axis=1) - 1
        slope = np.linalg.norm(local / x[3:6], axis=1) / np.linalg.norm(local, axis=1)
        return value / slope

    start = [*CENTRE, *LENGTHS, *Rotation.from_matrix(TURN).as_rotvec()]
    known = least_squares(distance, start).x
    fit = fit_ellipsoid(points)
    assert np.linalg.norm(fit.center - known[:3]) < fit.center_spread
    np.testing.assert_allclose(fit.lengths, np.sort(known[3:6]), rtol=0.01)


def test_points_astray_do_not_count():
    """A tenth of the points moved off leaves the centre where it is."""
    points = oval()
    points[::10] += [0.3, 0.2, 0.1]
    fit = fit_ellipsoid(points)
    np.testing.assert_allclose(fit.center, CENTRE, atol=1e-6)
    assert fit.inlier_share < 0.95


@pytest.mark.parametrize("scale", [1e-6, 1e6])
def test_any_magnitude(scale):
    """Units do not matter."""
    fit = fit_ellipsoid(scale * oval())
    np.testing.assert_allclose(fit.center, scale * CENTRE, rtol=1e-7)


@pytest.mark.parametrize(
    "points",
    [
        np.zeros((30, 3)),
        np.eye(3),
        np.stack([np.arange(40.0), np.arange(40.0) % 7, np.zeros(40)], axis=1),
        np.full((30, 3), np.nan),
    ],
    ids=["one point", "too few", "a plane", "not finite"],
)
def test_failure_is_false(points):
    """What lies on no ellipsoid gives a false value that says why."""
    fit = fit_ellipsoid(points)
    assert not fit
    assert "ellipsoid" in str(fit)
