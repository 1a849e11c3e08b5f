"""Each check finds what it is for, says what it measured, and is silent on a sound figure."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from autoplace.skeleton.checks import check
from autoplace.skeleton.convention import Convention
from autoplace.skeleton.model import Joint, Skeleton, Source
from autoplace.skeleton.names import LONG_FINGERS, mirror_name
from autoplace.skeleton.orient import orient
from tests.figures import X, Y, Z, moved, standard_skeleton, turned, without


def told(findings, check_name=None, level=None, joint=None):
    return [
        f
        for f in findings
        if (check_name is None or f.check == check_name)
        and (level is None or f.level == level)
        and (joint is None or f.joint == joint)
    ]


def shifted(figure, name, by):
    """The figure with one joint and all below it moved, axes as they were."""
    below = {name}
    for joint in figure:
        if joint.parent in below:
            below.add(joint.name)
    return moved(figure, {n: figure[n].position + np.asarray(by) for n in below})


@pytest.mark.parametrize("pose", ["T", "A", "hanging"])
@pytest.mark.parametrize("mirror", ["motion", "axes"])
def test_a_sound_figure_gives_no_finding_at_all(pose, mirror):
    """A symmetric, oriented adult passes every check without so much as a note."""
    figure = orient(standard_skeleton(pose), Convention(mirror=mirror))
    found = check(
        figure, depth_at=lambda p: np.full(len(p), 0.01), symmetry_residual=0.0, floor=0.0
    )
    assert found == ()


def test_findings_come_worst_first_and_each_says_how_to_mend():
    """Errors, then warnings, then notes; every one has a message with a number and a fix."""
    figure = orient(standard_skeleton("straight"))
    figure = shifted(figure, "left_wrist", -0.3 * X)
    found = check(figure, symmetry_residual=0.0, depth_at=lambda p: np.full(len(p), -0.1))
    levels = [("error", "warning", "note").index(f.level) for f in found]
    assert levels == sorted(levels)
    assert len(set(levels)) == 3
    for one in found:
        assert any(c.isdigit() for c in one.message), one
        assert one.fix
        assert one.check


def test_broken_trees_are_told_and_nothing_else_where_nothing_else_can_be_tried():
    """Two roots, a doubled name, a missing parent, a circle, a child before its parent, a nan."""
    at = np.zeros(3)
    cases = {
        "one_root": [Joint("a", None, at), Joint("b", None, at)],
        "unique_names": [Joint("a", None, at), Joint("b", "a", at), Joint("b", "a", at)],
        "parent_exists": [Joint("a", None, at), Joint("b", "z", at)],
        "no_cycles": [Joint("a", None, at), Joint("b", "c", at), Joint("c", "b", at)],
        "parents_first": [Joint("a", None, at), Joint("c", "b", at), Joint("b", "a", at)],
        "finite_position": [Joint("a", None, np.array([0, np.nan, 0]))],
        "tree": [],
    }
    for name, joints in cases.items():
        found = check(Skeleton(tuple(joints)))
        assert told(found, name, "error"), name
        if name not in ("one_root", "parents_first"):
            assert {f.check for f in found} <= {name, "one_root"}, name
    lost = check(Skeleton((Joint("a", "b", at), Joint("b", "a", at))))
    assert {f.check for f in lost} == {"one_root", "no_cycles"}


def test_a_missing_counterpart_is_told_once():
    """A figure without its left arm: one warning at the top of the missing limb."""
    figure = standard_skeleton()
    stems = ("clavicle", "shoulder", "elbow", "wrist", "thumb", *LONG_FINGERS)
    kept = tuple(j for j in figure if not j.name.startswith(tuple(f"left_{s}" for s in stems)))
    found = check(orient(figure.with_joints(kept)))
    missing = told(found, "paired_sides")
    assert [f.joint for f in missing] == ["right_clavicle"]
    assert "left_clavicle" in missing[0].message


def test_a_joint_under_the_wrong_parent_is_an_error():
    """A knee that hangs from the pelvis, a finger joint that skips one."""
    figure = standard_skeleton()
    for name, parent in (("left_knee", "pelvis"), ("right_index_3", "right_index_1")):
        joints = tuple(replace(j, parent=parent) if j.name == name else j for j in figure)
        found = check(orient(figure.with_joints(joints)))
        assert told(found, "parentage", "error", name), name


def test_bones_of_no_length_are_found():
    """A ball on top of its ankle is an error, one a twentieth of a percent off a warning."""
    figure = orient(standard_skeleton())
    ankle = figure["left_ankle"].position
    on_top = check(moved(figure, {"left_ball": ankle}))
    assert told(on_top, "bone_length", "error", "left_ball")
    near = check(moved(figure, {"left_ball": ankle + 0.0005 * Z}))
    assert told(near, "bone_length", "warning", "left_ball")


def test_swapped_sides_are_an_error():
    """Left joints on the right: told at the top of each limb, with how much hangs from it."""
    figure = standard_skeleton()
    swapped = orient(moved(figure, {j.name: figure[mirror_name(j.name)].position for j in figure}))
    found = told(check(swapped), "sides_swapped", "error")
    assert [f.joint for f in found] == ["left_eye", "left_hip", "left_clavicle"]
    assert "'left_hip' with the 4 joints below it" in found[1].message


def test_unmirrored_places_are_told_with_their_distance_as_far_as_the_mesh_is_symmetric():
    """A wrist 2 % off its mirror image: a warning on a symmetric mesh, a note on another."""
    figure = orient(shifted(standard_skeleton(), "left_wrist", 0.02 * X))
    strict = told(check(figure, symmetry_residual=0.001), "mirrored_places")
    assert [(f.joint, f.level) for f in strict] == [("left_wrist", "warning")]
    assert "2 % of the height" in strict[0].message
    assert "limit is 0.5 % of the height" in strict[0].message
    loose = told(check(figure, symmetry_residual=0.02), "mirrored_places")
    assert [(f.joint, f.level) for f in loose] == [("left_wrist", "note")]
    assert told(check(figure), "mirrored_places")[0].level == "note"


def test_a_raised_arm_is_a_pose_and_no_mistake():
    """One arm raised by 60 degrees: one note at its topmost shifted joint, no warning at all."""
    figure, raised = standard_skeleton("A"), standard_skeleton("A", arm_down=-60)
    names = [j.name for j in figure if j.name.startswith("left_")]
    posed = moved(figure, {n: raised[n].position for n in names})
    found = check(orient(posed), symmetry_residual=0.001, floor=0.0)
    assert [(f.check, f.joint, f.level) for f in found] == [
        ("mirrored_places", "left_elbow", "note")
    ]
    assert "posed differently" in found[0].message


def test_axes_that_are_not_mirrored_are_told():
    """One left knee whose axes are turned 3 degrees about its bone is named."""
    figure = orient(standard_skeleton())
    knee = figure["left_knee"]
    axes = np.array([turned(row, knee.axes[1], 3) for row in knee.axes])
    wrong = figure.with_joints(
        tuple(replace(j, axes=axes) if j.name == "left_knee" else j for j in figure)
    )
    found = told(check(wrong), "mirrored_axes")
    assert [f.joint for f in found] == ["left_knee"]
    assert "3 degrees" in found[0].message


def test_eyes_that_were_seen_to_look_one_way_need_not_mirror():
    """Both eyes look 10 degrees to the left, as was seen: their axes are parallel, and right."""
    look = np.array([np.sin(np.radians(10)), 0.0, np.cos(np.radians(10))])
    figure = standard_skeleton()
    figure = figure.with_joints(
        tuple(replace(j, look=look) if j.name.endswith("_eye") else j for j in figure)
    )
    assert told(check(orient(figure)), "mirrored_axes") == []


def test_joints_outside_the_body_are_told_with_their_depth():
    """Outside by 1.5 %: an error for a joint, a warning for a tip; eyes are passed over, and a neck
    may lie as far outside as in the middle of a mouth."""
    figure = orient(standard_skeleton())
    inside = {j.name: 0.02 for j in figure}
    inside |= {"left_knee": -0.015, "left_index_tip": -0.015, "left_eye": -0.015}
    inside |= {"right_index_tip": -0.005, "head": np.nan, "left_elbow": 0.001, "neck": -0.01}
    seen = []

    def depth_at(points):
        seen.append(points)
        if len(points) != len(figure):  # around it and along its bones
            return 0.001 + (points - figure["left_elbow"].position) @ X
        return np.array([inside[j.name] for j in figure])

    found = told(check(figure, depth_at=depth_at), "inside_body")
    assert [(f.joint, f.level) for f in found] == [
        ("left_knee", "error"),
        ("left_index_tip", "warning"),
        ("head", "note"),
        ("left_elbow", "note"),
    ]
    assert "1.5 % of the height outside" in found[0].message
    assert "0.1 % of the height under the surface" in found[3].message
    assert np.array_equal(seen[0], figure.positions())


def test_depths_are_asked_in_the_skeletons_own_frame():
    """A Z-up skeleton's own positions reach the depth function, not the turned ones."""
    matrix = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    figure = standard_skeleton()
    there = replace(
        figure.with_joints(tuple(replace(j, position=matrix @ j.position) for j in figure)),
        source=Source(up="+Z", forward="-Y"),
    )
    got = []

    def depth_at(points):
        got.append(points)
        return np.ones(len(points))

    assert check(orient(there), depth_at=depth_at, floor=0.0, symmetry_residual=0.0) == ()
    assert np.array_equal(got[0], there.positions())


