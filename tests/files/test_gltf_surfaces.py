"""Materials, textures and texture coordinates in exported glTF files."""

from __future__ import annotations

import io
import json
from dataclasses import replace

import numpy as np
import pygltflib
import pytest
import trimesh
from PIL import Image

from autoplace.files.gltf import write_glb
from autoplace.mesh.load import load
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.orient import orient
from tests.files.gltf_validator import validate
from tests.files.textured_cube import (
    MTL,
    PAIRS,
    cube_text,
    expected_corners,
    picture,
    write_cube,
)


@pytest.fixture(scope="module")
def skeleton():
    return orient(Skeleton((Joint("only", None, np.array([0.5, 0.1, 0.5])),)))


def numbers(gltf, index):
    """An accessor as an array, straight from the bytes."""
    accessor = gltf.accessors[index]
    view = gltf.bufferViews[accessor.bufferView]
    kind = {5126: "<f4", 5123: "<u2"}[accessor.componentType]
    width = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}[accessor.type]
    flat = np.frombuffer(gltf.binary_blob(), kind, accessor.count * width, view.byteOffset)
    return flat.reshape(-1, width)


def corners(gltf, primitive):
    """(k, 5) place and texture coordinates, v down, of every corner of a primitive's triangles."""
    use = numbers(gltf, primitive.indices)[:, 0]
    places = numbers(gltf, primitive.attributes.POSITION)[use]
    return np.hstack([places, numbers(gltf, primitive.attributes.TEXCOORD_0)[use]])


def export(source, skeleton, path):
    """Writes and reads; the file has neither errors nor warnings."""
    notes = write_glb(load(source), skeleton, path)
    report = validate(path)
    assert report["numErrors"] == report["numWarnings"] == 0, report
    return pygltflib.GLTF2().load(path), notes


@pytest.fixture(scope="module")
def cube(skeleton, tmp_path_factory):
    folder = tmp_path_factory.mktemp("cube")
    gltf, notes = export(write_cube(folder), skeleton, folder / "cube.glb")
    return folder, gltf, notes


def test_every_corner_keeps_its_texture_coordinates(cube):
    """Each corner has its place and its pair, with v counted from the top as glTF does."""
    _, gltf, _ = cube
    rows = np.concatenate([corners(gltf, p) for p in gltf.meshes[0].primitives])
    rows[:, 4] = 1 - rows[:, 4]
    assert {tuple(row) for row in rows.tolist()} == expected_corners()


def test_triangles_lie_under_their_materials(cube):
    """One primitive for each material, with as many triangles as the file says."""
    _, gltf, _ = cube
    primitives = gltf.meshes[0].primitives
    assert [gltf.materials[p.material].name for p in primitives] == ["skin", "cloth"]
    assert [gltf.accessors[p.indices].count for p in primitives] == [4 * 6, 2 * 6]


def test_colours_opacity_and_texture_are_those_of_the_mtl_file(cube):
    """Kd is the base colour, d the opacity, map_Kd the texture, clamped as its option says."""
    _, gltf, notes = cube
    skin, cloth = gltf.materials
    assert skin.pbrMetallicRoughness.baseColorFactor == [0.5, 0.25, 1, 1]
    assert cloth.pbrMetallicRoughness.baseColorFactor == [0.1, 0.2, 0.3, 0.5]
    assert (skin.alphaMode, cloth.alphaMode) == ("OPAQUE", "BLEND")
    assert cloth.pbrMetallicRoughness.baseColorTexture is None
    texture = gltf.textures[skin.pbrMetallicRoughness.baseColorTexture.index]
    assert gltf.samplers[texture.sampler].wrapS == 33071
    view = gltf.bufferViews[gltf.images[texture.source].bufferView]
    data = gltf.binary_blob()[view.byteOffset : view.byteOffset + view.byteLength]
    assert np.array_equal(Image.open(io.BytesIO(data)), Image.open(io.BytesIO(picture())))
    told = " ".join(notes)
    assert "scaled or shifted" in told
    assert "grey" not in told


def test_another_reader_sees_the_same_on_both_files(skeleton, tmp_path):
    """trimesh reads the OBJ by itself: every triangle has the same place in the same texture."""
    plain = MTL.replace("-s 1 1 1 -clamp on pictures\\skin one.png", "skin.png")
    write_cube(tmp_path, mtl=plain)
    (tmp_path / "skin.png").write_bytes(picture())
    export(tmp_path / "cube.obj", skeleton, tmp_path / "cube.glb")

    def seen(path):
        found = {}
        for shape in trimesh.load(path, force="scene", process=False).geometry.values():
            material = shape.visual.material
            image = getattr(material, "baseColorTexture", None) or getattr(material, "image", None)
            if image is not None:
                for row in shape.faces:
                    place = tuple(np.round(shape.vertices[row].mean(axis=0), 3))
                    found[place] = np.round(shape.visual.uv[row].mean(axis=0), 5).tolist()
                assert np.asarray(image).shape == (8, 16, 3)
        return found

    ours, theirs = seen(tmp_path / "cube.glb"), seen(tmp_path / "cube.obj")
    assert len(ours) == 8
    assert ours == theirs


