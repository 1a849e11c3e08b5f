"""Eye joints of an existing skeleton are snapped to the eyeballs, and nothing else is touched."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from autoplace import Settings, Skeleton, SkeletonError, place
from autoplace.files.skeleton_json import dump_skeleton
from autoplace.mesh.load import character_from_arrays
from autoplace.refit.eyes import refit_eyes
from autoplace.skeleton.convention import DEFAULT
from autoplace.skeleton.model import Source
from tests.eyes.cases import CASES
from tests.eyes.hosts import plain_host
from tests.placed_once import demo_character, placed_demo

MESHES = Path(__file__).parents[2] / "meshes"
EYES = ("left_eye", "right_eye")
OFF = np.array([0.01, -0.02, 0.03])


@pytest.fixture(scope="module")
def keeper():
    return demo_character(), placed_demo().skeleton


def with_eyes_off(skeleton, **changes):
    """The skeleton with both eye joints moved away and their axes and evidence lost."""
    return skeleton.with_joints(
        tuple(
            replace(j, position=j.position + OFF, axes=np.eye(3), evidence=(), **changes)
            if j.name in EYES
            else j
            for j in skeleton
        )
    )


def without_body(character, skeleton):
    """The parts of a character as far as they stand above its neck."""
    parts = {}
    for part in character.parts:
        high = (part.vertices[part.faces][:, :, 1] > skeleton["neck"].position[1]).all(axis=1)
        if high.any():
            used, faces = np.unique(part.faces[high], return_inverse=True)
            parts[part.name] = (part.vertices[used], faces.reshape(-1, 3))
    return character_from_arrays(parts, "head")


def test_eyes_come_back_and_nothing_else_moves(keeper):
    """Eyes moved off come back to where `place` puts them; all other joints stay byte for byte."""
    character, skeleton = keeper
    result = refit_eyes(character, with_eyes_off(skeleton))
    assert result.changed == EYES
    limit = 1e-6 * skeleton.source.height
    for name in EYES:
        assert np.linalg.norm(result.skeleton[name].position - skeleton[name].position) < limit
        assert np.allclose(result.skeleton[name].axes, skeleton[name].axes, atol=1e-6)
        assert result.skeleton[name].evidence[0].kind == "sphere_fit"
    apart = [
        dump_skeleton(s.with_joints(tuple(j for j in s if j.name not in EYES)))
        for s in (replace(result.skeleton, findings=()), replace(skeleton, findings=()))
    ]
    assert apart[0] == apart[1]


def test_report_says_how_well_the_eye_is_known(keeper):
    """Radius, residual, share seen and spread stand in the report, in the file's units."""
    character, skeleton = keeper
    eye = refit_eyes(character, with_eyes_off(skeleton)).report["eyes"]["left_eye"]
    assert eye["from"] == "sphere"
    assert 0.003 < eye["radius"] / skeleton.source.height < 0.05
    assert 0 <= eye["residual"] < 0.05 * eye["radius"]
    assert 0.2 < eye["share_seen"] <= 1
    assert 0 < eye["spread"] < 0.2 * eye["radius"]


def test_head_alone(keeper):
    """A file that is the head alone gives the same eyes."""
    character, skeleton = keeper
    result = refit_eyes(without_body(character, skeleton), with_eyes_off(skeleton))
    assert result.changed == EYES
    for name in EYES:
        away = np.linalg.norm(result.skeleton[name].position - skeleton[name].position)
        assert away < 1e-5 * skeleton.source.height


def test_head_alone_with_a_skeleton_of_a_head(keeper):
    """A skeleton of head joints alone, whose height is the head's, gets eyes added under it."""
    character, skeleton = keeper
    head = without_body(character, skeleton)
    height = float(np.ptp(head.vertices[:, 1]))
    joints = tuple(
        replace(j, parent=None if j.name == "head" else "head")
        for j in skeleton
        if j.name in ("head", "head_top")
    )
    source = Source("head.obj", None, skeleton.source.up, skeleton.source.forward, height)
    result = refit_eyes(head, Skeleton(joints, source))
    assert result.changed == EYES
    for name in EYES:
        away = np.linalg.norm(result.skeleton[name].position - skeleton[name].position)
        assert away < 1e-5 * skeleton.source.height
        assert result.skeleton[name].parent == "head"


def test_file_with_another_axis_up(keeper):
    """The directions recorded in the skeleton are believed: here Z up and -Y forward."""
    character, skeleton = keeper
    turn = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    parts = {p.name: (p.vertices @ turn.T, p.faces) for p in character.parts}
    joints = tuple(
        replace(j, position=turn @ j.position, look=None if j.look is None else turn @ j.look)
        for j in with_eyes_off(skeleton)
    )
    source = replace(skeleton.source, up="+Z", forward="-Y")
    settings = {k: v for k, v in skeleton.settings.items() if k != "orientation"}
    turned = replace(skeleton, joints=joints, source=source, settings=settings)
    result = refit_eyes(character_from_arrays(parts, "turned"), turned)
    for name in EYES:
        away = np.linalg.norm(result.skeleton[name].position - turn @ skeleton[name].position)
        assert away < 1e-5 * skeleton.source.height


