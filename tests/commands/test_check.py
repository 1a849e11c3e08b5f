"""The command `check` as a user meets it: what is printed, what is written, exit codes."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from autoplace import cli
from autoplace.files.gltf import write_glb
from autoplace.files.skeleton_json import read_skeleton, write_skeleton
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.orient import orient
from tests.figures import X, moved, standard_skeleton, turned
from tests.known_skeleton import known_skeleton
from tests.light_figure import HEIGHT, light_figure

MESH_CHECKS = {"inside_body", "on_floor", "eye_centre"}


@pytest.fixture
def figure() -> Skeleton:
    return orient(standard_skeleton("A"))


@pytest.fixture
def sound(figure, tmp_path) -> Path:
    return write_skeleton(figure, tmp_path / "figure.skeleton.json")


def with_joint(figure: Skeleton, name: str, **changes) -> Skeleton:
    return figure.with_joints(tuple(replace(j, **changes) if j.name == name else j for j in figure))


def run(capsys, *arguments) -> SimpleNamespace:
    capsys.readouterr()
    code = cli.main(["check", *map(str, arguments)])
    told = capsys.readouterr()
    return SimpleNamespace(code=code, out=told.out, err=told.err)


def in_words(told: SimpleNamespace) -> str:
    """What was printed, without the breaks between lines."""
    return " ".join(told.out.split())


def test_a_sound_skeleton_gives_exit_code_0_and_says_what_was_not_checked(sound, capsys):
    """Nothing to look at; without a mesh, depths, floor and eyes are named as not checked."""
    told = run(capsys, sound)
    assert told.code == 0
    assert "nothing to look at" in told.out
    assert "3 could not" in told.out
    assert "inside_body, on_floor: no mesh with a body was given" in told.out
    assert [p.name for p in sound.parent.iterdir()] == ["figure.skeleton.json"]


def test_errors_give_exit_code_1_and_say_joint_measure_limit_and_mending(figure, tmp_path, capsys):
    """Knees that bend forward: both joints, the angles, the limit with its source, what to do."""
    broken = write_skeleton(
        orient(standard_skeleton("A", knee=-9)), tmp_path / "knees.skeleton.json"
    )
    told = run(capsys, broken)
    assert told.code == 1
    text = in_words(told)
    assert "Errors (2)" in text
    assert "'left_knee' is bent by 9.0 degrees the wrong way" in text
    assert "the limit is 5.4 degrees (passive knee extension of girls, Soucie et al. 2011)" in text
    assert "right_knee 9 degrees" in text
    assert "→ Move it forward" in text


def test_warnings_alone_give_exit_code_0(tmp_path, capsys):
    """Straight knees are a warning."""
    path = write_skeleton(orient(standard_skeleton("A", knee=0)), tmp_path / "a.skeleton.json")
    told = run(capsys, path)
    assert told.code == 0
    assert "Warnings (2)" in told.out


def test_the_report_is_readable_at_80_columns(tmp_path, capsys, monkeypatch):
    """No line is longer, and no joint's name is broken."""
    monkeypatch.setattr("autoplace.reports.blocks.PIPE_WIDTH", 80)
    path = write_skeleton(
        orient(standard_skeleton("A", knee=-9, elbow=160)), tmp_path / "a.skeleton.json"
    )
    told = run(capsys, path)
    assert max(map(len, told.out.splitlines())) <= 80
    lines = [line.split() for line in told.out.splitlines()]
    for name in ("left_knee", "right_knee", "left_elbow", "right_elbow"):
        assert any(name in words for words in lines)


def test_json_is_plain_data(tmp_path, capsys):
    """Check, joint, level, message and fix of each finding, with its figures; what ran and not."""
    path = write_skeleton(orient(standard_skeleton("A", knee=-9)), tmp_path / "a.skeleton.json")
    told = run(capsys, path, "--json", "-q")
    assert told.code == 1
    assert told.err == ""
    data = json.loads(told.out)
    assert data["counts"] == {"error": 2, "warning": 0, "note": 0}
    first = data["findings"][0]
    assert first["check"] == "bend_direction"
    assert first["joint"] == "left_knee"
    assert first["level"] == "error"
    assert first["measured"] == pytest.approx(9.0, abs=0.01)
    assert (first["limit"], first["unit"]) == (5.4, "deg")
    assert first["source"] == "passive knee extension of girls, Soucie et al. 2011"
    assert set(data["not_run"]) == MESH_CHECKS
    assert "bend_direction" in data["ran"]
    assert "mended" not in data


