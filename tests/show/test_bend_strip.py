"""The picture strip of the bend test."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.bend_character import BentCharacter, bend_character
from autoplace.show.bend_strip import PREVIEW, compose_bend_strip
from autoplace.show.bend_views import posed_figure
from autoplace.skeleton.pose import Turn
from tests.bent_files import tube_character
from tests.figures import without
from tests.skeleton.bending.bent import twisted


@pytest.fixture(scope="module")
def whole() -> BentCharacter:
    character, skeleton = tube_character()
    return bend_character(twisted(skeleton, "left_elbow", 180), character)


def strip(result: BentCharacter, width: int = 800):
    return compose_bend_strip(
        result.subject, result.layers, result.report, title="tubes", width=width
    )


def test_every_test_has_a_card(whole):
    """One panel a test, titled as the test is, with pictures in it."""
    sheet = strip(whole)
    assert [panel.title for panel in sheet.panels] == [r.title for r in whole.report.results]
    assert all(panel.views for panel in sheet.panels)
    picture = np.asarray(sheet.image)
    for panel in sheet.panels:
        left, top, right, bottom = (int(v) for v in panel.box)
        inside = picture[top + 20 : bottom - 40, left + 8 : right - 8]
        assert np.ptp(inside.reshape(-1, 3), axis=0).min() > 100, panel.title


def test_the_strip_says_that_it_is_a_preview(whole, monkeypatch):
    """The words are on the page, beside how many tests were passed, and what failed is told."""
    from autoplace.show.lettering import Lettering

    written: list[str] = []
    write = Lettering.write

    def listen(self, x, y, text, *rest, **more):
        written.append(text)
        write(self, x, y, text, *rest, **more)

    monkeypatch.setattr(Lettering, "write", listen)
    strip(whole, 2400)
    page = " ".join(written)
    assert PREVIEW in page
    assert "preview" in PREVIEW
    assert "14 of 16 tests passed" in page
    assert written.count("failed") == 2
    assert "look here" in page


def test_pictures_lie_inside_their_cards(whole):
    """No view runs out of its card, and those of one card do not cover one another."""
    for panel in strip(whole).panels:
        for i, view in enumerate(panel.views):
            assert panel.box[0] <= view.box[0] < view.box[2] <= panel.box[2]
            assert panel.box[1] <= view.box[1] < view.box[3] <= panel.box[3]
            for other in panel.views[:i]:
                apart_x = view.box[0] >= other.box[2] - 2 or other.box[0] >= view.box[2] - 2
                apart_y = view.box[1] >= other.box[3] - 2 or other.box[1] >= view.box[3] - 2
                assert apart_x or apart_y, panel.title


def test_the_same_input_gives_the_same_picture(whole):
    """Twice drawn, every pixel agrees."""
    one, two = (np.asarray(strip(whole).image) for _ in range(2))
    assert np.array_equal(one, two)


def test_a_posed_figure_moves_its_skin(whole):
    """With the elbow bent by a right angle the hand's skin goes along and the foot's stays."""
    rest = posed_figure(whole.subject, whole.layers, {}, {})
    bent = posed_figure(whole.subject, whole.layers, {"right_elbow": Turn(90)}, {})
    gone = np.linalg.norm(bent.body.vertices - rest.body.vertices, axis=1)
    hand = np.linalg.norm(rest.body.vertices - rest.places["right_middle_tip"], axis=1) < 0.01
    foot = rest.body.vertices[:, 1] < 0.3
    assert gone[hand].min() > 0.1
    assert gone[foot].max() == 0
    assert np.array_equal(bent.places["left_wrist"], rest.places["left_wrist"])


def test_what_was_not_run_says_why():
    """Of a figure without hands and eyes the tests without a pose stand together on one card."""
    character, skeleton = tube_character()
    bare = without(skeleton, "left_eye", "right_eye", "thumb", "index", "middle", "ring", "pinky")
    result = bend_character(bare, character)
    sheet = strip(result)
    posed = [r.title for r in result.report.results if r.poses]
    assert not {"Fist", "Eyes turned"} & set(posed)
    assert [panel.title for panel in sheet.panels] == [*posed, "Not run"]
    assert [panel.title for panel in sheet.panels if not panel.views] == ["Not run"]


def test_one_test_makes_a_strip_of_one_card(whole):
    """A report of a single test is one card as wide as the page."""
    from dataclasses import replace

    report = replace(whole.report, results=whole.report.results[:1])
    sheet = compose_bend_strip(whole.subject, whole.layers, report, title="one", width=600)
    assert len(sheet.panels) == 1
    assert sheet.image.width == 600
