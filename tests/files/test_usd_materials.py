"""Materials and textures in USD files, by the library's validators and read back through it."""

from __future__ import annotations

import zipfile

import numpy as np
import pytest

from autoplace.errors import OutputError
from autoplace.files.usd_writer import write_usd
from autoplace.mesh.load import load
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.orient import orient
from tests.files.painted_cube import (
    cube_corners,
    map_picture,
    painted_material,
    write_painted,
)
from tests.files.textured_cube import MTL, expected_corners, picture, write_cube

pytest.importorskip("pxr")
from pxr import Ar, Usd, UsdGeom, UsdShade

from tests.files.test_usd_writer import complaints


@pytest.fixture(scope="module")
def skeleton():
    return orient(Skeleton((Joint("only", None, np.array([0.5, 0.1, 0.5])),)))


def export(source, skeleton, path):
    """Writes and opens; no validator of the library has anything to say."""
    notes = write_usd(skeleton, path, load(source))
    assert complaints(path) == []
    return Usd.Stage.Open(str(path)), notes


def only_mesh(stage):
    (prim,) = [p for p in stage.Traverse() if p.IsA(UsdGeom.Mesh)]
    return UsdGeom.Mesh(prim)


def surface_of(prim):
    """The material that is bound to a prim, as the library finds it, and its surface."""
    material, _ = UsdShade.MaterialBindingAPI(prim).ComputeBoundMaterial()
    shader, _, _ = material.ComputeSurfaceSource()
    return material, shader


def fed(surface, name):
    """The texture that feeds an input of a surface: its values, the output, the pixels, and the
    primvar that it goes by; or the value of an input that nothing feeds."""
    given = surface.GetInput(name)
    if not given:
        return None
    if not given.HasConnectedSource():
        return given.Get()
    ((source,), _) = given.GetConnectedSources()
    shader = UsdShade.Shader(source.source.GetPrim())
    values = {i.GetBaseName(): i.Get() for i in shader.GetInputs() if not i.HasConnectedSource()}
    ((reader,), _) = shader.GetInput("st").GetConnectedSources()
    values["by"] = UsdShade.Shader(reader.source.GetPrim()).GetInput("varname").Get()
    path = values["file"].resolvedPath
    values["bytes"] = bytes(Ar.GetResolver().OpenAsset(Ar.ResolvedPath(path)).GetBuffer())
    return source.sourceName, values


def pairs_of(mesh, name):
    """(m, 3, 2) texture coordinates of the corners of triangles."""
    primvar = UsdGeom.PrimvarsAPI(mesh).GetPrimvar(name)
    assert primvar.GetInterpolation() == "faceVarying"
    return np.array(primvar.ComputeFlattened()).reshape(-1, 3, 2)


@pytest.mark.parametrize("ending", ["usda", "usdc", "usd", "usdz"])
def test_every_number_and_texture_is_where_the_surface_expects_it(skeleton, tmp_path, ending):
    """Each input of the surface has the value, the channel and the pixels of the glTF material
    (UsdPreviewSurface: sRGB for colours, raw for the rest, normals from 0..1 to -1..1)."""
    stage, notes = export(write_painted(tmp_path), skeleton, tmp_path / f"a.{ending}")
    material, surface = surface_of(only_mesh(stage).GetPrim())
    assert material.GetPrim().GetName() == "skin"
    expected = {
        "diffuseColor": ("rgb", "base", "sRGB", (0.5, 0.25, 1, 0.75), None, "st"),
        "opacity": ("a", "base", "sRGB", (0.5, 0.25, 1, 0.75), None, "st"),
        "roughness": ("g", "metal_rough", "raw", (1, 0.5, 0.25, 1), None, "st"),
        "metallic": ("b", "metal_rough", "raw", (1, 0.5, 0.25, 1), None, "st"),
        "normal": ("rgb", "normal", "raw", (2, 2, 2, 1), (-1, -1, -1, 0), "st"),
        "occlusion": ("r", "occlusion", "raw", (0.75,) * 3 + (1,), (0.25,) * 3 + (0,), "st1"),
        "emissiveColor": ("rgb", "emission", "sRGB", (1, 0.5, 0.25, 1), None, "st"),
    }
    for name, (channel, map_name, space, scale, bias, by) in expected.items():
        output, values = fed(surface, name)
        assert output == channel, name
        assert values["bytes"] == map_picture(map_name), name
        assert values["sourceColorSpace"] == space, name
        assert values["scale"] == scale, name
        assert values.get("bias") == bias, name
        assert values["by"] == by, name
        clamped = ("mirror", "clamp") if map_name == "base" else ("repeat", "repeat")
        assert (values["wrapS"], values["wrapT"]) == clamped, name
    assert fed(surface, "opacityThreshold") == 0.25
    told = " ".join(notes)
    for word in ("full strength", "filtered", *(() if ending == "usdz" else ("'a.textures'",))):
        assert word in told