def test_seams_stay_closed(cube):
    """Vertices at one place have one normal, also where two materials meet."""
    _, gltf, _ = cube
    normal = {}
    for primitive in gltf.meshes[0].primitives:
        places = numbers(gltf, primitive.attributes.POSITION)
        for place, n in zip(places, numbers(gltf, primitive.attributes.NORMAL), strict=True):
            assert normal.setdefault(tuple(place), tuple(n)) == tuple(n)
    assert len(normal) == 8


def test_our_own_glb_keeps_everything_when_it_is_exported_again(cube, skeleton):
    """Corners, colours, opacity, sides and pictures come out as they went in."""
    folder, first, _ = cube
    second, _ = export(folder / "cube.glb", skeleton, folder / "again.glb")
    assert first.materials == second.materials
    assert first.samplers == second.samplers
    assert [i.name for i in first.images] == [i.name for i in second.images]
    rows = [
        sorted(map(tuple, corners(g, p).tolist()))
        for g in (first, second)
        for m in g.meshes
        for p in m.primitives
    ]
    assert rows[:2] == rows[2:]


def test_text_files_hold_the_picture_too(cube, skeleton):
    """A .gltf is one file: no uri but that of its own data; and it reads back."""
    folder, first, _ = cube
    gltf, _ = export(folder / "cube.obj", skeleton, folder / "cube.gltf")
    data = json.loads((folder / "cube.gltf").read_text())
    assert "uri" not in data["images"][0]
    assert gltf.materials == first.materials
    again, _ = export(folder / "cube.gltf", skeleton, folder / "from_text.glb")
    assert again.materials == first.materials


def test_the_same_mesh_gives_the_same_bytes(cube, skeleton):
    """Nothing of the order of reading remains."""
    folder, _, _ = cube
    write_glb(load(folder / "cube.obj"), skeleton, folder / "twice.glb")
    assert (folder / "twice.glb").read_bytes() == (folder / "cube.glb").read_bytes()


def test_a_mesh_without_looks_is_grey(skeleton, tmp_path):
    """One grey material, no texture coordinates, no vertex twice; a note says so."""
    source = write_cube(tmp_path, cube_text(materials=False, pairs=False, head=""))
    gltf, notes = export(source, skeleton, tmp_path / "plain.glb")
    (primitive,) = gltf.meshes[0].primitives
    assert gltf.accessors[primitive.attributes.POSITION].count == 8
    assert primitive.attributes.TEXCOORD_0 is None
    assert gltf.materials[0].name == "surface"
    assert any("grey" in note for note in notes)


def test_coordinates_without_materials_are_kept(skeleton, tmp_path):
    """A mesh that is unwrapped and not yet painted keeps its texture coordinates."""
    source = write_cube(tmp_path, cube_text(materials=False))
    gltf, _ = export(source, skeleton, tmp_path / "grey.glb")
    (primitive,) = gltf.meshes[0].primitives
    assert len(corners(gltf, primitive)) == 36
    assert gltf.accessors[primitive.attributes.POSITION].count == 24  # each face by itself


def test_a_texture_without_coordinates_is_left_out(skeleton, tmp_path):
    """The material keeps its colour."""
    source = write_cube(tmp_path, cube_text(pairs=False))
    gltf, _ = export(source, skeleton, tmp_path / "bare.glb")
    assert gltf.images == []
    assert gltf.materials[0].pbrMetallicRoughness.baseColorFactor == [0.5, 0.25, 1, 1]


@pytest.mark.parametrize(
    ("mtl", "told"),
    [
        (None, "The MTL file 'cube.mtl' is not there"),
        (MTL.replace("newmtl cloth", "newmtl other"), "materials 'cloth'"),
        (MTL.replace("pictures\\skin one.png", "../secret.png"), "'../secret.png' is not named"),
        (MTL.replace("pictures\\skin one.png", "/etc/secret.png"), "is not named by a place"),
        (MTL.replace("pictures\\skin one.png", "C:\\secret.png"), "is not named by a place"),
        (MTL.replace("pictures\\skin one.png", "http://a.b/c.png"), "is not named by a place"),
        (MTL.replace("skin one.png", "nothing.png"), "is not there"),
        (MTL.replace("pictures\\skin one.png", "cube.mtl"), "neither PNG nor JPEG"),
        (MTL.replace("pictures\\skin one.png", "link.png"), "does not lie in the folder"),
        (MTL.replace("pictures\\skin one.png", "circle.png"), "link.png' cannot|circle.png' "),
        ("Kd 1 1\nnewmtl skin\nKd nan 0 0\nd x\nTr\nmap_Kd\nnewmtl cloth\nKd 1 2", "^One unit"),
    ],
)
def test_what_cannot_be_read_is_told_and_left_out(skeleton, tmp_path, mtl, told):
    """A valid file with both materials all the same, and a note of one sentence."""
    inner = tmp_path / "inner"
    inner.mkdir()
    (tmp_path / "secret.png").write_bytes(picture())
    (inner / "link.png").symlink_to(tmp_path / "secret.png")
    (inner / "circle.png").symlink_to(inner / "circle.png")
    gltf, notes = export(write_cube(inner, mtl=mtl), skeleton, inner / "cube.glb")
    assert [m.name for m in gltf.materials] == ["skin", "cloth"]
    assert len(gltf.images) == (1 if told.startswith("materials") else 0)
    import re

    assert any(re.search(told, note) for note in notes), notes


