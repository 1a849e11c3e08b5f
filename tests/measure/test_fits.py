"""Spheres fitted to points, against closed forms and an independent robust regression."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares
from sklearn.linear_model import HuberRegressor, LinearRegression, RANSACRegressor

from autoplace.measure.fits import RadiusPrior, SphereFit, fit_sphere, vertex_areas
from tests.examples import each_time
from tests.mesh.capsule_figures import sphere

CENTRE = np.array([3.0, -2.0, 5.0])
RADIUS = 1.7


def cap(count, half_angle, noise=0.0, seed=0):
    """Points spread evenly over a cap about +Z, with radial noise in radii."""
    k = np.arange(count)
    z = 1 - (1 - np.cos(np.radians(half_angle))) * (k + 0.5) / count
    turn = k * np.pi * (3 - np.sqrt(5))
    side = np.sqrt(1 - z * z)
    direction = np.stack([side * np.cos(turn), side * np.sin(turn), z], axis=1)
    scatter = 1 + noise * np.random.default_rng(seed).normal(size=count)
    return CENTRE + RADIUS * direction * scatter[:, None]


def off(fit):
    """Error of the centre in radii."""
    assert isinstance(fit, SphereFit)
    return float(np.linalg.norm(fit.center - CENTRE)) / RADIUS


@pytest.mark.parametrize("half_angle", [15, 30, 60, 70.5, 90, 180])
def test_exact_points_give_the_exact_sphere(half_angle):
    """Without noise a cap of any size gives the sphere back, and how much of it was seen."""
    fit = fit_sphere(cap(200, half_angle))
    assert off(fit) < 1e-8
    assert fit.radius == pytest.approx(RADIUS, rel=1e-8)
    assert fit.residual < 1e-8 * RADIUS
    expected = (1 - np.cos(np.radians(half_angle))) / 2
    assert fit.share_seen == pytest.approx(expected, abs=0.03)


def test_four_points_are_enough():
    """The sphere through four points, known by hand: the corners of a unit tetrahedron."""
    fit = fit_sphere([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], robust=False)
    np.testing.assert_allclose(fit.center, [0.5, 0.5, 0.5], atol=1e-9)
    assert fit.radius == pytest.approx(np.sqrt(0.75))


def test_whole_sphere_with_noise():
    """One percent of noise on a whole sphere moves the centre by its standard error only."""
    errors = np.array([off(fit_sphere(cap(400, 180, 0.01, seed))) for seed in range(60)])
    # each of three coordinates has the standard error sigma sqrt(3 / n)
    expected = 0.01 * np.sqrt(3 / 400) * np.sqrt(3)
    assert np.sqrt((errors**2).mean()) == pytest.approx(expected, rel=0.2)


def test_cap_of_a_third_with_noise():
    """A third of a sphere with one percent of noise stays within two percent."""
    errors = [off(fit_sphere(cap(200, 70.5, 0.01, seed))) for seed in range(50)]
    assert max(errors) < 0.02


@pytest.mark.parametrize("half_angle", each_time((30, 90), (40, 60)))
def test_spread_is_the_closed_form(half_angle):
    """The told spread and the scatter of the centre are sigma sqrt(12/n) / (1 - cos angle)."""
    noise, count = 0.01, 200
    fits = [fit_sphere(cap(count, half_angle, noise, seed)) for seed in range(120)]
    depth = np.array([fit.center[2] - CENTRE[2] for fit in fits]) / RADIUS
    told = np.median([fit.center_spread for fit in fits]) / RADIUS
    formula = noise * np.sqrt(12 / count) / (1 - np.cos(np.radians(half_angle)))
    assert depth.std() == pytest.approx(formula, rel=0.25)
    assert told == pytest.approx(formula, rel=0.25)
    # no bias toward the surface, within three standard errors
    assert abs(depth.mean()) < 3 * formula / np.sqrt(120) + 0.1 * formula


def test_less_biased_than_the_linear_sphere():
    """On a small cap the linear sphere is drawn to the surface; ours is not."""
    ours, linear = [], []
    for seed in range(30):
        points = cap(200, 30, 0.02, seed)
        ours.append(fit_sphere(points).center[2] - CENTRE[2])
        around = points - points.mean(axis=0)
        design = np.column_stack([2 * around, np.ones(200)])
        found = np.linalg.lstsq(design, (around**2).sum(axis=1), rcond=None)[0]
        linear.append(found[2] + points.mean(axis=0)[2] - CENTRE[2])
    assert np.mean(linear) / RADIUS > 0.15
    assert abs(np.mean(ours)) / RADIUS < 0.05


def bulged(half_angle, mark_angle, height):
    """A cap whose points within `mark_angle` of the axis stand off by up to `height` radii."""
    points = cap(600, half_angle, 0.002)
    away = points - CENTRE
    angle = np.degrees(np.arccos(np.clip(away[:, 2] / np.linalg.norm(away, axis=1), -1, 1)))
    lift = np.where(angle < mark_angle, height * (1 - (angle / mark_angle) ** 2), 0.0)
    return CENTRE + away * (1 + lift)[:, None]


@pytest.mark.parametrize("half_angle", [180, 90, 60])
@pytest.mark.parametrize("height", [0.12, -0.2], ids=["cornea", "iris_dish"])
def test_a_cornea_or_an_iris_does_not_pull(half_angle, height):
    """An adult cornea (29 degrees, 0.12 radii) or a dished iris is told apart and left out."""
    points = bulged(half_angle, 29, height)
    assert off(fit_sphere(points)) < 0.005
    assert off(fit_sphere(points, robust=False)) > 2 * off(fit_sphere(points))


def linear_robust(points, seed=0):
    """The linear sphere equation solved by consensus and a Huber loss; centre and radius."""
    around = points - points.mean(axis=0)
    design, target = 2 * around, (around**2).sum(axis=1)
    chosen = (
        RANSACRegressor(LinearRegression(), min_samples=8, random_state=seed)
        .fit(design, target)
        .inlier_mask_
    )
    fit = HuberRegressor(alpha=0.0, max_iter=2000).fit(design[chosen], target[chosen])
    radius = np.sqrt(fit.intercept_ + fit.coef_ @ fit.coef_)
    return fit.coef_ + points.mean(axis=0), radius


@pytest.mark.parametrize("seed", range(5))
def test_agrees_with_an_independent_robust_regression(seed):
    """A whole sphere with a tenth of its points astray: both methods find the same one."""
    rng = np.random.default_rng(seed)
    points = cap(500, 180, 0.003, seed)
    points[rng.choice(500, 50, replace=False)] += rng.normal(size=(50, 3)) * RADIUS
    fit = fit_sphere(points)
    centre, radius = linear_robust(points, seed)
    assert off(fit) < 0.002
    assert np.linalg.norm(fit.center - centre) < 0.005 * RADIUS
    assert fit.radius == pytest.approx(radius, rel=0.005)
    assert fit.inlier_share < 0.95


@pytest.mark.parametrize("half_angle", [50, 70.5, 180])
def test_agrees_with_a_reference_minimiser(half_angle):
    """Where no point is astray it is the sphere that scipy's least squares finds, to a thousandth
    of its radius, and without robust weights to a millionth."""
    for seed in range(5):
        points = cap(150, half_angle, 0.01, seed)

        def distance(x, points=points):
            return np.linalg.norm(points - x[:3], axis=1) - x[3]

        start = [*points.mean(axis=0), np.ptp(points, axis=0).max() / 2]
        known = least_squares(distance, start, xtol=1e-14, ftol=1e-14, gtol=1e-14).x
        plain = fit_sphere(points, robust=False)
        assert np.linalg.norm(plain.center - known[:3]) < 1e-6 * RADIUS
        assert plain.radius == pytest.approx(known[3], rel=1e-6)
        robust = fit_sphere(points)
        assert (
            np.linalg.norm(robust.center - known[:3]) < 0.25 * robust.center_spread + 1e-3 * RADIUS
        )


@pytest.mark.parametrize(("count", "share"), [(30, 0.9), (50, 0.97), (100, 1.0)])
def test_how_many_points_a_third_of_a_sphere_needs(count, share):
    """With one percent of noise the centre is within two percent in 9 of 10 caps of 30 points,
    and always from 100 points on: the closed form's standard error is .0095 and .0052."""
    errors = np.array([off(fit_sphere(cap(count, 70.5, 0.01, seed))) for seed in range(80)])
    assert (errors < 0.02).mean() >= share


