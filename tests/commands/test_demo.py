"""`autoplace demo`: the characters are copied out and the whole job runs on one."""

from __future__ import annotations

import json

import pytest

from autoplace import cli
from autoplace.errors import OutputError
from autoplace.jobs.demo import FIRST, copy_characters
from tests.placed_once import forget_placings


def test_characters_are_copied_with_their_known_joints(tmp_path):
    """At least four characters and their truths arrive in a folder that is made."""
    characters = copy_characters(tmp_path / "new" / "folder")
    assert len(characters) >= 4
    assert characters == tuple(sorted(characters))
    assert FIRST in [path.name for path in characters]
    for path in characters:
        assert path.stat().st_size < 3e6
        truth = json.loads(path.with_name(f"{path.stem}.truth.json").read_text())
        assert "left_knee" in truth["joints"]
    assert not list(tmp_path.rglob("*.py"))


def test_edited_files_are_left_alone(tmp_path):
    """A character that was worked on is not replaced by a second demo."""
    copy_characters(tmp_path)
    (tmp_path / FIRST).write_text("my own work")
    copy_characters(tmp_path)
    assert (tmp_path / FIRST).read_text() == "my own work"


def test_a_file_in_the_way_is_told(tmp_path):
    """A file where the folder should be is a plain error."""
    (tmp_path / "taken").write_text("")
    with pytest.raises(OutputError, match="taken"):
        copy_characters(tmp_path / "taken")


@pytest.mark.usefixtures("placing_once")
def test_demo_runs_the_job_and_runs_it_again(tmp_path, capsys):
    """The skeleton, the picture and the glTF file are there, and the user is told where; the second
    run replaces its own files without complaint, by the same bytes."""
    folder = tmp_path / "demo"
    assert cli.main(["demo", str(folder)]) == 0
    told = capsys.readouterr().out
    skeleton = json.loads((folder / "keeper.skeleton.json").read_text())
    names = {joint["name"] for joint in skeleton["joints"]}
    assert {"pelvis", "left_knee", "right_pinky_tip", "left_eye"} <= names
    for name in ("keeper.sheet.png", "keeper.glb"):
        assert (folder / name).stat().st_size > 10_000
    picture, page, other = told.splitlines()[-3:]
    assert "keeper.sheet.png" in picture
    assert "autoplace review" in page
    assert "autoplace place" in other
    forget_placings()
    first = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert cli.main(["demo", str(folder), "--quiet"]) == 0
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == first
