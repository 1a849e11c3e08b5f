"""Draws the two pictures of the review page in the README; run `python -m tests.review.pictures`.

It needs Chromium. The pictures differ a little from machine to machine, so no test compares them.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

from autoplace.data import data_folder
from autoplace.jobs.review import open_review
from autoplace.jobs.review_page import Served, serve
from tests.browser import browser_page

__all__ = ["draw_pictures"]

CATCH_UP = 3000
"""Milliseconds until software drawing has caught up."""


def draw_pictures(folder: Path) -> tuple[Path, Path]:
    """Writes `keeper.review.png` and `keeper.review_hand.png` to a folder; gives their paths."""
    whole, hand = folder / "keeper.review.png", folder / "keeper.review_hand.png"
    with tempfile.TemporaryDirectory() as work:
        mesh = Path(shutil.copy(data_folder("meshes") / "keeper.obj", work))
        served = serve(open_review(mesh))
        try:
            with browser_page(width=1400, height=860) as watched:
                page = watched.page
                page.goto(served.address)
                page.wait_for_timeout(2 * CATCH_UP)
                for close in page.locator("[class*=Notification-closeButton]").all():
                    close.click()
                _bent(served, page)
                page.wait_for_timeout(CATCH_UP)
                _shot(page, whole)
                _knuckle(served, page)
                page.wait_for_timeout(CATCH_UP)
                _shot(page, hand)
        finally:
            served.stop()
    return whole, hand


def _bent(served: Served, page) -> None:
    """Sliders bend elbows, knee and spine; the surface is solid."""
    page.get_by_role("button", name="perspective", exact=True).click()
    page.get_by_role("tab", name="Look").click()
    served.page.surface.set_look("solid")
    page.get_by_role("tab", name="Bend").click()
    page.get_by_text("Arms", exact=True).click()
    for label, degrees in (("spine curled", 25), ("left arm raised", -40), ("left elbow", 70)):
        name = page.locator("label", has_text=label).first.get_attribute("for")
        number = page.locator(f"xpath=//div[@id='{name}']/following-sibling::div//input").first
        number.fill(str(degrees))
        number.press("Enter")


def _knuckle(served: Served, page) -> None:
    """A knuckle of the left hand moved too far and locked, with the axes of its finger."""
    page.get_by_role("button", name="Back to rest").click()
    served.page.surface.set_look("translucent")
    name = "left_index_1"
    served.page.choose(name)
    aside = served.page.frame.height * np.array([0.0, 0.003, 0.007])
    served.page.move(name, served.session.skeleton[name].position + aside)
    served.page.lock(True)
    served.page.bones.axes_of = served.page.chain_of_chosen()
    served.page.redraw()
    page.get_by_role("tab", name="Joint").click()
    page.get_by_role("button", name="left hand", exact=True).click()


def _shot(page, path: Path) -> None:
    page.screenshot(path=path)
    with Image.open(path) as image:
        image.convert("RGB").quantize(192, dither=Image.Dither.NONE).save(path, optimize=True)


if __name__ == "__main__":
    for written in draw_pictures(data_folder("meshes")):
        print(written)