def test_known_radius_holds_a_small_cap():
    """On 15 degrees with noise the radius is open; a prior fixes it and with it the centre."""
    free = [off(fit_sphere(cap(80, 15, 0.01, seed))) for seed in range(40)]
    held = [
        off(fit_sphere(cap(80, 15, 0.01, seed), prior=RadiusPrior(RADIUS, 0.02 * RADIUS)))
        for seed in range(40)
    ]
    assert np.median(held) < 0.3 * np.median(free)
    assert max(held) < 0.1


def test_area_weights_undo_uneven_tessellation():
    """A cut-up front (a fine dished iris) outweighs a coarse back by count, but not by area."""
    coarse = sphere(CENTRE, RADIUS, rings=10)
    vertices, faces = coarse
    squeezed = vertices.copy()
    squeezed[:, 2] = CENTRE[2] + (vertices[:, 2] - CENTRE[2]) * 1.05  # an egg: no exact sphere
    fine_points = squeezed[squeezed[:, 2] > CENTRE[2] + 0.5 * RADIUS]
    crowded = np.concatenate([squeezed, np.repeat(fine_points, 20, axis=0)])
    weights = np.concatenate([vertex_areas(squeezed, faces), np.zeros(20 * len(fine_points))])
    by_count = fit_sphere(crowded, robust=False)
    by_area = fit_sphere(crowded, weights, robust=False)
    assert abs(by_area.center[2] - CENTRE[2]) < 0.002 * RADIUS
    assert abs(by_count.center[2] - CENTRE[2]) > 5 * abs(by_area.center[2] - CENTRE[2])


