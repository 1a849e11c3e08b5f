"""The folder in which tests keep what is fetched or built but once."""

from __future__ import annotations

import os
import subprocess
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

import pytest
from filelock import FileLock

__all__ = ["cache_folder", "only_one", "run_npm", "skip_loudly"]


def cache_folder() -> Path:
    """The user's cache folder for these tests, made when it is not there."""
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    folder = Path(base) / "autoplace-tests"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@contextmanager
def only_one(what: str) -> Iterator[None]:
    """Lets one process at a time fetch or build a thing of this name; the others wait."""
    with FileLock(cache_folder() / f"{what}.lock"):
        yield


def run_npm(words: list[str], folder: Path, seconds: float) -> str:
    """Why npm could not do what it was asked to in a folder; empty when it did."""
    try:
        done = subprocess.run(
            ["npm", *words],
            cwd=folder,
            capture_output=True,
            text=True,
            timeout=seconds,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        return f"npm {words[0]} failed: {error}"
    return f"npm {words[0]} failed: {done.stderr.strip()[-200:]}" if done.returncode else ""


def skip_loudly(what: str, why: object) -> NoReturn:
    """Skips a test for which a thing cannot be had, with a warning; in CI that is a failure."""
    if os.environ.get("CI"):
        pytest.fail(f"THE {what.upper()} IS MISSING: {why}")
    warnings.warn(f"THE {what.upper()} IS MISSING, NOTHING WAS TESTED WITH IT: {why}", stacklevel=2)
    pytest.skip(f"the {what} is missing: {why}")
