"""glTF files that claim more than they hold are refused before memory is set aside for them."""

from __future__ import annotations

import json
import struct

import pytest

from autoplace.errors import NotAMesh
from autoplace.mesh.gltf_claims import refuse_false_claims
from autoplace.mesh.load import load

SOUND = {
    "asset": {"version": "2.0"},
    "buffers": [{"byteLength": 36, "uri": "data:,"}],
    "bufferViews": [{"buffer": 0, "byteLength": 36}],
    "accessors": [{"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3"}],
    "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
    "nodes": [{"mesh": 0}],
}


def assert_refused(folder, words, **changes):
    path = folder / "a.gltf"
    path.write_text(json.dumps(SOUND | changes), encoding="utf-8")
    with pytest.raises(NotAMesh, match=words):
        load(path)


def test_a_sound_file_passes(tmp_path):
    """What claims no more than it holds is left to the reader, and so is what is no JSON."""
    refuse_false_claims(json.dumps(SOUND).encode(), tmp_path / "a.gltf")
    refuse_false_claims(b"[" * 100_000, tmp_path / "a.gltf")
    refuse_false_claims(b'{"buffers": 1, "accessors": [1], "nodes": {}}', tmp_path / "a.gltf")


@pytest.mark.parametrize("at", [12, 24])
def test_a_chunk_longer_than_the_file(tmp_path, at):
    """A chunk that should have 4 GB is told by where it is; nothing is read for it."""
    data = bytearray(struct.pack("<4sII", b"glTF", 2, 40))
    data += struct.pack("<I4s4s", 4, b"JSON", b"{}  ") + struct.pack("<I4s8x", 8, b"BIN\0")
    data[at : at + 4] = b"\xff\xff\xff\xff"
    path = tmp_path / "a.glb"
    path.write_bytes(data)
    with pytest.raises(NotAMesh, match=f"byte {at} is longer than the file"):
        load(path)


def test_entries_without_data(tmp_path):
    """An accessor without a view stands for zeros, of which a line of text could ask for any."""
    bomb = {"componentType": 5126, "count": 2**33, "type": "MAT4"}
    assert_refused(tmp_path, r"without data in accessors\[1\]", accessors=[{}, bomb])


def test_entries_upon_one_another(tmp_path):
    """A stride below four bytes, which the standard forbids, makes a small buffer a large array."""
    views = [{"buffer": 0, "byteLength": 36, "byteStride": 1}]
    assert_refused(tmp_path, "closer together", bufferViews=views)


def test_a_mesh_shown_too_often(tmp_path):
    """Each node that shows a mesh is a copy of it."""
    accessor = SOUND["accessors"][0] | {"count": 10**6}
    assert_refused(tmp_path, "draws 101000000", accessors=[accessor], nodes=[{"mesh": 0}] * 100)


@pytest.mark.parametrize(
    "uri", ["../a.bin", "%2e%2e/a.bin", "/dev/zero", "http://127.0.0.1/a.bin", "folder", "a\0.bin"]
)
def test_buffers_elsewhere(tmp_path, uri):
    """Only plain files in the folder of the mesh or below it are read."""
    (tmp_path / "in" / "folder").mkdir(parents=True)
    (tmp_path / "a.bin").write_bytes(bytes(36))
    assert_refused(tmp_path / "in", "buffers", buffers=[{"byteLength": 36, "uri": uri}])


@pytest.mark.parametrize("ring", [False, True])
def test_nodes_without_end(tmp_path, ring):
    """A chain of a thousand nodes, or a ring of three, is no character's and would take long."""
    count = 3 if ring else 1000
    nodes = [{"mesh": 0, "children": [(i + 1) % count]} for i in range(count)]
    if not ring:
        nodes[-1] = {"mesh": 0}
    assert_refused(tmp_path, "more than 512 deep", nodes=nodes)


def test_a_node_below_two_others(tmp_path):
    """The standard allows trees only (section 3.5.2)."""
    nodes = [{"children": [2]}, {"children": [2]}, {"mesh": 0}]
    assert_refused(tmp_path, "from two nodes", nodes=nodes)
