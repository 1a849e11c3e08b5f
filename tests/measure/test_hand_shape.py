"""Hands are measured: fingers counted and named, palm told from back, wrist found."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import trimesh

from autoplace.measure.hand_shape import HandAtWrist, HandShape
from autoplace.measure.not_found import NotFound
from tests.figures_hand import NAMES, HandPlan, KnownHand, build_hand

FOUR = HandPlan(fingers=4, girth=0.068, length=0.15, side="right")
THREE = HandPlan(fingers=3, girth=0.065, length=0.16)
MITTEN = HandPlan(fingers=2, girth=0.055, length=0.13, mitten=True)
FIVE = HandPlan()


@cache
def known(plan: HandPlan) -> KnownHand:
    return build_hand(plan)


def measured(hand: KnownHand, shift: float = 0.1, guess: float = 1.2) -> HandShape:
    """The hand measured from a wrist that is off by a share of its length."""
    length = hand.plan.length
    shape = HandAtWrist(
        hand.vertices,
        hand.faces,
        hand.wrist + shift * length * hand.forearm,
        hand.forearm,
        guess * length,
        hand.plan.side,
    ).measure()
    assert isinstance(shape, HandShape), str(shape)
    return shape


@pytest.mark.parametrize(
    "plan", [FIVE, FOUR, THREE, MITTEN], ids=["five", "four", "three", "mitten"]
)
def test_fingers_are_counted_and_named_by_position(plan: HandPlan) -> None:
    """Each finger bears the name of the finger whose end it reaches."""
    hand = known(plan)
    shape = measured(hand)
    assert tuple(shape.fingers) == NAMES[plan.fingers]
    for name, line in shape.fingers.items():
        assert np.linalg.norm(line.tip - hand.joints[name][3]) < 0.04 * plan.length


@pytest.mark.parametrize(
    "plan", [FIVE, FOUR, THREE, MITTEN], ids=["five", "four", "three", "mitten"]
)
def test_the_palm_is_told_from_the_back(plan: HandPlan) -> None:
    """The palm's normal points out of the palm, within 25 degrees, on either side."""
    hand = known(plan)
    assert np.dot(measured(hand).palm_normal, hand.palm) > np.cos(np.radians(25.0))


@pytest.mark.parametrize("shift", [-0.22, 0.0, 0.22])
@pytest.mark.parametrize("guess", [0.72, 1.3])
def test_a_rough_start_is_enough(shift: float, guess: float) -> None:
    """A wrist off by a fifth of the hand and a length off by 30 percent change no finger's end."""
    hand = known(FIVE)
    shape = measured(hand, shift, guess)
    assert tuple(shape.fingers) == NAMES[5]
    ends = [np.linalg.norm(shape.fingers[n].tip - hand.joints[n][3]) for n in NAMES[5]]
    assert max(ends) < 0.02 * FIVE.length


def test_the_wrist_shows_in_the_sections() -> None:
    """The wrist hint is nearer to the wrist than a fifth of the hand, and says how sure it is."""
    hand = known(FIVE)
    hint = measured(hand, -0.2).wrist_hint
    assert np.linalg.norm(hint.position - hand.wrist) < 0.2 * FIVE.length
    assert 0.02 * FIVE.length < hint.spread < 0.15 * FIVE.length


def test_a_mirrored_hand_measures_the_same() -> None:
    """A right hand is the mirror image of a left one, to a hundredth of the hand."""
    left = known(FIVE)
    mirror = np.array([-1.0, 1.0, 1.0])
    right = replace(
        left,
        plan=replace(FIVE, side="right"),
        vertices=left.vertices * mirror,
        faces=left.faces[:, ::-1],
        wrist=left.wrist * mirror,
        forearm=left.forearm * mirror,
    )
    one, other = measured(left), measured(right)
    assert tuple(one.fingers) == tuple(other.fingers)
    for name, line in one.fingers.items():
        assert np.linalg.norm(line.tip * mirror - other.fingers[name].tip) < 0.01 * FIVE.length
    assert np.allclose(one.palm_normal * mirror, other.palm_normal, atol=0.1)


def test_a_hand_apart_from_its_arm_is_found() -> None:
    """A hand that is a part of its own, with a gap to the forearm, loses no finger."""
    hand = known(replace(FIVE, apart=True))
    assert tuple(measured(hand).fingers) == NAMES[5]


