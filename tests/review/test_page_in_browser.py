"""The review page in a real browser, as a person uses it."""

from __future__ import annotations

import json
import time
from contextlib import contextmanager
from urllib.parse import urlsplit

import numpy as np
import pytest

from autoplace import check
from autoplace.files.edits_json import read_edits
from autoplace.files.skeleton_json import read_skeleton
from autoplace.jobs.review import open_review
from autoplace.jobs.review_page import serve
from autoplace.review.handle import REACH
from tests.bent_files import write_character
from tests.browser import browser_page
from tests.review.served import as_opened

PATIENCE = 60.0
"""Seconds that a page drawn without a graphics card may take to catch up, on a busy machine."""
AHEAD = np.array([0.0, 0.0, 0.01])
GO_ON = "Go on from them"
SIDEWAYS = np.array([0.2, 0.0, 0.0])


class OpenPage:
    """The served page and the browser that looks at it."""

    def __init__(self, served, watched):
        self.served, self.page = served, watched.page
        self.errors, self.requests = watched.errors, watched.requests

    def until(self, condition):
        """Wait until something holds; fails when it does not come to hold."""
        begin = time.monotonic()
        while not condition():
            assert time.monotonic() - begin < PATIENCE, "the page does not come to that"
            self.page.wait_for_timeout(50)

    def see(self, words):
        """Wait until the page shows these words."""
        self.until(lambda: self.page.get_by_text(words).first.is_visible())

    def leave_the_panel(self):
        """Click beside the figure: keys are for the panel while one of its fields is in use."""
        box = self.page.locator("canvas").first.bounding_box()
        self.page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 0.97 * box["height"])

    def press(self, button):
        """Click a button by its name."""
        self.page.get_by_role("button", name=button, exact=True).first.click()

    def camera(self):
        (client,) = self.served.server.get_clients().values()
        return client.camera

    def view(self, name):
        """Choose a view and wait until the camera is there."""
        place = self.served.page.views()[name]
        self.press(name)
        self.until(lambda: np.allclose(self.camera().look_at, place.look_at, atol=1e-4))
        self.until(
            lambda: np.allclose(
                self.camera().position, place.position(self.camera().aspect), atol=1e-3
            )
        )
        self.page.wait_for_timeout(300)

    def place(self, name):
        return self.served.session.skeleton[name].position

    def working(self, name):
        return self.served.review.frame.to_working(self.place(name))

    def pixel(self, point):
        """Where a point (3,) of the working frame is drawn, by the camera the browser reports."""
        camera = self.camera()
        eye, target = np.asarray(camera.position), np.asarray(camera.look_at)
        ahead = (target - eye) / np.linalg.norm(target - eye)
        right = np.cross(ahead, camera.up_direction)
        right /= np.linalg.norm(right)
        up = np.cross(right, ahead)
        ray = np.asarray(point) - eye
        half = np.tan(0.5 * camera.fov) * (ray @ ahead)
        box = self.page.locator("canvas").first.bounding_box()
        across, along = ray @ right / (half * camera.aspect), ray @ up / half
        return (
            box["x"] + 0.5 * box["width"] * (1.0 + across),
            box["y"] + 0.5 * box["height"] * (1.0 - along),
        )

    def click_joint(self, name):
        where = self.pixel(self.working(name))
        self.page.mouse.move(*where)
        self.page.wait_for_timeout(300)
        self.page.mouse.click(*where)
        self.until(lambda: self.served.page.chosen == name)
        self.page.wait_for_timeout(500)  # until the handle is drawn

    def drag_forward(self, name, distance):
        """Take the selected joint by its forward arrow and pull it by so much, heights."""
        reach = 0.85 * REACH * self.served.page.bones.radius(name)
        arrow = self.working(name) + np.array([0.0, 0.0, reach])
        start, end = self.pixel(arrow), self.pixel(arrow + np.array([0.0, 0.0, distance]))
        before = self.place(name)
        self.page.mouse.move(*start)
        self.page.wait_for_timeout(300)
        self.page.mouse.down()
        for share in np.linspace(0.0, 1.0, 12):
            self.page.mouse.move(*(a + share * (b - a) for a, b in zip(start, end, strict=True)))
            self.page.wait_for_timeout(40)
        self.page.mouse.up()
        self.until(lambda: not np.array_equal(self.place(name), before))


@contextmanager
def opened(review):
    served = serve(review)
    try:
        with browser_page(width=760, height=480) as watched:
            watched.page.goto(served.address)
            page = OpenPage(served, watched)
            page.until(lambda: len(served.server.get_clients()) == 1)
            page.see("joints")
            yield page
            assert page.errors == []
    finally:
        served.stop()


@pytest.fixture(scope="module")
def shared_page(tmp_path_factory):
    """The page of all tests but one, for drawing it first takes longest. It is opened after another
    died with a correction unsaved, which put the left knee where `lost` says."""
    files = write_character(tmp_path_factory.mktemp("page"))
    first = serve(open_review(*files))
    lost = first.session.skeleton["left_knee"].position + AHEAD
    first.page.move("left_knee", lost)
    first.page.wait()
    first.server.stop()  # as when the machine goes down: nothing is saved or tidied up
    with opened(open_review(*files)) as page:
        page.lost = lost
        yield page


@pytest.fixture
def page_at_rest(shared_page):
    """The page that the other tests look at in turn, each with no correction open."""
    offer = shared_page.page.get_by_role("button", name="Throw them away", exact=True)
    if offer.count():
        offer.click()
        shared_page.until(lambda: offer.count() == 0)
    as_opened(shared_page.served)
    return shared_page


