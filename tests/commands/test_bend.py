"""The command `bend` as a user meets it: files, what is printed, exit codes, refusals."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from autoplace.jobs.bend import strip_path
from autoplace.skeleton.model import Joint
from tests.bent_files import tube_character, write_character
from tests.commands.running import refused, run
from tests.skeleton.bending.bent import twisted


@pytest.fixture
def files(tmp_path) -> SimpleNamespace:
    mesh, skeleton = write_character(tmp_path)
    return SimpleNamespace(mesh=mesh, skeleton=skeleton, folder=tmp_path)


def test_a_sound_skeleton_passes_with_a_picture(files, capsys):
    """Exit code 0, a row for every test, and the strip beside the skeleton."""
    told = run(capsys, "bend", files.mesh, "--skeleton", files.skeleton)
    assert told.code == 0, told.out + told.err
    assert "16 of 16 tests passed" in told.out
    assert told.out.count("passed") == 17
    with Image.open(files.folder / "tubes.bend.png") as picture:
        assert picture.width == 2400
    stages = [line.split()[0] for line in told.err.splitlines()]
    assert stages == ["read", "parts", "bind", "bend", "picture", "write", "in"]


def test_a_failed_test_gives_exit_code_1(tmp_path, capsys):
    """A reversed elbow is told with what to look at, and a script can tell by the exit code."""
    mesh, skeleton = write_character(tmp_path, twisted(tube_character()[1], "left_elbow", 180))
    told = run(capsys, "bend", mesh, "--skeleton", skeleton, "--no-strip", "--only", "elbow,fist")
    assert told.code == 1
    assert "1 of 2 tests passed" in told.out
    assert "left_elbow" in told.out
    assert "look here" in told.out
    assert sorted(p.name for p in tmp_path.iterdir()) == ["tubes.obj", "tubes.skeleton.json"]


def test_the_report_as_json(files, capsys):
    """Poses in degrees by joint and axis, measures with limit and source, files and seconds."""
    told = run(
        capsys,
        "bend",
        files.mesh,
        "--skeleton",
        files.skeleton,
        "--json",
        "-q",
        "--only",
        "elbow",
        "-o",
        files.folder / "mine.png",
    )
    assert told.code == 0
    assert told.err == ""
    data = json.loads(told.out)
    assert data["passed"] is True
    (test,) = data["tests"]
    assert test["state"] == "passed"
    turn = test["poses"][0]["degrees"]["left_elbow"]
    assert turn["bend"] > 100
    assert (turn["third"], turn["aim"]) == (0, 0)
    measure = test["measures"][0]
    assert {"joint", "of", "value", "unit", "limit", "source", "passed", "sentence"} <= set(measure)
    assert data["files"] == {"strip": str(files.folder / "mine.png")}
    assert "bend" in data["timings"]
    assert Path(data["files"]["strip"]).is_file()


def test_quiet_prints_nothing(files, capsys):
    """The exit code alone tells."""
    told = run(capsys, "bend", files.mesh, "--skeleton", files.skeleton, "-q", "--no-strip")
    assert (told.code, told.out, told.err) == (0, "", "")


def test_refusals(files, capsys):
    """Each mistake is one sentence, and nothing is written."""
    bend = ("bend", files.mesh, "--skeleton", files.skeleton)
    refused(run(capsys, *bend, "--only", "feast"), "'feast'", "elbow, knee")
    refused(run(capsys, "bend", files.folder / "no.obj", "--skeleton", files.skeleton), "no.obj")
    refused(run(capsys, "bend", files.mesh, "--skeleton", files.folder / "no.skeleton.json"), "no.")
    refused(run(capsys, "bend", files.mesh, "--skeleton", files.mesh), "skeleton")
    refused(run(capsys, *bend, "-o", files.folder / "strip.jpg"), "must end in .png")
    refused(run(capsys, *bend, "-o", files.folder / "none" / "strip.png"), "no folder")
    theirs = files.folder / "theirs.png"
    Image.new("RGB", (4, 4)).save(theirs)
    refused(run(capsys, *bend, "-o", theirs), "was not written by autoplace")
    assert theirs.stat().st_size < 200
    assert run(capsys, *bend, "-o", theirs, "--overwrite", "--only", "elbow").code == 0
    assert theirs.stat().st_size > 200
    assert sorted(p.name for p in files.folder.iterdir()) == [
        "theirs.png",
        "tubes.obj",
        "tubes.skeleton.json",
    ]


def test_a_skeleton_with_nothing_to_bend_is_refused(tmp_path, capsys):
    """A root and a prop are told apart from a figure, instead of passing no test of none."""
    joints = (Joint("root", None, np.zeros(3)), Joint("lid", "root", np.array([0.0, 1.0, 0.0])))
    mesh, skeleton = write_character(tmp_path, replace(tube_character()[1], joints=joints))
    refused(run(capsys, "bend", mesh, "--skeleton", skeleton), "none of the joints", "elbow")
    only = run(capsys, "bend", mesh, "--skeleton", skeleton, "--only", "eyes", "--no-strip")
    assert only.code == 0
    assert "not run" in only.out


def test_where_the_strip_goes():
    """Beside the skeleton under its name; into a folder that is given; or where it is told."""
    mesh, here = Path("keeper.obj"), Path("work/keeper.skeleton.json")
    assert strip_path(mesh, here) == Path("work/keeper.bend.png")
    assert strip_path(mesh, Path("work/keeper.glb")) == Path("work/keeper.bend.png")
    assert strip_path(mesh, here, Path("mine.png")) == Path("mine.png")
    assert strip_path(mesh, here, Path(".")) == Path("keeper.bend.png")
