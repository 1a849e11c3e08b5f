"""Runs `autoplace place` on a bad file and holds what every refusal must be."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from autoplace import cli


@dataclass(frozen=True)
class Told:
    """What one run said."""

    code: int
    out: str
    err: str

    @property
    def report(self) -> dict[str, Any]:
        return json.loads(self.out)

    @property
    def sentence(self) -> str:
        """The last line on the error stream: progress lines may stand before it."""
        return self.err.strip().splitlines()[-1]

    def findings_about(self, *words: str) -> list[str]:
        """Messages of the findings that contain all the words, case aside."""
        told = [
            f"{finding['joint'] or ''} {finding['message']} {finding['fix']}"
            for finding in self.report["findings"]
        ]
        return [text for text in told if all(word.lower() in text.lower() for word in words)]


def run_place(capsys: pytest.CaptureFixture[str], mesh: Path, *options: str) -> Told:
    """`autoplace place MESH --json --no-sheet` with further options."""
    capsys.readouterr()
    code = cli.main(["place", str(mesh), "--json", "--no-sheet", *options])
    told = capsys.readouterr()
    return Told(code, told.out, told.err)


def assert_refused(told: Told, mesh: Path, *words: str) -> None:
    """Exit code 2, one clear sentence with the given words, no traceback, no file left behind."""
    assert told.code == 2, told.err
    assert told.out == ""
    assert told.sentence.startswith("autoplace: ")
    assert len(told.sentence) < 400
    for word in words:
        assert word.lower() in told.sentence.lower(), told.sentence
    for never in ("Traceback", "Error(", "numpy", "trimesh", "array("):
        assert never not in told.err
    assert sum(line.startswith("autoplace: ") for line in told.err.splitlines()) == 1
    left = [p.name for p in mesh.parent.iterdir() if p.name != mesh.name] if mesh.parent else []
    assert left == []


def assert_placed(told: Told) -> None:
    """Exit code 0 and a report of joints."""
    assert told.code == 0, told.err
    assert "pelvis" in told.report["joint_names"]
