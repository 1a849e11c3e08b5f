"""What a mesh tells the checks, on figures whose joints and surfaces are known by construction."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from autoplace.data import data_folder
from autoplace.errors import SkeletonError
from autoplace.mesh.character import Character
from autoplace.mesh.load import character_from_arrays, load
from autoplace.mesh_facts import mesh_facts
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import is_tip
from autoplace.skeleton.orient import orient
from tests.figures import X, moved
from tests.known_skeleton import known_skeleton
from tests.light_figure import HEIGHT, changed, light_figure

TEMPLATES = {
    "keeper": "adult",
    "ferryman": "stout",
    "bell_child": "toddler",
    "lamplighter": "heroic",
}


@pytest.fixture(scope="module")
def light() -> tuple[Character, Skeleton]:
    character, joints = light_figure()
    return character, known_skeleton(joints, HEIGHT)


def told(character, skeleton):
    found = mesh_facts(character, skeleton).survey(skeleton).findings
    return {(f.check, f.joint, f.level) for f in found}


@pytest.mark.parametrize("name", TEMPLATES)
def test_known_joints_of_the_demo_characters_have_nothing_wrong(name):
    """Joints where the characters were made to bend: all checks run, and none finds anything."""
    truth = json.loads((data_folder("meshes") / f"{name}.truth.json").read_text(encoding="utf-8"))
    skeleton = known_skeleton(
        truth["joints"], truth["height"], TEMPLATES[name], truth["up"], truth["forward"]
    )
    result = mesh_facts(load(data_folder("meshes") / f"{name}.obj"), skeleton).survey(skeleton)
    assert result.findings == ()
    assert result.not_run == {}


def test_depth_floor_middle_and_eyeballs_are_those_of_the_figure(light):
    """Inside is positive, the floor is under the soles, the plane through the middle, and the balls
    stand where they were modelled."""
    character, skeleton = light
    facts = mesh_facts(character, skeleton)
    depth = facts.depth_at(skeleton.positions())
    inner = [k for k, j in enumerate(skeleton) if not is_tip(j.name) and "eye" not in j.name]
    assert (depth[inner] > 0).all()
    assert facts.depth_at(np.array([[0.0, 2.0 * HEIGHT, 0.0]]))[0] < -0.5
    assert facts.floor == pytest.approx(character.vertices[:, 1].min(), abs=1e-9)
    assert facts.middle == pytest.approx(0.0, abs=1e-4 * HEIGHT)
    assert facts.symmetry_residual < 0.001
    assert facts.whole_residual < 0.003
    for name in ("left_eye", "right_eye"):
        ball = facts.eyeballs[name]
        off = np.linalg.norm(ball.center - skeleton[name].position)
        assert off < 0.02 * ball.radius


def test_all_of_it_follows_frame_and_units(light):
    """The same figure in centimetres, turned to Z up and moved: the same findings, none."""
    character, skeleton = light
    turn = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    there = changed(character, lambda v: 100.0 * v @ turn.T + [3.0, 500.0, -40.0])
    joints = {j.name: 100.0 * turn @ j.position + [3.0, 500.0, -40.0] for j in skeleton}
    source = replace(skeleton.source, up="+Z", forward="-Y", height=100.0 * HEIGHT)
    other = orient(replace(moved(skeleton, joints), source=source, settings={}))
    facts = mesh_facts(there, other)
    assert facts.survey(other).findings == mesh_facts(character, skeleton).survey(skeleton).findings
    assert facts.floor == pytest.approx(-40.0, abs=0.2)
    assert facts.middle == pytest.approx(3.0, abs=0.02)


def test_a_skeleton_off_its_mesh_is_told(light):
    """Shifted aside by 2 % of the height: the middle plane, fingers outside, and the eyes."""
    character, skeleton = light
    off = moved(skeleton, {j.name: j.position + 0.02 * HEIGHT * X for j in skeleton})
    found = told(character, off)
    assert ("on_middle", "chest", "warning") in found
    assert ("eye_centre", "left_eye", "error") in found
    assert any(check == "inside_body" and level == "error" for check, _, level in found)


def test_one_side_moved_is_a_mistake_where_the_whole_mesh_is_symmetric(light):
    """An arm lowered by turning it leaves its bones as long as they were: no pose, if the mesh
    has the arm where it was."""
    character, skeleton = light
    shoulder = skeleton["left_shoulder"].position
    c, s = np.cos(0.1), np.sin(0.1)
    turn = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    arm = ("elbow", "wrist", "thumb", "index", "middle", "ring", "pinky")
    names = [n for n in skeleton.names if n.startswith(tuple(f"left_{a}" for a in arm))]
    posed = moved(skeleton, {n: shoulder + turn @ (skeleton[n].position - shoulder) for n in names})
    assert ("mirrored_places", "left_elbow", "warning") in told(character, posed)


def test_a_mesh_of_another_size_is_told(light):
    """Two thirds as tall is a warning; other units are refused with a sentence."""
    character, skeleton = light
    small = changed(character, lambda v: 0.66 * v)
    assert ("mesh_size", None, "warning") in told(small, skeleton)
    for factor in (0.01, 100.0):
        with pytest.raises(SkeletonError, match="same units"):
            mesh_facts(changed(character, lambda v, f=factor: f * v), skeleton)


def test_another_file_is_a_note(light):
    """The digest of the mesh is not the one that the skeleton was placed in."""
    character, skeleton = light
    ours = replace(skeleton, source=replace(skeleton.source, mesh="keeper.obj", sha256="a" * 64))
    found = mesh_facts(replace(character, sha256="b" * 64), ours).findings
    assert [(f.check, f.level) for f in found] == [("mesh_file", "note")]
    assert "keeper.obj" in found[0].message
    assert mesh_facts(replace(character, sha256="a" * 64), ours).findings == ()


def test_a_mesh_without_eyeballs_or_body_leaves_checks_out(light):
    """Eye centres cannot be checked without eyes, nor depths on a mesh that has no body."""
    character, skeleton = light
    blind = character_from_arrays(
        {p.name: (p.vertices, p.faces) for p in character.parts if "eye" not in p.name}, "blind"
    )
    result = mesh_facts(blind, skeleton).survey(skeleton)
    assert result.not_run == {"eye_centre": "no eyeball is in the mesh"}
    left_out = replace(
        skeleton,
        settings={**skeleton.settings, "roles": {p.name: "accessory" for p in blind.parts}},
    )
    result = mesh_facts(blind, left_out).survey(left_out)
    assert set(result.not_run) == {"eye_centre", "inside_body", "on_floor"}
