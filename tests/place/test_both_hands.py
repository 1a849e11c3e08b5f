"""Both hands of a character have as many fingers unless the mesh says otherwise."""

from __future__ import annotations

from dataclasses import replace

import pytest

from autoplace.measure.hand_shape import HandAtWrist, HandShape
from autoplace.measure.not_found import NotFound
from autoplace.place.both_hands import Shape, agreeing_hands
from autoplace.place.hands import place_hand
from tests.figures_hand import HandPlan, build_hand

NONE = {"left": False, "right": False}


@pytest.fixture(scope="module")
def five() -> HandShape:
    """An open left hand of five fingers."""
    hand = build_hand(HandPlan())
    length = hand.plan.length
    shape = HandAtWrist(
        hand.vertices, hand.faces, hand.wrist, hand.forearm, length, "left"
    ).measure()
    assert isinstance(shape, HandShape)
    assert shape.finger_count == 5
    return shape


def fewer(shape: HandShape, *lost: str) -> HandShape:
    """The same hand with fingers that are not seen."""
    kept = {name: line for name, line in shape.fingers.items() if name not in lost}
    return replace(shape, fingers=kept)


class Reader:
    """Gives what a hand shows by itself, or when it is read again."""

    def __init__(self, alone: dict[str, Shape], again: Shape) -> None:
        self.alone, self.again = alone, again
        self.asked: list[tuple[str, float | None, int | None]] = []

    def __call__(self, side: str, length: float | None, count: int | None) -> Shape:
        if count is None:
            return self.alone[side]
        self.asked.append((side, length, count))
        return self.again


def test_hands_that_agree_are_left_alone(five: HandShape):
    """Nothing is read twice."""
    read = Reader({"left": five, "right": five}, five)
    assert agreeing_hands(read, NONE) == {"left": five, "right": five}
    assert read.asked == []


def test_a_fist_is_read_again_as_the_open_hand_tells(five: HandShape):
    """Of a fist of four and an open hand of five the fist is read again, says so, and is as unsure
    as a closed hand at least."""
    fist = replace(fewer(five, "ring"), closed=True)
    read = Reader({"left": fist, "right": five}, five)
    hands = agreeing_hands(read, NONE)
    assert read.asked == [("left", None, 5)]
    left = hands["left"]
    assert isinstance(left, HandShape)
    assert left.told
    assert left.finger_count == 5
    assert left.notes[-1] == "read with 5 fingers like the right hand; by itself it shows 4"
    once, twice = (place_hand(hand).chains["index"][1].spread for hand in (five, left))
    assert twice == pytest.approx(3.0 * once)


def test_the_open_hand_is_believed_though_it_has_fewer(five: HandShape):
    """A fist that shows five fingers beside an open hand of four is the one that is read again."""
    read = Reader(
        {"left": fewer(five, "ring"), "right": replace(five, closed=True)}, fewer(five, "ring")
    )
    hands = agreeing_hands(read, NONE)
    assert [side for side, _, _ in read.asked] == ["right"]
    right = hands["right"]
    assert isinstance(right, HandShape)
    assert right.finger_count == 4


def test_a_mesh_that_says_otherwise_is_believed(five: HandShape):
    """Where the number does not show, tried with the other hand's length too, both stay and the
    hand with fewer says it."""
    read = Reader({"left": five, "right": fewer(five, "ring")}, NotFound("right hand", "not five"))
    hands = agreeing_hands(read, NONE)
    assert read.asked == [("right", None, 5), ("right", five.length, 5)]
    assert hands["left"] == five
    right = hands["right"]
    assert isinstance(right, HandShape)
    assert right.finger_count == 4
    assert not right.told
    assert right.notes[-1] == "it shows 4 fingers and the left hand 5"


def test_what_the_user_says_is_not_read_again(five: HandShape):
    """A hand whose fingers are named keeps them and tells the other, open as that may be."""
    read = Reader({"left": fewer(five, "ring"), "right": five}, fewer(five, "ring"))
    hands = agreeing_hands(read, {"left": True, "right": False})
    assert read.asked == [("right", None, 4)]
    assert isinstance(hands["right"], HandShape)
    assert hands["right"].finger_count == 4
    read = Reader({"left": fewer(five, "ring"), "right": five}, five)
    agreeing_hands(read, {"left": True, "right": True})
    assert read.asked == []
