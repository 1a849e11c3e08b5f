"""`pipeline.place`: the whole job on one figure, moved, mirrored, scaled, posed and told things."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from autoplace.errors import SettingsError, TemplateError
from autoplace.files.skeleton_json import dump_skeleton
from autoplace.measure.frame import find_frame
from autoplace.measure.frame_record import Frame
from autoplace.mesh.character import Character
from autoplace.mesh.load import character_from_arrays
from autoplace.pipeline import place
from autoplace.place.template import load_template
from autoplace.result import PlaceResult, Settings
from autoplace.skeleton.model import Skeleton
from tests.light_figure import HEIGHT, changed, light_figure
from tests.mesh.capsule_figures import box, limb_names, one_skin
from tests.placed_once import placed_light

FLIP = np.array([-1.0, 1.0, 1.0])
FIVE = ("thumb", "index", "middle", "ring", "pinky")


def figure() -> Character:
    return light_figure()[0]


def lowered(points: np.ndarray) -> np.ndarray:
    """The figure's points (n, 3) with the left arm lowered by 40 degrees."""
    x0, y0 = 0.115 * HEIGHT, 0.80 * HEIGHT
    share = np.clip((points[:, 0] - 0.10 * HEIGHT) / (0.06 * HEIGHT), 0, 1)
    angle = -np.radians(40) * share**2 * (3 - 2 * share)
    x, y = points[:, 0] - x0, points[:, 1] - y0
    moved = points.copy()
    arm = points[:, 0] > 0.10 * HEIGHT
    moved[arm, 0] = (x0 + x * np.cos(angle) - y * np.sin(angle))[arm]
    moved[arm, 1] = (y0 + x * np.sin(angle) + y * np.cos(angle))[arm]
    return moved


def placed() -> PlaceResult:
    return placed_light()


@cache
def again() -> tuple[PlaceResult, list[str]]:
    """The figure placed once more, and the stages that were told."""
    told: list[str] = []
    return place(figure(), progress=told.append), told


@cache
def posed() -> PlaceResult:
    return place(changed(figure(), lowered))


def errors(skeleton: Skeleton, joints: dict[str, np.ndarray]) -> dict[str, float]:
    """Distance of each joint to its known place, percent of the height."""
    return {
        joint.name: 100.0 * float(np.linalg.norm(joint.position - joints[joint.name])) / HEIGHT
        for joint in skeleton
        if joint.name in joints
    }


def apart(one: Skeleton, other: Skeleton, back: Callable[[np.ndarray], np.ndarray]) -> float:
    """Greatest distance of a joint of `one` to that of `other` taken back, percent of height."""
    assert one.names == other.names
    return max(
        100.0 * float(np.linalg.norm(a.position - back(b.position))) / HEIGHT
        for a, b in zip(one, other, strict=True)
    )


# ---- what comes out


def test_a_whole_figure_gets_every_joint_of_its_template():
    """The joints are those of the template's list for five fingers and three spine joints, in its
    order."""
    rows = load_template(placed().skeleton.template).joint_list(
        3, dict.fromkeys(("left", "right"), FIVE)
    )
    assert [(joint.name, joint.parent) for joint in placed().skeleton] == rows


def test_joints_are_near_where_the_figure_bends():
    """On a figure not used for tuning, 95 percent of limb joints are within 2.5 percent of the
    height, of finger joints within 2.0, and eyes within .05, as asked for invented figures."""
    off = errors(placed().skeleton, light_figure()[1])
    limbs = ("hip", "knee", "ankle", "ball", "shoulder", "elbow", "wrist")
    groups = {
        2.5: [v for n, v in off.items() if n.split("_", 1)[-1] in limbs],
        2.0: [v for n, v in off.items() if n[-2:] in ("_1", "_2", "_3") and "spine" not in n],
        0.05: [v for n, v in off.items() if n.endswith("_eye")],
    }
    assert [len(values) for values in groups.values()] == [14, 30, 2]
    for most, values in groups.items():
        assert np.percentile(values, 95) < most


