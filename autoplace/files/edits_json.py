"""Edits as `*.edits.json`: what a person decided about a skeleton, apart from the skeleton.

The format is written down in `edits.schema.json` beside this module. Only what differs from the
placed skeleton is written, joints by name, so that the same decisions give the same bytes.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from autoplace.errors import SkeletonError
from autoplace.files.atomic import write_whole
from autoplace.files.json_fields import Fields, parse_json
from autoplace.files.json_text import laid_out, plain, read_bounded, refuse_half_characters
from autoplace.files.skeleton_json import source_data, source_from
from autoplace.skeleton.edits import Edits, JointEdit

__all__ = ["FORMAT", "SCHEMA", "VERSION", "dump_edits", "read_edits", "write_edits"]

FORMAT = "autoplace.edits"
VERSION = 1
SCHEMA = Path(__file__).with_name("edits.schema.json")
"""Where the JSON Schema of the format lies."""
LARGEST = 4 * 2**20
"""Files above 4 MB are refused unread: a hundred edits take about 0.01 MB."""


def write_edits(edits: Edits, path: str | Path) -> Path:
    """Writes an edits file, whole or not at all; gives the path back.

    Raises SkeletonError when the record holds what the format cannot, OutputError when the file
    cannot be written.
    """
    return write_whole(path, dump_edits(edits).encode("utf-8"))


def dump_edits(edits: Edits) -> str:
    """The text of an edits file; raises SkeletonError as `write_edits` does."""
    data: dict[str, Any] = {
        "format": FORMAT,
        "version": VERSION,
        "source": source_data(edits.source),
    }
    for chain, count in (("spine", edits.spine), ("neck", edits.neck)):
        if count is not None:
            data[chain] = count
    data["joints"] = [_joint_data(edit) for edit in edits.joints]
    text = laid_out(data) + "\n"
    refuse_half_characters(text)
    _edits(Fields(json.loads(text), "the edits"))  # never write what would not be read
    return text


def read_edits(path: str | Path) -> Edits:
    """Reads an edits file.

    Raises FileMissing when the file cannot be opened and SkeletonError, naming the place and the
    mending, when it breaks the format.
    """
    path = Path(path)
    content = read_bounded(path, LARGEST, "edits")
    try:
        return _edits(Fields(parse_json(content), "the file"))
    except SkeletonError as reason:
        raise SkeletonError(f"'{path}' is no edits file we can use: {reason}") from reason


def _joint_data(edit: JointEdit) -> dict[str, Any]:
    data: dict[str, Any] = {"name": edit.name}
    if edit.position is not None:
        data["position"] = plain(edit.position)
    if edit.locked:
        data["locked"] = True
    return data


def _edits(data: Fields) -> Edits:
    form = data.text("format")
    if form == "autoplace.skeleton":
        raise SkeletonError(
            "it is a skeleton; give the *.edits.json that was saved beside it, or the skeleton "
            "with --keep."
        )
    if form != FORMAT:
        raise SkeletonError(f"its format is '{form}', not '{FORMAT}'.")
    version = data.whole("version")
    if version != VERSION:
        raise SkeletonError(
            f"it has version {version} of the format and this program reads {VERSION}: "
            "use the program's version that wrote it."
        )
    edits = Edits(
        source_from(data.group("source")),
        tuple(_joint(entry) for entry in data.groups("joints", label="name")),
        spine=data.whole("spine") if data.has("spine") else None,
        neck=data.whole("neck") if data.has("neck") else None,
    )
    data.done()
    return edits


def _joint(entry: Fields) -> JointEdit:
    edit = JointEdit(
        entry.text("name", filled=True),
        entry.vector("position") if entry.has("position") else None,
        entry.flag("locked") if entry.has("locked") else False,
    )
    entry.done()
    if edit.says_nothing:
        raise SkeletonError(
            f"the edit of '{edit.name}' says nothing: give it a position or \"locked\": true, or "
            "leave it out."
        )
    return edit
