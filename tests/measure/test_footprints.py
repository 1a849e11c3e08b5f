"""Which way feet are long, told by what stands on the floor."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.footprints import Stance, beside_the_middle, stance

LONG, BROAD = 0.15, 0.06
"""A foot, fractions of height: .152 S long (Winter 2009), about two fifths as broad (from
memory)."""


def foot(x: float, z: float, turn: float = 0.0) -> np.ndarray:
    """(n, 3) points all over a block of a foot's size."""
    across, along = np.meshgrid(np.linspace(-0.5, 0.5, 6), np.linspace(-0.5, 0.5, 14))
    flat = np.stack([BROAD * across.ravel(), LONG * along.ravel()], axis=1)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    flat = flat @ np.array([[c, -s], [s, c]]) + [x, z]
    return np.stack([flat[:, 0], np.full(len(flat), 0.01), flat[:, 1]], axis=1)


@pytest.mark.parametrize("step", [0.0, 0.25])
def test_feet_are_long_ahead_in_any_stance(step):
    """Two feet side by side or in a step say the same, and the opposite of the plane across."""
    points = np.concatenate([foot(0.09, step, 10.0), foot(-0.09, 0.0, -10.0)])
    x, y, z = points.T
    assert stance(x, z, y, 1.0).long_ahead > 0.3
    assert stance(z, x, y, 1.0).long_ahead < -0.3


def test_the_hem_of_a_skirt_is_no_pair_of_feet():
    """Two halves of a ring are as long as feet, and are hollow."""
    turn = np.radians(np.concatenate([np.arange(-80, 81, 4), np.arange(100, 261, 4)]))
    x, z = 0.15 * np.cos(turn), 0.15 * np.sin(turn)
    assert stance(x, z, np.full(len(x), 0.01), 1.0) == Stance()


@pytest.mark.parametrize("scale", [1.0, 2.5])
def test_no_foot_is_as_long_as_a_part_of_a_hem(scale):
    """Feet of ordinary length are told; strips of cloth two and a half times as long are not, nor
    is a foot beside one with a third of its points."""
    points = np.concatenate([foot(0.09, 0.0), foot(-0.09, 0.0)]) * [scale, 1.0, scale]
    x, y, z = points.T
    assert (stance(x, z, y, 1.0).long_ahead > 0.3) == (scale == 1.0)
    few = np.concatenate([foot(0.09, 0.0), foot(-0.09, 0.0)[::3]])
    assert stance(few[:, 0], few[:, 2], few[:, 1], 1.0) == Stance()


def ring(x: float, z: float) -> np.ndarray:
    """(n, 3) points of a leg that ends open, without a foot."""
    turn = np.radians(np.arange(0, 360, 15))
    return np.stack([x + 0.04 * np.cos(turn), np.full(24, 0.01), z + 0.04 * np.sin(turn)], axis=1)


@pytest.mark.parametrize(("step", "beside"), [(0.0, 1), (0.03, 1), (0.1, 0)])
def test_legs_without_feet_tell_by_how_they_stand(step, beside):
    """Beside each other they show which way the figure faces; in a step they show nothing."""
    x, y, z = np.concatenate([ring(0.09, step), ring(-0.09, 0.0)]).T
    assert stance(x, z, y, 1.0) == Stance(beside=beside)
    assert stance(z, x, y, 1.0) == Stance(beside=-beside)


def test_ears_one_behind_the_other_are_no_feet():
    """What lies in one line ahead may be a head seen upside down."""
    points = np.concatenate([foot(0.0, 0.15), foot(0.0, -0.15)])
    x, y, z = points.T
    assert stance(x, z, y, 1.0) == Stance()


def test_what_lies_across_the_middle_is_no_foot():
    """A tail between the feet is left out, and two feet are kept whole."""
    tail = foot(0.0, -0.2)
    feet = np.concatenate([foot(0.12, 0.0), foot(-0.12, 0.0)])
    kept = beside_the_middle(np.concatenate([feet, tail]))
    assert kept[: len(feet)].all()
    assert not kept[len(feet) :].any()
