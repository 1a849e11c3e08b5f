"""The top of the control panel: views, undo and redo, save, and whether all is saved."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.errors import AutoplaceError

if TYPE_CHECKING:
    from autoplace.review.page import Page

__all__ = ["HeadPanel"]

ASK_BEFORE_CLOSING = (
    '<img src="data:," alt="" style="display:none" onerror="window.onbeforeunload={ask}">'
)
"""A scene library's page runs no script of ours; a picture that cannot be read may say what to do
then. The browser asks before the page is closed where `onbeforeunload` returns something."""


ROW = 23
"""Letters that the buttons of one row may have together."""


class HeadPanel:
    """Views and history, always in sight."""

    def __init__(self, page: Page, save: Callable[[], Sequence[Path]]) -> None:
        """`save` writes the files and returns their paths."""
        self._page, self._save = page, save
        gui = page.server.gui
        self._status = gui.add_markdown("")
        for number, row in enumerate(_rows(list(page.views()))):
            gui.add_button_group("" if number else "View", row).on_click(self._view)
        self._steps = gui.add_button_group("", ["Undo", "Redo", "Save"])
        self._steps.on_click(self._step)
        self._asking = gui.add_html("")
        self._said: object = None

    def refresh(self, page: Page) -> None:
        """Say how many corrections there are and whether they are saved."""
        session = page.session
        count = len(session.edits.joints)
        told = "no corrections" if not count else f"{count} joint{'s' * (count > 1)} corrected"
        said = f"{len(session.skeleton)} joints · {told}"
        if not session.is_saved:
            said += " · **not saved**"
        elif count:
            said += " · all saved"
        if said != self._said:
            self._said = said
            self._status.content = said
            ask = "null" if session.is_saved else "function(e){e.preventDefault();return true}"
            self._asking.content = ASK_BEFORE_CLOSING.format(ask=ask)

    def save(self) -> None:
        """Write the corrections and the skeleton, and say so."""
        try:
            paths = self._save()
        except AutoplaceError as reason:
            self._page.say("Not saved", str(reason), lasting=True)
            return
        self._page.say("Saved", ", ".join(path.name for path in paths))
        self._page.refresh()

    def _view(self, event: Any) -> None:
        self._page.fly(event.client, self._page.views().get(event.target.value))

    def _step(self, event: Any) -> None:
        if event.target.value == "Save":
            self.save()
        elif event.target.value == "Undo":
            self._page.correct(self._page.session.undo)
        else:
            self._page.correct(self._page.session.redo)


def _rows(names: Sequence[str]) -> list[list[str]]:
    """The buttons in rows that fit the panel."""
    rows: list[list[str]] = []
    for name in names:
        if not rows or sum(map(len, rows[-1])) + len(name) > ROW or len(rows[-1]) == 4:
            rows.append([])
        rows[-1].append(name)
    return rows
