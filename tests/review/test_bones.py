"""The sizes of the beads that stand for joints."""

from __future__ import annotations

import numpy as np

from autoplace.review.bones import LARGEST, SMALLEST, bead_radii
from autoplace.skeleton.structure import parent_indices
from tests.figures import standard_skeleton


def test_beads_stay_apart_and_hands_have_one_size():
    """No two beads that a bone joins touch, save where a bone is shorter than the smallest bead."""
    skeleton = standard_skeleton("A")
    points, parents = skeleton.positions(), parent_indices(skeleton)
    radii = bead_radii(skeleton.names, points, parents)
    assert radii.min() >= SMALLEST
    assert radii.max() <= LARGEST
    children = np.flatnonzero(parents >= 0)
    bones = np.linalg.norm(points[children] - points[parents[children]], axis=1)
    assert np.all(radii[children] + radii[parents[children]] < bones)
    fingers = [i for i, name in enumerate(skeleton.names) if name.startswith("left_index")]
    assert len(set(radii[fingers])) == 1


def test_joints_in_one_place_have_a_bead():
    """A bone of no length does not make its joints vanish."""
    radii = bead_radii(("a", "b"), np.zeros((2, 3)), np.array([-1, 0]))
    assert np.all(radii >= SMALLEST)
