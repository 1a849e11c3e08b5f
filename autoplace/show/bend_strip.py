"""The picture strip of a bend test: a card for each pose, with what was measured in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from autoplace.show.bend_views import Shot, posed_figure, shots_of
from autoplace.show.card_page import EDGE, WIDTH, CardPage, blank_page
from autoplace.show.glyphs import Look
from autoplace.show.ink import Box, Ink
from autoplace.show.palette import CARD, FAINT, LEVELS, TEXT, Colour, lighter
from autoplace.show.panels import Painter, Panel
from autoplace.show.sheet import Sheet
from autoplace.skeleton.bending.records import BendReport, BendResult, headline
from autoplace.skeleton.bending.subject import Subject

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["compose_bend_strip", "render_bend_strip"]

IntArray = NDArray[np.int64]

COLUMNS = 4
HEAD, CARD_TALL, GAP = 140, 620, 20
"""Heights in layout units: the title, a card, and what is between."""
WORDS_TALL = 96
"""Layout units at the foot of a card for what was measured."""
PREVIEW = "preview: skin moved by a first binding"
MADE = (0, 104, 92)
"""Ink of a test that was passed."""


def render_bend_strip(
    subject: Subject,
    layers: Mapping[str, IntArray],
    report: BendReport,
    *,
    title: str,
    width: int = WIDTH,
) -> Image.Image:
    """One card for each test: the character in the pose, skeleton over it, and the number.

    `layers` are triangles (m, 3) of the subject's flesh by what they are: 'body', 'veil' and
    'eye'. `width` is the picture's in pixels; its height follows from the number of tests. The
    same input gives the same picture.
    """
    return compose_bend_strip(subject, layers, report, title=title, width=width).image


def compose_bend_strip(
    subject: Subject,
    layers: Mapping[str, IntArray],
    report: BendReport,
    *,
    title: str,
    width: int = WIDTH,
) -> Sheet:
    """As `render_bend_strip`, with the panels and views beside the picture."""
    shown = [result for result in report.results if result.poses]
    empty = [result for result in report.results if not result.poses]
    cards = len(shown) + bool(empty)
    columns = min(COLUMNS, max(cards, 1))
    rows = -(-cards // columns)
    tall = HEAD + rows * (CARD_TALL + GAP) + EDGE - GAP
    page = blank_page(posed_figure(subject, layers, {}, {}), width, tall)
    page.write_title(title, _facts(report))
    wide = (WIDTH - 2 * EDGE - (columns - 1) * GAP) / columns
    panels = []
    for number in range(cards):
        left = EDGE + (number % columns) * (wide + GAP)
        top = HEAD + (number // columns) * (CARD_TALL + GAP)
        box = page.box(left, top, left + wide, top + CARD_TALL)
        if number < len(shown):
            panels.append(_card(page, box, subject, layers, shown[number]))
        else:
            panels.append(_left_out(page, box, empty))
    return page.finished(panels)


def _facts(report: BendReport) -> list[str]:
    run = [result for result in report.results if result.state != "not run"]
    made = sum(result.state == "passed" for result in run)
    facts = [PREVIEW, f"{made} of {len(run)} tests passed"]
    left_out = len(report.results) - len(run)
    return facts + ([f"{left_out} not run"] if left_out else [])


def _card(
    page: CardPage,
    box: Box,
    subject: Subject,
    layers: Mapping[str, IntArray],
    result: BendResult,
) -> Panel:
    u = page.painter.unit
    marked = {m.joint: "error" for m in result.failures}
    figures = [posed_figure(subject, layers, pose, marked) for pose in result.poses.values()]
    painter = Painter(page.painter.page, figures[0], page.painter.letters, u)
    panel = painter.card(box, result.title)
    _seal(painter, box, result.state)
    inner = (box[0] + 14 * u, box[1] + 48 * u, box[2] - 14 * u, box[3] - WORDS_TALL * u)
    rows = shots_of(figures, result.test)
    if rows:
        names = list(result.poses) if len(result.poses) > 1 else []
        _pictures(painter, panel, rows, inner, names)
    else:
        middle = (box[0] + box[2]) / 2, (inner[1] + inner[3]) / 2
        painter.letters.write(*middle, "nothing to show", 15, FAINT, "mm")
    _words(painter, box, result)
    return panel


def _left_out(page: CardPage, box: Box, empty: Sequence[BendResult]) -> Panel:
    """One card for all tests that there is no pose for, with the reasons."""
    painter = page.painter
    u, letters = painter.unit, painter.letters
    panel = painter.card(box, "Not run")
    width = box[2] - box[0] - 40 * u
    y = box[1] + 62 * u
    for result in empty:
        lines = letters.wrap(f"{result.title}: {result.reason}", 15, width, 2)
        if y + len(lines) * 19 * u > box[3] - 8 * u:
            break
        for line in lines:
            letters.write(box[0] + 20 * u, y, line, 15, FAINT)
            y += 19 * u
        y += 7 * u
    return panel


def _pictures(
    painter: Painter, panel: Panel, rows: Sequence[Sequence[Shot]], box: Box, names: Sequence[str]
) -> None:
    """The views in their rows, all in one scale, with the names of their poses under them."""
    u = painter.unit
    gap = 12 * u
    under = 20 * u if names else 0.0
    waiting = list(names)
    box = (box[0], box[1], box[2], box[3] - under * len(rows))
    sizes = [[np.maximum(c.high[0] - c.low[0], 1e-6) for _, c in row] for row in rows]
    room_high = box[3] - box[1] - gap * (len(rows) - 1)
    scales = [
        (box[2] - box[0] - gap * (len(row) - 1)) / sum(float(s[0]) for s in row) for row in sizes
    ]
    scale = min(*scales, room_high / sum(max(float(s[1]) for s in row) for row in sizes))
    used = sum(max(float(s[1]) for s in row) for row in sizes) * scale
    top = box[1] + (room_high - used) / 2
    look = Look(4.2 * u, 6.5 * u, fingers=0.5)
    near = Look(5.2 * u, 7.5 * u)
    for row, row_sizes in zip(rows, sizes, strict=True):
        tall = max(float(s[1]) for s in row_sizes) * scale
        wide = sum(float(s[0]) for s in row_sizes) * scale + gap * (len(row) - 1)
        x = (box[0] + box[2] - wide) / 2
        for (figure, close), size in zip(row, row_sizes, strict=True):
            place = (x, top, x + float(size[0]) * scale, top + float(size[1]) * scale)
            whole = len(close.names) == len(figure.places)
            hand = Painter(painter.page, figure, painter.letters, u)
            hand.close_up(panel, close, 0, scale, place, look if whole else near, named=False)
            x = place[2] + gap
            if waiting:
                spot = (place[0] + place[2]) / 2, top + tall + under / 2
                painter.letters.write(*spot, waiting.pop(0), 14, FAINT, "mm")
        top += tall + under + gap


def _seal(painter: Painter, box: Box, state: str) -> None:
    """The verdict in the card's corner."""
    u, letters = painter.unit, painter.letters
    colours: dict[str, tuple[Colour, Colour]] = {
        "passed": (lighter(MADE, 0.86), MADE),
        "failed": (LEVELS["error"], CARD),
        "not run": (CARD, FAINT),
    }
    fill, ink = colours[state]
    width = letters.width(state, 15) + 28 * u
    pill = (box[2] - 14 * u - width, box[1] + 11 * u, box[2] - 14 * u, box[1] + 39 * u)
    Ink(painter.page).box(
        pill, 14 * u, fill, lighter(fill if state == "failed" else ink, 0.5), 1.2 * u
    )
    letters.write((pill[0] + pill[2]) / 2, (pill[1] + pill[3]) / 2, state, 15, ink, "mm")


def _words(painter: Painter, box: Box, result: BendResult) -> None:
    u, letters = painter.unit, painter.letters
    measure = headline(result)
    if result.state == "not run" or measure is None:
        text, colour = result.reason, FAINT
    else:
        text, colour = measure.sentence, TEXT
        if measure.passed and measure.limit:
            text = f"{text[:-1]} ({measure.limit})."
    width = box[2] - box[0] - 40 * u
    y = box[3] - WORDS_TALL * u + 20 * u
    for line in letters.wrap(text, 15, width, 4):
        letters.write(box[0] + 20 * u, y, line, 15, colour)
        y += 19 * u
