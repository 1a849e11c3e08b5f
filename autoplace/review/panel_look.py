"""What is shown: the surface and its parts, axes, names and spreads."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from autoplace.review.surface import LOOKS
from autoplace.show.evidence_words import SURE, SURENESS_COLOURS, UNSURE

if TYPE_CHECKING:
    from autoplace.review.page import Page

__all__ = ["LookPanel"]

AXES = ("none", "selected chain", "all")


class LookPanel:
    """Switches for what the scene shows."""

    def __init__(self, page: Page) -> None:
        """Adds the switches to the container that is open."""
        self._page = page
        gui = page.server.gui
        self._look = gui.add_dropdown("Surface", LOOKS, initial_value=page.surface.look)
        self._look.on_update(lambda event: page.surface.set_look(event.target.value))
        with gui.add_folder("Parts"):
            for part in dict.fromkeys(part.name for part in page.surface.parts):
                box = gui.add_checkbox(part, True)
                box.on_update(partial(self._show_part, part))
        self._axes = gui.add_dropdown("Local axes", AXES, initial_value="none")
        self._axes.on_update(self._changed)
        self._spread = gui.add_checkbox(
            "Spread", False, hint="a ball of one standard deviation around each joint"
        )
        self._spread.on_update(self._changed)
        self._names = gui.add_checkbox("Names", False)
        self._names.on_update(self._changed)
        gui.add_html(_legend())

    def refresh(self, page: Page) -> None:
        """The axes follow the selected chain."""
        if self._axes.value == AXES[1]:
            self._apply()

    def _show_part(self, part: str, event: Any) -> None:
        self._page.surface.show_part(part, bool(event.target.value))

    def _changed(self, event: Any) -> None:
        self._apply()

    def _apply(self) -> None:
        page, bones = self._page, self._page.bones
        bones.show_spread, bones.show_names = self._spread.value, self._names.value
        bones.axes_of = {"none": (), "all": None}.get(self._axes.value, page.chain_of_chosen())
        page.redraw()


def _legend() -> str:
    """What the colours of the joints mean, as HTML."""
    stops = ", ".join(f"rgb{colour}" for colour in SURENESS_COLOURS)
    return (
        '<div style="padding:0.3em 1em 0.6em;font-size:0.8em;line-height:1.4">'
        f'<div style="height:0.6em;background:linear-gradient(to right,{stops})"></div>'
        '<div style="display:flex;justify-content:space-between">'
        f"<span>sure to {100 * SURE:g} %</span><span>{100 * UNSURE:g} % of the height</span>"
        "</div>Boxes mark locked joints. Axes: X red, Y green, Z blue.</div>"
    )
