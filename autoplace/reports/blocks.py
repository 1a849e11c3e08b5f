"""What the drawn reports are made of: a console, headings, lists, and a table of findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

__all__ = [
    "console_for",
    "count_of",
    "findings_table",
    "findings_title",
    "grid",
    "heading",
    "lines",
]

PIPE_WIDTH = 100
"""Columns when the output goes to a file or a pipe."""
LEVELS = {"error": ("error", "bold red"), "warning": ("warning", "yellow"), "note": ("note", "dim")}
"""Of findings, the worst first: how each is called and coloured."""


def console_for(stream: Any) -> Console:
    """A console on a stream that neither colours numbers nor reads brackets in names as markup."""
    width = None if stream.isatty() else PIPE_WIDTH
    return Console(file=stream, width=width, highlight=False, markup=False, emoji=False)


def findings_title(findings: Sequence[Mapping[str, Any]]) -> str:
    """'Findings', with how many there are of each level."""
    counts = [
        count_of(number, level)
        for level in LEVELS
        if (number := sum(finding.get("level") == level for finding in findings))
    ]
    return "Findings" + (f" ({', '.join(counts)})" if counts else "")


def findings_table(findings: Sequence[Mapping[str, Any]]) -> RenderableType:
    """One row for each kind of finding: the worst first, repeats named after the first."""
    if not findings:
        return Text("  nothing to look at")
    rank = {level: at for at, level in enumerate(LEVELS)}
    kinds: dict[tuple[int, str, str], list[Mapping[str, Any]]] = {}
    for finding in findings:
        at = rank.get(str(finding.get("level")), len(rank) - 1)
        kinds.setdefault((at, str(finding.get("check")), str(finding.get("fix"))), []).append(
            finding
        )
    table = grid(columns=2)
    for (at, _, fix), alike in sorted(kinds.items(), key=lambda item: item[0][0]):
        label, style = list(LEVELS.values())[at]
        first = alike[0]
        joint, message = str(first.get("joint") or ""), str(first["message"])
        text = Text(message if not joint or joint in message else f"{joint}: {message}")
        others = [str(finding.get("joint") or finding["message"]) for finding in alike[1:]]
        if others:
            text.append("\nalso " + ", ".join(others))
        if fix and fix != "None":
            text.append(f"\n→ {fix}", style="dim")
        table.add_row("", Text(label, style=style), text)
    return table


def lines(sentences: Sequence[str]) -> Table:
    """One sentence a line."""
    table = grid()
    for line in sentences:
        table.add_row("", Text(line, style="dim"))
    return table


def grid(columns: int = 1) -> Table:
    """An empty table of so many columns, set in a little."""
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(width=0)
    for _ in range(columns - 1):
        table.add_column(no_wrap=False)
    table.add_column(overflow="fold")
    return table


def heading(text: str) -> Text:
    """The title of a block, with room above."""
    return Text(f"\n{text}", style="bold")


def count_of(number: int, noun: str) -> str:
    """A number with its noun, such as '1 joint' or '3 joints'."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
