"""A placing with a person's edits in it, on an invented figure."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from autoplace import check
from autoplace.errors import SettingsError, SkeletonError
from autoplace.keep.edited import EditResult, place_edited, with_edits
from autoplace.skeleton.edit_moves import lock_joint, move_joint, respace
from autoplace.skeleton.edits import Edits, JointEdit, apply_edits, edits_of, without_edits
from autoplace.skeleton.model import Skeleton
from tests.light_figure import HEIGHT, changed, light_figure
from tests.placed_figure import same
from tests.placed_once import place_once, placed_light

pytestmark = pytest.mark.usefixtures("placing_once")

ASIDE = np.array([0.0, 0.004, 0.003])
"""How far the knuckle is moved, metres."""


@cache
def placed() -> Skeleton:
    return placed_light().skeleton


@cache
def some_edits() -> Edits:
    """A knuckle moved and locked on both sides, a knee moved on one, and a spine of four."""
    skeleton, edits = placed(), Edits(placed().source)
    edits = move_joint(skeleton, edits, "left_index_1", skeleton["left_index_1"].position + ASIDE)
    edits = lock_joint(skeleton, edits, "left_index_1", True)
    knee = skeleton["left_knee"].position + np.array([0.0, 0.0, 0.004])
    edits = move_joint(skeleton, edits, "left_knee", knee, mirror=False)
    return respace(skeleton, edits, "spine", 4)


@cache
def edited() -> EditResult:
    return place_edited(light_figure()[0], some_edits())


def test_joints_stand_where_the_edits_say():
    """As `apply_edits` puts them into the placed skeleton, bit for bit; only findings are new."""
    skeleton = edited().placed.skeleton
    wanted = apply_edits(placed(), some_edits())
    assert same(skeleton.joints, wanted.joints)
    assert skeleton.settings == wanted.settings
    assert edits_of(skeleton) == some_edits()
    assert same(without_edits(skeleton).joints, placed().joints)


def test_the_report_says_how_far_joints_were_corrected():
    """In percent of the height, from where they would be placed."""
    told = {row["name"]: row for row in edited().placed.report["edits"]["joints"]}
    off = 100 * float(np.linalg.norm(ASIDE)) / edited().placed.frame.height
    for name in ("left_index_1", "right_index_1"):
        assert told[name]["locked"]
        assert told[name]["moved_percent"] == pytest.approx(off)
    assert not told["left_knee"]["locked"]
    assert [joint.as_data() for joint in edited().corrected] == list(told.values())
    assert edited().placed.report["joints"] == len(placed()) + 1


def test_the_corrected_skeleton_is_checked_anew():
    """A joint put outside the body is told; what was told of placing stays."""
    outside = placed()["left_elbow"].position + np.array([0.0, 0.3, 0.0])
    edits = Edits(placed().source, (JointEdit("left_elbow", outside),))
    result = with_edits(light_figure()[0], placed_light(), edits)
    errors = {f.joint for f in result.placed.skeleton.findings if f.level == "error"}
    assert "left_elbow" in errors
    assert any("left_elbow" in f["message"] for f in result.placed.report["findings"])
    before = check(placed())
    of_placing = [f for f in placed().findings if f not in before]
    assert [f for f in result.placed.skeleton.findings if f in of_placing] == of_placing


def test_no_edits_give_the_placing():
    """The same joints and findings as without."""
    skeleton = place_edited(light_figure()[0], Edits(placed().source)).placed.skeleton
    assert same(skeleton.joints, placed().joints)
    assert set(skeleton.findings) == set(placed().findings)


def test_in_a_changed_model_locked_joints_go_with_the_flesh():
    """The others are placed anew, with as many spine joints as asked for; it is told which."""
    wider = changed(light_figure()[0], lambda v: v * [1.1, 1.0, 1.0] + [0.4, 0.0, 0.0])
    result = place_edited(wider, some_edits(), light_figure()[0])
    skeleton = result.placed.skeleton
    for name in ("left_index_1", "right_index_1"):
        wanted = edited().placed.skeleton[name].position * [1.1, 1.0, 1.0] + [0.4, 0.0, 0.0]
        assert np.linalg.norm(skeleton[name].position - wanted) < 0.0005 * HEIGHT
        assert skeleton[name].locked
    anew = place_once(wider, spine=4).skeleton
    assert np.array_equal(skeleton["left_knee"].position, anew["left_knee"].position)
    assert skeleton.names == anew.names
    assert result.not_kept == ("left_knee", "spine_2", "spine_3")
    assert result.keeping is not None
    assert {move.name for move in result.keeping.moves if move.kept} == {
        "left_index_1",
        "right_index_1",
    }


def test_edits_without_a_lock_say_nothing_about_a_changed_model():
    """There is nothing to carry over."""
    edits = Edits(placed().source, (JointEdit("neck", (0.0, 1.5, 0.0)),))
    with pytest.raises(SkeletonError, match="lock no joint"):
        place_edited(light_figure()[0], edits, light_figure()[0])


def test_edits_that_do_not_fit_are_told():
    """Other numbers of joints than asked for, places far outside, joints that are not there."""
    with pytest.raises(SettingsError, match="4 spine joints and --spine for 5"):
        place_edited(light_figure()[0], some_edits(), spine=5)
    far = Edits(placed().source, (JointEdit("neck", (0.0, 150.0, 0.0)),))
    with pytest.raises(SkeletonError, match="'neck' far outside the mesh 'light'"):
        place_edited(light_figure()[0], far)
    none = Edits(placed().source, (JointEdit("left_tail", (0.0, 1.0, 0.0)),))
    with pytest.raises(SkeletonError, match="no joint 'left_tail'"):
        place_edited(light_figure()[0], none)


def test_the_figure_stands_as_the_edits_record():
    """A figure whose up and forward had to be told for its edits need not be told them again."""
    facing_back = place_once(light_figure()[0], forward="-Z").skeleton
    knee = facing_back["left_knee"].position
    edits = Edits(facing_back.source, (JointEdit("left_knee", knee, True),))
    skeleton = place_edited(light_figure()[0], edits).placed.skeleton
    assert skeleton.source.forward == "-Z"
    assert np.array_equal(skeleton["left_hip"].position, facing_back["left_hip"].position)
