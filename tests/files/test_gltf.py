"""The exported glTF file: valid, true to the skeleton when read back, and posable."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pygltflib
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from autoplace.errors import OutputError, SkeletonError
from autoplace.files.gltf import write_glb
from autoplace.files.units import metres_per_unit_of
from autoplace.mesh.character import Character
from autoplace.skeleton.convention import Convention
from autoplace.skeleton.model import Joint, PartSummary, Skeleton, Source
from autoplace.skeleton.orient import orient
from tests.figures import MIRROR, Z, standard_skeleton
from tests.files.gltf_validator import validate
from tests.tubes import figure_of_tubes

Z_UP = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
"""Takes a +Y-up figure that faces +Z to a +Z-up one that faces -Y."""


def carried(character: Character, matrix: np.ndarray) -> Character:
    parts = tuple(replace(p, vertices=p.vertices @ matrix.T) for p in character.parts)
    return replace(character, parts=parts)


@pytest.fixture(scope="module")
def figure():
    eyes = (PartSummary("eyes", "eyeball", 1.0),)
    return replace(orient(standard_skeleton("A", elbow=30)), parts=eyes)


@pytest.fixture(scope="module")
def written(figure, tmp_path_factory):
    path = tmp_path_factory.mktemp("glb") / "tubes.glb"
    notes = write_glb(figure_of_tubes(figure), figure, path)
    return path, notes


def numbers(gltf, index):
    """An accessor as an array, straight from the bytes."""
    accessor = gltf.accessors[index]
    view = gltf.bufferViews[accessor.bufferView]
    kind = {5126: "<f4", 5121: "<u1", 5123: "<u2", 5125: "<u4"}[accessor.componentType]
    width = {"SCALAR": 1, "VEC3": 3, "VEC4": 4, "MAT4": 16}[accessor.type]
    flat = np.frombuffer(gltf.binary_blob(), kind, accessor.count * width, view.byteOffset)
    return flat.reshape(-1, width)


def worlds(gltf, turns=None):
    """World matrices of all nodes by name, with joints turned about their own axes if asked."""
    above = {c: i for i, n in enumerate(gltf.nodes) for c in n.children or []}
    done = {}

    def world(index):
        if index not in done:
            node = gltf.nodes[index]
            matrix = np.eye(4)
            rotation = Rotation.from_quat(node.rotation or [0, 0, 0, 1])
            if turns and node.name in turns:
                rotation = rotation * turns[node.name]
            matrix[:3, :3] = rotation.as_matrix()
            matrix[:3, 3] = node.translation or (0, 0, 0)
            done[index] = world(above[index]) @ matrix if index in above else matrix
        return done[index]

    return {n.name: world(i) for i, n in enumerate(gltf.nodes)}


def skinned(gltf, mesh, turns=None):
    """Vertices of one mesh as the skin moves them."""
    skin = gltf.skins[0]
    matrices = worlds(gltf, turns)
    undo = numbers(gltf, skin.inverseBindMatrices).reshape(-1, 4, 4).swapaxes(1, 2)
    moved = np.array(
        [matrices[gltf.nodes[j].name] @ b for j, b in zip(skin.joints, undo, strict=True)]
    )
    attributes = gltf.meshes[mesh].primitives[0].attributes
    points = numbers(gltf, attributes.POSITION)
    joints, weights = numbers(gltf, attributes.JOINTS_0), numbers(gltf, attributes.WEIGHTS_0)
    blend = np.einsum("vk,vkij->vij", weights, moved[joints])
    return np.einsum("vij,vj->vi", blend[:, :3, :3], points) + blend[:, :3, 3]


def test_the_validator_finds_no_error_and_no_warning(written):
    """Zero errors, warnings and infos on a whole figure with several parts."""
    report = validate(written[0])
    assert report["numErrors"] == report["numWarnings"] == report["numInfos"] == 0, report
    assert report["info"]["hasSkins"]
    assert report["info"]["drawCallCount"] == 2


@pytest.mark.parametrize(
    "case", ["one joint", "two roots", "loose vertices", "tiny", "many joints"]
)
def test_the_validator_passes_odd_figures(case, tmp_path):
    """One joint, several roots, unused vertices and flat triangles, tiny size, over 256 joints."""
    skeleton = orient(standard_skeleton())
    character = figure_of_tubes(skeleton)
    if case == "one joint":
        skeleton = orient(Skeleton((Joint("only", None, np.zeros(3)),)))
    if case == "two roots":
        joints = tuple(replace(j, parent=None) if j.name == "left_hip" else j for j in skeleton)
        skeleton = skeleton.with_joints(joints)
    if case == "loose vertices":
        body = character.parts[0]
        vertices = np.concatenate([body.vertices, [[0, 0, 0], [0, 0, 0], [5, 5, 5]]])
        count = len(body.vertices)
        faces = np.concatenate([body.faces, [[count, count + 1, 0], [3, 3, 4]]])
        character = replace(character, parts=(replace(body, vertices=vertices, faces=faces),))
    if case == "tiny":
        character = carried(character, 1e-6 * np.eye(3))
        joints = tuple(replace(j, position=1e-6 * j.position) for j in skeleton)
        skeleton = replace(skeleton.with_joints(joints), source=Source(height=1e-6))
    if case == "many joints":
        more = tuple(
            Joint(f"x{i}", f"x{i - 1}" if i else "pelvis", np.array([0, 0.5 + 0.01 * i, -0.1]))
            for i in range(300)
        )
        skeleton = orient(skeleton.with_joints(skeleton.joints + more))
    path = tmp_path / "odd.glb"
    write_glb(character, skeleton, path)
    report = validate(path)
    assert report["numErrors"] == report["numWarnings"] == 0, report


@pytest.mark.parametrize("mirror", ["motion", "axes"])
@pytest.mark.parametrize("size", [1.0, 174.0])
def test_joints_read_back_at_their_places_and_with_their_axes(tmp_path, mirror, size):
    """A +Z-up character in any unit: positions to 1e-6 of its height, axes to 1e-6, in metres."""
    plain = orient(standard_skeleton("A"), Convention(mirror=mirror))
    matrix = size * Z_UP
    there = orient(
        replace(
            plain.with_joints(tuple(replace(j, position=matrix @ j.position) for j in plain)),
            source=Source(up="+Z", forward="-Y", height=size),
            settings={},
        ),
        Convention(mirror=mirror),
    )
    path = tmp_path / "there.glb"
    notes = write_glb(carried(figure_of_tubes(plain), matrix), there, path)
    metres = 1.0 if size == 1.0 else 1.74
    assert f"{metres:.3g} m tall" in notes[0]

    matrices = worlds(pygltflib.GLTF2().load(path))
    scene = trimesh.load(path, force="scene")
    for joint in plain:
        expected = metres * joint.position
        assert np.allclose(matrices[joint.name][:3, 3], expected, rtol=0, atol=1e-6 * metres)
        assert np.allclose(matrices[joint.name][:3, :3].T, joint.axes, atol=1e-6), joint.name
        other = scene.graph.get(joint.name)[0]
        assert np.allclose(other[:3, 3], expected, rtol=0, atol=1e-6 * metres)


def test_joints_keep_order_names_and_hierarchy(figure, written):
    """The skin lists the skeleton's joints in order; parents are as given; scales are one."""
    gltf = pygltflib.GLTF2().load(written[0])
    skin = gltf.skins[0]
    assert [gltf.nodes[j].name for j in skin.joints] == list(figure.names)
    for index, node in enumerate(gltf.nodes):
        for child in node.children or []:
            assert figure[gltf.nodes[child].name].parent == node.name
        assert node.scale is None
        assert (index in skin.joints) == (node.mesh is None)