def test_what_was_lost_is_offered_again(shared_page):
    """A page that died with corrections unsaved offers them when it is opened again."""
    page = shared_page
    page.press(GO_ON)
    page.until(lambda: page.page.get_by_role("button", name=GO_ON).count() == 0)
    page.until(lambda: np.array_equal(page.place("left_knee"), page.lost))


def test_the_page_loads_and_shows_the_joints(page_at_rest):
    """The page says how many joints there are, lists the findings, and offers the views."""
    page = page_at_rest
    page.see(f"{len(page.served.session.skeleton)} joints")
    for name in ("front", "side", "top", "perspective", "left hand", "face", "feet"):
        assert page.page.get_by_role("button", name=name, exact=True).is_visible()
    page.see("Findings")
    assert page.page.get_by_text("Share").count() == 0


def test_correcting_as_a_person_does(page_at_rest):
    """A joint is clicked and dragged, both sides move, undo brings them back, redo and a lock and
    a nudge go on from there, and what is saved passes the checks."""
    page, keys = page_at_rest, page_at_rest.page.keyboard
    page.view("side")
    page.click_joint("left_knee")
    page.see("left knee")
    before = {side: page.place(f"{side}_knee") for side in ("left", "right")}
    page.drag_forward("left_knee", 0.01)
    moved = page.place("left_knee") - before["left"]
    assert moved[2] == pytest.approx(0.01 * page.served.review.frame.height, rel=0.5)
    assert np.allclose(page.place("right_knee") - before["right"], moved * [-1.0, 1.0, 1.0])
    page.see("not saved")

    keys.press("Control+z")
    page.until(lambda: np.array_equal(page.place("left_knee"), before["left"]))
    assert np.array_equal(page.place("right_knee"), before["right"])
    keys.press("Control+Shift+z")
    page.until(lambda: np.allclose(page.place("left_knee") - before["left"], moved))

    page.page.get_by_label("Locked").click()
    page.until(lambda: page.served.session.skeleton["right_knee"].locked)
    here = page.place("left_knee")
    page.leave_the_panel()
    keys.press("i")
    page.until(lambda: not np.array_equal(page.place("left_knee"), here))
    nudged = page.place("left_knee") - here
    assert nudged[1] == pytest.approx(page.served.review.frame.height / 500.0)

    page.press("Save")
    page.see("all saved")
    saved = read_skeleton(page.served.review.skeleton_path)
    assert np.array_equal(saved["left_knee"].position, page.place("left_knee"))
    assert not [f for f in check(saved) if f.level == "error"]
    edits = read_edits(page.served.review.edits_path)
    assert set(edits.locked) == {"left_knee", "right_knee"}


def test_closing_asks_only_while_something_is_unsaved(page_at_rest):
    """The browser is told to ask before the page is closed, and no longer once all is saved."""
    page = page_at_rest

    def asks():
        return page.page.evaluate("window.onbeforeunload !== null")

    assert not asks()
    page.served.page.move("left_knee", page.place("left_knee") + AHEAD)
    page.until(asks)
    page.press("Save")
    page.until(lambda: not asks())


def test_bending_in_the_browser(page_at_rest):
    """A slider of the page bends both arms; the button brings them back."""
    page = page_at_rest
    page.page.get_by_role("tab", name="Bend").click()
    page.page.get_by_text("Arms", exact=True).click()
    label = page.page.locator("label", has_text="left elbow").first
    slider = page.page.locator(f"[id='{label.get_attribute('for')}'] [role=slider]")
    slider.focus()
    for _ in range(5):
        page.page.keyboard.press("ArrowRight")
    page.until(lambda: page.served.page.posed is not None)
    page.press("Back to rest")
    page.until(lambda: page.served.page.posed is None)


def test_a_finding_is_one_click_away(page_at_rest):
    """The button under a finding selects the joint and brings the camera near it."""
    page = page_at_rest
    page.served.page.move("left_knee", page.place("left_knee") + SIDEWAYS)
    page.served.page.wait()
    button = page.page.get_by_role("button", name="Show left knee").first

    def answers():
        # the list is drawn anew after the checks: a click just then meets a button that goes
        button.click()
        page.page.wait_for_timeout(500)
        return page.served.page.chosen == "left_knee"

    page.until(answers)
    page.until(lambda: np.allclose(page.camera().look_at, page.working("left_knee"), atol=1e-3))


def test_the_page_is_served_on_this_machine_only(page_at_rest):
    """The browser asks nobody but this machine for anything."""
    page = page_at_rest
    asked = [urlsplit(address) for address in page.requests]
    hosts = {address.hostname for address in asked if address.scheme not in ("data", "blob")}
    assert hosts == {"127.0.0.1"}


@pytest.mark.wide
def test_names_from_a_file_are_text(tmp_path):
    """A joint or a part that is called like a script is shown, and runs nothing."""
    evil = "<img src=x onerror=window.ran=1>"
    mesh, path = write_character(tmp_path)
    mesh.write_text(mesh.read_text().replace("o left_eye", f"o {evil}"))
    content = json.loads(path.read_text())
    spine = {"name": evil, "parent": "chest", "position": [0.3, 1.2, 0.0]}
    content["joints"].append({**content["joints"][0], **spine})
    path.write_text(json.dumps(content))
    with opened(open_review(mesh, path)) as page:
        name = next(name for name in page.served.session.skeleton.names if "img" in name)
        page.served.page.choose(name)
        page.see(f"{evil}: the file does not say")
        page.page.get_by_role("tab", name="Look").click()
        page.see("onerror")
        assert page.page.evaluate("window.ran") is None
