"""Draws the report of converting a skeleton for a person at a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.text import Text

from autoplace.reports.blocks import count_of, grid, heading, lines

if TYPE_CHECKING:
    from autoplace.jobs.convert import ConvertJob

__all__ = ["convert_text"]


def convert_text(job: ConvertJob, seconds: float) -> RenderableType:
    """From what to what, joints that are called otherwise, notes, and the file."""
    title = Text(job.skeleton.name, style="bold")
    kind = "JSON" if job.opened.format == "skeleton.json" else job.opened.format
    title.append(
        f"   {count_of(len(job.names), 'joint')} from {kind} to {job.format} in {seconds:.2f} s",
        style="dim",
    )
    blocks: list[RenderableType] = [title]
    before = [job.opened.own_names.get(n, n) for n in job.opened.skeleton.names]
    called = [(a, b) for a, b in zip(before, job.names, strict=True) if a != b]
    if called:
        table = grid(columns=2)
        for own, name in called:
            table.add_row("", Text(own, style="dim"), Text(name))
        blocks += [heading("Names"), table]
    if job.notes:
        blocks += [heading("Notes"), lines(job.notes)]
    files = grid()
    files.add_row("", Text(str(job.written), style="green", overflow="fold"))
    for path in job.kept:
        files.add_row("", Text(f"{path} is the skeleton that stood there before.", style="yellow"))
    return Group(*blocks, heading("Written"), files)
