"""What the README shows is what happens."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest

from autoplace import cli
from autoplace.data import data_folder
from autoplace.files.convention_file import convention_names, load_convention
from autoplace.skeleton.name_tables import load_names, named_by_table
from tests.figures import standard_skeleton

README = Path(__file__).resolve().parent.parent / "README.md"
TEXT = README.read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", TEXT, flags=re.DOTALL)


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    """A working folder with the demo character that the README speaks of."""
    shutil.copyfile(data_folder("meshes") / "keeper.obj", tmp_path / "keeper.obj")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_python_lines_run(folder, capsys):
    """The five lines of Python run as they stand and write what they say."""
    (code,) = blocks("python")
    assert len([line for line in code.splitlines() if line.strip()]) == 5
    exec(compile(code, "README.md", "exec"), {})
    assert (folder / "keeper.skeleton.json").is_file()


@pytest.mark.usefixtures("placing_once")
def test_the_printed_report_is_what_is_printed(folder, capsys):
    """The report in the README is the real one, the numbers aside."""

    def wording(text: str) -> list[str]:
        lines = [re.sub(r"[0-9][0-9.,]*", "#", line).rstrip() for line in text.splitlines()]
        return [line for line in lines if line]

    (shown,) = blocks("text")
    assert cli.main(["place", "keeper.obj"]) == 0
    assert wording(capsys.readouterr().out) == wording(shown)


def test_the_commands_are_accepted():
    """Every `autoplace` command line in the README has arguments that the parser takes."""
    lines = [
        shlex.split(line, comments=True)[1:]
        for block in blocks("sh")
        for line in block.splitlines()
        if line.startswith("autoplace ")
    ]
    assert len(lines) >= 5
    for arguments in lines:
        cli.parser().parse_args(cli._join_axes(arguments))


def test_linked_files_exist():
    """Pictures and pages that the README points at are there."""
    links = re.findall(r"\]\((?!http)([^)#]+)\)", TEXT)
    assert "meshes/keeper.sheet.png" in links
    for link in links:
        assert (README.parent / link).is_file(), link
    assert (README.parent / "meshes/keeper.sheet.png").stat().st_size < 1e6


def test_the_convention_shown_is_one(tmp_path):
    """The TOML lines are a convention that loads, and say what the text beside them does."""
    text = blocks("toml")[0]
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    convention = load_convention(path)
    assert (convention.aim, convention.bend) == ("+X", "-Z")
    assert convention.facing_of("spine_1") == "forward"
    assert convention.facing_of("left_thumb_1") == "back_of_hand"
    assert convention.aims["wrist"][0] == "ring_1"


def test_the_names_shown_are_a_table(tmp_path):
    """The TOML lines are a table of names, for the joints that the README names."""
    path = tmp_path / "names.toml"
    path.write_text(blocks("toml")[1], encoding="utf-8")
    figure = standard_skeleton()
    called, _ = named_by_table(figure, figure.names, load_names(path))
    names = dict(zip(figure.names, called, strict=True))
    assert (names["pelvis"], names["left_knee"]) == ("root", "knee_port")
    assert names["right_hip"] == "right_hip"


def test_the_conventions_named_come_along():
    """Those that the README names are the ones in the folder."""
    (line,) = [line for line in TEXT.splitlines() if "templates/conventions`:" in line]
    assert set(re.findall(r"`([a-z]+)`", line)) == set(convention_names())
