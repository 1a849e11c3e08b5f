"""Corrections kept while they are made, so that a crash loses none."""

from __future__ import annotations

from pathlib import Path

from autoplace.errors import AutoplaceError
from autoplace.files.edits_json import read_edits, write_edits
from autoplace.skeleton.edits import Edits

__all__ = ["Draft"]

SUFFIX = ".edits.json"


class Draft:
    """A file beside the edits file, there only while something is unsaved."""

    def __init__(self, edits_path: Path) -> None:
        """`keeper.edits.json` gets the draft `keeper.unsaved.edits.json`."""
        stem = edits_path.name.removesuffix(SUFFIX)
        self.path = edits_path.with_name(f"{stem}.unsaved{SUFFIX}")

    def keep(self, edits: Edits) -> None:
        """Write the corrections as they are.

        A disk that refuses must not stop the work on the page; saving will say so.
        """
        try:
            write_edits(edits, self.path)
        except (AutoplaceError, OSError):
            return

    def found(self, sha256: str | None) -> Edits | None:
        """What a page that ended without saving left behind, if it was for this very mesh."""
        if not self.path.is_file():
            return None
        try:
            edits = read_edits(self.path)
        except AutoplaceError:
            return None
        return edits if edits.source.sha256 == sha256 else None

    def forget(self) -> None:
        """All is saved, or not wanted."""
        self.path.unlink(missing_ok=True)
