"""Names, sides and families of joints."""

from __future__ import annotations

import pytest

from autoplace.skeleton.names import (
    AIM_TARGETS,
    family,
    finger_of,
    is_tip,
    mirror_name,
    side_of,
    stem,
    tip_below,
)
from tests.figures import standard_skeleton


@pytest.mark.parametrize(
    ("name", "side", "own", "other", "kind", "finger", "tip"),
    [
        ("pelvis", None, "pelvis", "pelvis", "trunk", None, False),
        ("spine_12", None, "spine_12", "spine_12", "trunk", None, False),
        ("head_top", None, "head_top", "head_top", "head", None, True),
        ("left_eye", "left", "eye", "right_eye", "eye", None, False),
        ("right_clavicle", "right", "clavicle", "left_clavicle", "clavicle", None, False),
        ("left_elbow", "left", "elbow", "right_elbow", "arm", None, False),
        ("right_wrist", "right", "wrist", "left_wrist", "hand", None, False),
        ("left_pinky_3", "left", "pinky_3", "right_pinky_3", "finger", "pinky", False),
        ("right_thumb_tip", "right", "thumb_tip", "left_thumb_tip", "finger", "thumb", True),
        ("left_toe_tip", "left", "toe_tip", "right_toe_tip", "foot", None, True),
        ("knee", None, "knee", "knee", None, None, False),
        ("left_pelvis", "left", "pelvis", "right_pelvis", None, None, False),
        ("index_1", None, "index_1", "index_1", None, None, False),
        ("lefthand", None, "lefthand", "lefthand", None, None, False),
        ("left_tail_4", "left", "tail_4", "right_tail_4", None, None, False),
    ],
)
def test_what_a_name_says(name, side, own, other, kind, finger, tip):
    """Side, own name, counterpart, family, finger and tip of names of ours and of others."""
    assert side_of(name) == side
    assert stem(name) == own
    assert mirror_name(name) == other
    assert mirror_name(other) == name
    assert family(name) == kind
    assert finger_of(name) == finger
    assert is_tip(name) == tip


@pytest.mark.parametrize(
    ("name", "tip"),
    [
        ("left_ball", "left_toe_tip"),
        ("right_index_3", "right_index_tip"),
        ("left_thumb_1", "left_thumb_tip"),
        ("head", "head_top"),
        ("head_top", None),
        ("left_pinky_tip", None),
        ("left_knee", None),
        ("ball", None),
        ("index_3", None),
    ],
)
def test_which_tip_ends_a_chain(name, tip):
    """Toes, fingers and the head end in helpers of their own names; nothing else does."""
    assert tip_below(name) == tip


def test_every_default_joint_has_a_family():
    """No joint of the whole default figure is left without a rule, and there are 67 of them."""
    names = standard_skeleton().names
    assert len(names) == 67
    assert all(family(name) for name in names)


def test_every_default_joint_with_several_children_is_in_the_table_of_aims():
    """Pelvis, chest, head and wrists: their aims are written down, not guessed."""
    figure = standard_skeleton()
    forks = [j.name for j in figure if len(figure.children(j.name)) > 1]
    assert {stem(n) for n in forks} == {"pelvis", "chest", "head", "wrist"}
    assert all(stem(n) in AIM_TARGETS for n in forks)
