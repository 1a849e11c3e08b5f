"""Joints of glTF files: exact, in any frame, posed or not, and broken files in one sentence."""

from __future__ import annotations

import base64
import json
import struct
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from autoplace.errors import FileMissing, SkeletonError
from autoplace.files.gltf import write_glb
from autoplace.files.gltf_joints import read_gltf_joints
from autoplace.skeleton.convention import Convention
from autoplace.skeleton.orient import orient
from tests.examples import examples
from tests.figures import standard_skeleton
from tests.files.foreign_files import frames, gltf_data, gltf_of, pose
from tests.tubes import figure_of_tubes


@pytest.fixture(scope="module")
def figure():
    return orient(standard_skeleton("A"))


def saved(file, folder, name="a.gltf"):
    path = folder / name
    file.save(str(path))
    return path


def dumped(data, folder, name="a.gltf"):
    path = folder / name
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


def assert_stands(record, skeleton, *, at=None, axes=None):
    """Names, parents, places and axes of a record are those of the skeleton."""
    assert record.names == skeleton.names
    above = [None if p < 0 else record.names[p] for p in record.parents]
    assert above == [j.parent for j in skeleton]
    assert record.positions == pytest.approx(skeleton.positions() if at is None else at, abs=1e-12)
    wanted = np.array([j.axes for j in skeleton]) if axes is None else axes
    assert record.axes == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("as_matrices", [False, True])
def test_joints_come_back_as_they_were(figure, tmp_path, as_matrices):
    """Nodes with rotation and translation, or with a matrix, give the same joints, none turned."""
    record = read_gltf_joints(saved(gltf_of(figure, as_matrices=as_matrices), tmp_path))
    assert_stands(record, figure)
    assert not record.turned.any()
    assert (record.scaled == 1).all()
    assert (record.up, record.forward, record.metres_per_unit) == ("+Y", "+Z", 1.0)


@pytest.mark.parametrize("mirror", ["motion", "axes"])
def test_round_trip_with_our_own_export(tmp_path, mirror):
    """What `write_glb` writes is read back: names, places and axes to single precision."""
    figure = orient(standard_skeleton("T"), Convention(mirror=mirror, aim="-X", bend="+Z"))
    path = tmp_path / "a.glb"
    write_glb(figure_of_tubes(figure), figure, path)
    assert_stands(read_gltf_joints(path), figure)


def test_a_node_above_the_root_is_frame_and_unit(figure, tmp_path):
    """An armature that turns Z up and scales by 0.01 moves all joints and is no pose or scale."""
    above = np.eye(4)
    above[:3, :3] = 0.01 * Rotation.from_euler("x", -90, degrees=True).as_matrix()
    above[:3, 3] = (1, 2, 3)
    record = read_gltf_joints(saved(gltf_of(figure, above=above), tmp_path))
    turn = above[:3, :3] / 0.01
    axes = np.array([j.axes @ turn.T for j in figure])
    assert_stands(record, figure, at=figure.positions() @ above[:3, :3].T + (1, 2, 3), axes=axes)
    assert not record.turned.any()
    assert (record.scaled == 1).all()


def test_a_pose_is_the_turn_since_binding(figure, tmp_path):
    """Joints turned after binding are told with their degrees, and stand where the turn puts."""
    turns = {
        "left_elbow": Rotation.from_euler("x", 35, degrees=True),
        "head": Rotation.from_euler("yz", [20, 0], degrees=True),
    }
    local, world = pose(figure, turns)
    record = read_gltf_joints(saved(gltf_of(figure, local=local), tmp_path))
    found = {n: d for n, d in zip(record.names, record.turned, strict=True) if d}
    assert found == pytest.approx({"left_elbow": 35.0, "head": 20.0}, abs=1e-3)
    assert record.positions == pytest.approx(world[:, :3, 3], abs=1e-9)


def test_a_scale_is_told_and_taken_out_of_the_axes(figure, tmp_path):
    """Scaled joints are told with their factors; what hangs from them moves, axes stay unit."""
    local, world = pose(figure, scales={"left_knee": (1.2, 1.2, 1.2), "pelvis": (2, 2, 2)})
    record = read_gltf_joints(saved(gltf_of(figure, local=local), tmp_path))
    factors = dict(zip(record.names, record.scaled, strict=True))
    assert factors["left_knee"] == pytest.approx((1.2, 1.2, 1.2), abs=1e-9)
    assert factors["pelvis"] == pytest.approx((2, 2, 2), abs=1e-9)
    assert sum((f != 1).any() for f in factors.values()) == 2
    assert record.positions == pytest.approx(world[:, :3, 3], abs=1e-9)
    assert record.axes == pytest.approx(np.array([j.axes for j in figure]), abs=1e-9)


