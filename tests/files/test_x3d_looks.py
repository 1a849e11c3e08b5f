"""Materials and textures in X3D files: every node and field by the classes of X3D's working group.

The values that are expected are those of the glTF or MTL file that the mesh came from.
"""

from __future__ import annotations

from urllib.parse import unquote

import numpy as np
import pytest

from autoplace.errors import OutputError
from autoplace.files.x3d_writer import write_x3d
from autoplace.mesh.load import load
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.orient import orient
from tests.files.painted_cube import (
    cube_corners,
    map_picture,
    painted_material,
    write_painted,
)
from tests.files.textured_cube import MTL, cube_text, expected_corners, picture, write_cube
from tests.files.x3d_nodes import read_nodes


@pytest.fixture(scope="module")
def skeleton():
    return orient(Skeleton((Joint("only", None, np.array([0.5, 0.1, 0.5])),)))


def export(source, skeleton, path):
    """Writes and reads; the package has nothing to say of it."""
    notes = write_x3d(skeleton, path, load(source))
    humanoid, said = read_nodes(path)
    assert said == ""
    return humanoid, notes


def corners(humanoid, shape):
    """(k, 5) place and pair of every corner of a shape's triangles."""
    points = np.array(humanoid.skinCoord.point)
    index = np.array(shape.geometry.coordIndex).reshape(-1, 4)
    by = np.array(shape.geometry.texCoordIndex).reshape(-1, 4)
    assert (index[:, 3] == -1).all()
    assert (by[:, 3] == -1).all()
    pairs = np.array(shape.geometry.texCoord.point)
    return np.hstack([points[index[:, :3]].reshape(-1, 3), pairs[by[:, :3]].reshape(-1, 2)])


def bytes_of(path, image):
    """The picture that a node names, from beside the file."""
    (url,) = image.url
    return (path.parent / unquote(url)).read_bytes()


def test_colours_opacity_and_textures_of_an_mtl_file(skeleton, tmp_path):
    """A shape for each material: Kd, transparency as one less d, the picture, clamped, and every
    corner with its pair, v up."""
    path = tmp_path / "a b.x3d"
    humanoid, notes = export(write_cube(tmp_path), skeleton, path)
    skin, cloth = humanoid.skin
    assert skin.metadata.value == cloth.metadata.value
    assert skin.appearance.material.diffuseColor == (0.5, 0.25, 1)
    assert skin.appearance.material.transparency == 0
    assert skin.appearance.alphaMode == "OPAQUE"
    assert cloth.appearance.material.diffuseColor == (0.1, 0.2, 0.3)
    assert cloth.appearance.material.transparency == 0.5
    image = skin.appearance.texture
    assert (image.repeatS, image.repeatT) == (False, False)
    assert bytes_of(path, image) == picture()
    assert cloth.appearance.texture is None
    assert len(corners(humanoid, skin)) == 4 * 6
    rows = np.concatenate([corners(humanoid, shape) for shape in humanoid.skin])
    assert {tuple(row) for row in rows.tolist()} == expected_corners()
    assert any("'a b.textures'" in note for note in notes)
    assert not any("grey" in note for note in notes)


def test_a_whole_material_of_a_gltf_file(skeleton, tmp_path):
    """What `Material` has is written with its numbers; what it has not is told."""
    path = tmp_path / "a.x3d"
    humanoid, notes = export(write_painted(tmp_path), skeleton, path)
    (shape,) = humanoid.skin
    appearance = shape.appearance
    material = appearance.material
    assert appearance.metadata.value == ["skin"]
    assert material.diffuseColor == (0.5, 0.25, 1)
    assert material.emissiveColor == (1, 0.5, 0.25)
    assert material.normalScale == 0.5
    assert (appearance.alphaMode, appearance.alphaCutoff) == ("MASK", 0.25)
    assert bytes_of(path, appearance.texture) == map_picture("base")
    assert bytes_of(path, material.normalTexture) == map_picture("normal")
    assert bytes_of(path, material.emissiveTexture) == map_picture("emission")
    properties = appearance.texture.textureProperties
    assert properties.boundaryModeS == "MIRRORED_REPEAT"
    assert properties.boundaryModeT == "CLAMP_TO_EDGE"
    assert material.occlusionTexture is None  # goes by the second set of coordinates
    told = " ".join(notes)
    for words in ("no place for metal", "one set of texture coordinates", "filtered"):
        assert words in told
    at, first, _, triangles = cube_corners()
    first[:, 1] = 1 - first[:, 1]
    given = np.hstack([at, first])[triangles.reshape(-1)]
    rows = corners(humanoid, shape)
    assert sorted(map(tuple, rows.tolist())) == sorted(map(tuple, given.tolist()))


def test_occlusion_by_the_same_coordinates_is_kept(skeleton, tmp_path):
    """With its strength; a surface with one side is solid."""
    given = painted_material()
    given.occlusionTexture.texCoord, given.doubleSided = 0, False
    path = tmp_path / "a.x3d"
    humanoid, _ = export(write_painted(tmp_path, given), skeleton, path)
    (shape,) = humanoid.skin
    assert bytes_of(path, shape.appearance.material.occlusionTexture) == map_picture("occlusion")
    assert shape.appearance.material.occlusionStrength == 0.75
    assert shape.geometry.solid is True


def test_a_material_is_written_once(skeleton, tmp_path):
    """The second part that wears it names the first's."""
    text = cube_text().replace("usemtl cloth", "usemtl skin\no other", 1)
    humanoid, _ = export(write_cube(tmp_path, text), skeleton, tmp_path / "a.x3d")
    first, second = humanoid.skin
    assert first.metadata.value != second.metadata.value
    assert second.appearance.USE == first.appearance.DEF


def test_names_with_signs_of_xml_are_whole(skeleton, tmp_path):
    """Of materials, and of the file in the addresses of its textures."""
    text = cube_text().replace("usemtl skin", 'usemtl <"s&k\\in">')
    mtl = MTL.replace("newmtl skin", 'newmtl <"s&k\\in">')
    path = tmp_path / "a&'b' 100%.x3d"
    humanoid, _ = export(write_cube(tmp_path, text, mtl), skeleton, path)
    assert humanoid.skin[0].appearance.metadata.value == ['<"s&k\\in">']
    assert bytes_of(path, humanoid.skin[0].appearance.texture) == picture()


def test_without_materials_one_grey_stands_for_all(skeleton, tmp_path):
    """As in the other formats; coordinates are kept; there is no folder."""
    source = write_cube(tmp_path, cube_text(materials=False))
    humanoid, notes = export(source, skeleton, tmp_path / "a.x3d")
    (shape,) = humanoid.skin
    assert shape.appearance.material.diffuseColor == pytest.approx((0.62, 0.6, 0.57))
    assert {tuple(row) for row in corners(humanoid, shape).tolist()} == expected_corners()
    assert any("grey" in note for note in notes)
    assert not (tmp_path / "a.textures").exists()


def test_the_same_mesh_gives_the_same_bytes_and_spares_the_files_of_others(skeleton, tmp_path):
    """Twice the same; then a file in the folder that is not ours stops it."""
    source = write_painted(tmp_path)
    path = tmp_path / "a.x3d"
    write_x3d(skeleton, path, load(source))
    first = path.read_bytes()
    write_x3d(skeleton, path, load(source))
    assert path.read_bytes() == first
    (tmp_path / "a.textures" / "notes.txt").write_text("mine")
    with pytest.raises(OutputError, match=r"'notes\.txt'"):
        write_x3d(skeleton, path, load(source))
    assert path.read_bytes() == first
