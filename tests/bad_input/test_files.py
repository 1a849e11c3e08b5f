"""Files that hold no usable mesh: each is refused in one sentence that says what to do."""

from __future__ import annotations

import struct

import pytest

from tests.bad_input.command import assert_refused, run_place

CUBE = """o box
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
v 0 0 1
v 1 0 1
v 1 1 1
v 0 1 1
f 4 3 2 1
f 5 6 7 8
f 1 2 6 5
f 2 3 7 6
f 3 4 8 7
f 4 1 5 8
"""


@pytest.fixture
def mesh(tmp_path):
    """A path to write the bad file to, in a folder of its own."""
    return tmp_path / "figure.obj"


def test_missing_file(capsys, mesh):
    """A path with nothing there is named, with the advice to check it."""
    assert_refused(run_place(capsys, mesh), mesh, "no file", "figure.obj", "check")


def test_missing_file_in_a_missing_folder(capsys, tmp_path):
    """The file is what the user hears about, not the folder of the output."""
    told = run_place(capsys, tmp_path / "gone" / "figure.obj")
    assert told.code == 2
    assert "no file" in told.sentence


def test_folder_instead_of_a_file(capsys, tmp_path):
    """A folder is not read."""
    folder = tmp_path / "figure.obj"
    folder.mkdir()
    assert_refused(run_place(capsys, folder), folder, "folder")


@pytest.mark.parametrize("ending", [".obj", ".ply", ".stl", ".glb", ".gltf"])
@pytest.mark.parametrize("content", [b"", b"\n \n"], ids=["no_bytes", "only_blanks"])
def test_empty_file(capsys, tmp_path, ending, content):
    """An empty file of any kind is called empty."""
    mesh = tmp_path / f"figure{ending}"
    mesh.write_bytes(content)
    assert_refused(run_place(capsys, mesh), mesh, "empty", "export")


@pytest.mark.parametrize("ending", [".txt", ".png", ".zip", ""])
def test_not_a_mesh_format(capsys, tmp_path, ending):
    """A file of another kind is answered with the kinds that are read."""
    mesh = tmp_path / f"figure{ending}"
    mesh.write_bytes(b"\x89PNG\r\n\x1a\n and more")
    assert_refused(run_place(capsys, mesh), mesh, ".obj", ".glb")


@pytest.mark.parametrize("ending", [".obj", ".ply", ".stl", ".glb", ".gltf"])
@pytest.mark.parametrize(
    "content",
    [b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(range(256)), b"PK\3\4" + bytes(200), b"{}", b"<x/>"],
    ids=["picture", "archive", "json", "xml"],
)
def test_not_a_mesh_inside(capsys, tmp_path, ending, content):
    """What is inside counts, not the name."""
    mesh = tmp_path / f"figure{ending}"
    mesh.write_bytes(content)
    assert_refused(run_place(capsys, mesh), mesh, "figure")


def test_text_named_obj(capsys, mesh):
    """Prose with an .obj ending is no mesh, even where lines begin with v or f."""
    mesh.write_text("Dear reader,\nv is for the voyage, f is for the farewell.\nfare well\n")
    assert_refused(run_place(capsys, mesh), mesh, "figure.obj")


@pytest.mark.parametrize("number", ["nan", "inf", "-inf", "1e999"])
def test_numbers_that_are_none(capsys, mesh, number):
    """NaN and infinity in a vertex that faces use are refused with where they are."""
    mesh.write_text(CUBE.replace("v 1 1 1", f"v 1 {number} 1"))
    assert_refused(run_place(capsys, mesh), mesh, "box")


def test_binary_numbers_that_are_none(capsys, tmp_path):
    """The same in a binary file."""
    mesh = tmp_path / "figure.ply"
    head = (
        "ply\nformat binary_little_endian 1.0\nelement vertex 4\nproperty float x\n"
        "property float y\nproperty float z\nelement face 4\n"
        "property list uchar int vertex_indices\nend_header\n"
    )
    points = struct.pack("<12f", 0, 0, 0, 1, 0, 0, 0, float("nan"), 0, 0, 0, 1)
    faces = b"".join(
        struct.pack("<B3i", 3, *f) for f in [(0, 2, 1), (0, 1, 3), (1, 2, 3), (0, 3, 2)]
    )
    mesh.write_bytes(head.encode() + points + faces)
    assert_refused(run_place(capsys, mesh), mesh, "figure")


def test_no_faces(capsys, mesh):
    """A cloud of points has no surface to measure."""
    mesh.write_text("".join(line for line in CUBE.splitlines(True) if line[0] != "f"))
    assert_refused(run_place(capsys, mesh), mesh, "face")


@pytest.mark.parametrize("face", ["f 1 2 99", "f 1 2 -99", "f 0 1 2"])
def test_faces_out_of_range(capsys, mesh, face):
    """A face that names a vertex which is not there is refused, with where it stands."""
    mesh.write_text(CUBE + face + "\n")
    assert_refused(run_place(capsys, mesh), mesh, "figure.obj")


def test_truncated_binary(capsys, tmp_path):
    """A file cut off in the middle is refused."""
    mesh = tmp_path / "figure.glb"
    mesh.write_bytes(struct.pack("<4sII", b"glTF", 2, 4000) + b"\x10\x00\x00\x00JSON{")
    assert_refused(run_place(capsys, mesh), mesh, "figure.glb")