def test_a_lowered_arm_is_followed():
    """With one arm lowered by 40 degrees, its joints are as near as those of the other."""
    joints = {name: lowered(at[None])[0] for name, at in light_figure()[1].items()}
    off = errors(posed().skeleton, joints)
    for side in ("left", "right"):
        for name in ("shoulder", "elbow", "wrist", "middle_1", "middle_tip"):
            assert off[f"{side}_{name}"] < 2.5, (side, name)


def test_every_joint_has_axes_a_spread_and_evidence():
    """Axes are orthonormal and right-handed, spreads positive and below a tenth of the height, and
    the weights of the evidence sum to one."""
    for joint in placed().skeleton:
        np.testing.assert_allclose(joint.axes @ joint.axes.T, np.eye(3), atol=1e-9)
        assert np.linalg.det(joint.axes) == pytest.approx(1.0)
        assert 0.0 < joint.spread < 0.1 * HEIGHT
        assert sum(e.weight for e in joint.evidence) == pytest.approx(1.0, abs=1e-6), joint.name
        assert all(e.note and e.kind for e in joint.evidence)


def test_a_symmetric_figure_gets_a_symmetric_skeleton():
    """Pairs are mirror images in the working frame to the last digits, and the middle is on its
    plane."""
    skeleton, frame = placed().skeleton, placed().frame
    for joint in skeleton:
        at = frame.to_working(joint.position)
        if joint.name.startswith("left_"):
            twin = skeleton[joint.name.replace("left_", "right_")]
            np.testing.assert_allclose(frame.to_working(twin.position), at * FLIP, atol=1e-12)
        elif not joint.name.startswith("right_"):
            assert abs(at[0]) < 1e-12


def test_the_frame_leads_there_and_back():
    """Joints taken to the working frame and back are the same points."""
    frame, at = placed().frame, placed().skeleton.positions()
    np.testing.assert_allclose(frame.to_input(frame.to_working(at)), at, rtol=0, atol=1e-14)


def test_the_report_is_plain_data_that_agrees_with_the_skeleton():
    """The report can be written as JSON, and its counts and findings are the skeleton's."""
    report, skeleton = placed().report, placed().skeleton
    assert json.loads(json.dumps(report)) == report
    assert report["joints"] == len(skeleton)
    assert [f["message"] for f in report["findings"]] == [f.message for f in skeleton.findings]
    assert report["template"]["name"] == skeleton.template
    assert report["frame"]["height"] == pytest.approx(HEIGHT, rel=0.01)
    assert {side: hand["fingers"] for side, hand in report["hands"].items()} == {
        "left": 5,
        "right": 5,
    }
    assert [part["role"] for part in report["parts"]] == ["body", "eyeball"]


# ---- the same again


def test_placing_twice_gives_the_same_bytes():
    """A second run on the same figure writes the same skeleton file to the last byte."""
    other, _ = again()
    assert other is not placed()
    assert dump_skeleton(other.skeleton) == dump_skeleton(placed().skeleton)
    assert json.dumps(other.report) == json.dumps(placed().report)


def test_no_stage_writes_to_its_input():
    """The figure's arrays are locked against writing, and a whole run passes; settings stay."""
    assert not any(part.vertices.flags.writeable for part in figure().parts)
    settings = Settings(roles={"eyes": "eyeball"}, spine=3)
    place(figure(), settings)
    assert settings == Settings(roles={"eyes": "eyeball"}, spine=3)


@pytest.mark.parametrize("scale", [1e-6, 1e6])
def test_size_does_not_matter(scale):
    """A millionth or a million times the size gives the same joints, spreads and evidence, so many
    times as large, within a hundredth of a percent of the height."""
    other = place(changed(figure(), lambda v: v * scale))
    assert apart(placed().skeleton, other.skeleton, lambda p: p / scale) < 1e-2
    for a, b in zip(placed().skeleton, other.skeleton, strict=True):
        assert b.spread == pytest.approx(a.spread * scale, rel=1e-4)
        assert [e.kind for e in a.evidence] == [e.kind for e in b.evidence]
    assert other.frame.height == pytest.approx(HEIGHT * scale, rel=0.01)
    assert [f.message for f in other.skeleton.findings] == [
        f.message for f in placed().skeleton.findings
    ]