def test_unwelded_triangles_change_nothing() -> None:
    """Every triangle with corners of its own gives the same fingers."""
    hand = known(FIVE)
    loose = replace(
        hand,
        vertices=hand.vertices[hand.faces].reshape(-1, 3),
        faces=np.arange(3 * len(hand.faces)).reshape(-1, 3),
    )
    one, other = measured(hand), measured(loose)
    for name, line in one.fingers.items():
        assert np.allclose(line.points, other.fingers[name].points)


def test_a_leg_beside_the_hand_is_left_out() -> None:
    """A column two fingers' breadths beside the fingers does not become part of the hand."""
    hand = known(FIVE)
    n, length = 24, FIVE.length
    turn = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)
    side = hand.wrist + 0.5 * length * hand.forearm + 1.0 * length * hand.palm
    ring = np.stack([np.cos(turn), 0.0 * turn, np.sin(turn)], axis=1) * 0.5 * length
    # a column along the arm, closed at both ends
    ring = np.stack([ring[:, 1], ring[:, 0], ring[:, 2]], axis=1)
    ends = [side - 1.5 * length * hand.forearm, side + 1.5 * length * hand.forearm]
    column = np.concatenate([ends[0] + ring, ends[1] + ring, ends])
    i, j = np.arange(n), (np.arange(n) + 1) % n
    faces = np.concatenate(
        [
            np.stack([i, j, i + n], axis=1),
            np.stack([j, j + n, i + n], axis=1),
            np.stack([j, i, np.full(n, 2 * n)], axis=1),
            np.stack([i + n, j + n, np.full(n, 2 * n + 1)], axis=1),
        ]
    )
    corners = column[faces] - column.mean(axis=0)
    volume = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum()
    faces = faces if volume > 0 else faces[:, ::-1]
    both = replace(
        hand,
        vertices=np.concatenate([hand.vertices, column]),
        faces=np.concatenate([hand.faces, faces + len(hand.vertices)]),
    )
    assert tuple(measured(both).fingers) == NAMES[5]


def test_no_fingers_is_an_answer_with_a_reason() -> None:
    """A stump is not a hand, and the reason says so; nothing at all likewise."""
    hand = known(FIVE)
    cut = (hand.vertices - hand.wrist) @ hand.forearm < 0.12 * FIVE.length
    stump = hand.faces[cut[hand.faces].all(axis=1)]
    for faces in (stump, stump[:0]):
        answer = HandAtWrist(
            hand.vertices, faces, hand.wrist, hand.forearm, FIVE.length, "left"
        ).measure()
        assert isinstance(answer, NotFound)
        assert not answer
        assert "left hand not found: " in str(answer)


def test_names_can_be_given() -> None:
    """Names handed in replace those by count; a wrong number of them is refused."""
    hand = known(FOUR)
    named = ("thumb", "index", "ring", "pinky")
    args = (hand.vertices, hand.faces, hand.wrist, hand.forearm, FOUR.length, "right")
    shape = HandAtWrist(*args, names=named).measure()
    assert isinstance(shape, HandShape)
    assert tuple(shape.fingers) == named
    assert "4 fingers found, but 2 names given" in str(
        HandAtWrist(*args, names=named[:2]).measure()
    )


def test_a_lone_finger_is_no_thumb() -> None:
    """A thumb stands beside other fingers, so the only one cannot be called so."""
    arm, block = trimesh.creation.box([0.3, 0.3, 0.8]), trimesh.creation.box([0.5, 0.5, 0.75])
    arm.apply_translation([0.0, 0.0, -0.35])
    block.apply_translation([0.0, 0.0, 0.3])
    hand = trimesh.util.concatenate([block, arm])
    toward = np.array([0.0, 0.0, 1.0])
    args = (np.array(hand.vertices), np.array(hand.faces), 0.0 * toward, toward, 0.7, "left")
    assert isinstance(HandAtWrist(*args, names=("index",)).measure(), HandShape)
    assert "no thumb" in str(HandAtWrist(*args, names=("thumb",)).measure())


