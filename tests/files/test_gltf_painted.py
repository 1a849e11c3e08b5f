"""The whole of glTF's own materials, from glTF and from MTL, in exported glTF files."""

from __future__ import annotations

import io

import numpy as np
import pygltflib
import pytest
from PIL import Image

from autoplace.files.gltf import write_glb
from autoplace.mesh.load import load
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.orient import orient
from tests.files.gltf_validator import validate
from tests.files.painted_cube import (
    cube_corners,
    map_picture,
    painted_gltf,
    painted_material,
    write_painted,
)
from tests.files.test_gltf_surfaces import numbers
from tests.files.textured_cube import write_cube


@pytest.fixture(scope="module")
def skeleton():
    return orient(Skeleton((Joint("only", None, np.array([0.5, 0.1, 0.5])),)))


def export(source, skeleton, path):
    """Writes and reads; the file has neither errors nor warnings."""
    notes = write_glb(load(source), skeleton, path)
    report = validate(path)
    assert report["numErrors"] == report["numWarnings"] == 0, report
    return pygltflib.GLTF2().load(path), notes


def picture_of(gltf, info):
    """The bytes of the picture that a material names."""
    view = gltf.bufferViews[gltf.images[gltf.textures[info.index].source].bufferView]
    return gltf.binary_blob()[view.byteOffset : view.byteOffset + view.byteLength]


def infos(material):
    """What a material says of each map."""
    surface = material.pbrMetallicRoughness
    return {
        "base": surface.baseColorTexture,
        "metal_rough": surface.metallicRoughnessTexture,
        "normal": material.normalTexture,
        "occlusion": material.occlusionTexture,
        "emission": material.emissiveTexture,
    }


@pytest.fixture(scope="module")
def painted(skeleton, tmp_path_factory):
    folder = tmp_path_factory.mktemp("painted")
    source = write_painted(folder)
    assert validate(source)["numErrors"] == 0  # what it is compared with is sound itself
    return folder, *export(source, skeleton, folder / "out.glb")


def test_every_number_and_texture_of_a_material_is_kept(painted):
    """All fields equal those that were given, and each map has its own picture's pixels."""
    _, gltf, notes = painted
    (found,) = gltf.materials
    for name, info in infos(found).items():
        assert np.array_equal(
            Image.open(io.BytesIO(picture_of(gltf, info))),
            Image.open(io.BytesIO(map_picture(name))),
        ), name
        info.index = infos(painted_material())[name].index
    assert found == painted_material()
    assert not any("arried" in note or "written" in note for note in notes if "olygon" not in note)


def test_samplers_keep_how_they_wrap_and_filter(painted):
    """Mirrored one way and clamped the other, nearest and in between."""
    _, gltf, _ = painted
    texture = gltf.textures[infos(gltf.materials[0])["base"].index]
    sampler = gltf.samplers[texture.sampler]
    assert (sampler.wrapS, sampler.wrapT) == (33648, 33071)
    assert (sampler.magFilter, sampler.minFilter) == (9728, 9987)
    other = gltf.samplers[gltf.textures[infos(gltf.materials[0])["normal"].index].sampler]
    assert (other.wrapS, other.wrapT, other.magFilter) == (10497, 10497, None)


def test_both_sets_of_coordinates_are_kept_at_every_corner(painted):
    """Place, first and second pair of every corner of the cube are those that were given."""
    _, gltf, _ = painted
    (primitive,) = gltf.meshes[0].primitives
    use = numbers(gltf, primitive.indices)[:, 0]
    kinds = ("POSITION", "TEXCOORD_0", "TEXCOORD_1")
    rows = np.hstack([numbers(gltf, getattr(primitive.attributes, kind))[use] for kind in kinds])
    places, first, second, faces = cube_corners()
    given = np.hstack([places, first, second])[faces.reshape(-1)]
    assert sorted(map(tuple, rows.tolist())) == sorted(map(tuple, given.tolist()))


def test_our_own_file_comes_out_as_it_went_in(painted, skeleton):
    """A second export has equal materials, samplers and pictures."""
    folder, first, _ = painted
    second, _ = export(folder / "out.glb", skeleton, folder / "again.glb")
    assert second.materials == first.materials
    assert second.samplers == first.samplers
    assert second.textures == first.textures


def test_a_set_that_only_one_texture_uses_becomes_the_first(skeleton, tmp_path):
    """Sets are written where they are used only, counted from 0 without gaps."""
    material = pygltflib.Material(
        name="skin", occlusionTexture=pygltflib.OcclusionTextureInfo(index=3, texCoord=1)
    )
    gltf, _ = export(write_painted(tmp_path, material), skeleton, tmp_path / "out.glb")
    assert gltf.materials[0].occlusionTexture.texCoord == 0
    (primitive,) = gltf.meshes[0].primitives
    assert primitive.attributes.TEXCOORD_1 is None
    pairs = numbers(gltf, primitive.attributes.TEXCOORD_0)
    assert {tuple(p) for p in pairs.tolist()} == {(0, 1), (1, 1), (1, 0), (0, 0)}