def test_another_up_axis_turns_the_skeleton_with_the_figure():
    """Written with +Z up and facing -Y, the figure has the same joints and axes, turned."""
    turn = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])
    other = place(changed(figure(), lambda v: v @ turn.T))
    assert (other.frame.up, other.frame.forward) == ("+Z", "-Y")
    assert apart(placed().skeleton, other.skeleton, lambda p: turn.T @ p) < 0.05
    for a, b in zip(placed().skeleton, other.skeleton, strict=True):
        np.testing.assert_allclose(b.axes, a.axes @ turn.T, atol=0.01)


def test_moving_the_figure_moves_the_skeleton():
    """Away from the origin every joint moves along, within a twentieth of a percent."""
    shift = np.array([3.0, 5.0, -2.0])
    other = place(changed(figure(), lambda v: v + shift))
    assert apart(placed().skeleton, other.skeleton, lambda p: p - shift) < 0.05


def test_a_figure_turned_inside_out_is_turned_back():
    """With every triangle facing inward the joints are the same."""
    other = place(changed(figure(), lambda v: v, flip=True))
    assert apart(placed().skeleton, other.skeleton, lambda p: p) < 0.05


@cache
def mirrored_off() -> dict[str, float]:
    """How far the mirrored figure's joints are from the mirrored joints, percent of the height."""
    other = place(changed(changed(figure(), lowered), lambda v: v * FLIP, flip=True)).skeleton
    names = {"left": "right", "right": "left"}
    off = {}
    for joint in posed().skeleton:
        side, _, rest = joint.name.partition("_")
        twin = f"{names[side]}_{rest}" if side in names else joint.name
        gap = joint.position - other[twin].position * FLIP
        off[joint.name] = 100.0 * float(np.linalg.norm(gap)) / HEIGHT
    return off


def test_the_mirror_image_has_its_sides_swapped():
    """A figure with its left arm lowered, mirrored, has the right one lowered: every joint of a
    side is within half a percent of the height of its mirrored twin. Only the grid differs."""
    assert max(v for n, v in mirrored_off().items() if n != "head_top") < 0.5


def test_the_crown_of_the_mirror_image_is_mirrored():
    """The top of the head, too, is within half a percent of its mirror image."""
    assert mirrored_off()["head_top"] < 0.5


# ---- what a user can say


def test_stages_are_told_as_they_begin_and_timed():
    """Progress names each stage once, in the order of the timings."""
    result, told = again()
    assert told == list(result.timings)
    assert told[0] == "mesh"
    assert told[-1] == "checks"
    assert all(seconds >= 0.0 for seconds in result.timings.values())


@pytest.mark.parametrize("spine", [1, pytest.param(6, marks=pytest.mark.wide)])
def test_the_number_of_spine_joints_is_a_setting(spine):
    """The spine has the number of joints asked for, and the setting is kept in the skeleton."""
    skeleton = place(figure(), spine=spine).skeleton
    names = [n for n in skeleton.names if n.startswith("spine_") or n == "chest"]
    assert len(names) == spine
    assert names[-1] == "chest"
    assert skeleton.settings["spine"] == spine
    heights = [skeleton[n].position[1] for n in ("pelvis", *names, "neck", "head")]
    assert (np.diff(heights) > 0).all()


def test_the_template_and_the_axes_can_be_told():
    """A named template is taken whatever the proportions, and named axes are kept."""
    result = place(figure(), Settings(template="child"), up="+Y", forward="+Z")
    assert result.skeleton.template == "child"
    assert result.report["template"]["why"] == "as told"
    told = {"template": "child", "up": "+Y", "forward": "+Z"}
    assert told.items() <= dict(result.skeleton.settings).items()
    assert "as told" in " ".join(result.frame.notes)


