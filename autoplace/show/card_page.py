"""A page of cards under a title: what the sheets of the hands and of the face are set on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from autoplace.show.captions import findings_list
from autoplace.show.figure import Figure
from autoplace.show.ink import Box, Ink
from autoplace.show.lettering import Lettering
from autoplace.show.palette import FAINT, PAPER
from autoplace.show.panels import Painter, Panel
from autoplace.show.sheet import Sheet
from autoplace.skeleton.model import Finding

__all__ = ["EDGE", "WIDTH", "CardPage", "blank_page"]

WIDTH = 2400
"""Layout units across the page."""
EDGE = 44
"""Layout units left empty at the sides."""


@dataclass(frozen=True)
class CardPage:
    """A page that is being filled; places on it are given in layout units."""

    painter: Painter
    width: int
    """Pixels across."""

    def box(self, left: float, top: float, right: float, bottom: float) -> Box:
        """The pixels of a place."""
        unit = self.painter.unit
        return round(left * unit), round(top * unit), round(right * unit), round(bottom * unit)

    def write_title(self, name: str, facts: Sequence[str]) -> None:
        """Set the name and a line of facts at the head."""
        letters, u = self.painter.letters, self.painter.unit
        letters.write(EDGE * u, 62 * u, letters.shorten(name, 46, 0.6 * self.width), 46)
        letters.write(EDGE * u, 110 * u, "   ·   ".join(facts), 18, FAINT)
        letters.write(self.width - EDGE * u, 110 * u, "autoplace", 18, FAINT, "rm")

    def add_findings(
        self, top: float, bottom: float, words: tuple[str, str], findings: Sequence[Finding]
    ) -> Panel:
        """A card with findings across the page; `words` are its title and its remark."""
        panel = self.painter.card(self.box(EDGE, top, WIDTH - EDGE, bottom), *words)
        findings_list(Ink(self.painter.page), self.painter.letters, panel.box, tuple(findings))
        return panel

    def finished(self, panels: Sequence[Panel]) -> Sheet:
        """The picture, with what stands where on it."""
        from PIL import Image

        image = Image.fromarray(self.painter.page)
        self.painter.letters.set_on(image)
        return Sheet(image, tuple(panels))


def blank_page(figure: Figure, width: int, tall: float) -> CardPage:
    """A page for a figure, `width` pixels across and `tall` layout units high."""
    unit = width / WIDTH
    page = np.tile(np.array(PAPER, dtype=np.uint8), (round(tall * unit), width, 1))
    return CardPage(Painter(page, figure, Lettering(unit), unit), width)
