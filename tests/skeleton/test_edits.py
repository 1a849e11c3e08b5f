"""Edits put into a skeleton and taken out of it again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from autoplace.errors import SkeletonError
from autoplace.files.skeleton_json import read_skeleton, write_skeleton
from autoplace.skeleton.edits import (
    Edits,
    JointEdit,
    apply_edits,
    edits_of,
    with_counts,
    without_edits,
)
from autoplace.skeleton.model import Evidence
from autoplace.skeleton.names import is_tip
from tests.examples import examples
from tests.placed_figure import SOURCE, placed_figure, same

EXAMPLES = settings(
    max_examples=examples(25),
    deadline=None,
    derandomize=True,  # the same input in every run
    suppress_health_check=[HealthCheck.too_slow],
)
KNEE = np.array([0.06, 0.29, 0.03])


def edited(*joints: JointEdit, **counts: int) -> Edits:
    return Edits(SOURCE, joints, **counts)


@st.composite
def some_edits(draw) -> Edits:
    """Joints of a figure with other numbers of spine and neck joints, given places or locked."""
    spine, neck = (draw(st.sampled_from((None, 1, 2, 3, 4, 6))) for _ in range(2))
    names = with_counts(placed_figure(), edited(spine=spine, neck=neck)).names
    coordinate = st.floats(-1, 1, allow_subnormal=False)
    joints = []
    for name in draw(st.lists(st.sampled_from(names), unique=True, max_size=8)):
        place = draw(st.one_of(st.none(), st.tuples(coordinate, coordinate, coordinate)))
        joints.append(JointEdit(name, place, place is None or draw(st.booleans())))
    return edited(*joints, spine=spine, neck=neck)


@EXAMPLES
@given(some_edits())
def test_edits_and_the_placed_skeleton_come_back(edits):
    """From the corrected skeleton alone: the same edits, and the placed skeleton bit for bit."""
    corrected = apply_edits(placed_figure(), edits)
    assert edits_of(corrected) == edits
    placed = without_edits(corrected)
    assert same(placed, placed_figure())
    assert list(placed.settings) == list(placed_figure().settings)


@EXAMPLES
@given(some_edits())
def test_edits_applied_twice_are_applied_once(edits):
    """The second time changes nothing, and nothing is lost of what was placed."""
    once = apply_edits(placed_figure(), edits)
    assert same(apply_edits(once, edits), once)


def test_nothing_is_lost_in_a_file(tmp_path):
    """The skeleton as placed comes back from the written file of the corrected one."""
    edits = edited(JointEdit("left_knee", KNEE, True), JointEdit("neck_2", KNEE), spine=5, neck=2)
    path = write_skeleton(apply_edits(placed_figure(), edits), tmp_path / "a.skeleton.json")
    read = read_skeleton(path)
    assert edits_of(read) == edits
    assert same(without_edits(read), placed_figure())


def test_no_edits_leave_the_very_skeleton():
    """Axes that a person turned are not touched by opening a skeleton."""
    assert apply_edits(placed_figure(), Edits(SOURCE)) is placed_figure()
    assert edits_of(placed_figure()) == Edits(SOURCE)
    assert same(without_edits(placed_figure()), placed_figure())


def test_a_corrected_joint_stands_where_it_was_put_and_says_so():
    """To the last bit, without spread; the weights of its evidence sum to one."""
    joint = apply_edits(placed_figure(), edited(JointEdit("left_knee", KNEE)))["left_knee"]
    before = placed_figure()["left_knee"]
    assert np.array_equal(joint.position, KNEE)
    assert (joint.spread, joint.locked) == (0.0, False)
    first, anew, *rest = joint.evidence
    assert (first.kind, first.weight, first.note) == ("corrected", 1.0, "moved by a person")
    assert (anew.kind, anew.weight, anew.spread) == ("placed_anew", 0.0, before.spread)
    assert np.array_equal(anew.position, before.position)
    assert [e.kind for e in rest] == [e.kind for e in before.evidence]
    assert sum(e.weight for e in joint.evidence) == pytest.approx(1.0, abs=1e-8)


def test_axes_of_the_joint_and_its_neighbours_follow():
    """The thigh aims at the knee, the shank from it; the rest of the body keeps its axes."""
    corrected = apply_edits(placed_figure(), edited(JointEdit("left_knee", KNEE)))
    for name, child in (("left_hip", "left_knee"), ("left_knee", "left_ankle")):
        bone = corrected[child].position - corrected[name].position
        assert corrected[name].axes[1] == pytest.approx(bone / np.linalg.norm(bone), abs=1e-12)
    for joint in corrected:
        if joint.name.startswith("right") or is_tip(joint.name):
            assert np.array_equal(joint.axes, placed_figure()[joint.name].axes)


def test_a_locked_joint_without_a_place_stays_and_is_locked():
    """It keeps place and spread, and its evidence begins with 'confirmed'."""
    joint = apply_edits(placed_figure(), edited(JointEdit("left_eye", None, True)))["left_eye"]
    before = placed_figure()["left_eye"]
    assert joint.locked
    assert same((joint.position, joint.spread), (before.position, before.spread))
    assert joint.evidence[0].kind == "confirmed"


def test_an_eye_keeps_its_look():
    """Where it looks was seen in the mesh, wherever a person puts its centre."""
    corrected = apply_edits(placed_figure(), edited(JointEdit("left_eye", (0.02, 0.93, 0.06))))
    assert np.array_equal(corrected["left_eye"].look, placed_figure()["left_eye"].look)


def test_a_joint_that_is_not_there_is_told_with_the_nearest_names():
    """One sentence with the name and what it may have meant."""
    with pytest.raises(SkeletonError, match=r"no joint 'left_kne' .*left_knee"):
        apply_edits(placed_figure(), edited(JointEdit("left_kne", KNEE)))
    with pytest.raises(SkeletonError, match="no joint 'spine_2'"):
        apply_edits(placed_figure(), edited(JointEdit("spine_2", KNEE), spine=2))


def test_edits_that_cannot_be_are_refused():
    """Two of one joint, places that are no points, numbers of joints that no body has."""
    with pytest.raises(SkeletonError, match="Two edits are of the joint 'left_knee'"):
        edited(JointEdit("left_knee", KNEE), JointEdit("left_knee", None, True))
    for place in ((1, 2), (1, 2, np.nan), "abc", (1, 2, None)):
        with pytest.raises(SkeletonError, match="'left_knee' is not three finite numbers"):
            JointEdit("left_knee", place)
    with pytest.raises(SkeletonError, match="spine of 0 joints"):
        edited(spine=0)
    with pytest.raises(SkeletonError, match="neck of 8 joints"):
        edited(neck=8)


def test_edits_are_records():
    """A change gives others; the order is of no account, and what says nothing is left out."""
    knee, eye = JointEdit("left_knee", KNEE), JointEdit("left_eye", None, True)
    edits = edited(knee, eye, JointEdit("neck"))
    assert edits == edited(eye, knee)
    assert hash(edits) == hash(edited(eye, knee))
    assert edits.of("left_knee") == knee
    assert edits.of("neck") is None
    assert edits.without("left_knee") == edited(eye)
    assert edits.with_joint(JointEdit("left_knee")) == edited(eye)
    assert edits.locked == ("left_eye",)
    assert edits
    assert not edited(JointEdit("neck"))
    with pytest.raises(ValueError, match="read-only"):
        knee.position[0] = 1.0


def test_a_joint_locked_by_hand_counts_as_put_where_it_stands():
    """Moved and locked in the file itself: it becomes an edit, and nothing says where it was."""
    by_hand = placed_figure().with_joints(
        tuple(
            replace(joint, position=KNEE, locked=True) if joint.name == "left_knee" else joint
            for joint in placed_figure()
        )
    )
    edits = edits_of(by_hand)
    assert edits == edited(JointEdit("left_knee", KNEE, True))
    placed = without_edits(by_hand)
    assert not placed["left_knee"].locked
    assert np.array_equal(placed["left_knee"].position, KNEE)
    assert np.array_equal(apply_edits(placed_figure(), edits)["left_knee"].position, KNEE)


def test_a_joint_moved_by_hand_after_it_was_corrected_stands_where_it_is():
    """The file says where a joint is; its evidence says where it was."""
    edits = edited(JointEdit("left_knee", KNEE), JointEdit("right_knee", None, True))
    later = KNEE + 0.01
    corrected = apply_edits(placed_figure(), edits)
    moved = corrected.with_joints(
        tuple(
            replace(joint, position=later) if joint.name.endswith("knee") else joint
            for joint in corrected
        )
    )
    wanted = edited(JointEdit("left_knee", later), JointEdit("right_knee", later, True))
    assert edits_of(moved) == wanted
    assert same(without_edits(moved), placed_figure())


def test_a_joint_kept_from_an_earlier_model_can_be_put_back():
    """It is an edit where it stands, and its evidence says where it would be placed."""
    placed = placed_figure()["left_knee"]
    evidence = (
        Evidence("kept", KNEE, 0.002, 1.0, "carried over"),
        Evidence("placed_anew", placed.position, placed.spread, 0.0, "where it would be placed"),
    )
    kept = replace(placed, position=KNEE, spread=0.002, locked=True, evidence=evidence)
    skeleton = placed_figure().with_joints(
        tuple(kept if joint.name == "left_knee" else joint for joint in placed_figure())
    )
    assert edits_of(skeleton) == edited(JointEdit("left_knee", KNEE, True))
    back = without_edits(skeleton)
    assert same(replace(back["left_knee"], evidence=placed.evidence), placed)


def test_findings_stay_as_placed():
    """Whoever has the mesh checks anew."""
    corrected = apply_edits(placed_figure(), edited(JointEdit("left_knee", KNEE)))
    assert corrected.findings == placed_figure().findings


def test_a_record_that_somebody_broke_is_told():
    """Settings are plain data that a person may write to."""
    empty = {"joints": [], "parents": {}, "aims": {}, "setting": None}
    record = apply_edits(placed_figure(), edited(spine=4)).settings["edits"]
    spine = record["placed"]["spine"]
    huge = [{**spine["joints"][0], "position": [10**400, 0, 0]}, *spine["joints"][1:]]
    for record in (
        [],
        {"placed": []},
        {"placed": {"arm": {}}},
        {"spine": 4, "placed": {"spine": {}}},
        {"spine": 4, "placed": {"spine": empty}},
        {"spine": 4, "placed": {"spine": {**spine, "joints": "chest"}}},
        {"spine": 4, "placed": {"spine": {**spine, "joints": huge}}},
        {"spine": 4, "placed": {"spine": {**spine, "parents": 3}}},
    ):
        broken = replace(placed_figure(), settings={"edits": record})
        with pytest.raises(SkeletonError, match="settings"):
            without_edits(broken)
    with pytest.raises(SkeletonError, match="spine of four joints"):
        edits_of(replace(placed_figure(), settings={"edits": {"spine": "four"}}))
