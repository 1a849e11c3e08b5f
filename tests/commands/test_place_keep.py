"""`place --keep` as a user meets it: files, what is printed, refusals."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from autoplace import cli, read_skeleton, write_skeleton
from autoplace.data import data_folder
from autoplace.skeleton.model import Skeleton
from tests.commands.running import names_in, refused, run
from tests.placed_once import forget_placings, placed_demo

pytestmark = pytest.mark.usefixtures("placing_once")

LOCKED = ("left_knee", "right_wrist")
AHEAD = np.array([0.0, 0.0, 0.01])
"""How far the locked joints were set apart from where they were placed, metres."""
SOLID = "v 90 0 0\nv 91 0 0\nv 90 1 0\nv 90 0 1\nf 1 3 2\nf 1 2 4\nf 1 4 3\nf 2 3 4\n"
"""A mesh far from the character."""


@pytest.fixture(scope="module")
def corrected() -> Skeleton:
    """The demo character's skeleton with two joints that a person has moved and locked."""
    skeleton = placed_demo().skeleton
    return skeleton.with_joints(
        tuple(
            replace(joint, locked=True, position=joint.position + AHEAD)
            if joint.name in LOCKED
            else joint
            for joint in skeleton
        )
    )


@pytest.fixture
def files(tmp_path, corrected) -> SimpleNamespace:
    """The earlier model with its skeleton, and in a folder beside it the model made wider."""
    old = tmp_path / "keeper.obj"
    shutil.copyfile(data_folder("meshes") / "keeper.obj", old)
    new = tmp_path / "new" / "keeper_wide.obj"
    new.parent.mkdir()
    lines = []
    for line in old.read_text(encoding="utf-8").splitlines():
        if line.startswith("v "):
            x, y, z = line.split()[1:4]
            line = f"v {1.2 * float(x):.7f} {y} {z}"
        lines.append(line)
    new.write_text("\n".join(lines), encoding="utf-8")
    skeleton = write_skeleton(corrected, tmp_path / "keeper.skeleton.json")
    return SimpleNamespace(old=old, new=new, skeleton=skeleton)


def test_locked_joints_are_kept_and_a_table_tells_what_moved(files, corrected, capsys):
    """The earlier mesh is found beside its skeleton; the report lists kept joints first."""
    told = run(capsys, "place", files.new, "--keep", files.skeleton, "--no-sheet")
    assert told.code == 0, told.err
    kept = read_skeleton(files.new.with_name("keeper_wide.skeleton.json"))
    assert {joint.name for joint in kept if joint.locked} == set(LOCKED)
    for name in LOCKED:
        wanted = corrected[name].position * [1.2, 1.0, 1.0]
        assert np.linalg.norm(kept[name].position - wanted) < 0.001
    table = told.out[told.out.index("Kept 2 locked joints, placed 65 anew") :]
    rows = [line.split() for line in table.splitlines()]
    marked = {row[0]: row[1] for row in rows if len(row) > 3 and row[1] in ("kept", "anew")}
    assert list(marked)[:2] == [joint.name for joint in corrected if joint.locked]
    assert list(marked.values()) == ["kept"] * 2 + ["anew"] * 10
    assert "vertices of both models correspond" in table
    assert names_in(files.new.parent) == ["keeper_wide.obj", "keeper_wide.skeleton.json"]


def test_the_report_as_data_has_every_joint(files, capsys):
    """`--json` says of each joint whether it was kept and how far it moved."""
    told = run(capsys, "place", files.new, "--keep", files.skeleton, "--no-sheet", "--json")
    data = json.loads(told.out)
    rows = data["keeping"]["joints"]
    assert [row["name"] for row in rows] == data["joint_names"]
    assert {row["name"] for row in rows if row["kept"]} == set(LOCKED)
    assert data["keeping"]["carried_by"] == "vertices"
    assert data["keeping"]["mesh"] == "keeper.obj"