def test_both_sets_of_coordinates_are_kept_with_v_up(skeleton, tmp_path):
    """Place and pairs of every corner are those of the glTF file."""
    stage, _ = export(write_painted(tmp_path), skeleton, tmp_path / "a.usdc")
    mesh = only_mesh(stage)
    faces = np.array(mesh.GetFaceVertexIndicesAttr().Get()).reshape(-1, 3)
    places = np.array(mesh.GetPointsAttr().Get())[faces]
    rows = np.concatenate([places, pairs_of(mesh, "st"), pairs_of(mesh, "st1")], axis=2)
    at, first, second, triangles = cube_corners()
    first[:, 1], second[:, 1] = 1 - first[:, 1], 1 - second[:, 1]
    given = np.hstack([at, first, second])[triangles.reshape(-1)]
    assert sorted(map(tuple, rows.reshape(-1, 7).tolist())) == sorted(map(tuple, given.tolist()))


def test_faces_lie_under_their_materials(skeleton, tmp_path):
    """One subset for each material of the OBJ file; corners keep their pairs across the seams."""
    stage, _ = export(write_cube(tmp_path), skeleton, tmp_path / "a.usda")
    mesh = only_mesh(stage)
    subsets = UsdGeom.Subset.GetAllGeomSubsets(mesh)
    assert {s.GetPrim().GetName(): len(s.GetIndicesAttr().Get()) for s in subsets} == {
        "skin": 8,
        "cloth": 4,
    }
    faces = np.array(mesh.GetFaceVertexIndicesAttr().Get()).reshape(-1, 3)
    places = np.array(mesh.GetPointsAttr().Get())[faces]
    rows = np.concatenate([places, pairs_of(mesh, "st")], axis=2).reshape(-1, 5)
    assert {tuple(row) for row in rows.tolist()} == expected_corners()
    by_name = {s.GetPrim().GetName(): surface_of(s.GetPrim())[1] for s in subsets}
    assert fed(by_name["cloth"], "diffuseColor") == pytest.approx((0.1, 0.2, 0.3))
    assert fed(by_name["cloth"], "opacity") == 0.5
    assert fed(by_name["skin"], "diffuseColor")[1]["wrapS"] == "clamp"
    assert fed(by_name["skin"], "opacity") is None  # solid


def test_viewers_without_materials_see_the_colour(skeleton, tmp_path):
    """Of each face: Kd where there is no texture, and Kd times the texture's mean light where there
    is one. By hand: black and white in equal parts are 0.5 of the light."""
    from PIL import Image

    source = write_cube(tmp_path, mtl=MTL)
    chess = np.zeros((8, 8), dtype=np.uint8)
    chess[::2] = 255
    Image.fromarray(chess).save(tmp_path / "pictures" / "skin one.png")
    stage, _ = export(source, skeleton, tmp_path / "a.usda")
    mesh = only_mesh(stage)
    colours = np.array(mesh.GetDisplayColorPrimvar().ComputeFlattened())
    assert mesh.GetDisplayColorPrimvar().GetInterpolation() == "uniform"
    counted = {tuple(np.round(row, 4)): n for row, n in zip(*_counted(colours), strict=True)}
    assert counted == {(0.25, 0.125, 0.5): 8, (0.1, 0.2, 0.3): 4}
    opacity = np.array(mesh.GetDisplayOpacityPrimvar().ComputeFlattened())
    assert sorted(opacity.tolist()) == [0.5] * 4 + [1.0] * 8


def _counted(rows):
    found, counts = np.unique(np.round(rows.astype(float), 4), axis=0, return_counts=True)
    return found.tolist(), counts.tolist()


