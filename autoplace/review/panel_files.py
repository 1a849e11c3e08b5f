"""Buttons that write the skeleton in other formats."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.errors import AutoplaceError
from autoplace.review.plain_text import plain

if TYPE_CHECKING:
    from autoplace.review.page import Page

__all__ = ["ENDINGS", "FilesPanel"]

ENDINGS = (".glb", ".gltf", ".usda", ".usdc", ".usdz", ".x3d", ".bvh", ".csv")
"""Of the formats that a button writes."""


class FilesPanel:
    """Where everything goes, and buttons for the exports."""

    def __init__(
        self,
        page: Page,
        files: Sequence[Path],
        export: Callable[[str], tuple[Path, Sequence[str]]],
    ) -> None:
        """
        Args:
            page: what it belongs to.
            files: that saving writes.
            export: writes the skeleton as it is, by a file's ending; gives the path and what the
                format could not carry.
        """
        self._page, self._export = page, export
        gui = page.server.gui
        gui.add_markdown("Saving writes " + " and ".join(plain(path.name) for path in files) + ".")
        for start in range(0, len(ENDINGS), 4):
            buttons = gui.add_button_group(
                "Export" if start == 0 else "", list(ENDINGS[start : start + 4])
            )
            buttons.on_click(self._clicked)
        self._told = gui.add_markdown("")

    def refresh(self, page: Page) -> None:
        """Nothing here follows the session: a file holds what was there when it was written."""

    def _clicked(self, event: Any) -> None:
        ending = event.target.value
        self._told.content = f"Writing {ending} ..."
        try:
            path, notes = self._export(ending)
        except AutoplaceError as reason:
            self._told.content = ""
            self._page.say("Not written", str(reason), lasting=True)
            return
        self._told.content = "\n\n".join([f"Wrote {plain(path.name)}.", *map(plain, notes)])
