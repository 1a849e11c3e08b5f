"""Draws what was kept of an old skeleton for a person at a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from autoplace.reports.blocks import count_of, heading, lines

if TYPE_CHECKING:
    from autoplace.keep.locked_joints import KeepResult
    from autoplace.keep.moves import KeptJoint

__all__ = ["keep_text"]

MOST_ANEW = 10
"""Joints placed anew that are listed, those that moved farthest first; `--json` has all."""
BY = {
    "vertices": "The vertices of both models correspond; locked joints went with those around.",
    "bones": "The vertices of the models do not correspond; locked joints keep their place beside "
    "the bones of skeletons placed anew in both.",
}


def keep_text(keeping: KeepResult) -> RenderableType:
    """A table of the joints: kept or placed anew, and how far each moved."""
    kept = [move for move in keeping.moves if move.kept]
    anew = [move for move in keeping.moves if not move.kept and move.moved is not None]
    anew.sort(key=lambda move: (-(move.moved or 0.0), move.name))
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="dim")
    table.add_column("")
    table.add_column("joint")
    table.add_column("")
    for title in ("moved, units", "% of height", "% from anew"):
        table.add_column(title, justify="right")
    for move in (*kept, *anew[:MOST_ANEW]):
        table.add_row(*_row(move))
    told = [BY[keeping.carried_by], *([keeping.note] if keeping.note else [])]
    rest = anew[MOST_ANEW:]
    if rest:
        told.append(
            f"{count_of(len(rest), 'more joint')} placed anew moved by "
            f"{100 * (rest[0].share or 0.0):.2f} % of the height or less."
        )
    new = [move.name for move in keeping.moves if move.moved is None]
    if new:
        told.append(f"Not in the old skeleton: {', '.join(new)}.")
    if keeping.lost:
        told.append(f"Only in the old skeleton: {', '.join(keeping.lost)}.")
    title = (
        f"Kept {count_of(len(kept), 'locked joint')}, placed {len(keeping.moves) - len(kept)} anew"
    )
    return Group(heading(title), table, lines(told))


def _row(move: KeptJoint) -> tuple[str | Text, ...]:
    def percent(share: float | None) -> str:
        return "" if share is None else f"{100 * share:.2f}"

    return (
        "",
        move.name,
        Text("kept", style="green") if move.kept else Text("anew", style="dim"),
        "" if move.moved is None else f"{move.moved:.4g}",
        percent(move.share),
        percent(move.from_anew),
    )
