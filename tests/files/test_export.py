"""The formats by their endings, and a skeleton alone as glTF."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from autoplace import export_skeleton, read_skeleton
from autoplace.errors import OutputError
from autoplace.files.export import FORMATS, export_format
from autoplace.files.marks import is_ours
from autoplace.files.open_skeleton import open_skeleton
from autoplace.skeleton.model import Finding
from autoplace.skeleton.orient import orient
from tests.figures import standard_skeleton
from tests.files.gltf_validator import validate
from tests.tubes import figure_of_tubes


@pytest.fixture(scope="module")
def figure():
    return orient(standard_skeleton("A"))


@pytest.mark.parametrize("ending", [e for f in FORMATS for e in f.endings])
def test_every_ending_is_written_alone_and_known_as_ours(figure, tmp_path, ending):
    """Each format takes a bare skeleton; the file carries our mark, and is the same each time."""
    path = tmp_path / f"a{ending}"
    notes = export_skeleton(figure, path)
    assert all(note.endswith(".") for note in notes)
    assert ending.endswith(".json") or is_ours(path)
    first = path.read_bytes()
    export_skeleton(figure, path)
    assert path.read_bytes() == first
    assert export_format(Path(path.name.upper())) == export_format(path)


@pytest.mark.parametrize("name", ["a", "a.txt", ".glb.txt", "a.bvh~"])
def test_other_endings_are_refused_with_the_list(figure, tmp_path, name):
    """The message lists what can be written."""
    with pytest.raises(OutputError, match=r"must end in \.glb, .*\.bvh.* or "):
        export_skeleton(figure, tmp_path / name)
    assert not list(tmp_path.iterdir())


def test_json_under_other_names(figure, tmp_path):
    """Parents, aims and what findings quote follow the names."""
    aimed = figure.with_joints(
        tuple(replace(j, aim="left_knee" if j.name == "left_hip" else j.aim) for j in figure)
    )
    told = Finding("bend", "left_knee", "note", "'left_knee' is straight", "bend 'left_knee'")
    names = ["Knee.L" if n == "left_knee" else n for n in figure.names]
    export_skeleton(replace(aimed, findings=(told,)), tmp_path / "a.json", names=names)
    back = read_skeleton(tmp_path / "a.json")
    assert back.names == tuple(names)
    assert back["left_ankle"].parent == "Knee.L"
    assert back["left_hip"].aim == "Knee.L"
    found = back.findings[0]
    assert (found.joint, found.message, found.fix) == (
        "Knee.L",
        "'Knee.L' is straight",
        "bend 'Knee.L'",
    )


@pytest.mark.parametrize("ending", ["glb", "gltf"])
def test_a_skeleton_alone_is_sound_gltf(figure, tmp_path, ending):
    """The validator finds no error and no warning; joints, places and axes read back."""
    path = tmp_path / f"a.{ending}"
    export_skeleton(figure, path)
    report = validate(path)
    assert report["numErrors"] == report["numWarnings"] == 0, report
    opened = open_skeleton(path)
    assert not opened.turned
    for joint in figure:
        other = opened.skeleton[joint.name]
        assert other.parent == joint.parent
        assert other.position == pytest.approx(joint.position, abs=1e-6)
        assert other.axes == pytest.approx(joint.axes, abs=1e-6)


def test_text_and_binary_gltf_say_the_same(figure, tmp_path):
    """The two forms hold the same joints and the same numbers of the mesh."""
    import trimesh

    for ending in ("glb", "gltf"):
        notes = export_skeleton(figure, tmp_path / f"a.{ending}", figure_of_tubes(figure))
        assert any("binding" in note for note in notes)
    report = validate(tmp_path / "a.gltf")
    assert report["numErrors"] == report["numWarnings"] == report["numInfos"] == 0, report
    one, two = (trimesh.load(tmp_path / f"a.{e}", force="scene") for e in ("glb", "gltf"))
    assert one.geometry.keys() == two.geometry.keys()
    for name, mesh in one.geometry.items():
        assert np.array_equal(mesh.vertices, two.geometry[name].vertices)
        assert np.array_equal(mesh.faces, two.geometry[name].faces)


def test_gltf_under_other_names(figure, tmp_path):
    """The nodes carry the names; the binding is still made by our own."""
    names = [f"bone {i}" for i in range(len(figure))]
    export_skeleton(figure, tmp_path / "a.glb", figure_of_tubes(figure), names=names)
    assert validate(tmp_path / "a.glb")["numErrors"] == 0
    assert set(open_skeleton(tmp_path / "a.glb").own_names.values()) == set(names)


@pytest.mark.parametrize("ending", [f.endings[0] for f in FORMATS])
def test_names_that_no_file_can_keep(figure, tmp_path, ending):
    """Half of a character in a joint's name is refused, and in a part's name replaced; other odd
    names of parts are written by every format that holds meshes."""
    names = ["a\ud800b" if n == "left_knee" else n for n in figure.names]
    with pytest.raises(OutputError, match="half of a character"):
        export_skeleton(figure, tmp_path / f"a{ending}", names=names)
    character = figure_of_tubes(figure)
    for name in ("a\ud800b", "", "../x", "skeleton", "<&>\"'", "a\x01b", "日本"):
        parts = (replace(character.parts[0], name=name), *character.parts[1:])
        export_skeleton(figure, tmp_path / f"a{ending}", replace(character, parts=parts))
    assert [path.name for path in tmp_path.iterdir()] == [f"a{ending}"]
