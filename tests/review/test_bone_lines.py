"""The way of the flesh at a joint."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.review.bone_lines import bone_length, flesh_direction
from autoplace.skeleton.model import Joint, Skeleton
from tests.figures import standard_skeleton

BENT = Skeleton(
    (
        Joint("left_shoulder", None, np.array([0.0, 0.0, 0.0])),
        Joint("left_elbow", "left_shoulder", np.array([0.3, 0.0, 0.0])),
        Joint("left_wrist", "left_elbow", np.array([0.3, 0.0, 0.2])),
    )
)


def test_bent_joint_is_cut_midway_between_its_bones():
    """Bones along X and Z, of any length, are halved by the direction (1, 0, 1)."""
    way = flesh_direction(BENT, "left_elbow", BENT["left_elbow"].position)
    assert way / np.linalg.norm(way) == pytest.approx(np.array([1, 0, 1]) / np.sqrt(2.0))


def test_direction_follows_a_joint_that_is_dragged():
    """With the elbow at (0, 0, 0.2) the bones run along Z and X."""
    way = flesh_direction(BENT, "left_elbow", np.array([0.0, 0.0, 0.2]))
    assert way / np.linalg.norm(way) == pytest.approx(np.array([1, 0, 1]) / np.sqrt(2.0))
    ends = flesh_direction(BENT, "left_wrist", np.array([0.3, 0.5, 0.0]))
    assert ends / np.linalg.norm(ends) == pytest.approx([0.0, 1.0, 0.0])


@pytest.mark.parametrize(
    ("name", "start", "end"),
    [
        ("left_shoulder", "left_shoulder", "left_elbow"),
        ("left_hip", "left_hip", "left_knee"),
        ("left_ankle", "left_knee", "left_ankle"),
        ("left_index_tip", "left_index_3", "left_index_tip"),
    ],
)
def test_ends_of_limbs_are_cut_square_to_the_limb(name, start, end):
    """Where trunk or foot stands across, only the limb's own bone counts."""
    figure = standard_skeleton("A")
    bone = figure[end].position - figure[start].position
    way = flesh_direction(figure, name, figure[name].position)
    assert way == pytest.approx(bone / np.linalg.norm(bone))


def test_a_joint_alone_has_no_direction():
    """Without a parent and a child there is nothing to go by, nor a length."""
    alone = Skeleton((Joint("anything", None, np.zeros(3)),))
    assert flesh_direction(alone, "anything", np.zeros(3)) is None
    assert bone_length(alone, "anything") == 0.0


def test_length_is_that_of_the_longest_bone():
    """Of .3 above and .2 below the elbow it is .3."""
    assert bone_length(BENT, "left_elbow") == pytest.approx(0.3)
