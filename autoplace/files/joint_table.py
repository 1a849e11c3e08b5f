"""The joints of a skeleton as a table of comma-separated values (RFC 4180), one line a joint.

Positions, axes and spreads are in the frame and units of the skeleton. The axes are unit vectors:
where the joint's own X, Y and Z point. Numbers are the shortest texts that read back the same.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from autoplace.files.atomic import write_whole
from autoplace.files.export_notes import frame_note, names_or_own
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.structure import parent_indices

__all__ = ["COLUMNS", "dump_joint_table", "write_joint_table"]

COLUMNS = (
    "name",
    "parent",
    *("x", "y", "z"),
    *(f"{axis}_axis_{along}" for axis in "xyz" for along in "xyz"),
    "spread",
    "locked",
)
"""The header. `parent` is empty for a root; `locked` is true or false."""


def write_joint_table(
    skeleton: Skeleton, path: str | Path, *, names: Sequence[str] | None = None
) -> tuple[str, ...]:
    """Writes the table, whole or not at all; gives notes on what it cannot carry.

    `names` are what the joints, in order, are called in the file; unsaid, as in the skeleton.
    Raises SkeletonError for a broken tree, OutputError when the file cannot be written.
    """
    write_whole(path, dump_joint_table(skeleton, names=names).encode("utf-8"))
    notes = [frame_note("CSV", skeleton)]
    if any(j.evidence for j in skeleton) or skeleton.findings:
        notes.append("CSV has no column for evidence and findings; they are in the JSON.")
    return tuple(notes)


def dump_joint_table(skeleton: Skeleton, *, names: Sequence[str] | None = None) -> str:
    """The text of the table; raises as `write_joint_table` does."""
    parents = parent_indices(skeleton)
    given = names_or_own(skeleton, names)
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\r\n")
    table.writerow(COLUMNS)
    for index, joint in enumerate(skeleton):
        above = int(parents[index])
        numbers = [*joint.position, *(v for axis in joint.axes for v in axis), joint.spread]
        table.writerow(
            [
                given[index],
                given[above] if above >= 0 else "",
                *(repr(float(v) + 0.0) for v in numbers),
                "true" if joint.locked else "false",
            ]
        )
    return text.getvalue()
