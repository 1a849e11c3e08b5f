"""Sliders: what they bend, how far, and that they follow the recorded convention."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.files.convention_file import load_convention
from autoplace.review.sliders import pose_of, sliders_for
from autoplace.skeleton.model import Skeleton, Source
from autoplace.skeleton.names import mirror_name
from autoplace.skeleton.orient import orient
from autoplace.skeleton.pose import Posed, pose_skeleton
from tests.figures import MIRROR, angle, standard_skeleton

FIGURE = orient(standard_skeleton("A"))
SLIDERS = {slider.key: slider for slider in sliders_for(FIGURE)}


def bent(skeleton: Skeleton, **values: float) -> Posed:
    """The skeleton with its own sliders at these values."""
    sliders = SLIDERS.values() if skeleton is FIGURE else sliders_for(skeleton)
    return pose_skeleton(skeleton, pose_of(sliders, values))


def at(posed: Posed, name: str, skeleton: Skeleton = FIGURE) -> np.ndarray:
    """(3,) where a joint is in a pose."""
    return posed.positions[skeleton.names.index(name)]


def fold(posed: Posed, first: str, middle: str, last: str) -> float:
    """Degrees by which a chain is bent at its middle joint."""
    a, b, c = (at(posed, name) for name in (first, middle, last))
    return angle(b - a, c - b)


@pytest.mark.parametrize(
    ("key", "chain", "most"),
    [
        ("elbow", ("shoulder", "elbow", "wrist"), 150.0),  # AAOS
        ("knee", ("hip", "knee", "ankle"), 135.0),  # AAOS
        ("index", ("index_1", "index_2", "index_3"), 100.0),  # AAOS
    ],
)
def test_slider_bends_to_the_end_of_the_published_range(key, chain, most):
    """At its high end the chain is folded by the range, whatever it had at rest; to a degree."""
    slider = SLIDERS[f"left_{key}"]
    posed = bent(FIGURE, **{slider.key: slider.high})
    assert fold(posed, *(f"left_{name}" for name in chain)) == pytest.approx(most, abs=1.0)


@pytest.mark.parametrize(
    ("key", "chain"),
    [("elbow", ("shoulder", "elbow", "wrist")), ("knee", ("hip", "knee", "ankle"))],
)
def test_hinge_goes_back_to_straight_and_no_farther(key, chain):
    """At its low end an elbow or knee that was modelled bent stands straight, to a degree."""
    slider = SLIDERS[f"right_{key}"]
    posed = bent(FIGURE, **{slider.key: slider.low - 50.0})
    assert fold(posed, *(f"right_{name}" for name in chain)) < 1.0


def test_raised_arm_stands_upright_and_hangs():
    """The arm goes from hanging (0 degrees from down) to 180 degrees (AAOS), within a degree of
    what the shoulder's own third axis allows for an arm that leans forward."""
    slider = SLIDERS["left_arm_raised"]
    for value, way in ((slider.high, 1.0), (slider.low, -1.0)):
        posed = bent(FIGURE, left_arm_raised=value)
        arm = at(posed, "left_elbow") - at(posed, "left_shoulder")
        assert angle(arm, np.array([0.0, way, 0.0])) < 10.0


def test_spine_shares_its_curl():
    """80 degrees of curl (AAOS) turn the chest by 80 about one axis, in equal shares."""
    posed = bent(FIGURE, spine_curl=80.0)
    turned = [posed.turn[FIGURE.names.index(n)] for n in ("spine_1", "spine_2", "chest")]
    degrees = [np.degrees(np.arccos((np.trace(turn) - 1.0) / 2.0)) for turn in turned]
    assert degrees == pytest.approx([80.0 / 3.0, 160.0 / 3.0, 80.0])