@pytest.mark.parametrize("bad", ["vt nan 0.5", "vt x 0", "vt", "vt 1e300 0", "vt inf 0"])
def test_broken_coordinates_are_told_and_put_at_the_corner(skeleton, tmp_path, bad):
    """That is (0, 0) with v up, and (0, 1) with v down."""
    text = cube_text().replace(f"vt {PAIRS[2][0]} {PAIRS[2][1]}", bad, 1)
    gltf, notes = export(write_cube(tmp_path, text), skeleton, tmp_path / "cube.glb")
    rows = corners(gltf, gltf.meshes[0].primitives[0])
    assert np.isfinite(rows).all()
    vertex = rows[np.all(rows[:, :3] == [0, 1, 1], axis=1)]
    assert [0, 1] in vertex[:, 3:].tolist()
    assert any(note.startswith("1 corner") for note in notes)


def test_numbers_of_coordinates_that_are_not_there_are_told(skeleton, tmp_path):
    """Too large, zero, or before the beginning: three corners."""
    text = cube_text().replace("f 1/1 2/2 4/3 3/4", "f 1/99 2/0 4/-99 3/4")
    _, notes = export(write_cube(tmp_path, text), skeleton, tmp_path / "cube.glb")
    assert any(note.startswith("3 corners") for note in notes)


def test_a_file_that_changed_since_is_passed_over(skeleton, tmp_path):
    """The looks of another mesh would be nonsense."""
    source = write_cube(tmp_path)
    character = load(source)
    source.write_text(cube_text() + "# more\n")
    notes = write_glb(character, skeleton, tmp_path / "cube.glb")
    assert any("has changed" in note for note in notes)
    assert not pygltflib.GLTF2().load(tmp_path / "cube.glb").images


def test_cut_outs_sides_and_metal_of_a_glb_are_kept(cube, skeleton, tmp_path):
    """alphaMode MASK with its cutoff, one-sided faces, metal and roughness."""
    folder, _, _ = cube
    gltf = pygltflib.GLTF2().load(folder / "cube.glb")
    skin = gltf.materials[0]
    skin.alphaMode, skin.alphaCutoff, skin.doubleSided = "MASK", 0.25, False
    skin.pbrMetallicRoughness.metallicFactor = 0.75
    gltf.save(tmp_path / "other.glb")
    again, _ = export(tmp_path / "other.glb", skeleton, tmp_path / "again.glb")
    assert again.materials[0] == skin


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda g: setattr(g.textures[0], "source", 7), "images"),
        (lambda g: setattr(g.bufferViews[g.images[0].bufferView], "byteLength", 9), "damaged|nei"),
        (
            lambda g: (
                setattr(g.images[0], "bufferView", None),
                setattr(g.images[0], "uri", "../x.png"),
            ),
            "place in the folder",
        ),
    ],
)
def test_broken_textures_of_a_glb_are_told(cube, skeleton, tmp_path, change, told):
    """The rest of the materials is written."""
    import re

    folder, _, _ = cube
    gltf = pygltflib.GLTF2().load(folder / "cube.glb")
    change(gltf)
    gltf.save(tmp_path / "other.glb")
    again, notes = export(tmp_path / "other.glb", skeleton, tmp_path / "again.glb")
    assert [m.name for m in again.materials] == ["skin", "cloth"]
    assert again.images == []
    assert any(re.search(told, note) for note in notes), notes


def test_polygons_may_be_turned_over_and_left_out(skeleton, tmp_path):
    """The coordinates go by the corners' vertices, not by the order of the triangles."""
    character = load(write_cube(tmp_path))
    (part,) = character.parts
    some = replace(part, faces=part.faces[3:, ::-1], source_faces=part.source_faces[3:])
    write_glb(replace(character, parts=(some,)), skeleton, tmp_path / "some.glb")
    gltf = pygltflib.GLTF2().load(tmp_path / "some.glb")
    rows = np.concatenate([corners(gltf, p) for p in gltf.meshes[0].primitives])
    rows[:, 4] = 1 - rows[:, 4]
    assert len(rows) == 27
    assert {tuple(row) for row in rows.tolist()} <= expected_corners()
