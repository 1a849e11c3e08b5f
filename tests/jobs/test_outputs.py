"""`jobs.outputs`: where files go, what is never replaced unasked, and all files or none."""

from __future__ import annotations

import json
import os
import stat
import struct
from pathlib import Path

import pytest
from PIL import Image, PngImagePlugin

from autoplace.errors import OutputError
from autoplace.jobs.outputs import Outputs, check_outputs, plan_outputs, write_together


def skeleton_text(*names: str, locked: tuple[str, ...] = ()) -> str:
    joints = [{"name": name, "locked": name in locked} for name in names]
    return json.dumps({"format": "autoplace.skeleton", "version": 1, "joints": joints})


def write_glb_head(path: Path, generator: str) -> None:
    content = json.dumps({"asset": {"version": "2.0", "generator": generator}}).encode()
    content += b" " * (-len(content) % 4)
    head = struct.pack("<4sII", b"glTF", 2, 20 + len(content))
    path.write_bytes(head + struct.pack("<I4s", len(content), b"JSON") + content)


def refused(outputs: Outputs, mesh: Path) -> str:
    with pytest.raises(OutputError) as caught:
        check_outputs(outputs, mesh)
    check_outputs(outputs, mesh, overwrite=True)
    return str(caught.value)


@pytest.fixture
def mesh(tmp_path) -> Path:
    path = tmp_path / "keeper.obj"
    path.write_text("o keeper\n")
    return path


def test_outputs_stand_beside_the_mesh(mesh):
    """Unsaid, the skeleton and the sheet stand beside the mesh and nothing is exported."""
    outputs = plan_outputs(mesh)
    assert outputs == Outputs(
        mesh.with_name("keeper.skeleton.json"), mesh.with_name("keeper.sheet.png")
    )


def test_dots_in_a_name_are_kept(tmp_path):
    """Only the last ending of the mesh is replaced."""
    assert plan_outputs(tmp_path / "keeper.v2.obj").skeleton.name == "keeper.v2.skeleton.json"


def test_the_sheet_follows_the_skeleton(mesh, tmp_path):
    """With -o, the sheet stands beside the skeleton under its name."""
    outputs = plan_outputs(mesh, tmp_path / "out" / "first.skeleton.json")
    assert outputs.sheet == tmp_path / "out" / "first.sheet.png"
    assert plan_outputs(mesh, tmp_path / "plain.json").sheet == tmp_path / "plain.sheet.png"


def test_a_folder_takes_the_mesh_name(mesh, tmp_path):
    """-o may be an existing folder."""
    assert plan_outputs(mesh, tmp_path).skeleton == tmp_path / "keeper.skeleton.json"


def test_no_sheet(mesh):
    """--no-sheet plans no picture."""
    assert plan_outputs(mesh, no_sheet=True).sheet is None


@pytest.mark.parametrize(
    ("options", "ending"),
    [
        ({"skeleton": Path("k.txt")}, ".json"),
        ({"sheet": Path("k.jpg")}, ".png"),
        ({"export": Path("k.abc")}, ".glb"),
    ],
)
def test_wrong_endings_are_told(mesh, options, ending):
    """A path of another kind is refused with the ending that it needs."""
    with pytest.raises(OutputError, match=rf"must end in \{ending}"):
        plan_outputs(mesh, **options)


def test_a_folder_that_is_not_there_is_told(mesh, tmp_path):
    """Who meant a folder is told why its name is taken for a file's."""
    with pytest.raises(OutputError, match="a folder must be there already"):
        plan_outputs(mesh, tmp_path / "new")


def test_the_mesh_itself_is_never_written(tmp_path):
    """Exporting onto the file that is read is refused even with --overwrite."""
    mesh = tmp_path / "keeper.glb"
    write_glb_head(mesh, "autoplace")
    outputs = plan_outputs(mesh, export=mesh)
    for overwrite in (False, True):
        with pytest.raises(OutputError, match="the mesh itself"):
            check_outputs(outputs, mesh, overwrite)


def test_missing_folder_is_told(mesh, tmp_path):
    """A folder that is not there is named before the work starts."""
    with pytest.raises(OutputError, match="no folder"):
        check_outputs(plan_outputs(mesh, tmp_path / "gone" / "k.json"), mesh)


def test_fresh_paths_pass(mesh, tmp_path):
    """Nothing there, nothing to lose."""
    check_outputs(plan_outputs(mesh, export=tmp_path / "k.glb"), mesh)