def test_a_texture_whose_coordinates_are_not_there_is_left_out_and_told(skeleton, tmp_path):
    """The occlusion goes by a third set; the others stay."""
    material = painted_material()
    material.occlusionTexture.texCoord = 2
    gltf, notes = export(write_painted(tmp_path, material), skeleton, tmp_path / "out.glb")
    assert gltf.materials[0].occlusionTexture is None
    assert gltf.materials[0].normalTexture is not None
    assert any("left out where" in note for note in notes)


def test_extensions_are_told_by_name(skeleton, tmp_path):
    """Of the material and of its textures; none of them is written."""
    material = painted_material()
    material.extensions = {"KHR_materials_clearcoat": {"clearcoatFactor": 1.0}}
    material.normalTexture.extensions = {"KHR_texture_transform": {"scale": [2, 2]}}
    path = tmp_path / "painted.glb"
    gltf = painted_gltf(material)
    gltf.extensionsUsed = ["KHR_materials_clearcoat", "KHR_texture_transform"]
    gltf.save(path)
    out, notes = export(path, skeleton, tmp_path / "out.glb")
    assert not out.extensionsUsed
    assert any("'KHR_materials_clearcoat'" in note for note in notes)
    assert any("texture of normals of 'skin' is scaled" in note for note in notes)


def test_a_number_without_its_broken_texture_does_not_cover_the_whole(skeleton, tmp_path):
    """Emission and metal are told by textures that cannot be read: neither is seen anywhere."""
    path = tmp_path / "painted.glb"
    gltf = painted_gltf()
    for texture in (1, 4):
        gltf.textures[texture].source = 9
    gltf.save(path)
    out, notes = export(path, skeleton, tmp_path / "out.glb")
    (material,) = out.materials
    assert material.emissiveFactor == [0, 0, 0]
    assert material.pbrMetallicRoughness.metallicFactor == 0
    assert sum("is not written: it" in note for note in notes) == 2


MTL = """newmtl skin
Kd 1 1 1
Ks 0.5 0.5 0.5
map_Kd pictures/skin one.png
Ke 0 0 0
map_Ke emission.png
norm -bm 0.5 normal.png
map_Pr rough.png
map_Pm metal.png
bump height.png
newmtl cloth
Kd 0.5 0.5 0.5
Ks 0.1 0.1 0.1
Ns 30
Ke 0.25 0.5 1
"""


def test_materials_of_an_mtl_file_keep_shine_normals_and_emission(skeleton, tmp_path):
    """Textures of roughness and metal, 2 x 1 and 4 x 2 pixels of one value each, become green and
    blue of one picture of the larger size; a height is told."""
    source = write_cube(tmp_path, mtl=MTL)
    (tmp_path / "normal.png").write_bytes(map_picture("normal"))
    (tmp_path / "emission.png").write_bytes(map_picture("emission"))
    Image.new("L", (2, 1), 100).save(tmp_path / "rough.png")
    Image.new("L", (4, 2), 200).save(tmp_path / "metal.png")
    gltf, notes = export(source, skeleton, tmp_path / "out.glb")
    skin, cloth = gltf.materials
    packed = Image.open(io.BytesIO(picture_of(gltf, infos(skin)["metal_rough"])))
    assert packed.size == (4, 2)
    assert packed.getcolors() == [(8, (255, 100, 200))]
    assert skin.pbrMetallicRoughness.metallicFactor == 1
    assert skin.pbrMetallicRoughness.roughnessFactor == 1
    assert picture_of(gltf, skin.normalTexture) == map_picture("normal")
    assert skin.normalTexture.scale == 0.5
    assert skin.emissiveFactor == [1, 1, 1]
    assert picture_of(gltf, skin.emissiveTexture) == map_picture("emission")
    assert cloth.emissiveFactor == [0.25, 0.5, 1]
    assert cloth.pbrMetallicRoughness.roughnessFactor == pytest.approx(0.5)  # see test_mtl
    told = " ".join(notes)
    assert "'bump' is not carried, which the MTL gives 'skin'." in told
    assert "'Ks' is not carried, which the MTL gives 'skin', 'cloth'." in told
    assert "Roughness is reckoned" in told


def test_a_picture_that_cannot_be_unpacked_is_told(skeleton, tmp_path):
    """A texture of roughness whose pixels break off is left out; the number counts."""
    source = write_cube(tmp_path, mtl="newmtl skin\nPr 0.25\nmap_Pr rough.png\n")
    file = io.BytesIO()
    Image.fromarray(np.zeros((64, 64, 3), dtype=np.uint8)).save(file, "JPEG")
    (tmp_path / "rough.png").write_bytes(file.getvalue()[:-300])
    gltf, notes = export(source, skeleton, tmp_path / "out.glb")
    assert gltf.materials[0].pbrMetallicRoughness.roughnessFactor == 0.25
    assert gltf.images == []
    assert any("A texture of roughness or metal of 'skin' is damaged." in n for n in notes)
