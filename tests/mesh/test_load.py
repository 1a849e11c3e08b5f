"""Reading files into a character."""

from __future__ import annotations

import hashlib

import numpy as np
import pytest
import trimesh

from autoplace.errors import BadGeometry, FileMissing, NotAMesh
from autoplace.mesh.load import character_from_arrays, load
from tests.mesh.capsule_figures import box, sphere

CUBE = """# a comment
o box
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


def written(tmp_path, text, name="figure.obj"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def volume(part):
    a, b, c = (part.vertices[part.faces[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


def test_obj_keeps_vertices_and_polygon_numbers(tmp_path):
    """Eight vertices stay eight in file order, and every triangle knows the quad it is from."""
    character = load(written(tmp_path, CUBE))
    (part,) = character.parts
    assert part.name == "box"
    np.testing.assert_array_equal(part.source_vertices, np.arange(8))
    np.testing.assert_array_equal(part.source_faces, np.repeat(np.arange(6), 2))
    np.testing.assert_array_equal(part.vertices[6], [1, 1, 1])
    assert volume(part) == pytest.approx(1.0)
    assert character.name == "figure"
    assert character.sha256 == hashlib.sha256(CUBE.encode()).hexdigest()
    assert character.notes == ()


def test_obj_texture_seams_copy_no_vertex(tmp_path):
    """Corners with other texture coordinates or normals are still the same vertex."""
    text = CUBE + "vt 0 0\nvt 1 1\nvn 0 0 1\n"
    text = text.replace("f 4 3 2 1", "f 4/1/1 3/2/1 2/1/1 1/2/1").replace(
        "f 5 6 7 8", "f 5//1 6//1 7//1 8//1"
    )
    (part,) = load(written(tmp_path, text)).parts
    assert part.vertices.shape == (8, 3)
    assert volume(part) == pytest.approx(1.0)


def test_obj_objects_and_groups_are_parts(tmp_path):
    """Each object, and each group in it, is a part that points back into the file's vertex list."""
    text = (
        "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\no Head\nf 1 2 3\ng lids\nf 1 2 4\n"
        "o Body\ng default\nf 1 3 4\no Head\ng lids\nf 2 3 4\n"
    )
    character = load(written(tmp_path, text))
    assert [p.name for p in character.parts] == ["Head", "Head/lids", "Body"]
    lids = character.parts[1]
    np.testing.assert_array_equal(lids.source_faces, [1, 3])
    np.testing.assert_array_equal(lids.source_vertices[lids.faces], [[0, 1, 3], [1, 2, 3]])


def test_obj_without_names_is_named_after_the_file(tmp_path):
    """A file without o and g lines has one part with the file's name."""
    (part,) = load(written(tmp_path, CUBE.replace("o box\n", ""), "keeper.obj")).parts
    assert part.name == "keeper"


def test_obj_negative_indices_count_back_from_their_line(tmp_path):
    """-1 is the last vertex before the face, also when more vertices follow."""
    text = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf -3 -2 -1\nv 0 0 1\nf -4 -3 -1\n"
    (part,) = load(written(tmp_path, text)).parts
    np.testing.assert_array_equal(part.source_vertices[part.faces], [[0, 1, 2], [0, 1, 3]])


def test_obj_colours_and_weights_are_passed_over(tmp_path):
    """Numbers after x, y and z may be there on some vertices and not on others."""
    text = CUBE.replace("v 1 1 1", "v 1 1 1 0.5 0.5 0.5").replace("v 0 1 1", "v 0 1 1 1.0")
    (part,) = load(written(tmp_path, text)).parts
    assert volume(part) == pytest.approx(1.0)


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"], ids=["unix", "dos", "old_mac"])
def test_obj_line_ends_tabs_and_continuations(tmp_path, ending):
    """Any line end, indented lines, tabs, trailing comments and continued lines are read alike."""
    text = CUBE.replace("v 1 1 1", "\t v\t1  1 1   # corner").replace("f 5 6 7 8", "f 5 6 \\\n7 8")
    (part,) = load(written(tmp_path, text.replace("\n", ending))).parts
    assert volume(part) == pytest.approx(1.0)


