"""The command `orient` as a user meets it: files, what is printed, refusals."""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from autoplace import cli, read_skeleton, write_skeleton
from autoplace.data import data_folder
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.orient import orient
from tests.commands.running import names_in, refused, run
from tests.figures import angle, standard_skeleton


@pytest.fixture
def figure(tmp_path) -> SimpleNamespace:
    """A standard figure, oriented as `place` does, in a folder of its own."""
    skeleton = orient(standard_skeleton("A"))
    return SimpleNamespace(
        folder=tmp_path,
        skeleton=skeleton,
        path=write_skeleton(skeleton, tmp_path / "figure.skeleton.json"),
    )


def untouched(one: Skeleton, two: Skeleton) -> bool:
    """True when names, parents and places are the same, to the bit."""
    return one.names == two.names and all(
        a.parent == b.parent and np.array_equal(a.position, b.position)
        for a, b in zip(one, two, strict=True)
    )


def test_a_named_convention_replaces_the_axes_and_keeps_the_old_file(figure, capsys):
    """The given file holds the new axes and the convention; the old one stands beside it."""
    before = figure.path.read_bytes()
    told = run(capsys, "orient", figure.path, "--convention", "webxr")
    assert told.code == 0, told.err
    result = read_skeleton(figure.path)
    assert untouched(figure.skeleton, result)
    assert result.settings["orientation"]["convention"] == "webxr"
    knee, ankle = result["left_knee"], result["left_ankle"]
    assert angle(-knee.axes[2], ankle.position - knee.position) < 1e-6
    assert (figure.folder / "figure.skeleton.previous.json").read_bytes() == before
    assert Image.open(figure.folder / "figure.axes.png").size[0] == 2400
    for words in ("webxr", "-Z points at the child", "turned", "left_knee", "figure.axes.png"):
        assert words in told.out, words


def test_a_second_run_changes_nothing_and_keeps_nothing(figure, capsys):
    """Unsaid, the recorded convention counts: same bytes, no further copy."""
    run(capsys, "orient", figure.path, "--convention", "outward", "--no-sheet")
    once = figure.path.read_bytes()
    listed = names_in(figure.folder)
    told = run(capsys, "orient", figure.path, "--no-sheet")
    assert told.code == 0
    assert figure.path.read_bytes() == once
    assert names_in(figure.folder) == listed
    assert "nothing: the axes were like this already" in told.out


def test_single_options_go_over_the_recorded_convention(figure, capsys):
    """`--aim -Z --facing foot=up` changes these two and drops the convention's name."""
    out = figure.folder / "other.skeleton.json"
    told = run(
        capsys, "orient", figure.path, "--aim", "-Z", "--facing", "foot=up", "-o", out, "--no-sheet"
    )
    assert told.code == 0, told.err
    record = read_skeleton(out).settings["orientation"]
    assert (record["aim"], record["bend"], record["facing"]) == ("-Z", "+X", {"foot": "up"})
    assert "convention" not in record
    assert read_skeleton(figure.path).settings == figure.skeleton.settings


def test_a_convention_of_the_users_own_and_the_report_as_data(figure, capsys):
    """A TOML file; `--json` tells the convention, what turned, the hinges and the files."""
    own = figure.folder / "studio.toml"
    own.write_text('aim = "+X"\nbend = "+Z"\nmirror = "axes"\n')
    told = run(capsys, "orient", figure.path, "--convention", own, "--json", "-q", "--no-sheet")
    report = json.loads(told.out)
    assert report["convention"]["convention"] == "studio"
    assert report["turned"] == report["joints"] == len(figure.skeleton)
    assert report["hinges"]["left_knee"]["bent"] == pytest.approx(5.0, abs=0.1)
    assert report["spine_axes"] == pytest.approx(0.0, abs=1e-6)
    assert report["files"] == {"skeleton": str(figure.path)}
    assert report["findings"] == []


def test_up_and_forward_of_the_user_go_before_the_files(figure, capsys):
    """A figure that lies in the file is oriented upright, and the two are kept for the next run."""
    lie = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])  # +Y to +Z, +Z to -Y
    lying = figure.skeleton.with_joints(
        tuple(replace(j, position=lie @ j.position) for j in figure.skeleton)
    )
    path = write_skeleton(lying, figure.folder / "lying.skeleton.json")
    told = run(capsys, "orient", path, "--up", "+Z", "--forward", "-Y", "--no-sheet")
    assert told.code == 0, told.err
    result = read_skeleton(path)
    for joint in figure.skeleton:
        assert np.allclose(result[joint.name].axes, joint.axes @ lie.T, atol=1e-9), joint.name
    once = path.read_bytes()
    run(capsys, "orient", path, "--no-sheet")
    assert path.read_bytes() == once


