"""`autoplace.show.hand_sheet`: three views of each hand, joints named, bend planes drawn."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from autoplace.show.figure import gather
from autoplace.show.hand_sheet import compose_hand_sheet
from autoplace.show.hand_views import bend_planes, hand_views
from autoplace.show.ink import Ink
from autoplace.skeleton.names import finger_of, side_of
from tests.placed_once import demo_character, placed_demo

MOST_OFF = 0.1
"""A finger's joints lie within this share of its length from the plane that is drawn: what is left
of how straight fingers bend sideways."""


@pytest.fixture(scope="module")
def keeper():
    return demo_character(), placed_demo()


@pytest.fixture(scope="module")
def figure(keeper):
    character, result = keeper
    return gather(character, result.roles, result.frame, result.skeleton)


@pytest.fixture(scope="module")
def sheet(keeper):
    character, result = keeper
    return compose_hand_sheet(
        character, result.roles, result.frame, result.skeleton, width=1400, title="keeper"
    )


def test_every_joint_of_a_hand_is_named_in_every_view(keeper, sheet):
    """Wrist and fingers have a name in each of the three views, and no name lies on another."""
    skeleton = keeper[1].skeleton
    for panel, side in zip(sheet.panels[:2], ("right", "left"), strict=True):
        wanted = {n for n in skeleton.names if side_of(n) == side and finger_of(n)}
        named = Counter(label.joint for label in panel.labels)
        assert set(named) == wanted | {f"{side}_wrist"}
        assert set(named.values()) == {3}
        boxes = [label.box for label in panel.labels]
        for number, a in enumerate(boxes):
            assert panel.box[0] <= a[0]
            assert a[2] <= panel.box[2]
            for b in boxes[number + 1 :]:
                apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] + 1 or b[3] <= a[1] + 1
                assert apart


def test_the_views_are_palm_back_and_thumb(figure):
    """Fingers point up; the palm's view looks at the palm, the third from the thumb's side."""
    views = hand_views(figure, "left")
    assert views is not None
    wrist, middle = figure.places["left_wrist"], figure.places["left_middle_1"]
    thumb = figure.places["left_thumb_tip"] - wrist
    eyes = {title: close.first[2] for title, close in views.views}
    for _, close in views.views:
        axes = close.first
        assert np.allclose(axes @ axes.T, np.eye(3), atol=1e-9)
        assert np.linalg.det(axes) == pytest.approx(1.0)
        assert axes[1] @ (middle - wrist) > 0.9 * np.linalg.norm(middle - wrist)
    assert np.allclose(eyes["palm"], -eyes["back"])
    assert eyes["thumb's side"] @ thumb > 0
    # palms of a T-pose look to the floor
    assert eyes["palm"][1] < -0.7


def test_the_planes_hold_their_fingers(figure):
    """The strip of each finger lies in the plane of its joints and along them."""
    planes = {plane.finger: plane for plane in bend_planes(figure, "right")}
    assert len(planes) == 5
    for finger, plane in planes.items():
        at = np.array([figure.places[f"{finger}_{end}"] for end in ("1", "2", "3", "tip")])
        length = np.linalg.norm(at[-1] - at[0])
        middle = plane.corners.mean(axis=0)
        assert np.all(np.abs((at - middle) @ plane.axis) < MOST_OFF * length)
        assert np.allclose((plane.corners - middle) @ plane.axis, 0.0, atol=1e-9)


def test_the_same_input_gives_the_same_picture(keeper, sheet):
    """Byte for byte."""
    character, result = keeper
    again = compose_hand_sheet(
        character, result.roles, result.frame, result.skeleton, width=1400, title="keeper"
    )
    assert np.array_equal(np.asarray(again.image), np.asarray(sheet.image))


def test_a_skeleton_without_hands_still_gives_a_page(keeper):
    """Without a wrist the panel says so."""
    character, result = keeper
    bare = result.skeleton.with_joints(tuple(j for j in result.skeleton if side_of(j.name) is None))
    page = compose_hand_sheet(character, result.roles, result.frame, bare, width=600)
    assert page.panels[0].joints == []


def test_a_convex_shape_fills_its_inside():
    """A quadrilateral, corners either way round, is filled within and not without."""
    corners = [(10.0, 10.0), (40.0, 14.0), (38.0, 30.0), (12.0, 28.0)]
    for turn in (corners, corners[::-1]):
        page = np.full((48, 48, 3), 255, dtype=np.uint8)
        Ink(page).convex(turn, [(0.0, (0, 0, 0), 1.0)])
        assert tuple(page[20, 25]) == (0, 0, 0)
        assert tuple(page[6, 25]) == (255, 255, 255)
        assert tuple(page[20, 45]) == (255, 255, 255)
