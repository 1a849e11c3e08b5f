"""`autoplace.place.metacarpals`: bases of the metacarpals between wrist and knuckles."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from autoplace import check, place
from autoplace.skeleton.checks.proportions import RATIOS
from autoplace.skeleton.names import LONG_FINGERS, family, finger_of, metacarpal_of
from autoplace.skeleton.skin.binding import bind_mesh
from tests.placed_once import demo_character, placed_demo

HAND_BREADTH = 0.44
"""Share of the hand's length (US Army 2012 survey: .457 men, .432 women)."""
PUBLISHED = {"index": 0.378, "middle": 0.373, "ring": 0.338, "pinky": 0.306}
"""Metacarpals, joint centre to joint centre, shares of the hand's length (Buchholz et al. 1992)."""


@pytest.fixture(scope="module")
def keeper():
    return demo_character()


@pytest.fixture(scope="module")
def plain():
    return placed_demo().skeleton


@pytest.fixture(scope="module")
def cupping(keeper):
    return place(keeper, metacarpals=True).skeleton


def test_all_else_stays_as_it_is(plain, cupping):
    """Asking for metacarpals adds joints and moves or turns no other."""
    for joint in plain:
        same = cupping[joint.name]
        assert np.array_equal(joint.position, same.position), joint.name
        assert np.allclose(joint.axes, same.axes, atol=1e-12), joint.name
    added = set(cupping.names) - set(plain.names)
    assert added == {f"{s}_{f}_metacarpal" for s in ("left", "right") for f in LONG_FINGERS}


def test_they_hang_between_wrist_and_knuckle(cupping):
    """The wrist carries them, they carry the knuckles, and the thumb has none."""
    for side in ("left", "right"):
        for finger in LONG_FINGERS:
            assert cupping[f"{side}_{finger}_metacarpal"].parent == f"{side}_wrist"
            assert cupping[f"{side}_{finger}_1"].parent == f"{side}_{finger}_metacarpal"
        assert cupping[f"{side}_thumb_1"].parent == f"{side}_wrist"
    assert not [finding for finding in check(cupping) if finding.level != "note"]


def test_one_axis_cups_the_palm(cupping):
    """A positive turn about the bend axis carries the little finger's knuckle toward the palm,
    which is where the fingers' own positive turn carries their tips."""
    base, knuckle = cupping["left_pinky_metacarpal"], cupping["left_pinky_1"]
    carried = np.cross(base.axes[0], knuckle.position - base.position)
    tip = np.cross(knuckle.axes[0], cupping["left_pinky_tip"].position - knuckle.position)
    assert carried @ tip > 0.9 * np.linalg.norm(carried) * np.linalg.norm(tip)


def test_their_lengths_are_near_the_published(cupping):
    """A modelled adult's metacarpals keep the order and within a quarter the published lengths."""
    tip, wrist = cupping["left_middle_tip"].position, cupping["left_wrist"].position
    hand = float(np.linalg.norm(tip - wrist))
    for finger, share in PUBLISHED.items():
        base, knuckle = cupping[f"left_{finger}_metacarpal"], cupping[f"left_{finger}_1"]
        assert np.linalg.norm(knuckle.position - base.position) / hand == pytest.approx(
            share, rel=0.25
        )


def test_the_check_follows_the_publication():
    """The ratio that is checked is that of the published lengths of metacarpal and finger."""
    finger = {"index": 0.505, "middle": 0.555, "ring": 0.531, "pinky": 0.416}
    checked = {bone[1][:-2]: ratio for what, bone, _, ratio in RATIOS if "metacarpal" in what}
    for name, length in PUBLISHED.items():
        assert checked[name] == pytest.approx(length / finger[name], abs=0.006)


def test_a_metacarpal_out_of_proportion_is_noted(cupping):
    """Bases moved half way up the palm are told as notes, with the published ratio."""
    joints = []
    for joint in cupping:
        if metacarpal_of(joint.name):
            knuckle = cupping[f"{joint.name.removesuffix('_metacarpal')}_1"].position
            joint = replace(joint, position=joint.position + 0.6 * (knuckle - joint.position))
        joints.append(joint)
    told = [f for f in check(cupping.with_joints(tuple(joints))) if f.check == "proportions"]
    assert {f.joint for f in told} >= {f"left_{finger}_1" for finger in LONG_FINGERS}
    assert all("metacarpal" in f.message for f in told)


def test_names():
    """A metacarpal is a joint of the palm and none of a finger; the thumb's is `thumb_1`."""
    assert metacarpal_of("left_index_metacarpal") == "index"
    assert family("right_pinky_metacarpal") == "metacarpal"
    assert finger_of("left_index_metacarpal") is None
    for wrong in ("index_metacarpal", "left_thumb_metacarpal", "left_index_1"):
        assert metacarpal_of(wrong) is None


def test_the_palm_follows_them(keeper, cupping):
    """In the binding every metacarpal carries skin, and the skin between two is shared."""
    vertices, faces = keeper.vertices, keeper.faces
    binding = bind_mesh(vertices, faces, cupping)
    numbers = [cupping.names.index(f"left_{f}_metacarpal") for f in LONG_FINGERS]
    held = [np.any((binding.joints == n) & (binding.weights > 0), axis=1) for n in numbers]
    assert all(np.count_nonzero(h) > 20 for h in held)
    for one, next_one in pairwise(held):
        assert np.count_nonzero(one & next_one) > 5
