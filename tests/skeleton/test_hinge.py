"""The bend axis of a chain by itself: closed forms and how doubt is weighed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from autoplace.skeleton.hinge import cross, fit_hinge, reject, transported, unit
from tests.figures import X, Y, Z, angle


def fit(points, reference, spread=0.0, reference_spread=15.0, sure=20.0):
    points = np.array(points, dtype=float)
    return fit_hinge(
        points,
        reference,
        spreads=np.full(len(points), spread),
        reference_spread=np.radians(reference_spread),
        sure_turn=np.radians(sure),
    )


def test_cross_is_numpys():
    """Three random pairs, to the last bit."""
    for a, b in np.random.default_rng(0).normal(size=(3, 2, 3)):
        assert np.array_equal(cross(a, b), np.cross(a, b))


def test_transport_is_the_smallest_turn():
    """For random directions it is scipy's rotation about their cross product."""
    rng = np.random.default_rng(1)
    for _ in range(50):
        start, end, vector = (unit(v) for v in rng.normal(size=(3, 3)))
        turning = cross(start, end)
        angle_ = np.arctan2(np.linalg.norm(turning), start @ end)
        rotation = Rotation.from_rotvec(angle_ * unit(turning))
        assert np.allclose(transported(vector, start, end), rotation.apply(vector), atol=1e-9)
    assert np.array_equal(transported(X, Y, -Y), X)


def test_reject_takes_the_first_usable_reference():
    """Along the direction a reference says nothing; with none left an axis serves."""
    assert np.allclose(reject(Y, X + Y), X)
    assert np.allclose(reject(Y, Y, Z), Z)
    assert np.allclose(reject(Y, unit(Y + 0.01 * X), Z), Z)
    assert np.allclose(reject(Y, Y), X)
    assert np.allclose(reject(Y), X)


def test_a_right_angle_has_the_normal_of_its_plane():
    """Two bones at 90 degrees: the normal exactly, whatever the reference's slant."""
    hinge = fit([[0, 1, 0], [0, 0, 0], [0, 0, -1]], unit(X + 0.4 * Y))
    assert np.allclose(hinge.axis, X, atol=1e-12)
    assert hinge.turn == pytest.approx(np.pi / 2)
    assert hinge.trust == 1.0


def test_a_straight_chain_takes_the_reference():
    """No bend: the reference at right angles to the line, with no trust in the chain."""
    hinge = fit([[0, 2, 0], [0, 1, 0], [0, 0, 0]], unit(X + Y))
    assert np.allclose(hinge.axis, X)
    assert (hinge.turn, hinge.trust) == (0.0, 0.0)


def test_trust_follows_the_written_formula():
    """Bow 0.1, joints known to 0.02, reference to 15 degrees: the shares of two measurements."""
    points = [[0, 1, 0], [0.02, 0, 0.098], [0, -1, 0]]
    bow = np.hypot(0.02, 0.098)
    hinge = fit(points, X, spread=0.02)
    doubt = np.sqrt(0.02**2 + 0.25 * 2 * 0.02**2) / bow
    expected = np.radians(15) ** 2 / (np.radians(15) ** 2 + doubt**2) / 0.95
    assert hinge.trust == pytest.approx(expected)
    assert 0 < angle(hinge.axis, X) < np.degrees(np.arctan2(0.02, 0.098))


def test_size_and_turn_do_not_matter():
    """The same chain turned, and a million times larger or smaller, gives the turned axis."""
    points = np.array([[0, 1, 0], [0.02, 0, 0.1], [0, -1, 0.01]])
    plain = fit(points, X, spread=0.01)
    for matrix in Rotation.random(5, random_state=2).as_matrix():
        for size in (1e-6, 1e6):
            hinge = fit(size * points @ matrix.T, matrix @ X, spread=size * 0.01)
            assert np.allclose(hinge.axis, matrix @ plain.axis, atol=1e-9)


def test_the_sign_is_the_references_unless_the_fold_is_sure():
    """10 degrees the wrong way keep the reference's sign, 40 the chain's own."""
    for degrees, sign in ((10, 1), (40, -1)):
        c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        hinge = fit([[0, 1, 0], [0, 0, 0], [0, -c, s]], X)
        assert np.allclose(hinge.axis, sign * X, atol=1e-9)


def test_a_slight_sideways_bend_is_no_hinge():
    """12 degrees at right angles to the expected plane: the reference, as for a carrying angle."""
    c, s = np.cos(np.radians(12)), np.sin(np.radians(12))
    hinge = fit([[0, 1, 0], [0, 0, 0], [s, -c, 0]], X)
    assert angle(hinge.axis, X) < 7
    assert hinge.trust == 0.0


def test_coincident_joints_are_passed_over():
    """A doubled joint changes nothing; a chain that comes back to its start still fits."""
    hinge = fit([[0, 1, 0], [0, 0, 0], [0, 0, 0], [0, 0, -1]], X)
    assert np.allclose(hinge.axis, X)
    closed = fit([[0, 0, 0], [0, 1, 0], [0, 1, 1], [0, 0, 0]], X, sure=90)
    assert angle(closed.axis, X) < 1e-6