def test_with_its_mesh_everything_is_checked(tmp_path, capsys):
    """Depths of all joints are given, and a joint outside of the body is an error."""
    character, joints = light_figure()
    skeleton = known_skeleton(joints, HEIGHT)
    mesh = tmp_path / "light.glb"
    write_glb(character, skeleton, mesh)
    path = write_skeleton(skeleton, tmp_path / "light.skeleton.json")
    told = run(capsys, path, "--mesh", mesh, "--json", "-q")
    data = json.loads(told.out)
    assert data["not_run"] == {}
    assert data["counts"]["error"] == 0
    depths = data["mesh_measures"]["depths"]
    assert set(depths) == set(skeleton.names)
    assert depths["pelvis"] > 0.02
    knee = {"left_knee": joints["left_knee"] + 0.2 * X}
    write_skeleton(orient(moved(skeleton, knee)), path)
    told = run(capsys, path, "--mesh", mesh)
    assert told.code == 1
    assert "least deep is left_knee" in told.out


def test_mend_shows_what_it_changed_and_writes_a_new_file(figure, tmp_path, capsys):
    """A tip turned away: mended beside the one given, which stays as it was."""
    axes = np.array([turned(r, X, 40) for r in figure["left_ring_tip"].axes])
    path = write_skeleton(
        with_joint(figure, "left_ring_tip", axes=axes), tmp_path / "figure.skeleton.json"
    )
    before = path.read_bytes()
    told = run(capsys, path, "--mend")
    assert told.code == 0
    assert "Mended (1)" in told.out
    assert "left_ring_tip" in told.out
    assert "nothing to look at" in told.out
    assert path.read_bytes() == before
    mended = read_skeleton(tmp_path / "figure.mended.skeleton.json")
    assert np.allclose(mended["left_ring_tip"].axes, figure["left_ring_3"].axes, atol=1e-12)
    assert mended.findings == ()
    again = run(capsys, tmp_path / "figure.mended.skeleton.json", "--mend", "--json", "-q")
    assert json.loads(again.out)["mended"] == []


def test_nothing_to_mend_writes_nothing_unless_a_place_is_named(sound, capsys):
    """No file appears; with -o a copy does, so that a script finds one."""
    assert run(capsys, sound, "--mend").code == 0
    assert [p.name for p in sound.parent.iterdir()] == ["figure.skeleton.json"]
    out = sound.parent / "other.skeleton.json"
    assert run(capsys, sound, "--mend", "-o", out).code == 0
    assert read_skeleton(out).names == read_skeleton(sound).names


def test_mending_in_place_keeps_the_earlier_file(figure, tmp_path, capsys):
    """-o with the name of the input: what stood there is kept as *.previous.json."""
    path = write_skeleton(
        with_joint(figure, "chest", axes=2 * figure["chest"].axes), tmp_path / "a.skeleton.json"
    )
    before = path.read_bytes()
    told = run(capsys, path, "--mend", "-o", path)
    assert told.code == 0
    assert (tmp_path / "a.skeleton.previous.json").read_bytes() == before
    assert "a.skeleton.previous.json" in in_words(told)


def test_what_the_file_said_and_was_not_looked_for_is_kept(figure, tmp_path, capsys):
    """Findings of the placing stay; those of checks that ran are made anew."""
    from autoplace.skeleton.model import Finding

    old = (
        Finding("missing_eyeball", "left_eye", "warning", "No eyeball was found.", "Name it."),
        Finding("inside_body", "left_knee", "error", "It lies outside.", "Move it."),
        Finding("tip_aligned", "head_top", "warning", "It is turned.", "Turn it back."),
    )
    broken = with_joint(figure, "chest", axes=2 * figure["chest"].axes)
    path = write_skeleton(replace(broken, findings=old), tmp_path / "a.skeleton.json")
    run(capsys, path, "--mend")
    mended = read_skeleton(tmp_path / "a.mended.skeleton.json")
    assert mended.findings == old[:2]


