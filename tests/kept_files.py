"""The folder in which tests keep what is fetched or built but once."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock

__all__ = ["cache_folder", "only_one"]


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
