"""The command line as a user meets it: arguments, what is printed where, exit codes.

The placing itself is replaced by a quick one here; `tests/bad_input` and `test_demo` run the real.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
import types
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from autoplace import cli
from autoplace.errors import NotACharacter
from autoplace.measure.frame_record import Frame
from autoplace.mesh.pieces import Roles
from autoplace.result import PlaceResult, Settings
from autoplace.skeleton.model import Joint, Skeleton, Source

OCTAHEDRON = """o keeper
v 1 0 0
v -1 0 0
v 0 1 0
v 0 -1 0
v 0 0 1
v 0 0 -1
f 1 3 5
f 3 2 5
f 2 4 5
f 4 1 5
f 3 1 6
f 2 3 6
f 4 2 6
f 1 4 6
"""
REPORT = {
    "parts": [{"name": "keeper", "role": "body", "confidence": 1.0, "reason": "all there is"}],
    "frame": {"up": "+Y", "forward": "+Z", "height": np.float64(2.0), "symmetry_residual": 0.001},
    "hands": {"left": {"fingers": 5}, "right": {"fingers": 5}},
    "eyes": {"left": None, "right": None},
    "template": {"name": "adult", "why": "the nearest", "confidence": 0.9},
    "findings": [],
}


class QuickPlace:
    """Stands in for the pipeline; remembers the settings and may fail on wish."""

    def __init__(self) -> None:
        self.settings: Settings | None = None
        self.failure: BaseException | None = None
        self.names = ["pelvis", "chest"]

    def __call__(self, character, settings=None, *, progress=None):
        self.settings = settings
        progress("frame")
        if self.failure is not None:
            raise self.failure
        joints, parent = [], None
        for height, name in enumerate(self.names):
            joints.append(Joint(name, parent, np.array([0.0, float(height), 0.0])))
            parent = name
        source = Source(mesh=character.path.name, sha256=character.sha256, height=2.0)
        skeleton = Skeleton(tuple(joints), source, template="adult")
        frame = Frame(np.eye(3), np.zeros(3), 2.0, "+Y", "+Z", 0.001)
        return PlaceResult(skeleton, frame, Roles(()), REPORT, {"frame": 0.1})


@pytest.fixture
def place(monkeypatch) -> QuickPlace:
    """The quick placing and a quick picture in place of the real ones."""
    quick = QuickPlace()
    pipeline = types.ModuleType("autoplace.pipeline")
    pipeline.place = quick
    monkeypatch.setitem(sys.modules, "autoplace.pipeline", pipeline)
    picture = Image.new("RGB", (8, 6))
    monkeypatch.setattr("autoplace.show.sheet.render_sheet", lambda *args, **named: picture)
    return quick


@pytest.fixture
def mesh(tmp_path) -> Path:
    path = tmp_path / "keeper.obj"
    path.write_text(OCTAHEDRON)
    return path


def run(*arguments: object) -> int:
    return cli.main(["place", *map(str, arguments)])


def test_plain_run_writes_skeleton_and_sheet(place, mesh, capsys):
    """Both files stand beside the mesh, are named at the end, and the exit code is 0."""
    assert run(mesh) == 0
    told = capsys.readouterr()
    for name in ("keeper.skeleton.json", "keeper.sheet.png"):
        assert mesh.with_name(name).is_file()
        assert name in told.out.replace("\n", "")
    assert "all there is" in told.out
    assert sorted(p.name for p in mesh.parent.iterdir()) == [
        "keeper.obj",
        "keeper.sheet.png",
        "keeper.skeleton.json",
    ]


@pytest.mark.parametrize("ending", ["glb", "gltf", "usda", "usdz", "x3d", "bvh", "csv"])
def test_the_export_is_told_by_its_ending(place, mesh, capsys, ending):
    """One file beside the others, with the names that were asked for, and notes on what is lost."""
    out = mesh.with_name(f"keeper.{ending}")
    assert run(mesh, "--export", out, "--names", "hanim") == 0
    told = capsys.readouterr().out
    assert "In the export" in told
    assert f"keeper.{ending}" in told.replace("\n", "")
    if ending not in ("usdz", "glb"):
        assert "humanoid_root" in out.read_text()
    assert run(mesh, "--export", out, "--json") == 0
    data = json.loads(capsys.readouterr().out)
    assert data["files"]["export"] == str(out)
    assert data["export_notes"]


def test_progress_goes_to_the_error_stream(place, mesh, capsys):
    """Each stage and its seconds are told on stderr, so that stdout can be piped."""
    run(mesh)
    told = capsys.readouterr()
    stages = [line.split()[0] for line in told.err.splitlines()]
    assert stages == ["read", "frame", "picture", "write", "in"]
    assert "picture  " not in told.out


def test_json_is_all_there_is_on_stdout(place, mesh, capsys):
    """--json prints one JSON document with the report, the joints, the files and the seconds."""
    assert run(mesh, "--json") == 0
    report = json.loads(capsys.readouterr().out)
    assert report["frame"]["height"] == 2.0
    assert report["joint_names"] == ["pelvis", "chest"]
    assert Path(report["files"]["skeleton"]).is_file()
    assert report["timings"].keys() >= {"read", "frame", "write"}
    assert report.keys() >= REPORT.keys()


def test_quiet_prints_nothing(place, mesh, capsys):
    """--quiet leaves both streams empty when all is well; with --json only the JSON is printed."""
    assert run(mesh, "--quiet") == 0
    told = capsys.readouterr()
    assert (told.out, told.err) == ("", "")
    assert run(mesh, "--quiet", "--json") == 0
    told = capsys.readouterr()
    assert json.loads(told.out)
    assert told.err == ""


def test_every_option_reaches_the_settings(place, mesh):
    """What the user says arrives in the settings, axes also with a minus sign."""
    assert (
        run(
            *(mesh, "--quiet", "--up", "-z", "--forward", "y", "--spine", 5),
            *("--leave-out", "cloak*", "--leave-out", "hat"),
            *("--role", "boots=body", "--role", "a=b=hair"),
        )
        == 0
    )
    assert place.settings == Settings(
        leave_out=("cloak*", "hat"),
        roles={"boots": "body", "a=b": "hair"},
        up="-Z",
        forward="+Y",
        spine=5,
    )


def test_template_reaches_the_settings(place, mesh, monkeypatch):
    """--template names the template."""
    monkeypatch.setattr("autoplace.settings.template_names", lambda: ("adult", "child"))
    assert run(mesh, "--quiet", "--template", "child") == 0
    assert place.settings.template == "child"


def test_paths_can_be_chosen(place, mesh, tmp_path):
    """-o and --sheet set the paths, and nothing is written elsewhere."""
    (tmp_path / "out").mkdir()
    skeleton, sheet = tmp_path / "out" / "a.json", tmp_path / "out" / "b.png"
    assert run(mesh, "-o", skeleton, "--sheet", sheet, "--quiet") == 0
    assert {p.name for p in (tmp_path / "out").iterdir()} == {"a.json", "b.png"}
    assert list(tmp_path.glob("*.json")) == []


def test_no_sheet_draws_none(place, mesh):
    """--no-sheet writes the skeleton only."""
    assert run(mesh, "--no-sheet", "--quiet") == 0
    assert not list(mesh.parent.glob("*.png"))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--template", "nobody"], "no template 'nobody'"),
        (["--up", "top"], "'top' is not an axis for up"),
        (["--forward", "-Q"], "'-Q' is not an axis for forward"),
        (["--up", "Y", "--forward", "-Y"], "right angle"),
        (["--spine", "0"], "from 1 to 17"),
        (["--role", "boots"], "PART=ROLE"),
        (["--role", "boots=shoe"], "the roles are body"),
        (["--export", "keeper.doc"], "must end in .glb"),
        (["--names", "hanim"], "give --export"),
        (["--export", "keeper.bvh", "--metres-per-unit", "1"], "changes nothing"),
        (["--export", "keeper.glb", "--metres-per-unit", "0"], "is no length"),
        (["--export", "keeper.glb", "--names", "hanym"], "did you mean 'hanim'"),
        (["-o", "nowhere/keeper.json"], "no folder"),
    ],
)
def test_slips_are_one_sentence_and_exit_2(place, mesh, capsys, arguments, said):
    """A user's slip is told in one line on stderr; nothing is placed or written."""
    assert run(mesh, *arguments) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert said in told.err
    assert len(told.err.strip().splitlines()) == 1
    assert place.settings is None
    assert [p.name for p in mesh.parent.iterdir()] == ["keeper.obj"]