def test_uneven_scales_shear_what_hangs_below(figure, tmp_path):
    """Axes that an uneven scale leaves not at right angles are made so, and a note says it."""
    local, _ = pose(figure, scales={"left_shoulder": (1.0, 1.5, 1.0)})
    record = read_gltf_joints(saved(gltf_of(figure, local=local), tmp_path))
    gram = record.axes @ record.axes.swapaxes(1, 2)
    assert gram == pytest.approx(np.tile(np.eye(3), (len(figure), 1, 1)), abs=1e-12)
    assert any("not at right angles" in note for note in record.notes)


def test_without_bind_matrices_the_stand_is_the_rest(figure, tmp_path):
    """A skin that does not say how it was bound is at rest as it stands; a note says so."""
    local, _ = pose(figure, {"head": Rotation.from_euler("x", 30, degrees=True)})
    record = read_gltf_joints(saved(gltf_of(figure, local=local, bind=False), tmp_path))
    assert not record.turned.any()
    assert any("no inverse bind matrices" in note for note in record.notes)


def test_without_a_skin_nodes_are_joints_and_turns_are_turns(figure, tmp_path):
    """The largest tree of nodes without a mesh is the skeleton; its nodes' rotations are a pose."""
    plain = figure.with_joints(tuple(type(j)(j.name, j.parent, j.position) for j in figure))
    turn = Rotation.from_euler("x", 40, degrees=True)
    local, world = pose(plain, {"left_hip": turn})
    data = gltf_data(gltf_of(plain, local=local, skin=False))
    data["nodes"].append({"name": "lamp", "children": [len(data["nodes"]) + 1]})
    data["nodes"].append({"name": "shade", "mesh": 0})
    record = read_gltf_joints(dumped(data, tmp_path))
    assert record.names == plain.names
    turned = {n: d for n, d in zip(record.names, record.turned, strict=True) if d}
    assert turned == pytest.approx({"left_hip": 40.0}, abs=1e-9)
    assert record.positions == pytest.approx(world[:, :3, 3], abs=1e-12)


def test_joints_side_by_side_are_legal(figure, tmp_path):
    """A flat skin, as of WebXR hands, has no parents; a turn of one joint among them is told."""
    record = read_gltf_joints(saved(gltf_of(figure, flat=True), tmp_path))
    assert (record.parents == -1).all()
    assert record.positions == pytest.approx(figure.positions(), abs=1e-12)
    assert not record.turned.any()


def test_a_skin_that_hangs_elsewhere_is_passed_over(figure, tmp_path):
    """Of two skins on separate trees the one with more joints counts; a note tells of the other."""
    data = gltf_data(gltf_of(figure))
    data["nodes"] += [{"name": "hat_1", "children": [len(figure) + 1]}, {"name": "hat_2"}]
    data["skins"].insert(0, {"joints": [len(figure), len(figure) + 1]})
    record = read_gltf_joints(dumped(data, tmp_path))
    assert record.names == figure.names
    assert any("2 skins" in note for note in record.notes)


@pytest.mark.parametrize("shared", [True, False], ids=["one frame", "another frame"])
def test_skins_that_hang_together_are_one_skeleton(figure, tmp_path, shared):
    """A mesh of the hands with a skin of its own: body and fingers together, and none is turned."""
    fingers = [i for i, n in enumerate(figure.names) if n.startswith("left_ring")]
    wrist = figure.names.index("left_wrist")
    rest = [i for i in range(len(figure)) if i not in fingers]
    carry = np.eye(4)
    if not shared:
        carry[:3, :3] = 100 * Rotation.from_euler("x", 90, degrees=True).as_matrix()
    data = gltf_data(gltf_of(figure))
    data["skins"], data["accessors"], data["bufferViews"], data["buffers"] = [], [], [], []
    for joints, frame in ((rest, np.eye(4)), ([wrist, *fingers], carry)):
        inverse = np.linalg.inv(frame @ frames(figure)[joints]).swapaxes(1, 2).astype("<f4")
        uri = "data:;base64," + base64.b64encode(inverse.tobytes()).decode()
        number = len(data["skins"])
        data["buffers"].append({"byteLength": inverse.nbytes, "uri": uri})
        data["bufferViews"].append({"buffer": number, "byteLength": inverse.nbytes})
        accessor = {"bufferView": number, "componentType": 5126, "type": "MAT4"}
        data["accessors"].append(accessor | {"count": len(joints)})
        data["skins"].append({"joints": joints, "inverseBindMatrices": number})
    record = read_gltf_joints(dumped(data, tmp_path))
    assert sorted(record.names) == sorted(figure.names)
    assert not record.turned.any()
    assert record.notes == ()
    at = dict(zip(record.names, record.positions, strict=True))
    assert at["left_ring_3"] == pytest.approx(figure["left_ring_3"].position, abs=1e-12)


