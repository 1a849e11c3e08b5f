"""Draws the plain-data report of a placing for a person at a terminal; finds nothing out itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from autoplace.reports.blocks import count_of, findings_table, findings_title, grid, heading, lines
from autoplace.reports.edits_text import edits_text
from autoplace.reports.keep_text import keep_text

if TYPE_CHECKING:
    from autoplace.jobs.place import Job
    from autoplace.jobs.refit import RefitJob

__all__ = ["job_text", "refit_text", "report_text"]

WITHOUT_BALL = {
    "box": "a piece that is no part of a sphere, taken in its middle",
    "face": "no eyeball modelled, read off the face",
    "proportions": "no eyeball modelled, guessed by proportions",
}
"""What is said of an eye that no ball was fitted to, by what it was placed by."""
MOST_PARTS = 16
"""Parts listed one by one; beyond that each role gets one line, or the list scrolls away."""


def job_text(job: Job, seconds: float) -> RenderableType:
    """The report of one run with the files it wrote."""
    skeleton = job.result.skeleton
    title = Text(skeleton.source.mesh or "character", style="bold")
    title.append(
        f"   {count_of(job.part_count, 'part')}, {job.face_count:,} triangles, "
        f"{count_of(len(skeleton), 'joint')} in {seconds:.2f} s",
        style="dim",
    )
    files = grid()
    for path in reversed(job.written.paths()):
        files.add_row("", Text(str(path), style="green", overflow="fold"))
    for path in job.kept:
        why = "" if job.keeping else "; it has joints that the new one lacks"
        files.add_row(
            "", Text(f"{path} is the skeleton that stood there before{why}.", style="yellow")
        )
    keeping: list[RenderableType] = []
    if job.keeping:
        keeping = [keep_text(job.keeping)]
    elif job.editing:
        keeping = [edits_text(job.editing)]
    reading: list[RenderableType] = []
    if job.notes:
        reading = [heading("While reading the file"), lines(job.notes)]
    if job.export_notes:
        reading += [heading("In the export"), lines(job.export_notes)]
    return Group(
        title,
        report_text(job.result.report),
        *keeping,
        *reading,
        heading("Written"),
        files,
    )


def refit_text(job: RefitJob, seconds: float) -> RenderableType:
    """The report of fitting part of a skeleton anew, with the files that were written."""
    result = job.result
    report = result.report
    title = Text(job.mesh, style="bold")
    title.append(
        f"   {job.face_count:,} triangles, {count_of(len(result.changed), 'joint')} fitted, "
        f"{len(result.skeleton) - len(result.changed)} left as they were, in {seconds:.2f} s",
        style="dim",
    )
    rows = grid(columns=2)
    for side, hand in (report.get("hands") or {}).items():
        rows.add_row("", Text(f"{side} hand", style="dim"), Text(_hand(hand)))
    for name, eye in (report.get("eyes") or {}).items():
        rows.add_row("", Text(str(name).replace("_", " "), style="dim"), Text(_eye(eye)))
    for name, why in (report.get("kept") or {}).items():
        rows.add_row("", Text("left alone", style="dim"), Text(f"{name}: {why}"))
    findings = report.get("findings") or []
    notes = [*(report.get("notes") or ()), *job.notes]
    reading: list[RenderableType] = [heading("Notes"), lines(notes)] if notes else []
    files = grid()
    for path in reversed(job.written.paths()):
        files.add_row("", Text(str(path), style="green", overflow="fold"))
    for path in job.kept:
        files.add_row("", Text(f"{path} is the skeleton that stood there before.", style="yellow"))
    return Group(
        title,
        heading("Found"),
        rows,
        heading(findings_title(findings)),
        findings_table(findings),
        *reading,
        heading("Written"),
        files,
    )


def report_text(report: Mapping[str, Any]) -> RenderableType:
    """What was found: parts, frame, hands, eyes, template and findings."""
    blocks: list[RenderableType] = []
    parts = report.get("parts") or []
    if parts:
        blocks += [heading("Parts"), _parts(parts)]
    blocks += [heading("Character"), _character(report)]
    findings = report.get("findings") or []
    blocks += [heading(findings_title(findings)), findings_table(findings)]
    return Group(*blocks)


def _parts(parts: Sequence[Mapping[str, Any]]) -> Table:
    table = grid(columns=3)
    if len(parts) <= MOST_PARTS:
        for part in parts:
            table.add_row(
                "",
                Text(str(part["name"])),
                Text(str(part["role"]).replace("_", " "), style="cyan"),
                Text.assemble(
                    str(part.get("reason", "")), f" ({_percent(part.get('confidence'))} sure)"
                ),
            )
        return table
    by_role: dict[str, list[str]] = {}
    for part in parts:
        by_role.setdefault(str(part["role"]), []).append(str(part["name"]))
    for role, names in sorted(by_role.items(), key=lambda item: -len(item[1])):
        shown = ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")
        table.add_row(
            "",
            Text(count_of(len(names), "part")),
            Text(role.replace("_", " "), style="cyan"),
            shown,
        )
    return table


def _character(report: Mapping[str, Any]) -> Table:
    table = grid(columns=2)

    def row(label: str, value: str) -> None:
        table.add_row("", Text(label, style="dim"), Text(value))

    frame = report.get("frame")
    if frame:
        row("stands", f"up {frame['up']}, facing {frame['forward']}")
        row("height", f"{frame['height']:.5g} units of the file")
        row(
            "symmetry",
            f"the two sides differ by {100 * frame['symmetry_residual']:.2f} % of the height",
        )
        for note in frame.get("notes") or ():
            row("", note)
    for side, hand in (report.get("hands") or {}).items():
        row(f"{side} hand", _hand(hand))
    for side, eye in (report.get("eyes") or {}).items():
        row(f"{side} eye", _eye(eye))
    template = report.get("template")
    if template:
        sure = template.get("confidence")
        row(
            "template",
            f"{template['name']}: {template['why']}"
            + (f" ({_percent(sure)} sure)" if sure is not None else ""),
        )
    return table


def _hand(hand: Mapping[str, Any]) -> str:
    count = int(hand.get("fingers") or 0)
    names, notes = hand.get("names") or (), hand.get("notes") or ()
    told = count_of(count, "finger") if count else "no fingers"
    if "length" in hand:
        told = f"{hand['length']:.4g} units long, {told}"
    return told + (f": {', '.join(names)}" if names else "") + "".join(f"; {n}" for n in notes)


def _eye(eye: Mapping[str, Any] | None) -> str:
    if not eye:
        return "no eyeball found"
    guessed = WITHOUT_BALL.get(eye.get("from", ""))
    if guessed:
        told = [guessed]
    else:
        told = [f"eyeball of radius {eye['radius']:.4g}"] if "radius" in eye else ["eyeball"]
        if "share_seen" in eye:
            told.append(f"{_percent(eye['share_seen'])} of the sphere modelled")
    if eye.get("look"):
        told.append(
            "looks forward" if eye["look"] == "forward" else f"look seen from {eye['look']}"
        )
    return ", ".join(told)


def _percent(share: float | None) -> str:
    return "?" if share is None else f"{100 * share:.0f} %"
