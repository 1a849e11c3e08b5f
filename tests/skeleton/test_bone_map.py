"""Points carried by the bones of two figures: moves that are known in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from autoplace.skeleton.bone_map import carry_by_bones
from tests.figures import moved, standard_skeleton

ARM = np.array([[[0.1, 0.8, 0.0], [0.3, 0.8, 0.0]]])
"""One bone, of length 0.2."""
MIRROR = np.diag([-1.0, 1.0, 1.0])


def bones_of(skeleton) -> np.ndarray:
    return np.array(
        [[skeleton[j.parent].position, j.position] for j in skeleton if j.parent is not None]
    )


def test_a_figure_that_did_not_move_moves_no_point():
    """The same bones: the same points, and no disagreement."""
    bones = bones_of(standard_skeleton())
    points = np.array([[0.1, 0.7, 0.02], [-0.3, 0.8, 0.0], [0.0, 0.5, 0.0]])
    carried, off = carry_by_bones(points, bones, bones)
    assert np.array_equal(carried, points)
    assert not off.any()


def test_a_bone_takes_what_lies_beside_it_along():
    """An arm lowered by 90 degrees: a point above it comes to lie outside of it."""
    down = np.array([[[0.1, 0.8, 0.0], [0.1, 0.6, 0.0]]])
    carried, _ = carry_by_bones(np.array([[0.2, 0.82, 0.01]]), ARM, down)
    assert carried[0] == pytest.approx([0.12, 0.7, 0.01], abs=1e-12)


def test_a_longer_bone_keeps_shares_along_it():
    """Twice as long: half way stays half way, and what lies beside it goes out by the root of 2."""
    longer = np.array([[[0.1, 0.8, 0.0], [0.5, 0.8, 0.0]]])
    carried, _ = carry_by_bones(np.array([[0.2, 0.81, 0.0]]), ARM, longer)
    assert carried[0] == pytest.approx([0.3, 0.8 + 0.01 * np.sqrt(2.0), 0.0], abs=1e-12)


def test_a_bone_turned_right_round_is_turned_and_not_mirrored():
    """By 180 degrees, three points beside the bone keep their handedness."""
    back = np.array([[[0.1, 0.8, 0.0], [-0.1, 0.8, 0.0]]])
    points = ARM[0, 0] + np.eye(3) * 0.05
    carried, _ = carry_by_bones(points, ARM, back)
    assert np.linalg.det(carried - back[0, 0]) == pytest.approx(0.05**3)
    assert carried[0] == pytest.approx(back[0, 0] - [0.05, 0.0, 0.0])


def test_a_joint_goes_with_the_joint_that_stands_there():
    """Where all bones around meet they agree, whatever became of the rest."""
    old = standard_skeleton("T")
    new = standard_skeleton("hanging")
    names = ("left_elbow", "right_wrist", "left_index_2", "left_shoulder", "left_knee")
    points = np.array([old[name].position for name in names])
    carried, _ = carry_by_bones(points, bones_of(old), bones_of(new))
    assert carried == pytest.approx(np.array([new[name].position for name in names]), abs=1e-6)


def test_a_bone_without_length_is_shifted():
    """Joints on top of one another show no direction and stop nothing."""
    old = standard_skeleton()
    flat = moved(old, {"left_toe_tip": old["left_ball"].position})
    raised = np.array([0.0, 0.1, 0.0])
    carried, _ = carry_by_bones(old.positions(), bones_of(flat), bones_of(flat) + raised)
    assert carried == pytest.approx(old.positions() + raised)


def test_mirrored_figures_mirror_the_points():
    """Nothing prefers a side."""
    old, new = bones_of(standard_skeleton("T")), bones_of(standard_skeleton("A", elbow=40))
    points = Rotation.random(5, random_state=2).as_matrix()[:, 0] * 0.3 + [0, 0.6, 0]
    carried, _ = carry_by_bones(points, old, new)
    mirrored, _ = carry_by_bones(points @ MIRROR, old @ MIRROR, new @ MIRROR)
    assert mirrored == pytest.approx(carried @ MIRROR, abs=1e-12)