def test_children_before_parents_are_put_in_order(figure, tmp_path):
    """A skin may list its joints in any order; the record lists parents first."""
    data = gltf_data(gltf_of(figure, bind=False))
    data["skins"][0]["joints"].reverse()
    record = read_gltf_joints(dumped(data, tmp_path))
    assert all(parent < i for i, parent in enumerate(record.parents))
    at = dict(zip(record.names, record.positions, strict=True))
    assert at["left_ring_2"] == pytest.approx(figure["left_ring_2"].position, abs=1e-12)


def test_a_buffer_beside_the_file(figure, tmp_path):
    """An external buffer is read from the file's own folder, and from nowhere else."""
    data = gltf_data(gltf_of(figure))
    (tmp_path / "in").mkdir()
    content = base64.b64decode(data["buffers"][0]["uri"].split(",")[1])
    (tmp_path / "in" / "a b.bin").write_bytes(content)
    (tmp_path / "out.bin").write_bytes(content)
    data["buffers"][0]["uri"] = "a%20b.bin"
    assert not read_gltf_joints(dumped(data, tmp_path / "in")).turned.any()
    for uri in ("../out.bin", str(tmp_path / "out.bin"), "file:///etc/passwd", "https://x.y/z"):
        data["buffers"][0]["uri"] = uri
        with pytest.raises(SkeletonError, match="not a file in the folder"):
            read_gltf_joints(dumped(data, tmp_path / "in"))


def broken(change):
    """Names a way to break the data of a good file."""
    return pytest.param(change[1], change[2], id=change[0])


def nest(data):
    data["nodes"] = [{"children": [i + 1]} for i in range(10_000)] + [{}]
    data["skins"] = [{"joints": [0, 10_000]}]


def crowd(data):
    data["nodes"] = [{} for _ in range(100_000)]
    data["skins"] = [{"joints": list(range(100_000))}]


BROKEN = [
    ("version", lambda d: d["asset"].update(version="1.0"), "glTF version"),
    ("no asset", lambda d: d.pop("asset"), "glTF version"),
    ("nodes no list", lambda d: d.update(nodes=3), "nodes is no list"),
    ("child missing", lambda d: d["nodes"][0].update(children=[999]), "is not there"),
    ("child negative", lambda d: d["nodes"][0].update(children=[-1]), "whole number"),
    ("two parents", lambda d: d["nodes"][1].update(children=[7]), "hangs from two nodes"),
    ("own parent", lambda d: d["nodes"][4].update(children=[0]), "own ancestors"),
    ("no joints", lambda d: d["skins"][0].update(joints=[]), "names no joints"),
    ("joint twice", lambda d: d["skins"][0].update(joints=[1, 1]), "a node twice"),
    ("joint missing", lambda d: d["skins"][0].update(joints=[1, 9999]), "not there"),
    ("NaN", lambda d: d["nodes"][3].update(translation=[0, float("nan"), 0]), "NaN"),
    ("huge", lambda d: d["nodes"][3].update(translation=[0, 1e300, 0]), "out of range"),
    ("two numbers", lambda d: d["nodes"][3].update(translation=[0, 1]), "3 numbers"),
    ("text", lambda d: d["nodes"][3].update(rotation=["a", 0, 0, 1]), "4 numbers"),
    ("no quaternion", lambda d: d["nodes"][3].update(rotation=[0, 0, 0, 0]), "unit quaternion"),
    ("flat", lambda d: d["nodes"][3].update(scale=[0, 1, 1]), "'chest' is scaled to nothing"),
    ("mirrored", lambda d: d["nodes"][3].update(scale=[-1, 1, 1]), "'chest' is mirrored"),
    ("count", lambda d: d["accessors"][0].update(count=3), "3 matrices for 67 joints"),
    ("type", lambda d: d["accessors"][0].update(type="VEC4"), "MAT4"),
    ("sparse", lambda d: d["accessors"][0].pop("bufferView"), "no plain values"),
    ("view", lambda d: d["bufferViews"][0].update(byteLength=64), "ends before"),
    ("offset", lambda d: d["bufferViews"][0].update(byteOffset=64), "ends before"),
    ("stride", lambda d: d["bufferViews"][0].update(byteStride=4), "closer together"),
    ("base64", lambda d: d["buffers"][0].update(uri="data:,%%%"), "base64"),
    ("no buffer", lambda d: d["buffers"][0].pop("uri"), "has no data"),
    ("nested", nest, "deep"),
    ("crowd", crowd, "100000 joints"),
    ("empty", lambda d: (d.pop("skins"), d.update(nodes=[{}])), "no skin and no chain"),
]