def test_obj_polygon_is_cut_into_a_fan(tmp_path):
    """A concave pentagon's triangles have its signed area."""
    text = "v 0 0 0\nv 2 0 0\nv 2 2 0\nv 1 .5 0\nv 0 2 0\nv 0 0 1\nf 1 2 3 4 5\nf 1 2 6\n"
    (part,) = load(written(tmp_path, text)).parts
    polygon = part.faces[part.source_faces == 0]
    a, b, c = (part.vertices[polygon[:, i]] for i in range(3))
    assert len(polygon) == 3
    # the shoelace formula on the five corners
    assert np.cross(b - a, c - a)[:, 2].sum() / 2 == pytest.approx(2.5)


def ply_bytes(faces, order="<"):
    points = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype="f4")
    name = {"<": "binary_little_endian", ">": "binary_big_endian", "": "ascii"}[order]
    head = (
        f"ply\nformat {name} 1.0\ncomment made for a test\nelement vertex 8\nproperty float x\n"
        "property float y\nproperty float z\nproperty uchar red\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nproperty uchar red\n"
        "end_header\n"
    ).encode()
    if not order:
        rows = [" ".join(map(str, p)) + " 7" for p in points]
        rows += [f"{len(f)} " + " ".join(map(str, f)) + " 9" for f in faces]
        return head + "\n".join(rows).encode()
    body = b"".join(p.astype(order + "f4").tobytes() + b"\x07" for p in points)
    for face in faces:
        body += bytes([len(face)]) + np.array(face, dtype=order + "i4").tobytes() + b"\x09"
    return head + body


QUADS = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]


@pytest.mark.parametrize("order", ["<", ">", ""], ids=["little_endian", "big_endian", "text"])
@pytest.mark.parametrize("mixed", [False, True], ids=["quads", "quads_and_triangles"])
def test_ply(tmp_path, order, mixed):
    """Text and binary, of one or of mixed polygon sizes, with other properties between."""
    faces = [[0, 1, 3], [0, 3, 2], *QUADS[1:]] if mixed else QUADS
    (part,) = load(written(tmp_path, ply_bytes(faces, order), "cube.ply")).parts
    assert part.name == "cube"
    assert volume(part) == pytest.approx(1.0)
    assert len(part.faces) == 12
    expected = np.repeat(np.arange(len(faces)), [len(f) - 2 for f in faces])
    np.testing.assert_array_equal(part.source_faces, expected)


def test_stl_of_both_kinds(tmp_path):
    """Text and binary STL hold the same triangles; nothing is welded."""
    ball = trimesh.creation.icosphere(subdivisions=1)
    for kind in ("stl", "stl_ascii"):
        path = written(tmp_path, ball.export(file_type=kind), f"{kind}.stl")
        (part,) = load(path).parts
        assert len(part.faces) == 80
        assert len(part.vertices) == 240
        assert volume(part) == pytest.approx(ball.volume, rel=1e-5)


@pytest.mark.parametrize("ending", ["glb", "gltf"])
def test_gltf_scene_transforms_are_applied(tmp_path, ending):
    """Each node is a part under its own name where its node puts it; a mirrored one faces out."""
    scene = trimesh.Scene()
    ball = trimesh.creation.icosphere(subdivisions=1)
    moved = trimesh.transformations.translation_matrix([5, 0, 0])
    scene.add_geometry(ball, node_name="left_eye", geom_name="ball", transform=moved)
    flipped = np.diag([-1.0, 1, 1, 1]) @ moved
    scene.add_geometry(ball, node_name="right_eye", geom_name="ball2", transform=flipped)
    path = tmp_path / f"eyes.{ending}"
    scene.export(path)
    character = load(path)
    assert [p.name for p in character.parts] == ["left_eye", "right_eye"]
    left, right = character.parts
    np.testing.assert_allclose(left.vertices.mean(axis=0), [5, 0, 0], atol=1e-6)
    np.testing.assert_allclose(right.vertices.mean(axis=0), [-5, 0, 0], atol=1e-6)
    assert volume(left) == pytest.approx(volume(right), rel=1e-5)
    assert volume(left) > 0
    assert right.source_vertices[0] == len(left.vertices)


