"""A finger's line is followed down into the palm, also round a fold."""

from __future__ import annotations

import numpy as np

from autoplace.measure.finger_root import follow_down
from tests.measure.rods import rods

RADIUS = 0.1
FOLDED = rods([((0, 0, 0), (0, 0, 0.8), RADIUS), ((0, 0, 0.8), (0, -0.8, 0.8), RADIUS)], 0.025)
"""A first bone along +Z, and the rest of the finger folded down at right angles."""
UP = np.array([0.0, -1.0, 0.0])
"""From the fold to the tip."""


def test_a_folded_finger_is_followed_round_its_middle_joint():
    """From beyond the fold the line runs through the middle of the first bone to its far end."""
    start = np.array([0.0, -0.15, 0.8])
    below = np.stack([np.zeros(9), np.zeros(9), np.linspace(0.55, 0.75, 9)], axis=1)
    line = follow_down(FOLDED, start, UP, RADIUS, below)
    inner = line[(line[:, 2] < 0.65) & (line[:, 2] > 0.1)]
    assert len(inner) > 8
    assert np.hypot(inner[:, 0], inner[:, 1]).max() < 0.25 * RADIUS
    assert line[0, 2] < 0.8 - 5.0 * RADIUS


def test_a_straight_finger_is_followed_straight():
    """What lies about a straight finger's beginning turns its line nowhere."""
    straight = rods([((0, -1, 0), (0, 1, 0), RADIUS)], 0.025)
    below = np.array([[0.05, -0.2, 0.0], [0.0, -0.3, 0.02]])
    line = follow_down(straight, np.zeros(3), np.array([0.0, 1.0, 0.0]), RADIUS, below)
    assert np.abs(line[:, [0, 2]]).max() < 0.02
    assert line[0, 1] < -6.0 * RADIUS


def test_a_line_that_meets_the_end_of_the_mesh_does_not_turn_back():
    """A hand cut off at the wrist has nothing below: the line ends at the cut."""
    short = rods([((0, -0.1, 0), (0, 1, 0), RADIUS)], 0.025)
    below = np.array([[0.0, -0.05, 0.0], [0.0, -0.1, 0.0]])
    line = follow_down(short, np.zeros(3), np.array([0.0, 1.0, 0.0]), RADIUS, below)
    assert len(line) < 8
    assert (np.diff(line[:, 1]) > 0.0).all()