@pytest.mark.parametrize(("change", "said"), [broken(b) for b in BROKEN])
def test_broken_files_are_one_sentence(figure, tmp_path, change, said):
    """Whatever is broken is refused in one sentence that says where, and within a second."""
    data = gltf_data(gltf_of(figure))
    change(data)
    path = dumped(data, tmp_path)
    begin = time.monotonic()
    with pytest.raises(SkeletonError, match=said) as told:
        read_gltf_joints(path)
    assert time.monotonic() - begin < 5.0
    assert "\n" not in str(told.value)


def test_broken_containers(figure, tmp_path):
    """No file, nothing, not JSON, no glTF, and binary files that break off anywhere."""
    with pytest.raises(FileMissing):
        read_gltf_joints(tmp_path / "none.glb")
    for name, content, said in [
        ("a.gltf", b"", "empty"),
        ("a.gltf", b"[" * 100_000, "nested"),
        ("a.gltf", b"[]", "no object"),
        ("a.gltf", b"\xff\xfe", "UTF-8"),
        ("a.glb", b"ply\n", "does not begin"),
        ("a.glb", b"glTF", "breaks off"),
        ("a.glb", b"glTF" + struct.pack("<II", 1, 12), "version 1"),
        ("a.glb", b"glTF" + struct.pack("<II", 2, 12), "no JSON"),
        ("a.glb", b"glTF" + struct.pack("<IIII", 2, 20, 99, 0x4E4F534A), "longer than"),
        ("a.glb", b"glTF" + struct.pack("<IIII", 2, 20, 0, 7), "not JSON"),
    ]:
        path = tmp_path / name
        path.write_bytes(content)
        with pytest.raises(SkeletonError, match=said):
            read_gltf_joints(path)


def test_a_chunk_filled_up_with_zeros(figure, tmp_path):
    """Text filled up to four bytes with zeros instead of spaces, as some writers do, is read."""
    text = json.dumps(gltf_data(gltf_of(figure))).encode()
    text += b"\0" * (8 - len(text) % 4)
    head = b"glTF" + struct.pack("<IIII", 2, 20 + len(text), len(text), 0x4E4F534A)
    (tmp_path / "a.glb").write_bytes(head + text)
    assert read_gltf_joints(tmp_path / "a.glb").names == figure.names


@given(st.data())
@settings(max_examples=examples(60), deadline=None, derandomize=True)
def test_damage_of_any_kind_is_refused_or_read(tmp_path_factory, data):
    """A file cut off, or with bytes changed anywhere, is read or refused; nothing else happens."""
    folder = tmp_path_factory.getbasetemp()
    path = folder / "damaged.glb"
    small = orient(standard_skeleton("A"))
    source = folder / "whole.glb"
    if not source.exists():
        gltf_of(small).save(str(source))
    content = bytearray(source.read_bytes())
    if data.draw(st.booleans()):
        content = content[: data.draw(st.integers(0, len(content)))]
    for _ in range(data.draw(st.integers(0, 4))):
        if content:
            content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    path.write_bytes(bytes(content))
    try:
        record = read_gltf_joints(path)
    except SkeletonError:
        return
    assert np.isfinite(record.positions).all()
