"""The command `convert` as a user meets it: files, what is printed, refusals."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from autoplace import open_skeleton, read_skeleton, write_skeleton
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.orient import orient
from tests.commands.running import refused, run
from tests.figures import standard_skeleton
from tests.files.foreign_files import bvh_text, write_usd
from tests.files.gltf_validator import validate
from tests.tubes import figure_of_tubes


@cache
def figure_and_obj() -> tuple[Skeleton, str]:
    """A standard figure, and the text of an OBJ file of its mesh."""
    skeleton = orient(standard_skeleton("A"))
    lines, start = [], 1
    for part in figure_of_tubes(skeleton).parts:
        lines.append(f"o {part.name.replace(' ', '_')}")
        lines += [f"v {x} {y} {z}" for x, y, z in part.vertices]
        lines += ["f " + " ".join(str(i + start) for i in face) for face in part.faces]
        start += len(part.vertices)
    return skeleton, "\n".join(lines) + "\n"


@pytest.fixture
def figure(tmp_path) -> SimpleNamespace:
    """A standard figure with its mesh, in a folder of its own."""
    skeleton, text = figure_and_obj()
    mesh = tmp_path / "figure.obj"
    mesh.write_text(text)
    return SimpleNamespace(
        folder=tmp_path,
        skeleton=skeleton,
        mesh=mesh,
        path=write_skeleton(skeleton, tmp_path / "figure.skeleton.json"),
    )


@pytest.mark.parametrize(
    "ending", ["bvh", "glb", "gltf", "skeleton.json", "usda", "usdc", "usdz", "x3d"]
)
def test_what_is_written_opens_again(figure, capsys, ending):
    """Joints, parents and places are the same to a millionth of the height; axes where kept."""
    out = figure.folder / f"new.{ending}"
    told = run(capsys, "convert", figure.path, out)
    assert told.code == 0, told.err
    assert str(out) in told.out.replace("\n", "")
    opened = open_skeleton(out).skeleton
    assert set(opened.names) == set(figure.skeleton.names)
    for joint in figure.skeleton:
        other = opened[joint.name]
        assert other.parent == joint.parent
        assert other.position == pytest.approx(joint.position, abs=1e-6)
        if ending not in ("bvh", "x3d"):
            assert other.axes == pytest.approx(joint.axes, abs=1e-6)


def test_formats_follow_one_another_without_loss_of_places(figure, capsys):
    """Through every format, one after the other: the places are still the same."""
    last = figure.path
    for ending in ("glb", "bvh", "x3d", "usdz", "skeleton.json", "gltf", "csv"):
        out = figure.folder / f"step.{ending}"
        # X3D names the joints by its standard; as they are all known, ours can be asked for
        told = run(capsys, "convert", last, out, "--names", "own")
        assert told.code == 0, told.err
        last = out
    with last.open(newline="", encoding="utf-8") as file:
        rows = {row["name"]: row for row in csv.DictReader(file)}
    for joint in figure.skeleton:
        assert [float(rows[joint.name][k]) for k in "xyz"] == pytest.approx(
            joint.position, abs=1e-5
        )


def test_a_mesh_is_written_with_the_joints(figure, capsys):
    """--mesh binds the character; the glTF validator finds nothing wrong, in both forms."""
    for ending in ("glb", "gltf"):
        out = figure.folder / f"both.{ending}"
        told = run(capsys, "convert", figure.path, out, "--mesh", figure.mesh)
        assert told.code == 0, told.err
        assert "binding" in told.out
        report = validate(out)
        assert report["numErrors"] == report["numWarnings"] == 0, report
        assert report["info"]["hasSkins"]


def test_the_report_for_programs(figure, capsys):
    """--json says from what to what, every joint, notes and the file."""
    out = figure.folder / "new.bvh"
    told = run(capsys, "convert", figure.path, out, "--json", "--quiet")
    data = json.loads(told.out)
    assert (data["from"], data["to"]) == ("skeleton.json", "BVH")
    assert [row["name"] for row in data["joints"]] == list(figure.skeleton.names)
    assert data["files"] == {"out": str(out)}
    assert any("axes" in note for note in data["notes"])


def test_a_file_from_elsewhere_keeps_its_names(figure, capsys):
    """A BVH under other names is written under these, not under ours."""
    given = figure.folder / "walk.bvh"
    names = {n: n.replace("left_", "L.").replace("right_", "R.") for n in figure.skeleton.names}
    joints = tuple(
        replace(j, name=names[j.name], parent=names.get(j.parent)) for j in figure.skeleton
    )
    given.write_text(bvh_text(figure.skeleton.with_joints(joints)))
    out = figure.folder / "walk.skeleton.json"
    told = run(capsys, "convert", given, out)
    assert told.code == 0, told.err
    assert {"L.knee", "R.elbow"} <= set(read_skeleton(out).names)


def test_the_unit_that_a_file_says_is_kept(figure, capsys):
    """A USD stage in centimetres becomes a glTF in metres."""
    pytest.importorskip("pxr")
    large = figure.skeleton.with_joints(
        tuple(replace(j, position=100 * j.position) for j in figure.skeleton)
    )
    given = write_usd(large, figure.folder / "a.usda", up="Y", metres=0.01)
    out = figure.folder / "a.glb"
    assert run(capsys, "convert", given, out).code == 0
    knee = open_skeleton(out).skeleton["left_knee"].position
    assert knee == pytest.approx(figure.skeleton["left_knee"].position, abs=1e-6)
    told = run(capsys, "convert", given, out, "--metres-per-unit", "0.02")
    assert "set to 0.02 m" in told.out
    knee = open_skeleton(out).skeleton["left_knee"].position
    assert knee == pytest.approx(2 * figure.skeleton["left_knee"].position, abs=1e-6)


def names_in_table(path):
    with path.open(newline="", encoding="utf-8") as file:
        return [row["name"] for row in csv.DictReader(file)]


def test_names_by_a_table(figure, capsys):
    """--names takes HAnim's, WebXR's, a user's own, and ours again; what has none keeps its own."""
    out = figure.folder / "new.csv"
    run(capsys, "convert", figure.path, out, "--names", "hanim")
    assert {"humanoid_root", "l_talocrural", "vl5"} <= set(names_in_table(out))
    told = run(capsys, "convert", figure.path, out, "--names", "webxr")
    assert {"left-index-finger-tip", "right-wrist", "pelvis"} <= set(names_in_table(out))
    assert "keep their own" in " ".join(told.out.split())
    table = figure.folder / "mine.toml"
    table.write_text('side_knee = "Knee.{side}"\npelvis = "Root"\n[side]\nleft="L"\nright="R"\n')
    run(capsys, "convert", figure.path, out, "--names", table)
    assert {"Root", "Knee.L", "Knee.R", "left_ankle"} <= set(names_in_table(out))
    renamed = figure.folder / "renamed.skeleton.json"
    run(capsys, "convert", figure.path, renamed, "--names", "hanim")
    run(capsys, "convert", renamed, out, "--names", "own")
    assert set(names_in_table(out)) == set(figure.skeleton.names)
    run(capsys, "convert", renamed, out)
    assert "humanoid_root" in names_in_table(out)


