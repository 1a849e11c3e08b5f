"""A page that several tests use in turn."""

from __future__ import annotations

from autoplace.jobs.review_page import Served


def as_opened(served: Served) -> None:
    """Nothing selected, bent or corrected, and nothing unsaved; looks stay as they are."""
    page, session = served.page, served.session
    page.mirror, page.follow = True, False
    page.choose(None)
    page.correct(session.reset_all)
    session.mark_saved(session.edits)
    page.refresh()
    page.wait()