def test_names_are_made_unique():
    """Parts of one name are told apart by a number."""
    from autoplace.mesh.load import _unique_names

    parts = character_from_arrays({"eye": box((0, 0, 0), (1, 1, 1))}).parts * 3
    assert [p.name for p in _unique_names(parts)] == ["eye", "eye_2", "eye_3"]


@pytest.mark.parametrize("scale", [1e-6, 1e6])
def test_any_magnitude_is_read(tmp_path, scale):
    """A mesh 1e-6 or 1e6 units tall is read without a note."""
    vertices, faces = sphere(np.zeros(3), 1.0)
    lines = [f"v {x:.9g} {y:.9g} {z:.9g}" for x, y, z in vertices * scale]
    lines += [f"f {a} {b} {c}" for a, b, c in faces + 1]
    character = load(written(tmp_path, "\n".join(lines)))
    assert character.face_count == len(faces)
    assert not [note for note in character.notes if "area" in note]


def test_the_same_file_gives_the_same_arrays(tmp_path):
    """Reading twice gives equal bytes."""
    path = written(tmp_path, CUBE)
    one, two = load(path), load(path)
    assert one.vertices.tobytes() == two.vertices.tobytes()
    assert one.faces.tobytes() == two.faces.tobytes()


def refused(path, error, *words):
    with pytest.raises(error) as told:
        load(path)
    message = str(told.value)
    assert "\n" not in message
    for word in (path.name, *words):
        assert word in message, message
    return message


def test_missing_file_and_folder(tmp_path):
    """A missing file and a folder are told apart."""
    refused(tmp_path / "gone.obj", FileMissing, "no file", "check")
    (tmp_path / "folder.obj").mkdir()
    refused(tmp_path / "folder.obj", FileMissing, "folder")


def test_stl_text_with_a_name_in_an_old_encoding(tmp_path):
    """A solid's name that is not UTF-8 does not keep its triangles from being read."""
    text = trimesh.creation.box().export(file_type="stl_ascii").encode()
    first, rest = text.split(b"\n", 1)
    path = written(tmp_path, "solid Gr\u00f6\u00dfe\n".encode("latin-1") + rest, "old.stl")
    assert len(load(path).parts[0].faces) == 12
    assert first.startswith(b"solid")


def test_what_the_reader_trips_over_is_told_in_words_or_not_at_all(tmp_path):
    """A bare key or a missing module of the general reader means nothing to a user."""
    for name, content in (("a.stl", b"\x89PNG\r\n\xff"), ("a.gltf", b"<x/>")):
        with pytest.raises(NotAMesh, match=r"(as GLTF|no STL mesh|as STL); export it again"):
            load(written(tmp_path, content, name))


@pytest.mark.parametrize("name", ["a.obj", "a.ply", "a.glb", "a.gltf", "a.stl"])
def test_empty_or_foreign_content(tmp_path, name):
    """An empty file is called empty; prose and pictures are no mesh of any kind."""
    refused(written(tmp_path, b" \n", name), NotAMesh, "empty")
    refused(written(tmp_path, "Dear reader,\nv is for vale.\n", name), NotAMesh, "export")
    refused(written(tmp_path, b"\x89PNG\r\n\x1a\n\0\0\0" + bytes(300), name), NotAMesh, "export")


def test_wrong_ending_is_named(tmp_path):
    """A PLY called .obj is answered with what to call it."""
    refused(written(tmp_path, ply_bytes(QUADS)), NotAMesh, "PLY", ".ply")
    refused(written(tmp_path, CUBE, "cube.txt"), NotAMesh, ".obj", ".glb")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("v 1 x 1", ("line 9", "three numbers")),
        ("v 1 1", ("line 9", "three numbers")),
        ("v 1,5 1 1", ("line 9", "three numbers")),
    ],
)
def test_obj_vertex_that_cannot_be_read(tmp_path, line, words):
    """The line number and its content are told."""
    refused(written(tmp_path, CUBE.replace("v 1 1 1", line)), BadGeometry, *words, line)


