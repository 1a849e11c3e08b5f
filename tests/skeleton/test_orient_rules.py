"""The written rules of orientation for special joints: twist helpers, metacarpals, eyes, hands.

The other rules are in `test_bend_axes` (straight chains, bones of no length, fingers, limbs) and
`test_orient` (trunk, tips, eyes)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.skeleton.convention import Convention
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.names import twist_of
from autoplace.skeleton.orient import orient
from tests.figures import X, Y, Z, angle, standard_skeleton

SIDES = ("left", "right")


def with_joint(skeleton: Skeleton, joint: Joint, before: str | None = None) -> Skeleton:
    """The skeleton with one more joint behind its parent; the child `before` hangs from it then."""
    joints = [replace(j, parent=joint.name) if j.name == before else j for j in skeleton.joints]
    place = next(i for i, j in enumerate(joints) if j.name == joint.parent) + 1
    return skeleton.with_joints((*joints[:place], joint, *joints[place:]))


def between(skeleton: Skeleton, above: str, below: str, share: float) -> np.ndarray:
    return (1 - share) * skeleton[above].position + share * skeleton[below].position


@pytest.mark.parametrize("mirror", ["motion", "axes"])
@pytest.mark.parametrize(
    ("above", "below"),
    [("shoulder", "elbow"), ("elbow", "wrist"), ("hip", "knee"), ("knee", "ankle")],
)
def test_a_twist_helper_beside_the_chain_copies_its_joint(mirror, above, below):
    """It hangs from the joint whose bone it lies on: that joint's axes to the bit, and the joint
    still aims at the next of the chain."""
    figure = standard_skeleton("A")
    plain = orient(figure, Convention(mirror=mirror))
    for side in SIDES:
        place = between(figure, f"{side}_{above}", f"{side}_{below}", 0.4)
        twist = Joint(f"{side}_{above}_twist_1", f"{side}_{above}", place)
        result = orient(with_joint(figure, twist), Convention(mirror=mirror))
        assert np.array_equal(result[twist.name].axes, plain[f"{side}_{above}"].axes)
        for joint in plain:
            assert np.array_equal(result[joint.name].axes, joint.axes), joint.name


@pytest.mark.parametrize("mirror", ["motion", "axes"])
def test_a_twist_helper_in_the_chain_goes_on_with_its_joints_axes(mirror):
    """Between shoulder and elbow: the same bone, so the same axes; the elbow's are unchanged."""
    figure = standard_skeleton("A")
    convention = Convention(mirror=mirror)
    plain = orient(figure, convention)
    for side in SIDES:
        place = between(figure, f"{side}_shoulder", f"{side}_elbow", 0.5)
        twist = Joint(f"{side}_shoulder_twist", f"{side}_shoulder", place)
        result = orient(with_joint(figure, twist, before=f"{side}_elbow"), convention)
        for name in (twist.name, f"{side}_shoulder"):
            expected = plain[f"{side}_shoulder"].axes
            assert np.allclose(result[name].axes, expected, atol=1e-9), name
        assert np.array_equal(result[f"{side}_elbow"].axes, plain[f"{side}_elbow"].axes)


def test_a_twist_helper_is_aimed_at_only_where_nothing_else_is():
    """Of two ends the one that is no twist helper is aimed at, though it is listed later."""
    joints = (
        Joint("arm", None, np.zeros(3)),
        Joint("arm_twist_1", "arm", X),
        Joint("end", "arm", np.array([1.0, 0.2, 0])),
    )
    result = orient(Skeleton(joints))
    assert angle(result["arm"].axes[1], joints[2].position) < 1e-6
    alone = orient(Skeleton(joints[:2]))
    assert angle(alone["arm"].axes[1], X) < 1e-6


def test_the_joint_of_a_twist_helper_is_read_off_its_name():
    """With or without a number; a joint that only sounds like one is none."""
    assert twist_of("left_elbow_twist_2") == "left_elbow"
    assert twist_of("right_hip_twist") == "right_hip"
    assert twist_of("left_elbow") is None
    assert twist_of("twist_1") is None


