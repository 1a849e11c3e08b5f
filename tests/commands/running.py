"""A command run as a user runs it, and what the tests of commands ask of it."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest

from autoplace import cli


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> SimpleNamespace:
    """The exit code and what was printed on both streams."""
    capsys.readouterr()
    code = cli.main([str(a) for a in arguments])
    told = capsys.readouterr()
    return SimpleNamespace(code=code, out=told.out, err=told.err)


def refused(told: SimpleNamespace, *words: str) -> None:
    """Exit code 2 and one sentence with these words, no traceback."""
    assert told.code == 2, told.err
    assert told.out == ""
    (sentence,) = [line for line in told.err.splitlines() if line.startswith("autoplace: ")]
    assert len(sentence) < 450
    assert "Traceback" not in told.err
    for word in words:
        assert word.lower() in sentence.lower(), sentence


def names_in(folder: Path) -> list[str]:
    """The names of all that a folder holds, sorted."""
    return sorted(path.name for path in folder.iterdir())
