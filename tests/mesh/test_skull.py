"""`mesh.skull`: whether a head is whole without what covers it."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.mesh.skull import skull_is_whole
from autoplace.mesh.slices import HeadBox

HEAD = HeadBox(np.array([-0.08, 0.82, -0.08]), np.array([0.08, 1.2, 0.08]), True)


def around(middle, radius, count=4000):
    """Points spread evenly over a ball."""
    k = np.arange(count) + 0.5
    up, turn = 1.0 - 2.0 * k / count, k * np.pi * (1.0 + 5.0**0.5)
    flat = np.sqrt(1.0 - up**2)
    return middle + radius * np.stack([flat * np.cos(turn), up, flat * np.sin(turn)], axis=1)


SKULL = around(np.array([0.0, 0.91, 0.0]), 0.085)
CREST = around(np.array([0.0, 1.1, 0.0]), 0.08) * [0.1, 1.0, 1.0]
LOCK = SKULL[SKULL[:, 2] < 0.02] * [1.05, 1.05, 1.05] - [0.0, 0.05, 0.0]


@pytest.mark.parametrize("eyes", [None, 0.91])
def test_a_ball_is_a_whole_skull_and_its_front_is_none(eyes):
    """What lies ahead of the ears alone is a mask."""
    mask = SKULL[SKULL[:, 2] > 0.0]
    assert skull_is_whole(SKULL, SKULL, HEAD, eyes)
    assert not skull_is_whole(mask, mask, HEAD, eyes)


def test_a_crest_does_not_move_the_skull():
    """Half way up to a crest's top a skull is at its end and not deep, but the crest is not it."""
    assert skull_is_whole(np.concatenate([SKULL, CREST]), SKULL, HEAD, None)


def test_one_piece_of_hair_is_enough_behind_a_mask():
    """A second one, over the first, may go."""
    mask = SKULL[SKULL[:, 2] > 0.0]
    assert skull_is_whole(np.concatenate([mask, LOCK]), mask, HEAD, 0.91)


def test_a_face_that_ends_at_the_brow_has_no_skull():
    """As is modelled under a helmet."""
    low = SKULL[SKULL[:, 1] < 0.93]
    assert not skull_is_whole(low, low, HEAD, 0.91)


def test_no_head_is_no_whole_one():
    """Where the others leave nothing at the head."""
    below = SKULL - [0.0, 0.5, 0.0]
    assert not skull_is_whole(below, below, HEAD, 0.91)
