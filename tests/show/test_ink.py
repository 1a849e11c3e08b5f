from __future__ import annotations

import numpy as np
import pytest

from autoplace.show.ink import Ink

BLACK = (0, 0, 0)


def blank(size=100):
    return np.full((size, size, 3), 255, dtype=np.uint8)


def inked(picture):
    """Area of black ink in pixels."""
    return (255.0 - picture[:, :, 0]).sum() / 255.0


@pytest.mark.parametrize("centre", [(50.0, 50.0), (50.3, 49.8)])
def test_a_disc_takes_the_ink_of_its_area(centre):
    """Anti-aliasing keeps the area, wherever the centre falls."""
    picture = blank()
    Ink(picture).disc(centre, 20.0, BLACK)
    assert inked(picture) == pytest.approx(np.pi * 400, rel=2e-3)


def test_a_ring_takes_the_ink_of_its_band():
    """A ring of half width 2 about radius 20 covers 2 pi 20 times 4."""
    picture = blank()
    Ink(picture).ring((50, 50), 20.0, [(2.0, BLACK, 1.0)])
    assert inked(picture) == pytest.approx(2 * np.pi * 20 * 4, rel=5e-3)


def test_a_slanted_line_is_as_wide_as_asked():
    """Length times width, and the round ends."""
    picture = blank()
    Ink(picture).line((20, 30), (80, 60), 3.0, BLACK)
    length = np.hypot(60, 30)
    assert inked(picture) == pytest.approx(length * 3 + np.pi * 1.5**2, rel=2e-2)


def test_a_leaf_is_fuller_toward_its_parent():
    """More of a bone's ink lies in the half at its start."""
    picture = blank()
    Ink(picture).leaf((10, 50), (90, 50), 8.0, [(0.0, BLACK, 1.0)])
    assert inked(picture[:, :50]) > 1.5 * inked(picture[:, 50:])


def test_nothing_leaves_the_clip_box():
    """A shape across the clip's edge stops there."""
    picture = blank()
    Ink(picture, (40, 40, 60, 60)).disc((40, 40), 30.0, BLACK)
    outside = picture.copy()
    outside[40:60, 40:60] = 255
    assert inked(outside) == 0
    assert inked(picture) > 300


@pytest.mark.parametrize("size", [30, 90])
def test_a_box_is_filled_without_gaps(size):
    """Small and large rounded boxes have the same corners, a whole fill and a whole line."""
    picture = blank()
    Ink(picture).box((5, 5, 5 + size, 5 + size), 6.0, (200, 200, 200), BLACK, 2.0)
    inner = picture[8 : 2 + size, 8 : 2 + size, 0]
    assert (inner[5:-5] == 200).all()
    assert (inner[:, 5:-5] == 200).all()
    edge = picture[5:7, 12 : size - 2, 0]
    assert (edge == 0).all()
    assert picture[5, 5, 0] == 255


def test_a_shape_wholly_outside_is_no_error():
    """Drawing beside the picture changes nothing."""
    picture = blank()
    Ink(picture).disc((-50, 500), 20.0, BLACK)
    assert inked(picture) == 0
