"""The palm's breadth is told from its volume."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.palm_plane import palm_across
from autoplace.measure.solid import Solid, fill_solid
from tests.measure.surfaces import turned
from tests.mesh.capsule_figures import box

CELL = 0.02
ALONG = np.array([0.0, 1.0, 0.0])


def turn_about_y(degrees: float) -> np.ndarray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def palm(degrees: float, breadth: float = 0.4, thickness: float = 0.12) -> Solid:
    """A palm a metre of hand long, turned about its length."""
    block = box((-breadth, 0.0, -thickness), (breadth, 0.5, thickness))
    return fill_solid(*turned(block, turn_about_y(degrees)), CELL)


@pytest.mark.parametrize("degrees", [0.0, 4.0, -11.0, 25.0])
def test_the_breadth_is_found_when_the_roots_are_off_by_some_degrees(degrees):
    """Told 5 degrees wrong by the roots, the direction across is right to half a degree."""
    turn = turn_about_y(degrees)
    roots = np.stack([np.linspace(-0.3, 0.3, 4), np.full(4, 0.5), np.zeros(4)], axis=1) @ turn.T
    wrong = turn_about_y(degrees + 5.0) @ np.array([1.0, 0.0, 0.0])
    found = palm_across(palm(degrees), roots, ALONG, wrong, 1.0, 0.2)
    right = turn @ np.array([1.0, 0.0, 0.0])
    assert np.degrees(np.arccos(np.clip(found @ right, -1.0, 1.0))) < 0.5
    assert abs(found @ ALONG) < 1e-12


def test_a_palm_as_thick_as_broad_changes_nothing():
    """Then the roots' word stands, to a degree."""
    roots = np.stack([np.linspace(-0.3, 0.3, 4), np.full(4, 0.5), np.zeros(4)], axis=1)
    told = turn_about_y(5.0) @ np.array([1.0, 0.0, 0.0])
    found = palm_across(palm(0.0, 0.3, 0.29), roots, ALONG, told, 1.0, 0.2)
    assert np.degrees(np.arccos(np.clip(found @ told, -1.0, 1.0))) < 1.0