def test_a_model_written_over_the_earlier_one_needs_that_with_old_mesh(files, capsys):
    """The skeleton in place is replaced without --overwrite, and kept as *.previous.json."""
    earlier = files.old.with_name("keeper_v1.obj")
    files.old.rename(earlier)
    shutil.copyfile(files.new, files.old)
    before = files.skeleton.read_bytes()
    words = ("place", files.old, "--keep", files.skeleton, "--no-sheet")
    refused(run(capsys, *words), "has changed", "--old-mesh")
    assert files.skeleton.read_bytes() == before
    told = run(capsys, *words, "--old-mesh", earlier)
    assert told.code == 0, told.err
    assert files.skeleton.with_name("keeper.skeleton.previous.json").read_bytes() == before
    assert "is the skeleton that stood there before." in " ".join(told.out.split())
    assert {j.name for j in read_skeleton(files.skeleton) if j.locked} == set(LOCKED)


def test_another_earlier_mesh_than_recorded_is_told(files, capsys):
    """The same model under another digest is taken, with a note."""
    again = files.old.with_name("again.obj")
    again.write_text(files.old.read_text(encoding="utf-8") + "\n# saved again\n", encoding="utf-8")
    told = run(
        *(capsys, "place", files.new, "--keep", files.skeleton, "--old-mesh", again),
        *("--no-sheet", "--json"),
    )
    assert told.code == 0, told.err
    assert any("sha256" in note for note in json.loads(told.out)["notes"])


def test_the_same_run_gives_the_same_bytes(files, capsys):
    """Twice into two folders."""
    written = []
    for name in ("a", "b"):
        folder = files.new.parent / name
        folder.mkdir()
        if written:
            forget_placings()
        run(capsys, "place", files.new, "--keep", files.skeleton, "-o", folder, "--no-sheet")
        written.append((folder / "keeper_wide.skeleton.json").read_bytes())
    assert written[0] == written[1]


def test_wrong_files_are_told_in_one_sentence(files, corrected, capsys):
    """Each with what to do, and nothing is written."""
    words = ("place", files.new, "--no-sheet")
    refused(run(capsys, *words, "--old-mesh", files.old), "--keep")
    refused(run(capsys, *words, "--keep", files.new), "skeleton file we read")
    refused(run(capsys, *words, "--keep", files.old.with_name("no.json")), "cannot read")
    refused(
        run(capsys, *words, "--keep", files.skeleton, "--old-mesh", files.skeleton),
        files.skeleton.name,
    )
    small = files.old.with_name("small.obj")
    small.write_text(SOLID, encoding="utf-8")
    refused(run(capsys, *words, "--keep", files.skeleton, "--old-mesh", small), "locked joint")
    nothing = corrected.with_joints(tuple(replace(j, locked=False) for j in corrected))
    unlocked = write_skeleton(nothing, files.old.with_name("unlocked.skeleton.json"))
    refused(run(capsys, *words, "--keep", unlocked), "no locked joint")
    files.old.unlink()
    refused(run(capsys, *words, "--keep", files.skeleton), "keeper.obj", "--old-mesh")
    assert names_in(files.new.parent) == ["keeper_wide.obj"]


def test_a_skeleton_with_locked_joints_is_not_replaced_by_another(files, corrected, capsys):
    """One that lies where the result goes and is not the one to keep."""
    target = write_skeleton(corrected, files.new.with_name("keeper_wide.skeleton.json"))
    before = target.read_bytes()
    told = run(capsys, "place", files.new, "--keep", files.skeleton, "--no-sheet")
    refused(told, "placed by hand", "--overwrite")
    assert target.read_bytes() == before


def test_help_names_both_options():
    """They stand together under the model that has changed."""
    text = cli.parser().parse_args(["place", "x.obj"]).parser.format_help()
    assert text.index("a model that has changed") < text.index("--keep") < text.index("--old-mesh")


def test_the_export_holds_the_kept_joints(files, capsys):
    """The export beside the skeleton has the same joints at the same places, under other names."""
    walk = files.new.with_name("wide.csv")
    told = run(
        *(capsys, "place", files.new, "--keep", files.skeleton, "--no-sheet", "--quiet"),
        *("--export", walk),
    )
    assert told.code == 0, told.err
    kept = read_skeleton(files.new.with_name("keeper_wide.skeleton.json"))
    (row,) = [line for line in walk.read_text().splitlines() if line.startswith("left_knee,")]
    numbers = [float(cell) for cell in row.split(",")[2:5]]
    assert numbers == pytest.approx(list(kept["left_knee"].position), abs=1e-5)
    refused(run(capsys, "place", files.new, "--keep", files.skeleton, "--names", "x"), "--export")