@pytest.mark.parametrize("wanted", [5, None])
def test_a_number_of_fingers_can_be_asked_for(wanted: int | None) -> None:
    """A hand of five fingers is one, asked for or not."""
    hand = known(FIVE)
    length = FIVE.length
    shape = HandAtWrist(
        hand.vertices, hand.faces, hand.wrist, hand.forearm, length, FIVE.side
    ).measure(wanted)
    assert isinstance(shape, HandShape)
    assert shape.finger_count == 5


@pytest.mark.parametrize(("plan", "wanted", "shown"), [(MITTEN, 5, 2), (FIVE, 4, 5)])
def test_a_number_that_does_not_show_is_said(plan: HandPlan, wanted: int, shown: int) -> None:
    """A mitten is not read as a hand of five fingers, nor one of five free fingers as one of
    four."""
    hand = known(plan)
    length = plan.length
    shape = HandAtWrist(
        hand.vertices, hand.faces, hand.wrist, hand.forearm, length, plan.side
    ).measure(wanted)
    assert isinstance(shape, NotFound)
    assert shape.why == f"{shown} fingers found, but not {wanted}"


@pytest.mark.parametrize("gap", [-0.002, 0.0])
def test_thin_fingers_that_touch_are_told_apart(gap: float) -> None:
    """Four rods of three cells that serve for most hands, which touch or overlap a little, are four
    fingers beside the thumb."""
    radius = 0.023
    places = (np.arange(4) - 1.5) * (2.0 * radius + gap)
    parts = [trimesh.creation.capsule(0.45, radius, count=[16, 16]) for _ in places]
    for x, rod in zip(places, parts, strict=True):
        rod.apply_translation([x, 0.0, 0.725])
    palm = trimesh.creation.box([0.24, 0.09, 0.45])
    palm.apply_translation([0.0, 0.0, 0.275])
    arm = trimesh.creation.box([0.15, 0.1, 0.5])
    arm.apply_translation([0.0, 0.0, -0.15])
    thumb = trimesh.creation.capsule(0.35, 1.2 * radius, count=[16, 16])
    thumb.apply_transform(trimesh.transformations.rotation_matrix(0.7, [0.0, 1.0, 0.0]))
    thumb.apply_translation([0.19, 0.02, 0.35])
    hand = trimesh.util.concatenate([palm, arm, thumb, *parts])
    shape = HandAtWrist(
        np.array(hand.vertices),
        np.array(hand.faces),
        np.array([0.0, 0.0, 0.03]),
        np.array([0.0, 0.0, 1.0]),
        1.0,
        "left",
    ).measure()
    assert isinstance(shape, HandShape), str(shape)
    assert list(shape.fingers) == ["thumb", "index", "middle", "ring", "pinky"]
    for name, x in zip(("index", "middle", "ring", "pinky"), places[::-1], strict=True):
        assert abs(shape.fingers[name].tip[0] - x) < 0.5 * radius, name
        assert abs(shape.fingers[name].tip[2] - 0.95 - radius) < 0.5 * radius, name


@pytest.mark.parametrize("name", [None, "index"])
def test_a_hand_as_thick_as_long_has_its_finger_in_its_middle(name: str | None) -> None:
    """A blunt block of a hand that hangs to one side ends in a face, whose farthest corner is no
    fingertip: the one finger keeps within a third of half the thickness of the block's axis,
    whatever it is called."""
    tilt = trimesh.transformations.rotation_matrix(0.2, [1.0, 0.0, 0.0])
    block = trimesh.creation.box([0.5, 0.5, 0.75])
    block.apply_translation([0.0, 0.0, 0.3])
    block.apply_transform(tilt)
    arm = trimesh.creation.box([0.3, 0.3, 0.8])
    arm.apply_translation([0.0, 0.0, -0.35])
    hand = trimesh.util.concatenate([block, arm])
    shape = HandAtWrist(
        np.array(hand.vertices),
        np.array(hand.faces),
        np.array([0.0, 0.0, 0.0]),
        np.array([0.0, 0.0, 1.0]),
        0.7,
        "left",
        None if name is None else (name,),
    ).measure()
    assert isinstance(shape, HandShape), str(shape)
    ((named, finger),) = shape.fingers.items()
    assert named == (name or "middle")
    axis = tilt[:3, 2]
    outer = finger.points[finger.points @ axis > 0.4]
    beside = np.linalg.norm(outer - np.outer(outer @ axis, axis), axis=1)
    assert len(outer) > 4
    assert beside.max() < 0.25 / 3.0