def test_a_part_left_out_changes_nothing():
    """A plank over the figure's head, left out by name, leaves every joint where it is."""
    body, eyes = figure().parts
    plank = np.array([[-0.5, 1.9, -0.3], [0.9, 1.9, -0.3], [0.9, 2.4, -0.2], [-0.5, 2.4, -0.2]])
    parts = {
        "body": (body.vertices, body.faces),
        "eyes": (eyes.vertices, eyes.faces),
        "plank": (plank, np.array([[0, 1, 2], [0, 2, 3]])),
    }
    result = place(character_from_arrays(parts, "with a plank"), leave_out=("plank",))
    assert {p["name"]: p["role"] for p in result.report["parts"]}["plank"] == "left_out"
    assert apart(placed().skeleton, result.skeleton, lambda p: p) < 0.05


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"template": "ogre"}, TemplateError),
        ({"spine": 0}, SettingsError),
        ({"spine": 99}, SettingsError),
        ({"up": "sideways"}, SettingsError),
        ({"up": "+Y", "forward": "-Y"}, SettingsError),
        ({"roles": {"body": "tail"}}, SettingsError),
    ],
    ids=lambda value: str(value) if isinstance(value, dict) else "",
)
def test_an_impossible_setting_is_told_before_any_work(changes, error):
    """A setting that cannot be is refused before the first stage begins."""
    told: list[str] = []
    with pytest.raises(error):
        place(figure(), progress=told.append, **changes)
    assert told == []


def test_an_unknown_setting_is_a_slip_of_the_caller():
    """A keyword that is no setting raises a TypeError and is not passed over."""
    with pytest.raises(TypeError):
        place(figure(), colour="blue")


# ---- surfaces that face the wrong way


def test_a_piece_turned_inside_out_is_turned_back():
    """A forearm of its own part whose triangles face inward, as mirrored copies do, has the joints
    of one that faces outward."""
    body, eyes = figure().parts
    far = body.vertices[body.faces].mean(axis=1)[:, 0] > 0.25 * HEIGHT
    parts = {
        "body": (body.vertices, body.faces[~far]),
        "arm": (body.vertices, body.faces[far][:, ::-1]),
        "eyes": (eyes.vertices, eyes.faces),
    }
    other = place(character_from_arrays(parts, "mirrored copy"))
    assert apart(placed().skeleton, other.skeleton, lambda p: p) < 0.1


def test_a_surface_with_both_sides_is_a_surface():
    """A figure whose every triangle is there twice, once facing inward, as files for games have
    it, has the joints of one that faces outward."""
    body, eyes = figure().parts
    both = np.concatenate([body.faces, body.faces[:, ::-1]])
    parts = {"body": (body.vertices, both), "eyes": (eyes.vertices, eyes.faces)}
    other = place(character_from_arrays(parts, "both sides"))
    assert apart(placed().skeleton, other.skeleton, lambda p: p) < 0.5


def test_spine_and_neck_have_as_many_joints_as_asked_for():
    """Five spine and three neck joints form one chain from pelvis to head, each in the trunk's
    bend plane."""
    skeleton = place(light_figure()[0], spine=5, neck=3).skeleton
    chain, name = [], "head"
    while name is not None:
        chain.append(name)
        name = next(joint.parent for joint in skeleton if joint.name == name)
    spine = [f"spine_{i}" for i in range(1, 5)]
    assert chain[::-1] == ["pelvis", *spine, "chest", "neck", "neck_2", "neck_3", "head"]
    bend = [joint.axes[:, 0] for joint in skeleton if joint.name in chain]
    assert np.allclose(np.array(bend) @ bend[0], 1.0, atol=1e-6)


def test_pieces_judged_in_a_leaning_frame_are_judged_again(monkeypatch):
    """Where all pieces together seem to lean by 8 degrees and the body does not, a plinth under the
    feet is told from the body all the same."""
    lean = np.radians(8.0)
    found: list[Frame] = []

    def leaning(*args, **kwargs) -> Frame:
        frame = find_frame(*args, **kwargs)
        if not found:
            left, up, ahead = frame.rotation
            up, ahead = (
                np.cos(lean) * up + np.sin(lean) * ahead,
                np.cos(lean) * ahead - np.sin(lean) * up,
            )
            frame = replace(frame, rotation=np.array([left, up, ahead]))
        found.append(frame)
        return frame

    monkeypatch.setattr("autoplace.pipeline.find_frame", leaning)
    body = one_skin(limb_names(), cell=1 / 90)
    plinth = box((-0.2, -0.13, -0.2), (0.2, -0.002, 0.2))
    result = place(character_from_arrays({"a": body, "b": plinth}, "figurine"))
    assert {piece.part: piece.role for piece in result.roles.pieces} == {
        "a": "body",
        "b": "accessory",
    }
    assert result.frame.height == pytest.approx(1.0, abs=0.01)