@pytest.mark.parametrize(
    "arguments",
    [
        ["--sheet", "a.png", "--no-sheet"],
        ["--spine", "few"],
        ["--nonsense"],
        ["--temp", "adult"],
    ],
)
def test_wrong_usage_exits_2(mesh, capsys, arguments):
    """Contradicting, unknown and shortened options are refused with the usage line."""
    with pytest.raises(SystemExit) as caught:
        run(mesh, *arguments)
    assert caught.value.code == 2
    assert "usage: autoplace place" in capsys.readouterr().err


def test_a_misspelt_option_is_answered_with_the_nearest(mesh, capsys):
    """The user need not search the help for what was meant."""
    with pytest.raises(SystemExit):
        run(mesh, "--leaveout", "hat")
    assert "did you mean --leave-out?" in capsys.readouterr().err


def test_no_arguments_show_the_help(capsys):
    """`autoplace` alone says what it can do."""
    assert cli.main([]) == 2
    assert "place a skeleton" in capsys.readouterr().out


def test_unfit_mesh_is_one_sentence(place, mesh, capsys):
    """An error of the stages is told as it is, without a traceback, and leaves no files."""
    place.failure = NotACharacter("No figure with limbs is in this file.")
    assert run(mesh) == 2
    told = capsys.readouterr()
    assert told.err.splitlines()[-1] == "autoplace: No figure with limbs is in this file."
    assert "Traceback" not in told.err
    assert [p.name for p in mesh.parent.iterdir()] == ["keeper.obj"]