def test_two_joints_of_one_name_are_refused(figure, capsys):
    """A table that calls two joints alike is told with both."""
    table = figure.folder / "mine.toml"
    table.write_text('pelvis = "a"\nhead = "a"\n')
    out = figure.folder / "new.glb"
    refused(
        run(capsys, "convert", figure.path, out, "--names", table), "'pelvis' and 'head'", "'a'"
    )
    assert not out.exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("new.fbx2",), "does not tell by its ending"),
        ((".",), "is a folder"),
        (("new",), "does not tell by its ending"),
        (("new.bvh", "--mesh", "figure.obj"), "BVH holds no mesh"),
        (("new.csv", "--metres-per-unit", "1"), "changes nothing"),
        (("new.glb", "--metres-per-unit", "-1"), "is no length"),
        (("new.glb", "--metres-per-unit", "nan"), "is no length"),
        (("no/new.glb",), "There is no folder"),
        (("figure.skeleton.json",), "already the skeleton itself"),
        (("new.glb", "--mesh", "none.obj"), "none.obj"),
        (("new.glb", "--names", "hanym"), "did you mean 'hanim'"),
        (("new.glb", "--names", "none.toml"), "none.toml"),
        (("new.usda", "--names", "webxr"), "'left-wrist' cannot be written as USD"),
        (("new.glb", "--mesh", "far.obj"), "do not stand in"),
        (("new.glb", "--mesh", "large.obj"), "do not stand in"),
    ],
)
def test_what_cannot_be_is_refused(figure, capsys, monkeypatch, arguments, said):
    """One sentence, exit code 2, and nothing written."""
    monkeypatch.chdir(figure.folder)
    lines = figure.mesh.read_text().splitlines(keepends=True)
    vertices = np.array([line.split()[1:] for line in lines if line[0] == "v"], dtype=float)
    faces = "".join(line for line in lines if line[0] == "f")
    for name, moved in (("far", vertices + 30), ("large", 100 * vertices)):
        text = "".join(f"v {x} {y} {z}\n" for x, y, z in moved)
        (figure.folder / f"{name}.obj").write_text(text + faces)
    before = sorted(figure.folder.iterdir())
    refused(run(capsys, "convert", "figure.skeleton.json", *arguments), said)
    assert sorted(figure.folder.iterdir()) == before


@pytest.mark.parametrize("ending", ["bvh", "csv", "glb", "gltf", "usda", "usdc", "usdz", "x3d"])
def test_only_our_own_files_are_replaced(figure, capsys, ending):
    """A second run replaces the first's file; a file of somebody else stays unless told."""
    out = figure.folder / f"new.{ending}"
    assert run(capsys, "convert", figure.path, out).code == 0
    first = out.read_bytes()
    assert run(capsys, "convert", figure.path, out).code == 0
    assert out.read_bytes() == first
    out.write_text("somebody's own")
    refused(run(capsys, "convert", figure.path, out), "not written by autoplace")
    assert out.read_text() == "somebody's own"
    assert run(capsys, "convert", figure.path, out, "--overwrite").code == 0
    assert out.read_bytes() == first


def test_a_skeleton_with_locked_joints_is_not_replaced(figure, capsys):
    """The rule for every skeleton file holds here too."""
    locked = tuple(replace(j, locked=j.name == "left_knee") for j in figure.skeleton)
    out = write_skeleton(figure.skeleton.with_joints(locked), figure.folder / "mine.skeleton.json")
    refused(run(capsys, "convert", figure.path, out), "placed by hand")