def test_parts_keep_their_names_and_shapes(figure, written):
    """Each part with triangles is a mesh of its own name with the same vertices and triangles."""
    character = figure_of_tubes(figure)
    gltf = pygltflib.GLTF2().load(written[0])
    assert [m.name for m in gltf.meshes] == ["körper & hände", "eyes"]
    for mesh, source in zip(gltf.meshes, character.parts, strict=False):
        primitive = mesh.primitives[0]
        assert np.allclose(numbers(gltf, primitive.attributes.POSITION), source.vertices, atol=1e-6)
        assert np.array_equal(numbers(gltf, primitive.indices).reshape(-1, 3), source.faces)
        normals = numbers(gltf, primitive.attributes.NORMAL)
        assert np.allclose(np.linalg.norm(normals, axis=1), 1, atol=1e-6)
    body = trimesh.load(written[0], force="scene").geometry["körper & hände"]
    assert len(body.faces) == len(character.parts[0].faces)


def test_the_rest_pose_leaves_every_vertex_in_place(written):
    """World matrices times inverse bind matrices are the identity: nothing moves at rest."""
    gltf = pygltflib.GLTF2().load(written[0])
    for mesh in range(len(gltf.meshes)):
        points = numbers(gltf, gltf.meshes[mesh].primitives[0].attributes.POSITION)
        assert np.allclose(skinned(gltf, mesh), points, atol=1e-6)