def test_scaled_joints_are_refused_until_baked(figure, capsys):
    """The joint and `--bake` are named; baked, places stay and axes are what they should be."""
    scaled = figure.skeleton.with_joints(
        tuple(
            replace(j, axes=1.5 * j.axes) if j.name == "left_knee" else j for j in figure.skeleton
        )
    )
    path = write_skeleton(scaled, figure.folder / "scaled.skeleton.json")
    before = path.read_bytes()
    refused(run(capsys, "orient", path), "left_knee", "--bake")
    assert path.read_bytes() == before
    assert run(capsys, "orient", path, "--bake", "--no-sheet").code == 0
    result = read_skeleton(path)
    assert untouched(figure.skeleton, result)
    assert np.allclose(result["left_knee"].axes, figure.skeleton["left_knee"].axes, atol=1e-12)


def test_the_conventions_are_listed(capsys):
    """Each with its description, and no skeleton is needed."""
    told = run(capsys, "orient", "--list-conventions")
    assert told.code == 0
    for name in ("flexion", "parallel", "outward", "webxr"):
        assert name in told.out


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--convention", "flexoin"], ["flexoin", "did you mean", "flexion"]),
        (["--convention", "none.toml"], ["Cannot read", "none.toml"]),
        (["--aim", "+Y", "--bend", "-Y"], ["lie on one line"]),
        (["--aim", "Q"], ["'Q' is not an axis"]),
        (["--facing", "foot"], ["CHAIN=WHERE"]),
        (["--facing", "feet=up"], ["no chain 'feet'"]),
        (["--facing", "foot=palm"], ["only hand, finger and thumb"]),
        (["--up", "+Z", "--forward", "-Z"], ["one line"]),
        (["-o", "out.glb"], ["JSON"]),
        (["--sheet", "out.jpg"], ["PNG"]),
    ],
)
def test_a_slip_is_told_in_one_sentence_and_nothing_is_written(figure, capsys, options, words):
    """Exit code 2, and the folder as it was."""
    before = {name: (figure.folder / name).read_bytes() for name in names_in(figure.folder)}
    refused(run(capsys, "orient", figure.path, *options), *words)
    assert {n: (figure.folder / n).read_bytes() for n in names_in(figure.folder)} == before


def test_without_a_skeleton_it_is_asked_for(capsys):
    """The one thing that is needed is named."""
    refused(run(capsys, "orient"), "which skeleton")


def test_a_file_that_is_not_there_is_told(tmp_path, capsys):
    """Not the output's fault but the name's."""
    refused(run(capsys, "orient", tmp_path / "none.skeleton.json"), "Cannot read", "none")


def test_another_file_of_the_users_is_not_replaced(figure, capsys):
    """A JSON file that is no skeleton of ours stays, unless --overwrite is given."""
    other = figure.folder / "notes.json"
    other.write_text("{}")
    refused(run(capsys, "orient", figure.path, "-o", other), "--overwrite")
    assert other.read_text() == "{}"
    assert cli.main(["orient", str(figure.path), "-o", str(other), "--overwrite", "-q"]) == 0
    assert read_skeleton(other).names == figure.skeleton.names


@pytest.mark.usefixtures("placing_once")
def test_place_takes_a_convention_too(tmp_path, capsys):
    """A skeleton that is placed by a convention records it, and orienting again keeps it."""
    own = tmp_path / "studio.toml"
    own.write_text('aim = "+X"\nbend = "+Z"\n')
    mesh = data_folder("meshes") / "keeper.obj"
    out = tmp_path / "keeper.skeleton.json"
    options = ("--convention", own, "-o", out, "--no-sheet", "-q")
    assert run(capsys, "place", mesh, *options).code == 0
    result = read_skeleton(out)
    record = result.settings["orientation"]
    assert (record["convention"], record["aim"], record["bend"]) == ("studio", "+X", "+Z")
    assert "convention" not in result.settings
    knee, ankle = result["left_knee"], result["left_ankle"]
    assert angle(knee.axes[0], ankle.position - knee.position) < 1e-6
    before = out.read_bytes()
    assert run(capsys, "orient", out, "--no-sheet", "-q").code == 0
    assert out.read_bytes() == before
    refused(run(capsys, "place", mesh, "--convention", "no", "-o", out, "--no-sheet"), "'no'")