def test_joints_placed_by_hand_are_not_lost(mesh):
    """A skeleton with locked joints stops the run unless --overwrite is given."""
    outputs = plan_outputs(mesh)
    outputs.skeleton.write_text(skeleton_text("pelvis", "left_knee", locked=("left_knee",)))
    text = refused(outputs, mesh)
    assert "1 joint placed by hand (left_knee)" in text
    assert "--overwrite" in text


def test_own_skeleton_may_be_replaced(mesh):
    """Running the command twice just works."""
    outputs = plan_outputs(mesh)
    outputs.skeleton.write_text(skeleton_text("pelvis"))
    check_outputs(outputs, mesh)


@pytest.mark.parametrize("content", ["{}", "[]", "not json", '{"format": "other"}', ""])
def test_a_json_of_someone_else_is_not_lost(mesh, content):
    """A JSON file that is no skeleton of ours stops the run."""
    outputs = plan_outputs(mesh)
    outputs.skeleton.write_text(content)
    assert "not a skeleton that autoplace wrote" in refused(outputs, mesh)


def test_a_glb_of_someone_else_is_not_lost(mesh, tmp_path):
    """A modeller's own GLB under the export's name is kept; ours is replaced."""
    outputs = plan_outputs(mesh, export=tmp_path / "keeper.glb")
    write_glb_head(tmp_path / "keeper.glb", "A modelling program")
    assert "not written by autoplace" in refused(outputs, mesh)
    write_glb_head(tmp_path / "keeper.glb", "autoplace 0.1.0")
    check_outputs(outputs, mesh)


def test_a_picture_of_someone_else_is_not_lost(mesh):
    """A picture without our mark is kept; a sheet of ours is replaced."""
    outputs = plan_outputs(mesh)
    assert outputs.sheet is not None
    Image.new("RGB", (4, 4)).save(outputs.sheet)
    assert "not written by autoplace" in refused(outputs, mesh)
    info = PngImagePlugin.PngInfo()
    info.add_text("Software", "autoplace")
    Image.new("RGB", (4, 4)).save(outputs.sheet, pnginfo=info)
    check_outputs(outputs, mesh)


def test_all_files_or_none(tmp_path):
    """When the second file fails, the first is not there, what stood there stays, no litter."""
    first, second = tmp_path / "a.png", tmp_path / "a.json"
    second.write_text("before")

    def fail(path: Path) -> None:
        path.write_text("half")
        raise OSError(28, "No space left on device")

    with pytest.raises(OutputError, match="No space left"):
        write_together({first: lambda path: path.write_text("picture"), second: fail})
    assert second.read_text() == "before"
    assert os.listdir(tmp_path) == ["a.json"]


def test_a_fault_while_writing_leaves_nothing(tmp_path):
    """Errors that are not the disk's pass through, and also leave no half set."""

    def fail(path: Path) -> None:
        raise ValueError("broken")

    with pytest.raises(ValueError, match="broken"):
        write_together({tmp_path / "a.png": lambda p: p.write_text("x"), tmp_path / "b.json": fail})
    assert os.listdir(tmp_path) == []


def test_written_files_can_be_read_by_others(tmp_path):
    """The files get the rights that any new file has, not those of a private temporary one."""

    def privately(path: Path) -> None:
        path.touch(mode=0o600)

    plain = tmp_path / "plain"
    plain.touch()
    write_together({tmp_path / "a.json": privately})
    assert stat.S_IMODE((tmp_path / "a.json").stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)


def test_a_link_is_followed(tmp_path):
    """Writing to a link replaces what it points at."""
    (tmp_path / "elsewhere").mkdir()
    real, link = tmp_path / "elsewhere" / "real.json", tmp_path / "link.json"
    real.write_text("before")
    link.symlink_to(real)
    write_together({link: lambda path: path.write_text("after")})
    assert link.is_symlink()
    assert real.read_text() == "after"
    assert os.listdir(real.parent) == ["real.json"]


def test_a_richer_skeleton_is_set_aside(tmp_path):
    """When the new skeleton lacks joints of the old one, the old one is kept, each time anew."""
    path = tmp_path / "k.skeleton.json"
    path.write_text(skeleton_text("pelvis", "head", "left_eye"))

    def run(*names: str) -> tuple[Path, ...]:
        return write_together({path: lambda p: p.write_text(skeleton_text(*names))})

    assert run("pelvis", "head") == (tmp_path / "k.skeleton.previous.json",)
    assert "left_eye" in (tmp_path / "k.skeleton.previous.json").read_text()
    assert run("pelvis", "head", "neck") == ()
    assert run("pelvis") == (tmp_path / "k.skeleton.previous_2.json",)
    assert "left_eye" in (tmp_path / "k.skeleton.previous.json").read_text()
    assert "left_eye" not in path.read_text()
