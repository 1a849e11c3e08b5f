"""The mesh that a page bends: the bones' quaternions and places move it as linear blending does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.mesh.character import Character, Part
from autoplace.mesh.pieces import Piece, Roles
from autoplace.review.deform import Skin, bind_parts, bones_of
from autoplace.review.sliders import pose_of, sliders_for
from autoplace.skeleton.model import PartSummary, Skeleton
from autoplace.skeleton.orient import orient
from autoplace.skeleton.pose import Posed, Turn, pose_skeleton, skin
from autoplace.skeleton.skin.binding import Binding, bind_mesh
from tests.figures import standard_skeleton
from tests.tubes import figure_of_tubes

SKELETON = orient(standard_skeleton("A"))
CHARACTER = figure_of_tubes(SKELETON)


@pytest.fixture(scope="module")
def bound() -> Skin:
    """The figure of tubes bound to its skeleton."""
    return bind_parts(CHARACTER, SKELETON)


def turned(quaternion: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Points (n, 3) turned by a unit quaternion (w, x, y, z): v + 2 w (q x v) + 2 q x (q x v)."""
    w, q = quaternion[0], quaternion[1:]
    once = np.cross(q, points)
    return points + 2.0 * (w * once + np.cross(q, once))


def blended(bound: Skin, posed: Posed) -> list[np.ndarray]:
    """By part: the vertices moved by the bones alone, as a page that knows no skeleton would."""
    quaternions, places = bound.bones(posed)
    moved = []
    for part in bound.parts:
        at, total = part.vertices.astype(np.float64), np.zeros((len(part.vertices), 3))
        for column, bone in enumerate(part.bones):
            gone = turned(quaternions[bone], at - bound.rest[bone]) + places[bone]
            total += part.dense[:, [column]] * gone
        moved.append(total)
    return moved


def poses() -> list[Posed]:
    """Some joints turned, and all joints turned every way."""
    sliders = sliders_for(SKELETON)
    ends = pose_of(sliders, {slider.key: slider.high for slider in sliders})
    wild = {name: Turn(40.0 * i - 300.0, 17.0 * i, -25.0) for i, name in enumerate(SKELETON.names)}
    return [pose_skeleton(SKELETON, pose) for pose in ({}, {"left_elbow": Turn(90)}, ends, wild)]


@pytest.mark.parametrize("posed", poses(), ids=["rest", "elbow", "ends", "wild"])
def test_bones_move_the_mesh_as_linear_blending_does(bound, posed):
    """Quaternions and places give the vertices of `skin`, to the digits of single floats."""
    for part, moved in zip(bound.parts, blended(bound, posed), strict=True):
        binding = Binding(part.joints, part.weights.astype(float), np.arange(len(part.joints)))
        usual = skin(part.vertices.astype(np.float64), binding, posed)
        assert moved == pytest.approx(usual, abs=2e-6)


def test_a_quarter_turn_has_the_quaternion_of_the_books():
    """90 degrees about +X are (cos 45, sin 45, 0, 0); the bone of the turned joint stays there."""
    axes = np.eye(3)
    joints = [replace(j, axes=axes) for j in SKELETON]
    plain = SKELETON.with_joints(tuple(joints))
    posed = pose_skeleton(plain, {"left_elbow": Turn(bend=90.0)})
    quaternions, places = bones_of(posed, plain.positions())
    at = plain.names.index("left_elbow")
    assert quaternions[at] == pytest.approx([np.sqrt(0.5), np.sqrt(0.5), 0.0, 0.0])
    assert places[at] == pytest.approx(plain["left_elbow"].position)
    assert quaternions[0] == pytest.approx([1.0, 0.0, 0.0, 0.0])


def test_a_moved_joint_needs_no_other_binding(bound):
    """With a knee moved by a correction, the old rest still gives the motion of the new joint."""
    joints = [
        replace(j, position=j.position + np.array([0.0, 0.03, 0.01]))
        if j.name == "left_knee"
        else j
        for j in SKELETON
    ]
    corrected = SKELETON.with_joints(tuple(joints))
    posed = pose_skeleton(corrected, {"left_knee": Turn(bend=70.0)})
    assert bound.fits(corrected)
    for part, moved in zip(bound.parts, blended(bound, posed), strict=True):
        binding = Binding(part.joints, part.weights.astype(float), np.arange(len(part.joints)))
        usual = skin(part.vertices.astype(np.float64), binding, posed)
        assert moved == pytest.approx(usual, abs=2e-6)


def test_another_number_of_joints_does_not_fit(bound):
    """A skeleton without its toes is not what the mesh was bound to."""
    fewer = SKELETON.with_joints(tuple(j for j in SKELETON if "toe" not in j.name))
    assert not bound.fits(fewer)


def test_parts_keep_the_weights_of_the_whole(bound):
    """Every part has its share of the binding of all, with weights of sum one."""
    drawn = [part for part in CHARACTER.parts if len(part.faces)]
    vertices, faces = CHARACTER.vertices, CHARACTER.faces
    whole = bind_mesh(vertices, faces, SKELETON)
    assert [part.name for part in bound.parts] == [part.name for part in drawn]
    joints = np.concatenate([part.joints for part in bound.parts])
    assert np.array_equal(joints, whole.joints)
    for part in bound.parts:
        assert part.dense.sum(axis=1) == pytest.approx(np.ones(len(part.vertices)), abs=1e-6)
        assert part.dense.shape[1] == len(part.bones) <= len(SKELETON)


def ball(middle: np.ndarray) -> Part:
    """A small eyeball about a point."""
    import trimesh

    mesh = trimesh.creation.icosphere(subdivisions=1, radius=0.01)
    count = len(mesh.vertices), len(mesh.faces)
    return Part(
        "ball", mesh.vertices + middle, mesh.faces, np.arange(count[0]), np.arange(count[1])
    )


@pytest.mark.parametrize("told_by", ["roles", "skeleton"])
def test_eyeballs_go_with_their_joint(told_by):
    """An eyeball is moved by its eye alone, whether pieces or recorded parts tell of it."""
    part = ball(SKELETON["left_eye"].position)
    character = Character("eye", (part, *CHARACTER.parts))
    faces = np.arange(len(part.faces))
    roles, skeleton = None, SKELETON
    if told_by == "roles":
        roles = Roles((Piece("ball", 0, faces, "eyeball", "left", "", 1.0),))
    else:
        skeleton = replace(SKELETON, parts=(PartSummary("ball", "eyeball", 1.0),))
    first = bind_parts(character, skeleton, roles).parts[0]
    assert first.bones.tolist() == [SKELETON.names.index("left_eye")]


def test_a_mesh_without_triangles_has_no_skin():
    """Loose points give no part, and no error."""
    loose = Part("points", np.zeros((3, 3)), np.zeros((0, 3), int), np.arange(3), np.zeros(0, int))
    assert bind_parts(Character("loose", (loose,)), Skeleton(SKELETON.joints)).parts == ()