def test_feet_off_or_under_the_floor_are_told():
    """Both feet 8 % up: warnings; one foot: notes, as it may be lifted; under the floor: errors."""
    figure = orient(standard_skeleton())
    both = told(check(figure, floor=-0.08), "on_floor")
    assert [f.level for f in both] == ["warning"] * 4
    one = shifted(shifted(figure, "left_ball", 0.1 * Y), "left_toe_tip", 0.0 * Y)
    assert {f.level for f in told(check(one, floor=0.0), "on_floor")} == {"note"}
    under = told(check(figure, floor=0.02), "on_floor", "error")
    assert len(under) == 4


def test_straight_knees_and_elbows_are_told():
    """All four limbs of a figure drawn with straight limbs, and no other check."""
    found = check(orient(standard_skeleton("straight")), symmetry_residual=0.0, floor=0.0)
    assert {(f.check, f.level) for f in found} == {("bend_present", "warning")}
    assert {f.joint for f in found} == {"left_knee", "right_knee", "left_elbow", "right_elbow"}


@pytest.mark.parametrize(
    ("pose", "change", "joint", "level"),
    [
        ("A", {"knee": -3}, "left_knee", "warning"),
        ("A", {"knee": -9}, "left_knee", "error"),
        ("A", {"elbow": -3}, "right_elbow", "warning"),
        ("T", {"elbow": -25}, "right_elbow", "error"),
        ("hanging", {"elbow": -9}, "left_elbow", "error"),
    ],
)
def test_limbs_bent_the_wrong_way_are_told_with_the_angle(pose, change, joint, level):
    """Knees forward of the leg's line are right, behind it wrong; elbows the other way round."""
    figure = orient(standard_skeleton(pose, **change))
    found = told(check(figure), "bend_direction", level, joint)
    assert len(found) == 1
    measured = float(re.search(r"by ([\d.]+) degrees the wrong way", found[0].message)[1])
    assert measured == pytest.approx(-next(iter(change.values())), abs=0.2)


