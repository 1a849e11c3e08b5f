"""`measure.mirror_plane`: where a surface has most points opposite to its own."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.mirror_plane import MIRROR_BOXES, mirror_middle


def mirrored_cloud(middle: float, axis: int) -> np.ndarray:
    """(2000, 3) points drawn at random, each with its image about a plane square to the axis."""
    half = np.random.default_rng(5).normal(size=(1000, 3)) * (0.2, 0.5, 0.3)
    image = half.copy()
    image[:, axis] = 2.0 * middle - half[:, axis]
    return np.vstack([half, image])


def half_a_box(points: np.ndarray, axis: int) -> float:
    return 0.5 * float(np.ptp(points[:, axis])) / MIRROR_BOXES[0]


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("middle", [0.0, 0.37])
def test_the_middle_of_a_mirrored_cloud(axis, middle):
    """It is found to half a box, wherever it is and whichever axis is mirrored."""
    points = mirrored_cloud(middle, axis)
    assert mirror_middle(points, axis) == pytest.approx(middle, abs=half_a_box(points, axis))


def test_what_stands_on_one_side_does_not_pull_it():
    """A lump of a third of all points beside the cloud moves its median, not its middle."""
    lump = np.random.default_rng(6).normal(size=(1000, 3)) * 0.05 + (1.2, 0.0, 0.0)
    points = np.vstack([mirrored_cloud(0.1, 0), lump])
    assert abs(np.median(points[:, 0]) - 0.1) > 3.0 * half_a_box(points, 0)
    assert mirror_middle(points, 0) == pytest.approx(0.1, abs=half_a_box(points, 0))
