"""The bend test as a whole: sound figures pass, spoilt ones fail where they are spoilt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.files.bend_tests import read_bend_tests
from autoplace.skeleton.bending.run import MEASURED, run_bend_tests
from autoplace.skeleton.bending.subject import subject_of
from autoplace.skeleton.convention import Convention
from autoplace.skeleton.orient import orient
from tests.examples import each_time
from tests.figures import Y, moved, standard_skeleton, turned, without
from tests.skeleton.bending.bent import bent, failed, figure, twisted


@pytest.mark.parametrize("pose", each_time(("T", "A"), ("hanging", "straight")))
def test_a_sound_figure_passes_everything(pose):
    """A symmetric adult of published proportions passes every test, in whatever pose it stands."""
    report = bent(figure(pose))
    assert failed(report) == {}
    assert {result.state for result in report.results} == {"passed"}
    assert report.passed


@pytest.mark.parametrize(
    "convention",
    [
        Convention(aim="+X", bend="-Z"),
        pytest.param(Convention(aim="-Z", bend="+Y"), marks=pytest.mark.wide),
        pytest.param(Convention(facing={"all": "extend"}), marks=pytest.mark.wide),
        Convention(facing={"finger": "back_of_hand"}),
    ],
)
def test_the_recorded_convention_says_what_is_keyed(convention):
    """Whatever letters aim and bend, and where a positive value extends, the figure passes."""
    assert failed(bent(orient(standard_skeleton("A"), convention))) == {}


def test_parallel_axes_flex_by_values_of_their_own():
    """With mirror = axes the arms of a T-pose need opposite values, and nothing is asked of
    equal ones."""
    report = bent(orient(standard_skeleton("T"), Convention(mirror="axes")))
    assert failed(report) == {}
    elbows = report["elbow"].poses[""]
    assert elbows["left_elbow"].bend > 90 > -90 > elbows["right_elbow"].bend
    assert report["sides"].state == "not run"
    assert "parallel" in report["sides"].reason


def test_axes_that_do_not_follow_the_bend_are_not_keyed():
    """Where a convention says nothing of flexing, the test is not run and says so."""
    report = bent(orient(standard_skeleton("A"), Convention(facing={"trunk": "left"})))
    assert failed(report) == {}
    for test in ("spine_curl", "head_nod"):
        assert report[test].state == "not run"
        assert "do not follow" in report[test].reason


@pytest.mark.parametrize(
    ("joint", "degrees", "test"),
    [
        ("left_elbow", 180, "elbow"),
        ("right_elbow", 90, "elbow"),
        ("left_knee", 180, "knee"),
        ("right_knee", 60, "knee"),
        ("left_hip", 45, "hip"),
        ("left_shoulder", 60, "shoulder"),
        ("right_wrist", 180, "wrist"),
        ("spine_2", 3, "spine_curl"),
        ("head", 20, "head_nod"),
        ("left_index_2", 30, "finger_curl"),
        ("left_middle_1", 90, "fist"),
        ("right_pinky_2", 180, "fist"),
        ("left_index_1", 180, "fist"),
        ("right_thumb_2", 180, "thumb"),
        ("left_ball", 60, "toe_roll"),
        ("left_eye", 180, "eyes"),
        ("right_shoulder", 5, "sides"),
    ],
)
def test_a_joint_turned_about_its_own_bone_is_found(joint, degrees, test):
    """Axes that no longer stand where they should fail the test of that joint and of that side."""
    report = bent(twisted(figure(), joint, degrees), test)
    assert not report.passed
    side = joint.split("_")[0]
    middle = {"spine", "eyes", "sides", "head"}
    assert all(m.joint.startswith(side) or m.joint in middle for m in report[test].failures)
    assert all(
        m.sentence.endswith(".") and "look here" in m.sentence for m in report[test].failures
    )


def test_the_numbers_do_not_depend_on_where_the_figure_stands():
    """Turned, moved and scaled, the figure measures the same."""
    here = figure(knee=9)
    turn = np.array([turned(axis, np.array([0.6, 0.0, 0.8]), 50.0) for axis in np.eye(3)]).T
    there = replace(
        here,
        source=replace(here.source, height=170.0),
        settings={
            "orientation": here.settings["orientation"]
            | {"up": list(turn[:, 1]), "forward": list(turn[:, 2])}
        },
        joints=tuple(
            replace(j, position=170 * turn @ j.position + [5, -3, 9], axes=j.axes @ turn.T)
            for j in here
        ),
    )
    for one, other in zip(bent(here).results, bent(there).results, strict=True):
        assert [m.value for m in one.measures] == pytest.approx(
            [m.value for m in other.measures], abs=1e-8
        )


@pytest.mark.parametrize(
    ("gone", "not_run"),
    [
        (("left_eye", "right_eye"), {"eyes"}),
        (("toe_tip", "ball"), {"toe_roll"}),
        (("index", "middle", "ring", "pinky"), {"finger_curl", "finger_spread", "thumb"}),
        (("thumb",), {"thumb"}),
        (("head",), {"head_turn", "head_nod", "eyes"}),
    ],
)
def test_what_is_missing_is_not_run(gone, not_run):
    """A figure without these joints passes the rest, and says which tests it could not take."""
    names = [j.name for j in standard_skeleton("A")]
    kept = without(standard_skeleton("A"), *gone)
    if "head" in gone:
        kept = without(kept, "left_eye", "right_eye")
    assert len(kept) < len(names)
    report = bent(orient(kept))
    assert failed(report) == {}
    assert {r.test for r in report.results if r.state == "not run"} >= not_run
    assert all(r.reason for r in report.results if r.state == "not run")


@pytest.mark.parametrize("fingers", [("ring",), ("ring", "index", "pinky")])
def test_fewer_fingers_still_make_a_fist(fingers):
    """A hand with four fingers, and a mitten, curl and close."""
    report = bent(orient(without(standard_skeleton("A"), *fingers)), "finger_curl", "fist", "thumb")
    assert failed(report) == {}
    assert [result.state for result in report.results] == ["passed"] * 3


def test_one_side_alone_is_run():
    """A figure without a left arm is bent at the right one."""
    report = bent(
        orient(
            without(
                standard_skeleton("A"),
                "left_shoulder",
                "left_elbow",
                "left_wrist",
                "left_index",
                "left_middle",
                "left_ring",
                "left_pinky",
                "left_thumb",
            )
        ),
        "elbow",
        "fist",
    )
    assert {m.joint.split("_")[0] for r in report.results for m in r.measures} == {"right"}
    assert report.passed


def test_sides_that_differ_are_not_held_to_mirror():
    """A figure with one shoulder higher is told how much it differs; it cannot move alike."""
    uneven = figure()
    higher = uneven["left_shoulder"].position + 0.01 * Y
    report = bent(orient(moved(uneven, {"left_shoulder": higher})), "sides")
    assert report["sides"].state == "not run"
    assert "1 % of the height" in report["sides"].reason
    assert all(measure.passed is None for measure in report["sides"].measures)


def test_a_skeleton_without_a_convention_is_bent_by_the_default():
    """Axes from elsewhere are taken as the default has them, and a note says so."""
    foreign = replace(figure(), settings={})
    report = bent(foreign)
    assert report.passed
    assert "default convention" in report.notes[0]
    assert bent(figure()).notes == ()


def test_every_measure_has_its_limit_and_every_test_its_measure():
    """What the program measures and what the file limits are the same, by name."""
    subject = subject_of(figure())
    tests = read_bend_tests()
    assert {test.name for test in tests} == set(MEASURED)
    report = run_bend_tests(subject, tests)
    for test in tests:
        seen = {measure.of for measure in report[test.name].measures}
        assert seen <= {limit.of for limit in test.limits}
        # eyeballs need a mesh, and a plane a limb that is bent more than this figure's legs
        assert {limit.of for limit in test.limits} - seen <= {"stays", "plane"}


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("seed", each_time(range(3), range(3, 12)))
def test_spoilt_skeletons_give_numbers_and_no_fault(seed):
    """With joints missing, moved about, or fallen onto their parents, every number is finite."""
    draw = np.random.default_rng(seed)
    whole = standard_skeleton("A")
    joints = []
    kept = {j.name for j in whole if seed % 3 or draw.random() > 0.4}
    for joint in whole:
        parent = joint.parent
        while parent is not None and parent not in kept:
            parent = whole[parent].parent
        at = joint.position
        if seed % 3 == 1:
            at = at + draw.normal(scale=0.03, size=3)
        if seed % 3 == 2 and joint.parent and draw.random() < 0.4:
            at = whole[joint.parent].position
        if joint.name in kept:
            joints.append(replace(joint, parent=parent, position=at))
    report = bent(orient(replace(whole, joints=tuple(joints))))
    numbers = [measure.value for result in report.results for measure in result.measures]
    assert len(numbers) > 10
    assert np.isfinite(numbers).all()
