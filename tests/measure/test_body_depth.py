"""`measure.body_depth`: what a shell of walls encloses is inside of the body."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.body_depth import depth_in_body
from autoplace.measure.point_depth import depth_of_points
from tests.measure.test_hollow_shells import legs, walled
from tests.mesh.capsule_figures import box, joined

MIDDLE = np.array([0.0, 0.75, 0.0])
RADIUS = 0.13


def test_the_middle_of_a_hollow_trunk_is_as_deep_as_its_wall_is_away():
    """The surface alone calls it outside."""
    body = joined(walled((0, 0.66, 0), (0, 0.87, 0), RADIUS), *legs())
    assert depth_of_points(*body, MIDDLE[None])[0] < 0.0
    assert depth_in_body(*body, MIDDLE[None])[0] == pytest.approx(RADIUS, rel=0.05)


def test_air_beside_a_hollow_trunk_stays_outside():
    """Between its legs, at its side, and above it."""
    body = joined(walled((0, 0.66, 0), (0, 0.87, 0), RADIUS), *legs())
    air = np.array([[0.0, 0.3, 0.0], [0.2, 0.75, 0.0], [0.0, 1.05, 0.0]])
    assert (depth_in_body(*body, air) < 0.0).all()


def test_a_solid_body_is_told_by_its_surface():
    """Closed pieces have no hollows; inside and outside are as deep as their surface says."""
    body = joined(box((-0.13, 0.5, -0.08), (0.13, 1.0, 0.08)), *legs())
    points = np.array([MIDDLE, [0.0, 0.3, 0.0], [0.3, 0.7, 0.1]])
    assert depth_in_body(*body, points).tolist() == depth_of_points(*body, points).tolist()
