"""Offers corrections that an earlier page left without saving."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from autoplace.review.draft import Draft
    from autoplace.review.page import Page
    from autoplace.skeleton.edits import Edits

__all__ = ["offer_unsaved"]


def offer_unsaved(page: Page, edits: Edits, draft: Draft) -> None:
    """Ask, in front of the page, whether to go on from these corrections."""
    gui = page.server.gui
    count = len(edits.joints)
    modal = gui.add_modal("Corrections that were not saved")
    with modal:
        gui.add_markdown(
            f"The page was closed with corrections of {count} joint{'s' * (count != 1)} that were "
            "not saved."
        )
        take = gui.add_button("Go on from them")
        leave = gui.add_button("Throw them away")

    def taken(_: object) -> None:
        modal.close()
        page.correct(lambda: page.session.take_up(edits))

    def left(_: object) -> None:
        modal.close()
        draft.forget()

    take.on_click(taken)
    leave.on_click(left)
