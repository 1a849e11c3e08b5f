"""Draws what a person's edits changed for a person at a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from autoplace.reports.blocks import count_of, heading, lines

if TYPE_CHECKING:
    from autoplace.keep.edited import EditResult

__all__ = ["edits_text"]

MOST_JOINTS = 20
"""Joints that are listed, those that moved farthest first; `--json` has all."""


def edits_text(editing: EditResult) -> RenderableType:
    """A table of the joints that were corrected, and how far each is from where it was placed."""
    # a spine joint that only was spaced anew stands where it would be placed
    corrected = [joint for joint in editing.corrected if joint.moved > 0.0 or joint.locked]
    locked = sum(joint.locked for joint in corrected)
    title = f"Corrected {count_of(len(corrected), 'joint')}"
    title += f", {locked} of them locked" if locked else ""
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="dim")
    table.add_column("")
    table.add_column("joint")
    table.add_column("")
    for name in ("from placed, units", "% of height"):
        table.add_column(name, justify="right")
    listed = sorted(corrected, key=lambda joint: -joint.moved)
    for joint in listed[:MOST_JOINTS]:
        mark = Text("locked", style="green") if joint.locked else Text("")
        table.add_row("", joint.name, mark, f"{joint.moved:.4g}", f"{100 * joint.share:.2f}")
    told = []
    if listed[MOST_JOINTS:]:
        told.append(
            f"{count_of(len(listed) - MOST_JOINTS, 'more joint')} corrected by "
            f"{100 * listed[MOST_JOINTS].share:.2f} % of the height or less."
        )
    record = editing.placed.report["edits"]
    for chain in ("spine", "neck"):
        if record[chain] is not None:
            told.append(f"The {chain} has {count_of(record[chain], 'joint')}, as asked for.")
    return Group(heading(title), *([table] if corrected else []), lines(told))