def test_numbers_without_textures_are_values(skeleton, tmp_path):
    """One-sided, solid, with emission: no texture, no folder."""
    material = painted_material()
    surface = material.pbrMetallicRoughness
    surface.baseColorTexture = surface.metallicRoughnessTexture = None
    material.normalTexture = material.occlusionTexture = material.emissiveTexture = None
    material.alphaMode, material.alphaCutoff, material.doubleSided = "OPAQUE", None, False
    stage, notes = export(write_painted(tmp_path, material), skeleton, tmp_path / "a.usda")
    mesh = only_mesh(stage)
    _, found = surface_of(mesh.GetPrim())
    assert fed(found, "diffuseColor") == (0.5, 0.25, 1)
    assert (fed(found, "metallic"), fed(found, "roughness")) == (0.25, 0.5)
    assert fed(found, "emissiveColor") == (1, 0.5, 0.25)
    assert fed(found, "opacity") is None
    assert mesh.GetDoubleSidedAttr().Get() is False
    assert not (tmp_path / "a.textures").exists()
    assert not any("grey" in note for note in notes)


def test_the_same_mesh_gives_the_same_bytes(skeleton, tmp_path):
    """Layers, packages, and the names of textures; two files share the folder."""
    source = write_painted(tmp_path)
    for ending in ("usda", "usdz"):
        for name in ("a", "b"):
            (tmp_path / name).mkdir(exist_ok=True)
            write_usd(skeleton, tmp_path / name / f"x.{ending}", load(source))
        assert (tmp_path / "a" / f"x.{ending}").read_bytes() == (
            tmp_path / "b" / f"x.{ending}"
        ).read_bytes()
    names = sorted(p.name for p in (tmp_path / "a" / "x.textures").iterdir())
    assert len(names) == 5
    write_usd(skeleton, tmp_path / "a" / "x.usdc", load(source))
    assert sorted(p.name for p in (tmp_path / "a" / "x.textures").iterdir()) == names


def test_a_package_holds_its_textures_each_at_a_multiple_of_64(skeleton, tmp_path):
    """The layer first, all uncompressed, nothing beside the package."""
    path = tmp_path / "a.usdz"
    export(write_painted(tmp_path), skeleton, path)
    content = path.read_bytes()
    with zipfile.ZipFile(path) as package:
        entries = package.infolist()
        assert package.testzip() is None
        assert entries[0].filename == "character.usdc"
        assert len(entries) == 6
        for entry in entries:
            data = package.read(entry)
            assert content.index(data) % 64 == 0
            assert entry.compress_type == zipfile.ZIP_STORED
    assert not (tmp_path / "a.textures").exists()


def test_odd_names_are_sound(skeleton, tmp_path):
    """Materials of one name or none, a part called as the scope of the materials, and names of
    files with signs that asset paths use."""
    text = write_cube(tmp_path).read_text()
    text = text.replace("usemtl cloth", "usemtl 2 skin/@[é]").replace(
        "f 1/", "o materials\nf 1/", 1
    )
    mtl = MTL.replace("newmtl cloth", "newmtl 2 skin/@[é]")
    source = write_cube(tmp_path, text, mtl)
    stage, _ = export(source, skeleton, tmp_path / "a@b [c]{d}.usda")
    names = {
        p.GetDisplayName() or p.GetName() for p in stage.Traverse() if p.IsA(UsdShade.Material)
    }
    assert names == {"skin", "2 skin/@[é]"}
    mesh = only_mesh(stage)
    subset = UsdGeom.Subset.GetAllGeomSubsets(mesh)[0]
    assert fed(surface_of(subset.GetPrim())[1], "diffuseColor")[1]["bytes"] == picture()


@pytest.mark.parametrize("kind", ["file", "other", "link", "changed"])
def test_a_folder_that_is_not_ours_is_left_alone(skeleton, tmp_path, kind):
    """One sentence that names it; nothing is written, and nothing in it has changed."""
    source = write_painted(tmp_path)
    folder = tmp_path / "a.textures"
    if kind == "file":
        folder.write_bytes(b"mine")
    elif kind == "link":
        (tmp_path / "elsewhere").mkdir()
        folder.symlink_to(tmp_path / "elsewhere")
    elif kind == "other":
        folder.mkdir()
        (folder / "notes.txt").write_bytes(b"mine")
    else:
        write_usd(skeleton, tmp_path / "a.usda", load(source))
        (tmp_path / "a.usda").unlink()
        next(folder.iterdir()).write_bytes(b"mine")
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    with pytest.raises(OutputError, match=r"a\.textures.*\.usdz"):
        write_usd(skeleton, tmp_path / "a.usda", load(source))
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before
