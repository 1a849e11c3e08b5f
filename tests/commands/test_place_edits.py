"""`place --edits` as a user meets it: files, what is printed, refusals."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from autoplace import (
    Edits,
    JointEdit,
    cli,
    edits_of,
    read_skeleton,
    write_edits,
    write_skeleton,
)
from autoplace.data import data_folder
from autoplace.skeleton.edit_moves import lock_joint, move_joint
from autoplace.skeleton.model import Skeleton
from tests.commands.running import names_in, refused, run
from tests.placed_once import forget_placings, placed_demo

pytestmark = pytest.mark.usefixtures("placing_once")

LOCKED = ("left_index_1", "right_index_1")
ASIDE = np.array([0.0, 0.002, 0.001])
"""How far the knuckle is moved, metres."""


@pytest.fixture(scope="module")
def placed() -> Skeleton:
    return placed_demo().skeleton


@pytest.fixture(scope="module")
def edits(placed) -> Edits:
    """A knuckle moved and locked on both sides, and one knee moved."""
    edits = Edits(placed.source)
    edits = move_joint(placed, edits, "left_index_1", placed["left_index_1"].position + ASIDE)
    edits = lock_joint(placed, edits, "left_index_1", True)
    return edits.with_joint(JointEdit("left_knee", placed["left_knee"].position + ASIDE))


@pytest.fixture
def files(tmp_path, edits) -> SimpleNamespace:
    """The demo character with edits beside it, and in another folder the model made wider."""
    mesh = tmp_path / "keeper.obj"
    shutil.copyfile(data_folder("meshes") / "keeper.obj", mesh)
    wide = tmp_path / "new" / "keeper_wide.obj"
    wide.parent.mkdir()
    return SimpleNamespace(
        mesh=mesh,
        wide=wide,
        edits=write_edits(edits, tmp_path / "keeper.edits.json"),
        skeleton=tmp_path / "keeper.skeleton.json",
    )


def make_wide(files: SimpleNamespace) -> None:
    lines = []
    for line in files.mesh.read_text(encoding="utf-8").splitlines():
        if line.startswith("v "):
            x, y, z = line.split()[1:4]
            line = f"v {1.2 * float(x):.7f} {y} {z}"
        lines.append(line)
    files.wide.write_text("\n".join(lines), encoding="utf-8")


def test_joints_are_corrected_and_a_table_tells_how_far(files, edits, placed, capsys):
    """The written skeleton records the edits, and the report lists the joint moved most first."""
    told = run(capsys, "place", files.mesh, "--edits", files.edits, "--no-sheet")
    assert told.code == 0, told.err
    skeleton = read_skeleton(files.skeleton)
    assert edits_of(skeleton) == edits
    assert np.array_equal(skeleton["left_knee"].position, placed["left_knee"].position + ASIDE)
    table = told.out[told.out.index("Corrected 3 joints, 2 of them locked") :]
    rows = [line.split() for line in table.splitlines()]
    percent = f"{100 * np.linalg.norm(ASIDE) / placed.source.height:.2f}"
    for name in LOCKED:
        assert [name, "locked", "0.002236", percent] in rows
    assert ["left_knee", "0.002236", percent] in rows


def test_placing_again_replaces_what_the_edits_lock(files, capsys):
    """Nothing is lost by it, and the bytes are the same; other locked joints are not lost."""
    words = ("place", files.mesh, "--edits", files.edits, "--no-sheet", "--quiet")
    assert run(capsys, *words).code == 0
    before = files.skeleton.read_bytes()
    forget_placings()
    assert run(capsys, *words).code == 0
    assert files.skeleton.read_bytes() == before
    assert names_in(files.mesh.parent) == [
        "keeper.edits.json",
        "keeper.obj",
        "keeper.skeleton.json",
        "new",
    ]
    skeleton = read_skeleton(files.skeleton)
    more = skeleton.with_joints(
        tuple(replace(j, locked=j.locked or j.name == "left_ankle") for j in skeleton)
    )
    write_skeleton(more, files.skeleton)
    refused(run(capsys, *words), "1 joint placed by hand", "left_ankle")
    refused(run(capsys, "place", files.mesh, "--no-sheet"), "4 joints placed by hand")


def test_the_report_as_data_says_what_was_corrected(files, capsys):
    """`--json` has each joint with its lock and how far it is from where it would be placed."""
    told = run(capsys, "place", files.mesh, "--edits", files.edits, "--no-sheet", "--json")
    data = json.loads(told.out)["edits"]
    assert data["mesh"] == "keeper.obj"
    assert {row["name"]: row["locked"] for row in data["joints"]} == {
        "left_index_1": True,
        "right_index_1": True,
        "left_knee": False,
    }


def test_a_changed_model_keeps_the_locked_joints(files, placed, capsys):
    """The earlier model is found beside the edits; what was moved but not locked is named."""
    make_wide(files)
    told = run(capsys, "place", files.wide, "--edits", files.edits, "--no-sheet")
    assert told.code == 0, told.err
    kept = read_skeleton(files.wide.with_name("keeper_wide.skeleton.json"))
    assert {joint.name for joint in kept if joint.locked} == set(LOCKED)
    wanted = (placed["left_index_1"].position + ASIDE) * [1.2, 1.0, 1.0]
    assert np.linalg.norm(kept["left_index_1"].position - wanted) < 0.001
    said = " ".join(told.out.split())
    assert "Kept 2 locked joints, placed 65 anew" in said
    assert "not locked, so placed anew in the changed model: left_knee." in said
    assert names_in(files.wide.parent) == ["keeper_wide.obj", "keeper_wide.skeleton.json"]


def test_a_changed_model_needs_locks_and_the_earlier_one(files, placed, capsys):
    """Each with what to do, and nothing is written."""
    make_wide(files)
    words = ("place", files.wide, "--edits", files.edits, "--no-sheet")
    files.mesh.unlink()
    refused(run(capsys, *words), "keeper.obj", "--old-mesh")
    write_edits(Edits(placed.source, (JointEdit("neck", (0, 1.5, 0)),)), files.edits)
    refused(run(capsys, *words), "lock no joint", '"locked": true')
    assert names_in(files.wide.parent) == ["keeper_wide.obj"]


def test_what_contradicts_is_refused_at_once(files, edits, capsys):
    """In one sentence, before anything is read."""
    words = ("place", files.mesh, "--edits", files.edits, "--no-sheet")
    refused(run(capsys, *words, "--keep", files.skeleton), "--keep and --edits")
    refused(run(capsys, "place", files.mesh, "--old-mesh", files.mesh), "--edits")
    refused(run(capsys, *words, "-o", files.edits), "already the edits file")
    write_edits(replace(edits, spine=4), files.edits)
    refused(run(capsys, *words, "--spine", 5), "4 spine joints", "--spine for 5")
    refused(run(capsys, *words[:3], files.mesh, "--no-sheet"), "no edits file", "not JSON")
    refused(run(capsys, *words[:3], files.mesh.with_name("no.json")), "cannot read")
    assert not files.skeleton.exists()


def test_edits_that_do_not_fit_the_mesh_are_refused(files, edits, capsys):
    """A joint that is not there, one far outside, a skeleton in place of edits."""
    words = ("place", files.mesh, "--edits", files.edits, "--no-sheet")
    write_edits(edits.with_joint(JointEdit("left_tail", (0, 1, 0))), files.edits)
    refused(run(capsys, *words), "no joint 'left_tail'", "nearest names")
    write_edits(edits.with_joint(JointEdit("neck", (0, 150, 0))), files.edits)
    refused(run(capsys, *words), "'neck' far outside")
    assert not files.skeleton.exists()


def test_help_names_the_option():
    """With what it does in a changed model."""
    text = cli.parser().parse_args(["place", "x.obj"]).parser.format_help()
    assert text.index("what a person decided") < text.index("--edits") < text.index("--keep")