def test_a_wrong_bend_is_found_in_any_frame_and_size():
    """The same knee error in a Z-up skeleton 174 units tall."""
    matrix = 174 * np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    figure = standard_skeleton("A", knee=-9)
    there = replace(
        figure.with_joints(tuple(replace(j, position=matrix @ j.position) for j in figure)),
        source=Source(up="+Z", forward="-Y", height=174.0),
    )
    assert len(told(check(orient(there)), "bend_direction", "error")) == 2


def test_a_limb_turned_out_or_folded_too_far_is_told():
    """A knee that bends straight sideways, and an elbow folded by 165 degrees."""
    figure = standard_skeleton("A", knee=0)
    aside = moved(figure, {"left_knee": figure["left_knee"].position + 0.06 * X})
    assert told(check(orient(aside)), "bend_direction", "warning", "left_knee")
    folded = check(orient(standard_skeleton("A", elbow=165)))
    assert {f.joint for f in told(folded, "bend_range")} == {"left_elbow", "right_elbow"}


def test_fingers_bent_back_too_far_are_told():
    """60 degrees back at each joint is an error, 30 is none; 80 toward the palm is none."""
    back = check(orient(standard_skeleton("T", curl=-60)))
    assert len(told(back, "finger_bend", "error")) == 16
    assert not told(check(orient(standard_skeleton("T", curl=-30))), "finger_bend")
    assert not told(check(orient(standard_skeleton("T", curl=80))), "finger_bend")


