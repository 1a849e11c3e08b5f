"""Draws the report of orienting a skeleton for a person at a terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rich.console import Group, RenderableType
from rich.text import Text

from autoplace.reports.blocks import (
    count_of,
    findings_table,
    findings_title,
    grid,
    heading,
    lines,
)

if TYPE_CHECKING:
    from autoplace.jobs.orient import OrientJob

__all__ = ["conventions_text", "orient_text"]

MIRRORS = {
    "motion": "equal values move both sides in mirror image",
    "axes": "the sides' axes are parallel where they can be",
}


def orient_text(job: OrientJob, seconds: float) -> RenderableType:
    """Convention, what turned, how hinges were found, findings about axes, and the files."""
    report = job.report
    title = Text(job.file, style="bold")
    title.append(
        f"   {count_of(report['joints'], 'joint')}, {report['turned']} turned, in {seconds:.2f} s",
        style="dim",
    )
    blocks: list[RenderableType] = [title, heading("Axes"), _axes(report)]
    if report["hinges"]:
        blocks += [heading("Bend planes"), _hinges(report["hinges"])]
    guessed = [row for row in job.opened.guess if row.name is not None]
    if guessed:
        blocks += [heading("Taken for"), _guess(job)]
    findings = report["findings"]
    blocks += [heading(findings_title(findings)), findings_table(findings)]
    if job.opened.notes:
        blocks += [heading("Notes"), lines(job.opened.notes)]
    files = grid()
    for path in reversed(job.written.paths()):
        files.add_row("", Text(str(path), style="green", overflow="fold"))
    for path in job.kept:
        files.add_row("", Text(f"{path} is the skeleton that stood there before.", style="yellow"))
    return Group(*blocks, heading("Written"), files)


def conventions_text(described: Mapping[str, str]) -> RenderableType:
    """The conventions that come with the program, a line each."""
    table = grid(columns=2)
    for name, description in described.items():
        table.add_row("", Text(name, style="cyan"), Text(description))
    return table


def _axes(report: Mapping[str, Any]) -> RenderableType:
    convention = report["convention"]
    table = grid(columns=2)

    def row(label: str, value: str) -> None:
        table.add_row("", Text(label, style="dim"), Text(value))

    row("convention", convention.get("convention", "of its own"))
    row("aims", f"{convention['aim']} points at the child")
    row("bends", f"a turn about {convention['bend']}")
    row("sides", MIRRORS[convention["mirror"]])
    for chain, facing in convention.get("facing", {}).items():
        if facing != "flex":
            row(chain, f"the remaining axis faces {facing.replace('_', ' ')}")
    farthest = report["farthest"]
    if report["turned"]:
        row("turned", f"farthest {farthest['joint']}, by {farthest['degrees']:.1f} degrees")
    else:
        row("turned", "nothing: the axes were like this already")
    if report["spine_axes"] is not None:
        row("spine", f"all bend axes within {report['spine_axes']:.2g} degrees of one another")
    return table


def _hinges(hinges: Mapping[str, Mapping[str, Any]]) -> RenderableType:
    table = grid(columns=2)
    for name, hinge in hinges.items():
        if "facing" in hinge:
            told = f"faces {hinge['facing'].replace('_', ' ')}, as the convention asks"
        else:
            own = round(100 * hinge["own_share"])
            whence = {0: "from the body alone", 100: "from its own joints alone"}.get(
                own, f"{own} % from its own joints"
            )
            told = f"bent {hinge['bent']:.0f} degrees; plane {whence}"
        table.add_row("", Text(name, style="dim"), Text(told))
    return table


def _guess(job: OrientJob) -> RenderableType:
    table = grid(columns=3)
    for row in job.opened.guess:
        told = f"by {row.how} ({round(100 * row.sure)} % sure)" if row.name else ""
        taken = Text(row.name, style="cyan") if row.name else Text("not recognised", style="yellow")
        table.add_row("", Text(row.own_name), taken, Text(told, style="dim"))
    return table
