"""A skeleton whose locked joints are kept in a changed model, on an invented figure."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from autoplace.errors import SkeletonError
from autoplace.keep.locked_joints import KeepResult, place_keeping
from autoplace.mesh.character import Character
from autoplace.skeleton.edits import without_edits
from autoplace.skeleton.model import Joint, Skeleton
from meshes.params import FigureParams
from tests.family.built import built_figure
from tests.invariance.states import every_part, shuffled
from tests.light_figure import HEIGHT, changed, light_figure
from tests.placed_figure import same
from tests.placed_once import place_once, placed_light

pytestmark = pytest.mark.usefixtures("placing_once")

SET_APART = {
    "left_knee": (0.01, 0.0, 0.012),
    "right_wrist": (0.0, 0.008, 0.0),
    "left_index_2": (0.0, 0.0, 0.0),
    "spine_2": (0.0, 0.0, -0.02),
    "left_eye": (0.0, 0.0, 0.0),
}
"""Joints that a person has locked, and how far from where they were placed, metres."""


@cache
def old_skeleton() -> Skeleton:
    return placed_light().skeleton


def corrected(apart=SET_APART, more: tuple[Joint, ...] = ()) -> Skeleton:
    """The placed skeleton with locked joints."""
    skeleton = old_skeleton()
    joints = [
        replace(joint, locked=True, position=joint.position + apart[joint.name])
        if joint.name in apart
        else joint
        for joint in skeleton
    ]
    return skeleton.with_joints((*joints, *more))


@cache
def grown() -> Character:
    """The same vertices a tenth wider and shifted."""
    return changed(light_figure()[0], lambda v: v * [1.1, 1.0, 1.0] + [0.4, 0.0, 0.0])


@cache
def kept_in_grown() -> KeepResult:
    return place_keeping(grown(), corrected(), light_figure()[0])


def test_on_the_unchanged_mesh_locked_joints_stay_where_they_were():
    """To 1e-9 of the height, and all others are placed as without them."""
    old = corrected()
    result = place_keeping(light_figure()[0], old, light_figure()[0])
    assert result.carried_by == "vertices"
    for joint in result.placed.skeleton:
        before = old[joint.name]
        assert joint.locked == before.locked
        assert np.linalg.norm(joint.position - before.position) <= 1e-9 * HEIGHT, joint.name


def test_locked_joints_go_with_the_flesh_and_others_are_placed_anew():
    """On a wider, shifted figure a locked joint is wider and shifted too; the rest is as placed."""
    old, result, anew = corrected(), kept_in_grown(), place_once(grown()).skeleton
    assert [move.name for move in result.moves if move.kept] == [
        joint.name for joint in old if joint.locked
    ]
    for joint in result.placed.skeleton:
        if joint.locked:
            wanted = old[joint.name].position * [1.1, 1.0, 1.0] + [0.4, 0.0, 0.0]
            assert np.linalg.norm(joint.position - wanted) < 0.0005 * HEIGHT, joint.name
        else:
            assert np.array_equal(joint.position, anew[joint.name].position)
            assert repr(joint.evidence) == repr(anew[joint.name].evidence)


def test_kept_joints_say_what_spoke_for_them():
    """Locked, with the evidence 'kept' alone in weight, and where and by what it would be placed
    beside it, so that it can be put back there."""
    joint = kept_in_grown().placed.skeleton["left_knee"]
    anew = place_once(grown()).skeleton["left_knee"]
    assert joint.locked
    told = [(e.kind, round(e.weight, 6)) for e in joint.evidence]
    assert told[:2] == [("kept", 1.0), ("placed_anew", 0.0)]
    assert told[2:] == [(e.kind, 0.0) for e in anew.evidence]
    back = without_edits(kept_in_grown().placed.skeleton)["left_knee"]
    assert same(replace(back, axes=anew.axes), anew)
    assert "vertices" in joint.evidence[0].note


def test_axes_follow_the_kept_joint():
    """The knee aims at the ankle from where it is kept, and the hip at the knee."""
    skeleton = kept_in_grown().placed.skeleton
    for name, child in (("left_hip", "left_knee"), ("left_knee", "left_ankle")):
        bone = skeleton[child].position - skeleton[name].position
        assert skeleton[name].axes[1] == pytest.approx(bone / np.linalg.norm(bone), abs=1e-9)


def test_the_table_says_how_far_every_joint_moved():
    """By the numbers in the files, and in shares of the new height; the report says the same."""
    result = kept_in_grown()
    rows = {row["name"]: row for row in result.placed.report["keeping"]["joints"]}
    assert list(rows) == list(result.placed.skeleton.names)
    knee = result.placed.skeleton["left_knee"].position
    far = float(np.linalg.norm(knee - corrected()["left_knee"].position))
    height = result.placed.frame.height
    assert rows["left_knee"]["moved"] == pytest.approx(far)
    assert rows["left_knee"]["moved_percent"] == pytest.approx(100 * far / height)
    assert rows["left_knee"]["kept"]
    assert not rows["right_knee"]["kept"]
    assert rows["right_knee"]["from_anew_percent"] is None
    anew = result.placed.skeleton["left_knee"].evidence[1].position
    assert rows["left_knee"]["from_anew_percent"] == pytest.approx(
        100 * float(np.linalg.norm(knee - anew)) / height
    )


def test_other_units_and_another_up_axis_are_followed():
    """The new file in centimetres with +Z up: the joint is there in centimetres with +Z up."""
    turn = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])  # +Y becomes +Z
    new = changed(light_figure()[0], lambda v: 100.0 * v @ turn)
    old = corrected()
    result = place_keeping(new, old, light_figure()[0])
    skeleton = result.placed.skeleton
    assert skeleton.source.up == "+Z"
    assert "100 times as tall" in result.note
    assert "up is +Z where it was +Y" in result.note
    assert kept_in_grown().note == ""
    for name in SET_APART:
        wanted = 100.0 * old[name].position @ turn
        assert np.linalg.norm(skeleton[name].position - wanted) < 1e-7 * 100 * HEIGHT


def test_vertices_in_another_order_are_carried_by_bones():
    """The same surface under other vertex numbers keeps joints to 0.1 percent of the height."""
    character, joints = light_figure()
    other = every_part(shuffled)(character, joints).character
    old = corrected()
    result = place_keeping(other, old, character)
    assert result.carried_by == "bones"
    for name in SET_APART:
        off = np.linalg.norm(result.placed.skeleton[name].position - old[name].position)
        assert off < 0.001 * HEIGHT, name


def test_known_joints_are_kept_in_a_figure_of_other_proportions():
    """Longer arms, shorter legs, another surface: joints locked where the old figure bends lie
    where the new one bends, nearer than absolute coordinates and than placing anew."""
    character, known = light_figure()
    new, goal = built_figure(
        FigureParams(name="other", height=HEIGHT, upper_arm=0.185, forearm=0.165, knee=0.27),
        "light",
    )
    names = [f"{side}_{base}" for side in ("left", "right") for base in ("elbow", "wrist", "knee")]
    placed = old_skeleton()
    old = placed.with_joints(
        tuple(
            replace(j, position=known[j.name], locked=True) if j.name in names else j
            for j in placed
        )
    )
    skeleton = place_keeping(new, old, character).placed.skeleton

    def errors(where) -> np.ndarray:
        return np.array([np.linalg.norm(where(n) - goal[n]) for n in names]) / HEIGHT

    kept = errors(lambda n: skeleton[n].position)
    assert kept.max() < 0.01
    assert kept.mean() < errors(lambda n: known[n]).mean()
    assert kept.mean() < errors(lambda n: skeleton[n].evidence[1].position).mean()


def test_a_joint_that_a_person_added_is_hung_from_its_parent():
    """It is carried over like any other; one without a parent in the new skeleton is told."""
    skeleton = old_skeleton()
    middle = 0.5 * (skeleton["left_elbow"].position + skeleton["left_wrist"].position)
    twist = Joint("left_elbow_twist", "left_elbow", middle, locked=True)
    loose = Joint("tail_1", "pelvis", middle)
    lost = Joint("tail_2", "tail_1", middle, locked=True)
    old = corrected({}, (twist, loose, lost))
    result = place_keeping(grown(), old, light_figure()[0])
    kept = result.placed.skeleton["left_elbow_twist"]
    assert (kept.parent, kept.locked) == ("left_elbow", True)
    assert kept.position == pytest.approx(middle * [1.1, 1, 1] + [0.4, 0, 0], abs=0.001)
    assert result.lost == ("tail_1", "tail_2")
    (told,) = [f for f in result.placed.skeleton.findings if f.check == "kept_joint"]
    assert "tail_2" in told.message
    assert told.level == "warning"


def test_a_joint_kept_far_from_where_it_would_be_placed_is_told():
    """With the distance and two spreads as the limit; one outside the body is an error."""
    old = corrected({"left_knee": (0.05, 0.0, 0.0), "right_elbow": (0.0, 0.3, 0.0)})
    findings = place_keeping(grown(), old, light_figure()[0]).placed.skeleton.findings
    told = {f.joint: f for f in findings if f.check == "kept_joint"}
    assert {"left_knee", "right_elbow"} <= set(told)
    assert told["left_knee"].measured > told["left_knee"].limit
    outside = {f.joint for f in findings if f.check == "inside_body" and f.level == "error"}
    assert outside == {"right_elbow"}


def test_what_the_old_skeleton_was_placed_by_is_kept_too():
    """Numbers of spine joints and the convention are recorded in it."""
    character = light_figure()[0]
    skeleton = place_once(character, spine=4, convention="outward").skeleton
    old = skeleton.with_joints(
        tuple(replace(joint, locked=joint.name == "spine_3") for joint in skeleton)
    )
    kept = place_keeping(grown(), old, character).placed.skeleton
    assert kept["spine_3"].locked
    assert kept.settings["spine"] == 4
    assert kept.settings["orientation"]["aim"] == skeleton.settings["orientation"]["aim"]


def test_a_skeleton_without_locked_joints_is_refused():
    """There is nothing to keep."""
    with pytest.raises(SkeletonError, match="no locked joint"):
        place_keeping(grown(), old_skeleton(), light_figure()[0])


def test_a_mesh_that_is_not_the_old_one_is_refused():
    """Locked joints far outside of it cannot be carried over."""
    far = changed(light_figure()[0], lambda v: 0.01 * v)
    with pytest.raises(SkeletonError, match="--old-mesh"):
        place_keeping(grown(), corrected(), far)