@pytest.mark.parametrize(
    "face", ["f 1 2 99", "f 1 2 -99", "f 0 1 2", "f 1 2 1.5", "f a b c", "f 1/2 -/3 4"]
)
def test_obj_face_that_cannot_be_read(tmp_path, face):
    """A face with a vertex that is not there, or with no number, is told with its line."""
    refused(written(tmp_path, CUBE + face + "\n"), BadGeometry, "line 17", face)


@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "1e999"])
def test_vertices_that_are_no_numbers(tmp_path, value):
    """Part and first vertex ids are named; one that no face uses does no harm."""
    message = refused(
        written(tmp_path, CUBE.replace("v 1 1 1", f"v 1 {value} 1")),
        BadGeometry,
        "box",
        "not finite",
    )
    assert " 6;" in message
    character = load(written(tmp_path, CUBE.replace("f 4", f"v 0 {value} 0\nf 4")))
    assert np.isfinite(character.vertices).all()


def test_no_faces(tmp_path):
    """Points alone are refused, as OBJ and as PLY."""
    points = "".join(line for line in CUBE.splitlines(True) if line[0] != "f")
    refused(written(tmp_path, points), BadGeometry, "no faces")
    refused(written(tmp_path, ply_bytes([]), "points.ply"), BadGeometry, "no faces")


@pytest.mark.parametrize(
    ("squash", "shape"), [((1, 1, 0), "plane"), ((1, 0, 0), "area"), ((0, 0, 0), "area")]
)
@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e6])
def test_flat_meshes(squash, shape, scale):
    """All points in a plane, on a line or in one point, at any size and any tilt."""
    vertices, faces = sphere(np.zeros(3), 1.0)
    turn = trimesh.transformations.rotation_matrix(0.7, [1, 2, 3])[:3, :3]
    flat = vertices * squash @ turn.T * scale + 3 * scale
    with pytest.raises(BadGeometry, match=shape):
        character_from_arrays({"disc": (flat, faces)})


def test_faces_without_area_are_passed_over_with_a_note(tmp_path):
    """A face that repeats a vertex and one on a line are dropped and counted; others stay."""
    text = CUBE + "v 0.5 0 0\nf 1 1 2\nf 1 9 2\n"
    character = load(written(tmp_path, text))
    (part,) = character.parts
    assert len(part.faces) == 12
    assert any("2 triangles" in note and "twice" in note for note in character.notes)
    assert len(part.vertices) == 8


def test_truncated_files(tmp_path):
    """Files that break off are refused."""
    refused(written(tmp_path, ply_bytes(QUADS)[:-9], "cut.ply"), NotAMesh, "breaks off")
    ball = trimesh.creation.icosphere(subdivisions=1)
    refused(written(tmp_path, ball.export(file_type="glb")[:-300], "cut.glb"), NotAMesh, "export")


def test_arrays_of_the_wrong_shape():
    """Quads in memory are refused with the shape that is wanted."""
    with pytest.raises(BadGeometry, match=r"\(m, 3\)"):
        character_from_arrays({"box": (np.zeros((4, 3)), [[0, 1, 2, 3]])})


def test_obj_of_many_lines_is_read_as_a_short_one_is(tmp_path):
    """Lines are read some thousand at a time; neither their number nor what stands between them
    shows in what comes out."""
    grid = np.stack(np.meshgrid(np.arange(150.0), np.arange(150.0), indexing="ij"), -1)
    height = np.sin(grid[..., 0] / 7.0) * 10.0
    points = np.concatenate([grid, height[..., None]], axis=-1).reshape(-1, 3)
    first = (np.arange(149)[:, None] * 150 + np.arange(149)).ravel() + 1
    faces = np.stack([first, first + 150, first + 151], axis=1)
    lines = [f"v {x:.6f} {y:e} {z:.17g}\nvn 0 0 1" for x, y, z in points]
    lines += [f"f {a}//1 {b}//1 {c}//1" for a, b, c in faces]
    read = load(written(tmp_path, "\n".join(lines))).parts[0]
    used = np.unique(faces) - 1
    np.testing.assert_array_equal(read.source_vertices, used)
    np.testing.assert_array_equal(read.source_vertices[read.faces], faces - 1)
    np.testing.assert_array_equal(read.vertices[:, 1:], points[used, 1:])
    np.testing.assert_allclose(read.vertices[:, 0], points[used, 0])
