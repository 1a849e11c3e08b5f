"""The sheet of the face shows the head from four sides and every eye with its ball."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from autoplace import place
from autoplace.show.eye_globe import _pieces, _seen
from autoplace.show.eye_views import eye_views
from autoplace.show.face_sheet import compose_face_sheet, eye_words
from autoplace.show.figure import gather
from tests.eyes.cases import CASES
from tests.eyes.hosts import plain_host
from tests.show.scene import scene


def placed(case, seed=2):
    made = CASES[case](plain_host(1.2), np.random.default_rng(seed))
    result = place(made.character)
    return made, (made.character, result.roles, result.frame, result.skeleton)


@pytest.fixture(scope="module")
def third():
    return placed("third_cap")


def test_head_from_four_sides_and_each_eye(third):
    """One panel with four views of one scale, one panel an eye with two views, and the findings."""
    sheet = compose_face_sheet(*third[1], width=1200)
    assert [panel.title for panel in sheet.panels] == [
        "Head",
        "right_eye",
        "left_eye",
        "Findings about the eyes",
    ]
    head, right, left, _ = sheet.panels
    assert len(head.views) == 4
    assert len({round(view.scale, 6) for view in head.views}) == 1
    assert len(right.views) == len(left.views) == 2
    assert {"left_eye", "right_eye", "head", "head_top", "neck"} == {la.joint for la in head.labels}
    for a, b in combinations(head.labels, 2):
        assert (
            a.box[2] <= b.box[0]
            or b.box[2] <= a.box[0]
            or (a.box[3] <= b.box[1] or b.box[3] <= a.box[1])
        )


def test_only_the_part_that_was_made_is_drawn_firm(third):
    """Of a ball of which a third was made, about a third of the globe's lines are seen."""
    made, (character, roles, frame, skeleton) = third
    figure = gather(character, roles, frame, skeleton)
    for view in eye_views(figure, character, roles, frame):
        start, end = _pieces()
        middle = 0.5 * (start + end)
        seen = _seen(view.globe, middle)
        off = np.degrees(np.arccos(np.clip(middle[:, 2] / np.linalg.norm(middle, axis=1), -1, 1)))
        assert seen[off < 60].all()
        assert not seen[off > 100].any()
        known = made.eyes[view.joint.split("_")[0]]
        assert view.globe.radius * frame.height == pytest.approx(known.radius, rel=0.02)


def test_words_tell_what_is_known(third):
    """Radius, residual, share seen, spread and look stand in words, in the file's units."""
    made, (character, roles, frame, skeleton) = third
    figure = gather(character, roles, frame, skeleton)
    view = eye_views(figure, character, roles, frame)[0]
    words = dict(eye_words(view, skeleton[view.joint], frame.height, -7.0))
    assert float(words["radius"]) == pytest.approx(made.eyes["right"].radius, rel=0.02)
    assert words["fitted"] == "sphere"
    assert words["share seen"].startswith("3")
    assert "%" in words["residual"]
    assert "%" in words["spread"]
    assert words["looks"] == "7° to the right"


@pytest.mark.parametrize("shape", ["box", "face", "proportions"])
def test_words_of_an_eye_without_a_ball(third, shape):
    """Where no ball was fitted, none is described: it says so, and how far off the joint may be."""
    _, (character, roles, frame, skeleton) = third
    figure = gather(character, roles, frame, skeleton)
    view = eye_views(figure, character, roles, frame)[0]
    view = replace(view, place=replace(view.place, shape=shape, share_seen=0.0))
    words = dict(eye_words(view, skeleton[view.joint], frame.height, 0.0))
    assert words["fitted"] == "no ball"
    assert float(words["spread"]) == pytest.approx(skeleton[view.joint].spread, rel=0.01)
    assert not {"radius", "residual", "share seen"} & set(words)


@pytest.mark.parametrize(
    "case", ["three", pytest.param("ellipsoid", marks=pytest.mark.wide), "nothing_shows"]
)
def test_other_eyes(case):
    """Three eyes, ovals and guesses without a ball are drawn as well."""
    _, scene_of = placed(case)
    sheet = compose_face_sheet(*scene_of, width=600)
    count = 3 if case == "three" else 2
    assert sum(panel.title.endswith("_eye") for panel in sheet.panels) == count


@pytest.mark.parametrize("lacks", [("eye",), ("head", "neck", "eye"), ("",)], ids=str)
def test_a_skeleton_that_lacks_the_face(lacks):
    """Panels say what is not there."""
    sheet = compose_face_sheet(*scene(without=lacks), width=600)
    assert sheet.panels[0].title == "Head"
    assert "Eyes" in [panel.title for panel in sheet.panels]


def test_the_same_input_gives_the_same_picture(third):
    """Nothing is drawn at random."""
    one, two = (compose_face_sheet(*third[1], width=600).image for _ in range(2))
    assert one.tobytes() == two.tobytes()