def test_fingers_out_of_order_are_told():
    """Index and middle swapped on one hand; a thumb on the little finger's side."""
    figure = standard_skeleton()
    ends = ("1", "2", "3", "tip")
    swap = {f"left_index_{e}": figure[f"left_middle_{e}"].position for e in ends}
    swap |= {f"left_middle_{e}": figure[f"left_index_{e}"].position for e in ends}
    found = told(check(orient(moved(figure, swap))), "finger_order", "error")
    assert [f.joint for f in found] == ["left_middle_1"]

    wrist = figure["right_wrist"].position
    over = {f"right_thumb_{e}": figure[f"right_thumb_{e}"].position for e in ends}
    over = {n: np.array([p[0], p[1], 2 * wrist[2] - p[2]]) for n, p in over.items()}
    found = told(check(orient(moved(figure, over))), "finger_order", "error")
    assert [f.joint for f in found] == ["right_thumb_1"]


def test_unsound_axes_are_told():
    """Axes of twice the length, askew, left-handed, or no numbers at all."""
    figure = orient(standard_skeleton())
    for axes, name in (
        (2 * np.eye(3), "rest_scale"),
        (np.array([[1.0, 0, 0], [0.1, 0.995, 0], [0, 0, 1]]), "axes_orthonormal"),
        (np.diag([1.0, 1.0, -1.0]), "axes_right_handed"),
        (np.full((3, 3), np.nan), "axes_orthonormal"),
    ):
        joints = tuple(replace(j, axes=axes) if j.name == "chest" else j for j in figure)
        assert told(check(figure.with_joints(joints)), name, "error", "chest"), name


def test_a_skeleton_that_was_never_oriented_is_told():
    """Without a convention, aims cannot be judged, and that is said."""
    assert told(check(standard_skeleton()), "oriented", "warning")
    assert not told(check(orient(standard_skeleton())), "oriented")


def test_stale_axes_are_found_by_their_aim_and_tips():
    """A joint moved after orienting: its parent aims past it; a tip turned away is named."""
    figure = orient(standard_skeleton())
    stale = moved(figure, {"right_knee": figure["right_knee"].position + 0.01 * X})
    found = told(check(stale), "aim", "warning")
    assert {f.joint for f in found} == {"right_hip", "right_knee"}
    joints = tuple(replace(j, axes=np.eye(3)) if j.name == "left_ring_tip" else j for j in figure)
    found = told(check(figure.with_joints(joints)), "tip_aligned", "warning")
    assert [f.joint for f in found] == ["left_ring_tip"]


def test_bend_axes_that_differ_along_a_chain_are_found():
    """One spine joint turned 4 degrees about its own bone, one finger joint 10."""
    figure = orient(standard_skeleton())
    for name, degrees in (("spine_2", 4), ("left_index_2", 10), ("left_knee", 8)):
        joint = figure[name]
        axes = np.array([turned(row, joint.axes[1], degrees) for row in joint.axes])
        joints = tuple(replace(j, axes=axes) if j.name == name else j for j in figure)
        found = told(check(figure.with_joints(joints)), "bend_axes_agree", "warning")
        assert name in {f.joint for f in found}, name
        assert f"{degrees}.0 degrees" in found[0].message


def test_an_eye_that_looks_aside_is_told():
    """A look direction 60 degrees off straight ahead."""
    figure = standard_skeleton()
    look = turned(Z, Y, 60)
    joints = tuple(replace(j, look=look) if j.name == "left_eye" else j for j in figure)
    found = told(check(orient(figure.with_joints(joints))), "eye_direction", "warning")
    assert [f.joint for f in found] == ["left_eye"]


def test_bones_far_from_anatomy_are_notes():
    """Forearms twice as long: notes that name the published value; nothing worse."""
    figure = standard_skeleton("T")
    elbow, wrist = figure["left_elbow"].position, figure["left_wrist"].position
    longer = shifted(shifted(figure, "left_wrist", wrist - elbow), "right_wrist", 0 * X)
    longer = shifted(longer, "right_wrist", (wrist - elbow) * np.array([-1, 1, 1]))
    found = check(orient(longer), symmetry_residual=0.0)
    assert {f.check for f in found} == {"proportions"}
    assert {f.level for f in found} == {"note"}
    assert any("de Leva 1996" in f.message for f in found)


def test_four_finger_hands_mittens_and_other_spines_pass():
    """Missing fingers and other numbers of spine joints are no mistakes."""
    for missing in (("ring",), ("ring", "pinky", "index"), ("eye",)):
        figure = orient(without(standard_skeleton("A"), *missing))
        assert check(figure, symmetry_residual=0.0) == ()
