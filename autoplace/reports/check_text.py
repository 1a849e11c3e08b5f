"""Draws the report of a check for a person at a terminal: worst first, how to mend beside it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from autoplace.reports.blocks import count_of, grid, heading, lines

if TYPE_CHECKING:
    from autoplace.jobs.check import CheckJob
    from autoplace.skeleton.mend_record import Change
    from autoplace.skeleton.model import Finding

__all__ = ["check_text"]

LEVELS = {"error": ("Errors", "bold red"), "warning": ("Warnings", "yellow"), "note": ("Notes", "")}
"""The worst first: how each is called and coloured."""


def check_text(job: CheckJob, seconds: float) -> RenderableType:
    """What was mended, what was found by level, what could not be checked, and what was written."""
    title = Text(job.skeleton.name, style="bold")
    against = f" in {job.mesh.name}" if job.mesh else ""
    title.append(
        f"{against}   {count_of(len(job.opened.skeleton), 'joint')} in {seconds:.2f} s", style="dim"
    )
    blocks: list[RenderableType] = [title]
    if job.changes:
        blocks += [heading(f"Mended ({len(job.changes)})"), _changes(job.changes)]
    found = job.survey.findings
    for level, (label, style) in LEVELS.items():
        here = [finding for finding in found if finding.level == level]
        if here:
            blocks += [heading(f"{label} ({len(here)})"), _findings(here, style)]
    if not found:
        blocks += [heading("Findings"), Text("  nothing to look at")]
    blocks += [heading("Checked"), _checked(job)]
    if job.notes:
        blocks += [heading("While reading the files"), lines(job.notes)]
    if job.written is not None:
        files = grid()
        files.add_row("", Text(str(job.written.skeleton), style="green", overflow="fold"))
        for path in job.kept:
            files.add_row(
                "", Text(f"{path} is the skeleton that stood there before.", style="yellow")
            )
        blocks += [heading("Written"), files]
    return Group(*blocks)


def _changes(changes: Sequence[Change]) -> Table:
    """What was mended; joints of which the same is said stand together."""
    groups: dict[tuple[str, str, str], list[Change]] = {}
    for change in changes:
        groups.setdefault((change.what, change.after, change.why), []).append(change)
    table = _two_columns()
    for (what, after, why), alike in groups.items():
        table.add_row(Text(f"  {alike[0].joint}"), Text(f"{what}: {alike[0].before} → {after}"))
        for change in alike[1:]:
            table.add_row(Text(f"  {change.joint}"), Text(change.before))
        table.add_row("", Text(f"since {why}", style="dim"))
    return table


def _findings(findings: Sequence[Finding], style: str) -> Table:
    """Findings of one level; those with one limit that are mended in one way stand together."""
    groups: dict[tuple[str, str, float | None], list[Finding]] = {}
    for finding in findings:
        limit = finding.limit if _figure(finding) else None  # else each message says its own
        groups.setdefault((finding.check, finding.fix, limit), []).append(finding)
    table = _two_columns()
    for (check, fix, _), alike in groups.items():
        table.add_row(Text(f"  {check}", style=style), "")
        for number, finding in enumerate(alike):
            joint = Text(f"    {finding.joint or ''}")
            figure = _figure(finding)
            again = number > 0 and figure and finding.joint
            table.add_row(joint, Text(f"{figure}" if again else finding.message))
        table.add_row("", Text(f"→ {fix}", style="dim"))
    return table


def _figure(finding: Finding) -> str:
    """What was measured, in a word; empty where it is no number or the message says more."""
    if finding.measured is None or finding.limit is None:
        return ""
    measured = finding.measured
    return {
        "deg": f"{measured:.3g} degrees",
        "height": f"{100 * abs(measured):.2g} % of the height",
        "radius": f"{100 * measured:.0f} % of the eyeball's radius",
    }.get(finding.unit, "")


def _checked(job: CheckJob) -> RenderableType:
    """How much was looked at, and why the rest was not."""
    survey = job.survey
    whys: dict[str, list[str]] = {}
    for name, why in survey.not_run.items():
        whys.setdefault(why, []).append(name)
    count = len(survey.ran) + len(survey.not_run)
    table = grid()
    table.add_row(
        "",
        f"{len(survey.ran)} of {count} checks ran"
        + (f"; {len(survey.not_run)} could not" if whys else ""),
    )
    for why, names in whys.items():
        table.add_row("", Text(f"{', '.join(names)}: {why}", style="dim"))
    if job.least_deep is not None:
        depth = job.depths[job.least_deep]
        where = "outside of" if depth < 0 else "under"
        told = f"least deep is {job.least_deep}, {100 * abs(depth):.2g} % of the height {where} "
        table.add_row("", Text(told + "the surface", style="dim"))
    if job.opened.guess:
        guessed = sum(row.name is not None for row in job.opened.guess)
        told = f"{guessed} of {len(job.opened.guess)} joints were recognised by name, hierarchy "
        table.add_row("", Text(told + "or place; --json lists them", style="dim"))
    return table


def _two_columns() -> Table:
    """A table of two columns: a narrow one for names, and one for sentences."""
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(max_width=28, overflow="fold")
    table.add_column(overflow="fold")
    return table
