"""Where the camera stands for each view."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.review.views import FIELD_OF_VIEW, camera_places, near_joint

JOINTS = {
    "pelvis": (0.0, 0.52, 0.0),
    "neck": (0.0, 0.82, 0.0),
    "head": (0.0, 0.87, 0.0),
    "head_top": (0.0, 1.0, 0.0),
    "left_eye": (0.02, 0.93, 0.05),
    "right_eye": (-0.02, 0.93, 0.05),
    "left_wrist": (0.4, 0.8, 0.0),
    "left_index_1": (0.45, 0.8, 0.02),
    "left_index_tip": (0.5, 0.8, 0.02),
    "left_pinky_1": (0.45, 0.8, -0.02),
    "left_pinky_tip": (0.49, 0.8, -0.02),
    "left_ankle": (0.06, 0.04, 0.0),
    "left_toe_tip": (0.07, 0.0, 0.1),
}
LOW, HIGH = np.array([-0.5, 0.0, -0.1]), np.array([0.5, 1.0, 0.1])


def places(joints=JOINTS):
    return camera_places(list(joints), np.array(list(joints.values())), LOW, HIGH)


def seen(place, points, aspect):
    """(n, 2) where points stand on the screen: -1 to 1 is inside it, as a pinhole camera has it."""
    eye = place.position(aspect)
    ahead = place.look_at - eye
    ahead = ahead / np.linalg.norm(ahead)
    right = np.cross(ahead, [0.0, 1.0, 0.0])
    right /= np.linalg.norm(right)
    up = np.cross(right, ahead)
    ray = np.asarray(points) - eye
    half = np.tan(0.5 * FIELD_OF_VIEW) * (ray @ ahead)
    return np.stack([ray @ right / (half * aspect), ray @ up / half], axis=1)


@pytest.mark.parametrize("aspect", [0.6, 1.0, 1.8])
@pytest.mark.parametrize("view", ["front", "side", "top", "perspective"])
def test_the_whole_figure_is_seen(view, aspect):
    """The views of the whole figure hold every joint, in wide windows and in narrow ones."""
    on_screen = seen(places()[view], list(JOINTS.values()), aspect)
    assert np.abs(on_screen).max() <= 1.0


def test_front_has_the_characters_left_on_the_right():
    """Seen from the front, the character's left hand is to the right and its head is up."""
    hand, head = seen(places()["front"], [JOINTS["left_wrist"], JOINTS["head_top"]], 1.0)
    assert hand[0] > 0.0
    assert head[1] > 0.0


def test_side_is_seen_from_the_characters_left():
    """The camera of the side view stands at the character's left."""
    assert places()["side"].position(1.0)[0] > 1.0


def test_a_hand_is_seen_from_its_back():
    """A hand held palm down is seen from above, and all of it."""
    view = places()["left hand"]
    assert view.direction[1] == pytest.approx(1.0, abs=1e-5)
    hand = [point for name, point in JOINTS.items() if name.startswith(("left_i", "left_p"))]
    assert np.abs(seen(view, hand, 1.0)).max() <= 1.0


def test_views_of_what_is_not_there_are_left_out():
    """Without a right hand, eyes or feet there are no buttons that would show nothing."""
    assert "right hand" not in places()
    bare = {"pelvis": JOINTS["pelvis"], "neck": JOINTS["neck"]}
    assert list(places(bare)) == ["front", "side", "top", "perspective"]


def test_a_joint_is_seen_from_where_the_camera_is():
    """Flying to a joint keeps the side that it is looked at from."""
    place = near_joint(np.array([0.1, 0.5, 0.0]), np.array([0.0, 0.0, 3.0]), 0.1)
    assert place.position(1.0) == pytest.approx(
        [0.1, 0.5, 0.1 * 1.15 / np.tan(0.5 * FIELD_OF_VIEW)]
    )
