"""The findings beside the character: what is wrong, what to do, and a button that flies there."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from autoplace.review.plain_text import plain
from autoplace.show.evidence_words import joint_words

if TYPE_CHECKING:
    from autoplace.review.page import Page
    from autoplace.skeleton.model import Finding

__all__ = ["FindingsPanel"]

SIGNS = {"error": "✖ Error", "warning": "▲ Warning", "note": "• Note"}
MOST = 40
"""Findings that are listed; a broken skeleton has hundreds, and the first are mended first."""


class FindingsPanel:
    """A list that follows the session."""

    def __init__(self, page: Page) -> None:
        """Adds a panel at the left edge of the page."""
        self._page = page
        self._panel = page.server.gui.add_panel()
        self._tab = self._panel.add_tab("Findings")
        self._panel.dock_left()
        self._panel.set_width(280)
        self._rows: list[Any] = []
        self._shown: tuple[Finding, ...] | None = None

    def refresh(self, page: Page) -> None:
        """List the findings, worst first."""
        order = list(SIGNS)
        found = tuple(sorted(page.findings, key=lambda f: order.index(f.level)))
        if found == self._shown:
            return
        self._shown = found
        for row in self._rows:
            row.remove()
        with self._tab:
            self._rows = [self._page.server.gui.add_markdown(_heading(found))]
            for finding in found[:MOST]:
                self._add(finding)

    def _add(self, finding: Finding) -> None:
        gui, joint = self._page.server.gui, finding.joint
        words = f"**{SIGNS[finding.level]}** {plain(finding.message)} *{plain(finding.fix)}*"
        self._rows.append(gui.add_markdown(words))
        if joint is not None and joint in self._page.session.skeleton:
            button = gui.add_button(f"Show {joint_words(joint)}")
            button.on_click(lambda event: self._page.fly_to_joint(event.client, joint))
            self._rows.append(button)


def _heading(found: tuple[Finding, ...]) -> str:
    if not found:
        return "Nothing to look at."
    counts = [(level, sum(f.level == level for f in found)) for level in SIGNS]
    told = ", ".join(f"{n} {level}{'s' * (n > 1)}" for level, n in counts if n)
    more = f" The first {MOST} are listed." if len(found) > MOST else ""
    return f"{told}.{more}"
