from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.show.closeups import face_close_up, foot_close_up, hand_close_up
from autoplace.show.figure import gather
from tests.show.scene import scene


def right_and_up(axes, place):
    return axes[:2] @ place


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("pose", ["T", "A", "hanging"])
def test_a_hand_is_seen_from_its_back_with_the_thumb_on_its_own_side(side, pose):
    """Fingers up; the thumb to the right on a left hand, to the left on a right hand."""
    figure = gather(*scene(pose))
    close = hand_close_up(figure, side)
    wrist, thumb, middle = (
        figure.places[f"{side}_{name}"] for name in ("wrist", "thumb_tip", "middle_tip")
    )
    across, up = right_and_up(close.first, middle - wrist)
    assert up > 3 * abs(across)
    across, _ = right_and_up(close.first, thumb - wrist)
    assert (across > 0) == (side == "left")
    assert close.first[2] @ close.second[2] == pytest.approx(0, abs=1e-9)
    for axes in (close.first, close.second):
        assert axes @ axes.T == pytest.approx(np.eye(3))
        assert np.linalg.det(axes) == pytest.approx(1)


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_flat_hand_in_t_pose_is_seen_from_above(side):
    """With the palms down, the back of the hand looks up."""
    close = hand_close_up(gather(*scene("T")), side)
    assert close.first[2] @ [0, 1, 0] > 0.9


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_curl_shows_in_the_thumb_side_view(side):
    """Seen from the thumb's side, curled fingers point below the back of the hand."""
    figure = gather(*scene("T"))
    close = hand_close_up(figure, side)
    knuckle, tip = (figure.places[f"{side}_middle_{end}"] for end in ("1", "tip"))
    across, up = right_and_up(close.second, tip - knuckle)
    # palms down, so the drop seen is the drop in height
    assert up == pytest.approx((tip - knuckle)[1], rel=0.1)
    assert up < 0
    assert (across > 0) == (side == "left")


def test_all_joints_of_a_close_up_fall_inside_what_it_shows():
    """Low and high hold every named joint in both views."""
    figure = gather(*scene("A"))
    for close in (
        hand_close_up(figure, "left"),
        face_close_up(figure),
        foot_close_up(figure, "right"),
    ):
        for which, axes in enumerate((close.first, close.second)):
            places = np.array([axes[:2] @ figure.places[name] for name in close.names])
            assert (places > close.low[which]).all()
            assert (places < close.high[which]).all()


def test_a_foot_is_seen_with_the_sole_down_and_the_toes_outward():
    """In the outer view the toes of the left foot point left; up is up."""
    figure = gather(*scene())
    for side, sign in (("left", -1), ("right", 1)):
        close = foot_close_up(figure, side)
        toe, ankle = figure.places[f"{side}_toe_tip"], figure.places[f"{side}_ankle"]
        across, up = right_and_up(close.first, toe - ankle)
        assert sign * across > 0
        assert up < 0
        across, _ = right_and_up(close.second, toe - ankle)
        assert sign * across > 0


def test_no_wrist_head_or_ankle_gives_no_close_up():
    """What was not placed is told by None."""
    figure = gather(*scene(without=("wrist", "head", "ankle")))
    assert hand_close_up(figure, "left") is None
    assert face_close_up(figure) is None
    assert foot_close_up(figure, "left") is None


def test_a_wrist_alone_still_frames_the_hand():
    """Without fingers the length of the hand is read off the mesh beyond the wrist."""
    whole = gather(*scene("T"))
    fingers = ("thumb", "index", "middle", "ring", "pinky")
    bare = gather(*scene("T", without=fingers))
    close = hand_close_up(bare, "left")
    reach = (whole.places["left_middle_tip"] - whole.places["left_wrist"]) @ close.first[1]
    shown = close.high[0, 1] - close.first[1] @ whole.places["left_wrist"]
    assert shown == pytest.approx(reach, rel=0.35)


@pytest.mark.filterwarnings("error")
def test_an_elbow_on_its_wrist_leaves_the_hand_in_the_picture():
    """Without a forearm to go by, the picture runs on from the hand."""
    figure = gather(*scene("A"))
    figure.places["left_elbow"] = figure.places["left_wrist"]
    close = hand_close_up(figure, "left")
    assert np.isfinite(close.low).all()
    assert np.isfinite(close.high).all()


def test_an_eyes_radius_comes_from_its_ball():
    """Each eye joint knows the radius of the ball about it; without balls there is none."""
    character, roles, frame, skeleton = scene()
    assert set(gather(character, roles, frame, skeleton).eye_radius) == {"left_eye", "right_eye"}
    none = replace(roles, pieces=tuple(p for p in roles.pieces if p.role != "eyeball"))
    assert gather(character, none, frame, skeleton).eye_radius == {}