def test_locked_eye_is_left_alone(keeper):
    """A locked eye joint stays the same record, and a finding says so."""
    character, skeleton = keeper
    off = with_eyes_off(skeleton)
    locked = off.with_joints(
        tuple(replace(j, locked=True) if j.name == "left_eye" else j for j in off)
    )
    result = refit_eyes(character, locked)
    assert result.changed == ("right_eye",)
    assert result.skeleton["left_eye"] is locked["left_eye"]
    said = [f for f in result.skeleton.findings if f.joint == "left_eye"]
    assert [f.check for f in said] == ["locked_eye"]
    assert "left_eye" in result.report["kept"]


def test_missing_joints_are_added_under_the_head(keeper):
    """A skeleton without eyes gets both under `head`; one without a head is told what to do."""
    character, skeleton = keeper
    blind = skeleton.with_joints(tuple(j for j in skeleton if j.name not in EYES))
    result = refit_eyes(character, blind)
    assert result.skeleton.names[-2:] == EYES
    assert all(result.skeleton[name].parent == "head" for name in EYES)
    renamed = blind.with_joints(
        tuple(
            replace(
                j,
                name="skull" if j.name == "head" else j.name,
                parent="skull" if j.parent == "head" else j.parent,
            )
            for j in blind
        )
    )
    with pytest.raises(SkeletonError, match="no joint 'head'"):
        refit_eyes(character, renamed)


def test_missing_eyeball_leaves_the_joint(keeper):
    """Without eyeballs the joints stay where they are, and a finding says why."""
    character, skeleton = keeper
    eyeless = tuple(
        part.name
        for part, (_, role, _, _) in zip(
            character.parts, placed_demo().roles.part_roles(character), strict=True
        )
        if role == "eyeball"
    )
    off = with_eyes_off(skeleton)
    result = refit_eyes(character, off, Settings(leave_out=eyeless))
    assert result.changed == ()
    assert result.skeleton["left_eye"] is off["left_eye"]
    checks = {f.check for f in result.skeleton.findings if f.joint in EYES}
    assert checks == {"missing_eyeball"}


def test_no_eyeballs_and_no_joints():
    """Where there is nothing to fit and nothing to fit it to, a finding says so."""
    made = CASES["nothing_shows"](plain_host(1.2), np.random.default_rng(3))
    result = refit_eyes(made.character, made.host.skeleton())
    assert result.changed == ()
    assert [f.check for f in result.skeleton.findings] == ["missing_eyeball"]


def test_the_same_input_gives_the_same_bytes(keeper):
    """Fitting twice, and fitting what was fitted, changes nothing."""
    character, skeleton = keeper
    once = refit_eyes(character, with_eyes_off(skeleton)).skeleton
    again = refit_eyes(character, with_eyes_off(skeleton)).skeleton
    twice = refit_eyes(character, once).skeleton
    assert dump_skeleton(once) == dump_skeleton(again) == dump_skeleton(twice)


def test_one_eye_of_two_is_missing(keeper):
    """A skeleton with one eye joint gets the other one too."""
    character, skeleton = keeper
    half = skeleton.with_joints(tuple(j for j in skeleton if j.name != "right_eye"))
    result = refit_eyes(character, half)
    assert set(result.changed) == set(EYES)


@pytest.mark.parametrize(
    ("case", "names"),
    [
        ("one_in_the_middle", {"middle_eye"}),
        pytest.param("three", {"left_eye", "right_eye", "middle_eye"}, marks=pytest.mark.wide),
        ("one_of_two", {"left_eye", "right_eye"}),
    ],
)
def test_one_eye_and_three(case, names):
    """An eye on the middle gets a joint of its own, placed and refitted alike; a lost one none."""
    made = CASES[case](plain_host(1.2), np.random.default_rng(3))
    placed = place(made.character).skeleton
    fitted = refit_eyes(made.character, made.host.skeleton()).skeleton
    known = {f"{side}_eye" for side in made.eyes}
    assert known <= names
    for skeleton in (placed, fitted):
        assert {name for name in skeleton.names if "eye" in name} == known
        for side, eye in made.eyes.items():
            joint = skeleton[f"{side}_eye"]
            assert np.linalg.norm(joint.position - eye.centre) < 0.02 * eye.radius
            assert joint.parent == "head"
            looks = DEFAULT.bone(joint.axes) @ eye.look
            assert looks > np.cos(np.radians(1.0))