def test_metacarpals_bend_about_the_palms_axis_and_the_wrist_aims_past_them():
    """With a metacarpal for each finger the wrist still aims at the middle knuckle, and all of the
    palm cups about one axis as nearly as the bones let it."""
    figure = standard_skeleton("T")
    for side in SIDES:
        for finger in ("index", "middle", "ring", "pinky"):
            knuckle = f"{side}_{finger}_1"
            place = between(figure, f"{side}_wrist", knuckle, 0.2)
            base = Joint(f"{side}_{finger}_metacarpal", f"{side}_wrist", place)
            figure = with_joint(figure, base, before=knuckle)
    result = orient(figure)
    for side in SIDES:
        sign = 1 if side == "left" else -1
        wrist, middle = result[f"{side}_wrist"], result[f"{side}_middle_1"]
        assert angle(sign * wrist.axes[1], middle.position - wrist.position) < 1e-6
        for finger in ("index", "middle", "ring", "pinky"):
            joint = result[f"{side}_{finger}_metacarpal"]
            child = result[f"{side}_{finger}_1"]
            assert angle(sign * joint.axes[1], child.position - joint.position) < 1e-6
            # the third axis, where a positive turn carries the child, faces the palm: down in a T
            assert sign * joint.axes[2] @ -Y > 0.99, joint.name


def test_three_eyes_look_ahead_and_the_one_on_the_middle_belongs_to_no_side():
    """Each aims forward without a seen look; `mirror` concerns the pair alone."""
    eye = Joint("middle_eye", "head", np.array([0.0, 0.95, 0.05]))
    for eyes in ("together", "mirror"):
        result = orient(with_joint(standard_skeleton(), eye), Convention(eyes=eyes))
        assert angle(result["middle_eye"].axes[1], Z) < 1e-6
        assert angle(result["left_eye"].axes[1], Z) < 1e-6
        away = -1 if eyes == "mirror" else 1
        assert angle(away * result["right_eye"].axes[1], Z) < 1e-6


def test_a_spine_in_a_plane_that_leans_aside_bends_on_one_axis():
    """A trunk that leans 10 degrees to its left and curves from back to front: every joint has the
    normal of the plane it lies in, to a billionth of a degree, and still aims at the next."""
    lean = np.radians(10.0)
    turn = np.array(
        [[np.cos(lean), np.sin(lean), 0], [-np.sin(lean), np.cos(lean), 0], [0, 0, 1.0]]
    )
    figure = standard_skeleton("straight")
    leaning = figure.with_joints(
        tuple(
            replace(j, position=turn @ j.position)
            for j in figure
            if "_" not in j.name or j.name.startswith("spine") or j.name == "head_top"
        )
    )
    result = orient(leaning)
    for name in ("pelvis", "spine_1", "spine_2", "chest", "neck"):
        assert angle(result[name].axes[0], turn @ X) < 1e-9, name
    assert angle(result["chest"].axes[1], result["neck"].position - result["chest"].position) < 1e-6


def test_the_hand_tells_where_a_straight_elbow_bends_to_unless_the_forearm_is_turned():
    """Knuckles turned 20 degrees about the arm carry the elbow's axis along by a third of that;
    turned by 80, a palm to the front, they carry it nowhere."""
    figure = standard_skeleton("T", elbow=0)
    plain = orient(figure)["left_elbow"].axes[0]
    for degrees, least, most in ((20.0, 5.0, 12.0), (80.0, 0.0, 1e-6)):
        a = np.radians(degrees)
        turn = np.array([[1.0, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
        wrist = figure["left_wrist"].position
        fingers = ("thumb", "index", "middle", "ring", "pinky")
        turned = figure.with_joints(
            tuple(
                replace(j, position=turn @ (j.position - wrist) + wrist)
                if j.name.startswith(tuple(f"left_{f}" for f in fingers))
                else j
                for j in figure
            )
        )
        off = angle(orient(turned)["left_elbow"].axes[0], plain)
        assert least <= off <= most, degrees