def test_fault_of_the_program_asks_for_a_report(place, mesh, capsys):
    """An unforeseen error is one line, exit code 3, and shows its place with --traceback."""
    place.failure = IndexError("index 7 is out of bounds")
    assert run(mesh, "--quiet") == 3
    told = capsys.readouterr()
    assert "a fault of the program" in told.err
    assert "--traceback" in told.err
    assert len(told.err.splitlines()) == 1
    assert run(mesh, "--quiet", "--traceback") == 3
    told = capsys.readouterr()
    assert "Traceback (most recent call last)" in told.err
    assert [p.name for p in mesh.parent.iterdir()] == ["keeper.obj"]


@pytest.mark.parametrize("code", [None, 0, 1])
def test_a_command_may_say_its_exit_code(code, mesh, monkeypatch):
    """What a command returns is the exit code: 1 for errors in what it looked at; None is 0."""
    monkeypatch.setattr("autoplace.commands.place._run", lambda options, progress: code)
    assert run(mesh) == (code or 0)


def test_stopping_by_hand_is_no_fault(place, mesh, capsys):
    """Ctrl-C ends with the usual exit code and leaves no files."""
    place.failure = KeyboardInterrupt()
    assert run(mesh) == 130
    assert "Traceback" not in capsys.readouterr().err
    assert [p.name for p in mesh.parent.iterdir()] == ["keeper.obj"]


def test_locked_joints_stop_the_run_before_the_work(place, mesh, capsys):
    """Work done by hand is not replaced, unless --overwrite is given."""
    assert run(mesh, "--no-sheet", "--quiet") == 0
    skeleton = mesh.with_name("keeper.skeleton.json")
    content = json.loads(skeleton.read_text())
    content["joints"][1]["locked"] = True
    skeleton.write_text(json.dumps(content))
    before, place.settings = skeleton.read_bytes(), None
    assert run(mesh, "--no-sheet") == 2
    assert "placed by hand (chest)" in capsys.readouterr().err
    assert skeleton.read_bytes() == before
    assert place.settings is None
    assert run(mesh, "--no-sheet", "--quiet", "--overwrite") == 0
    assert skeleton.read_bytes() != before


def test_running_twice_just_works(place, mesh, capsys):
    """A second run replaces what the first wrote with the same bytes."""
    assert run(mesh, "--quiet", "--no-sheet") == 0
    first = mesh.with_name("keeper.skeleton.json").read_bytes()
    assert run(mesh, "--quiet", "--no-sheet") == 0
    assert mesh.with_name("keeper.skeleton.json").read_bytes() == first


def test_a_poorer_skeleton_keeps_the_richer(place, mesh, capsys):
    """When joints are lost against the earlier run, the earlier file is kept and named."""
    place.names = ["pelvis", "chest", "head"]
    run(mesh, "--quiet", "--no-sheet")
    place.names = ["pelvis", "chest"]
    assert run(mesh, "--no-sheet") == 0
    told = "".join(capsys.readouterr().out.split())  # a long path is broken over lines
    assert "keeper.skeleton.previous.json" in told
    assert "head" in mesh.with_name("keeper.skeleton.previous.json").read_text()


def test_version_is_printed(capsys):
    """--version prints the name and the number."""
    with pytest.raises(SystemExit) as caught:
        cli.main(["--version"])
    assert caught.value.code == 0
    assert capsys.readouterr().out.startswith("autoplace 0.")


@pytest.mark.parametrize(
    "command", [["--help"], ["place", "--help"], ["check", "--help"], ["demo", "--help"]]
)
def test_help_answers_at_once(command):
    """Help takes less than 0.4 s, the interpreter's start counted."""
    seconds = []
    for _ in range(5):
        start = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-m", "autoplace", *command], capture_output=True, text=True
        )
        seconds.append(time.perf_counter() - start)
        assert done.returncode == 0
        assert "usage: autoplace" in done.stdout
        if seconds[-1] < 0.4:
            break
    assert min(seconds) < 0.4


def test_help_names_every_role(capsys):
    """The roles in the help are those there are."""
    from autoplace.mesh.pieces import ROLES

    with pytest.raises(SystemExit):
        cli.main(["place", "--help"])
    told = capsys.readouterr().out
    assert all(role in told for role in ROLES)


def test_a_reader_that_leaves_early_is_no_fault(place, mesh, capsys, monkeypatch):
    """`autoplace place ... | head -1` ends without a complaint."""

    def gone(*args: object) -> None:
        raise BrokenPipeError

    monkeypatch.setattr("autoplace.commands.place.print_text", gone)
    monkeypatch.setattr(cli.os, "dup2", lambda *fds: None)
    monkeypatch.setattr("sys.stdout.fileno", lambda: 1, raising=False)
    assert run(mesh, "--quiet") == 0
    assert run(mesh) == 141  # 128 + SIGPIPE (13), as shells report it
    assert "Traceback" not in capsys.readouterr().err