def test_bending_an_elbow_and_a_knee_moves_the_limb_the_right_way(figure, written):
    """A positive turn about local X takes hands forward and feet back; the trunk stays."""
    gltf = pygltflib.GLTF2().load(written[0])
    rest = skinned(gltf, 0)
    bend = Rotation.from_euler("x", 60, degrees=True)
    names = [f"{s}_{n}" for s in ("left", "right") for n in ("elbow", "knee")]
    posed = skinned(gltf, 0, dict.fromkeys(names, bend))

    def near(name):
        return np.argmin(np.linalg.norm(rest - figure[name].position, axis=1))

    for side in ("left", "right"):
        hand, foot = near(f"{side}_middle_2"), near(f"{side}_toe_tip")
        assert (posed - rest)[hand] @ Z > 0.05
        assert (posed - rest)[foot] @ Z < -0.1
    assert np.allclose(posed[near("chest")], rest[near("chest")], atol=1e-6)
    # both sides in mirror image
    image = posed @ MIRROR
    gaps = [np.linalg.norm(posed - p, axis=1).min() for p in image[:: len(image) // 50]]
    assert max(gaps) < 1e-6


def test_eyeballs_turn_with_their_own_eye(figure, written):
    """Turning the left eye moves the left eyeball alone."""
    gltf = pygltflib.GLTF2().load(written[0])
    rest = skinned(gltf, 1)
    posed = skinned(gltf, 1, {"left_eye": Rotation.from_euler("x", 40, degrees=True)})
    shift = np.linalg.norm(posed - rest, axis=1)
    left = rest[:, 0] > 0
    assert shift[left].max() > 0.002
    assert shift[~left].max() == 0


def test_the_same_input_gives_the_same_bytes(figure, written, tmp_path):
    """No date, no chance: a second file is equal byte for byte."""
    again = tmp_path / "again.glb"
    write_glb(figure_of_tubes(figure), figure, again)
    assert again.read_bytes() == written[0].read_bytes()


def test_notes_say_the_unit_and_what_is_lost(figure, written, tmp_path):
    """The unit that was taken, spreads and evidence, materials, the first binding, empty parts."""
    told = " ".join(written[1])
    for word in ("1 m", "Materials", "binding", "cape"):
        assert word in told
    assert "spreads" not in told
    known = figure.with_joints(tuple(replace(j, spread=0.01) for j in figure))
    notes = write_glb(figure_of_tubes(figure), known, tmp_path / "a.glb", metres_per_unit=0.5)
    assert "set to 0.5 m" in notes[0]
    assert "0.5 m tall" in notes[0]
    assert any("spreads" in note for note in notes)


@pytest.mark.parametrize(
    ("height", "metres"),
    [
        (1.74, 1.0),
        (174, 0.01),
        (1740, 0.001),
        (0.5, 1.0),
        (0.3, 1.0),
        (2.999, 1.0),
        (3.0, 0.1),
        (68.5, 0.01),
        (1e6, 1e-6),
        (1e-6, 1e6),
    ],
)
def test_units_are_guessed_by_height(height, metres):
    """Metres, centimetres and millimetres come out as such; any height ends between 0.3 and 3 m."""
    assert metres_per_unit_of(height) == pytest.approx(metres)
    assert 0.3 <= height * metres_per_unit_of(height) * (1 + 1e-12) < 3.0 + 1e-9


@pytest.mark.parametrize("height", [0.0, -1.0, float("nan"), float("inf")])
def test_an_impossible_height_is_refused(height):
    """No unit can be guessed from it."""
    with pytest.raises(SkeletonError, match="give its height"):
        metres_per_unit_of(height)


def test_a_character_without_triangles_is_refused(figure, tmp_path):
    """There is nothing to show; the file is not made."""
    empty = Character("none", (figure_of_tubes(figure).parts[2],))
    with pytest.raises(OutputError, match="no triangles"):
        write_glb(empty, figure, tmp_path / "a.glb")
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written_is_told(figure, tmp_path):
    """The same sentence as for every other file."""
    with pytest.raises(OutputError, match="no folder"):
        write_glb(figure_of_tubes(figure), figure, tmp_path / "no" / "a.glb")


def test_the_file_is_little_endian_glb(written):
    """Magic, version 2 and the length of the whole file stand in the header."""
    content = written[0].read_bytes()
    magic, version, length = np.frombuffer(io.BytesIO(content).read(12), "<u4")
    assert (magic, version, length) == (0x46546C67, 2, len(content))
