"""Draws the plain-data report of a placing for a person at a terminal; finds nothing out itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from autoplace.job import Job

__all__ = ["console_for", "job_text", "report_text"]

MOST_PARTS = 16
"""Parts listed one by one; beyond that each role gets one line, or the list scrolls away."""
PIPE_WIDTH = 100
"""Columns when the output goes to a file or a pipe."""
LEVELS = {"error": ("error", "bold red"), "warning": ("look at", "yellow"), "note": ("note", "dim")}


def console_for(stream: Any) -> Console:
    """A console on a stream that neither colours numbers nor reads brackets in names as markup."""
    width = None if stream.isatty() else PIPE_WIDTH
    return Console(file=stream, width=width, highlight=False, markup=False, emoji=False)


def job_text(job: Job, seconds: float) -> RenderableType:
    """The report of one run with the files it wrote."""
    skeleton = job.result.skeleton
    title = Text(skeleton.source.mesh or "character", style="bold")
    title.append(
        f"   {_count(job.part_count, 'part')}, {job.face_count:,} triangles, "
        f"{_count(len(skeleton), 'joint')} in {seconds:.2f} s",
        style="dim",
    )
    files = _grid()
    for path in (job.written.skeleton, job.written.sheet, job.written.export):
        if path is not None:
            files.add_row("", Text(str(path), style="green", overflow="fold"))
    for path in job.kept:
        files.add_row(
            "",
            Text(
                f"{path} is the skeleton that stood there before; it has joints that the new one "
                "lacks.",
                style="yellow",
            ),
        )
    return Group(
        title,
        report_text(job.result.report),
        *(Text(f"  note: {note}", style="dim") for note in job.notes),
        _heading("Written"),
        files,
    )


def report_text(report: Mapping[str, Any]) -> RenderableType:
    """What was found: parts, frame, hands, eyes, template and findings."""
    blocks: list[RenderableType] = []
    parts = report.get("parts") or []
    if parts:
        blocks += [_heading("Parts"), _parts(parts)]
    blocks += [_heading("Character"), _character(report)]
    blocks += [_heading("Findings"), _findings(report.get("findings") or [])]
    return Group(*blocks)


def _parts(parts: Sequence[Mapping[str, Any]]) -> Table:
    table = _grid(columns=3)
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
            "", Text(_count(len(names), "part")), Text(role.replace("_", " "), style="cyan"), shown
        )
    return table


def _character(report: Mapping[str, Any]) -> Table:
    table = _grid(columns=2)

    def row(label: str, value: str) -> None:
        table.add_row("", Text(label, style="dim"), Text(value))

    frame = report.get("frame")
    if frame:
        row("stands", f"up {frame['up']}, facing {frame['forward']}")
        row("height", f"{frame['height']:.6g} units of the file")
        row(
            "symmetry",
            f"the two sides differ by {100 * frame['symmetry_residual']:.2f} % of the height",
        )
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


def _hand(hand: Mapping[str, Any] | None) -> str:
    if not hand or hand.get("found") is False:
        return str((hand or {}).get("why") or "none found")
    count = int(hand.get("fingers") or 0)
    if not count:
        return str(hand.get("why") or "no fingers found")
    names = hand.get("names")
    return _count(count, "finger") + (f": {', '.join(names)}" if names else "")


def _eye(eye: Mapping[str, Any] | None) -> str:
    if not eye or eye.get("found") is False:
        return str((eye or {}).get("why") or "no eyeball found")
    for key in ("why", "reason", "note"):
        if eye.get(key):
            return str(eye[key])
    return f"eyeball in {eye['part']!r}" if eye.get("part") else "eyeball found"


def _findings(findings: Sequence[Mapping[str, Any]]) -> RenderableType:
    if not findings:
        return Text("  nothing to look at")
    table = _grid(columns=2)
    order = list(LEVELS)
    rank = {level: at for at, level in enumerate(order)}
    for finding in sorted(findings, key=lambda f: rank.get(str(f.get("level")), len(order))):
        label, style = LEVELS.get(str(finding.get("level")), ("note", "dim"))
        where = f"{finding['joint']}: " if finding.get("joint") else ""
        text = Text(f"{where}{finding['message']}")
        if finding.get("fix"):
            text.append(f"\n→ {finding['fix']}", style="dim")
        table.add_row("", Text(label, style=style), text)
    return table


def _grid(columns: int = 1) -> Table:
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(width=0)
    for _ in range(columns - 1):
        table.add_column(no_wrap=False)
    table.add_column(overflow="fold")
    return table


def _heading(text: str) -> Text:
    return Text(f"\n{text}", style="bold")


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _percent(share: float | None) -> str:
    return "?" if share is None else f"{100 * share:.0f} %"
