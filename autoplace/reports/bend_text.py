"""Draws the report of a bend test for a person at a terminal; finds nothing out itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from autoplace.skeleton.bending.records import BendReport, BendResult, headline

if TYPE_CHECKING:
    from autoplace.jobs.bend import BendJob

__all__ = ["bend_text"]

STATES = {"passed": "green", "failed": "bold red", "not run": "dim"}
MOST_FAILURES = 6
"""Failures of one test that are told; of more, the rest is counted."""


def bend_text(job: BendJob, seconds: float) -> RenderableType:
    """A row for each test with what was measured, failures in full, and the picture's path."""
    title = Text(job.mesh, style="bold")
    title.append(
        f"   {job.face_count:,} triangles, {job.joint_count} joints, {_tally(job.report)} in "
        f"{seconds:.2f} s",
        style="dim",
    )
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(width=0)
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for result in job.report.results:
        state = Text(result.state, style=STATES[result.state])
        table.add_row("", Text(result.title), state, _told(result))
    blocks: list[RenderableType] = [title, Text("\nBend test", style="bold"), table]
    notes = [*job.report.notes, *job.notes]
    if notes:
        blocks += [Text("\nTo know", style="bold"), *(Text(f"  {n}", style="dim") for n in notes)]
    if job.strip is not None:
        blocks += [Text("\nWritten", style="bold"), Text(f"  {job.strip}", style="green")]
    return Group(*blocks)


def _tally(report: BendReport) -> str:
    run = [result for result in report.results if result.state != "not run"]
    return f"{sum(r.state == 'passed' for r in run)} of {len(run)} tests passed"


def _told(result: BendResult) -> Text:
    if result.state == "not run":
        return Text(result.reason, style="dim")
    if result.failures:
        shown = [measure.sentence for measure in result.failures[:MOST_FAILURES]]
        more = len(result.failures) - len(shown)
        return Text("\n".join([*shown, *([f"and {more} more"] if more else [])]))
    measure = headline(result)
    if measure is None:
        return Text("")
    bound = f" ({measure.limit})" if measure.limit else ""
    return Text(f"{measure.sentence[:-1]}{bound}")
