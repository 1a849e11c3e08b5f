"""`autoplace place --page`: the page is one of a run's files, and is refused before the work."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from autoplace import cli
from autoplace.data import data_folder


@pytest.fixture
def mesh(tmp_path) -> Path:
    path = tmp_path / "keeper.obj"
    shutil.copyfile(data_folder("meshes") / "keeper.obj", path)
    return path


def refused(capsys, *arguments: object) -> str:
    """What a run that must stop with one sentence says."""
    assert cli.main([*map(str, arguments), "--quiet"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    return " ".join(told.err.split())


@pytest.mark.usefixtures("placing_once")
def test_the_page_is_written_with_the_rest(mesh, tmp_path, capsys):
    """A placed demo character gets its page, which names it, its template and its joints."""
    page = tmp_path / "out.html"
    assert cli.main(["place", str(mesh), "--no-sheet", "--page", str(page), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["files"].keys() == {"skeleton", "page"}
    assert "page" in told["timings"]
    text = page.read_text(encoding="utf-8")
    sure = round(100 * told["template"]["confidence"])
    assert "<h1>keeper</h1>" in text
    assert f"{told['template']['name']}, {sure} percent sure" in text
    assert all(f'"name":"{name}"' in text for name in told["joint_names"])
    assert page.stat().st_size < 7e6


def test_a_page_must_end_in_html(mesh, tmp_path, capsys):
    """Another ending is refused with the one it must have."""
    assert "must end in .html" in refused(capsys, "place", mesh, "--page", tmp_path / "out.pdf")


def test_a_page_of_somebody_else_is_left_alone(mesh, tmp_path, capsys):
    """An HTML file that autoplace did not write stops the run before it starts."""
    page = tmp_path / "out.html"
    page.write_text("<p>mine</p>")
    assert "not written by autoplace" in refused(capsys, "place", mesh, "--page", page)
    assert page.read_text() == "<p>mine</p>"
    assert not (tmp_path / "keeper.skeleton.json").exists()