def test_vertex_areas_sum_to_the_surface():
    """A sphere's vertex areas are its area, a third of each triangle."""
    vertices, faces = sphere(np.zeros(3), 1.0, rings=60)
    areas = vertex_areas(vertices, faces)
    assert areas.sum() == pytest.approx(4 * np.pi, rel=2e-3)
    assert (areas[np.unique(faces)] > 0).all()


@pytest.mark.parametrize("scale", [1e-9, 1e-6, 1e6, 1e9])
def test_any_magnitude(scale):
    """Scaling the points scales the sphere, and nothing else changes."""
    one = fit_sphere(cap(200, 60, 0.01))
    other = fit_sphere(cap(200, 60, 0.01) * scale)
    np.testing.assert_allclose(other.center, one.center * scale, rtol=1e-7)
    assert other.radius == pytest.approx(one.radius * scale, rel=1e-7)
    assert other.share_seen == pytest.approx(one.share_seen)


def test_turning_turns_the_axis():
    """The axis points at the middle of the cap; a whole sphere has none."""
    points = cap(300, 50)
    np.testing.assert_allclose(fit_sphere(points).axis, [0, 0, 1], atol=0.02)
    np.testing.assert_allclose(fit_sphere(points[:, [2, 0, 1]]).axis, [1, 0, 0], atol=0.02)
    assert not fit_sphere(cap(300, 180)).axis.any()


@pytest.mark.parametrize(
    ("points", "reason"),
    [
        (np.zeros((0, 3)), "0 points"),
        (np.eye(3), "3 points"),
        (np.ones((9, 3)), "all points are one"),
        (np.column_stack([np.random.default_rng(0).normal(size=(50, 2)), np.zeros(50)]), "plane"),
        (np.array([[np.nan, 0, 0]] * 9), "not finite"),
    ],
    ids=["none", "three", "one_point", "plane", "nan"],
)
def test_failure_is_false_and_says_why(points, reason):
    """Too few, flat or broken points give a false value with the reason."""
    fit = fit_sphere(points)
    assert not fit
    assert reason in str(fit)


def test_same_points_same_bytes():
    """Nothing is drawn at random."""
    one, two = fit_sphere(cap(200, 50, 0.02)), fit_sphere(cap(200, 50, 0.02))
    assert one.center.tobytes() == two.center.tobytes()
    assert one.radius == two.radius