def test_another_kind_of_file_is_checked_by_the_axes_that_its_joints_show(figure, tmp_path, capsys):
    """A glTF file keeps no convention: it is told from the axes, and a turned tip is mended into a
    skeleton file of ours beside it."""
    character, joints = light_figure()
    skeleton = known_skeleton(joints, HEIGHT)
    tip = np.array([turned(r, X, 40) for r in skeleton["left_ring_tip"].axes])
    path = tmp_path / "light.glb"
    write_glb(character, with_joint(skeleton, "left_ring_tip", axes=tip), path)
    told = run(capsys, path, "--mend")
    assert told.code == 0
    assert "+Y aims at the child, +X bends, mirror = motion" in in_words(told)
    mended = read_skeleton(tmp_path / "light.mended.skeleton.json")
    assert np.allclose(mended["left_ring_tip"].axes, skeleton["left_ring_tip"].axes, atol=1e-5)


def test_findings_and_changes_go_by_the_names_in_the_file(figure, tmp_path, capsys):
    """Joints called L_... and R_... are recognised, told and written under these names."""

    def own(name):
        return name.replace("left_", "L_").replace("right_", "R_") if name else name

    tip = np.array([turned(r, X, 40) for r in figure["left_ring_tip"].axes])
    broken = with_joint(figure, "left_ring_tip", axes=tip)
    broken = moved(broken, {"right_knee": broken["right_knee"].position + 0.05 * X})
    named = broken.with_joints(
        tuple(replace(j, name=own(j.name), parent=own(j.parent)) for j in broken)
    )
    path = write_skeleton(named, tmp_path / "figure.skeleton.json")
    told = run(capsys, path, "--mend", "--json", "-q")
    data = json.loads(told.out)
    assert [change["joint"] for change in data["mended"]] == ["L_ring_tip"]
    assert "'R_ring_tip'" in data["mended"][0]["before"]
    assert "R_knee" in {finding["joint"] for finding in data["findings"]}
    assert not any("right_" in finding["message"] for finding in data["findings"])
    mended = read_skeleton(tmp_path / "figure.mended.skeleton.json")
    assert mended.names == named.names


def test_a_broken_hierarchy_is_told_and_not_written(sound, tmp_path, capsys):
    """A circle of parents: an error for each joint in it, exit code 1, no file."""
    data = json.loads(sound.read_text())
    for joint in data["joints"]:
        if joint["name"] == "left_hip":
            joint["parent"] = "left_knee"
        if joint["name"] == "left_ring_tip":
            joint["axes"] = [[1, 0, 0], [0, 1, 0], [0, 0, 1]]
    sound.write_text(json.dumps(data))
    told = run(capsys, sound, "--mend")
    assert told.code == 1
    assert "no_cycles" in told.out
    assert "the hierarchy is broken" in told.out
    assert "still broken" in told.out
    assert [p.name for p in tmp_path.iterdir()] == ["figure.skeleton.json"]


def test_up_and_forward_go_before_what_the_file_says(sound, capsys):
    """The same figure said to face backward: its sides and feet contradict that."""
    told = run(capsys, sound, "--forward", "-Z")
    assert told.code == 1
    assert "faces the other way" in in_words(told)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["missing.skeleton.json"], "missing.skeleton.json"),
        (["{sound}", "-o", "b.skeleton.json"], "--mend"),
        (["{sound}", "--mend", "-o", "b.txt"], ".json"),
        (["{sound}", "--mend", "-o", "no/such/b.json"], "no folder"),
        (["{sound}", "--mesh", "missing.obj"], "missing.obj"),
        (["{sound}", "--up", "+W"], "+W"),
        (["{sound}", "--up", "+Z", "--forward", "-Z"], "one line"),
    ],
)
def test_mistakes_are_one_sentence_and_exit_code_2(sound, capsys, monkeypatch, arguments, words):
    """What is wrong and where, on the error stream, and nothing is written."""
    monkeypatch.chdir(sound.parent)
    told = run(capsys, *(a.format(sound=sound) for a in arguments), "-q")
    assert told.code == 2
    assert told.out == ""
    assert words in told.err
    assert len(told.err.strip().splitlines()) == 1
    assert [p.name for p in sound.parent.iterdir()] == ["figure.skeleton.json"]


def test_a_mended_skeleton_with_locked_joints_is_not_replaced_unasked(figure, tmp_path, capsys):
    """What stands at the new file's place may have been worked on."""
    broken = with_joint(figure, "chest", axes=2 * figure["chest"].axes, locked=True)
    path = write_skeleton(broken, tmp_path / "a.skeleton.json")
    assert run(capsys, path, "--mend").code == 0
    told = run(capsys, path, "--mend")
    assert told.code == 2
    assert "placed by hand" in told.err
    assert run(capsys, path, "--mend", "--overwrite").code == 0