def test_directions_are_as_the_labels_say():
    """Nod and curl go forward, turns to the character's left, eyes up, and the thigh up."""
    head = FIGURE.names.index("head")
    assert (bent(FIGURE, head_nod=45.0).turn[head] @ [0, 1, 0])[2] > 0.5
    assert (bent(FIGURE, head_turn=60.0).turn[head] @ [0, 0, 1])[0] > 0.5
    assert (bent(FIGURE, spine_turn=45.0).turn[head] @ [0, 0, 1])[0] > 0.5
    for eye in ("left_eye", "right_eye"):
        at_eye = FIGURE.names.index(eye)
        assert (bent(FIGURE, eyes_up=45.0).turn[at_eye] @ [0, 0, 1])[1] > 0.5
        assert (bent(FIGURE, eyes_aside=45.0).turn[at_eye] @ [0, 0, 1])[0] > 0.5
    rest = FIGURE["left_knee"].position
    raised = at(bent(FIGURE, left_thigh_raised=90.0), "left_knee")
    assert raised[1] > rest[1] + 0.2 and raised[2] > 0.15  # noqa: PT018
    toes = at(bent(FIGURE, left_toes_up=40.0), "left_toe_tip")
    assert toes[1] > FIGURE["left_toe_tip"].position[1]
    pointed = at(bent(FIGURE, left_ankle=50.0), "left_ball")
    assert pointed[1] < FIGURE["left_ball"].position[1]
    fist = bent(FIGURE, left_fist=100.0)
    away = [
        np.linalg.norm(at(p, "left_middle_tip") - at(p, "left_wrist")) for p in (bent(FIGURE), fist)
    ]
    assert away[1] < 0.6 * away[0]


@pytest.mark.parametrize("key", sorted(key for key in SLIDERS if key.startswith("left_")))
def test_equal_values_on_both_sides_mirror(key):
    """A slider and its twin at one value move a symmetric figure in mirror image."""
    slider = SLIDERS[key]
    assert slider.twin is not None
    twin = SLIDERS[slider.twin]
    assert (slider.low, slider.high, twin.twin) == (twin.low, twin.high, key)
    posed = bent(FIGURE, **{key: slider.high, twin.key: slider.high})
    for name in FIGURE.names:
        image = MIRROR @ at(posed, mirror_name(name))
        assert at(posed, name) == pytest.approx(image, abs=1e-9)


@pytest.mark.parametrize("name", ["flexion", "parallel", "outward"])
def test_motion_is_the_same_under_every_convention(name):
    """What a slider does to the flesh does not depend on how the axes were named or signed."""
    values = {"left_elbow": 60, "right_elbow": 60, "left_knee": 40, "right_thigh_raised": 30}
    values |= {"spine_curl": 20, "eyes_aside": 15, "left_index": 50, "right_index": 50}
    usual = bent(FIGURE, **values)
    other = orient(standard_skeleton("A"), load_convention(name))
    assert bent(other, **values).positions == pytest.approx(usual.positions, abs=1e-6)


def test_frame_and_units_do_not_matter():
    """A figure lying along +Z, a hundred times as large, has the same sliders."""
    turn = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    joints = tuple(
        replace(
            joint,
            position=100.0 * turn @ joint.position + 7.0,
            look=None if joint.look is None else turn @ joint.look,
        )
        for joint in standard_skeleton("A")
    )
    lying = orient(Skeleton(joints, Source(up="+Z", forward="-Y", height=100.0)))
    for slider in sliders_for(lying):
        usual = SLIDERS[slider.key]
        assert (slider.low, slider.high) == (usual.low, usual.high)
        for name, one in slider.turns.items():
            other = usual.turns[name]
            assert (one.bend, one.third, one.aim) == pytest.approx(
                (other.bend, other.third, other.aim), abs=1e-6
            )


def test_no_joint_no_slider():
    """A figure without ring fingers, eyes and legs is offered nothing for them."""
    words = ("ring", "eye", "hip", "knee", "ankle", "ball", "toe")
    joints = tuple(j for j in FIGURE if not any(word in j.name for word in words))
    keys = {slider.key for slider in sliders_for(FIGURE.with_joints(joints))}
    assert {"left_elbow", "left_index", "left_fist", "spine_curl"} <= keys
    assert not [key for key in keys if any(w in key for w in (*words, "thigh"))]


def test_sliders_add_up_but_not_beyond_the_range():
    """Fist and curl together bend a knuckle no farther than one of them; half of each adds up."""
    single = pose_of(SLIDERS.values(), {"left_index": 100.0})["left_index_2"].bend
    both = pose_of(SLIDERS.values(), {"left_index": 100.0, "left_fist": 100.0})
    assert both["left_index_2"].bend == pytest.approx(single)
    curl, fist = (SLIDERS[key].turns["left_index_2"].bend for key in ("left_index", "left_fist"))
    halves = pose_of(SLIDERS.values(), {"left_index": 50.0, "left_fist": 20.0})
    assert halves["left_index_2"].bend == pytest.approx(50.0 * curl + 20.0 * fist)


def test_nought_is_the_rest_pose():
    """No values, and values of nought, turn nothing."""
    assert pose_of(SLIDERS.values(), {}) == {}
    assert pose_of(SLIDERS.values(), dict.fromkeys(SLIDERS, 0.0)) == {}
