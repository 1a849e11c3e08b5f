"""Fingers are told apart in cells as fine as that takes."""

from __future__ import annotations

from unittest import mock

import pytest

from autoplace.measure import hand_region
from autoplace.measure.hand_fingers import FingerTeller
from autoplace.measure.hand_region import find_hand_box
from tests.figures_hand import HandPlan, build_hand, plan_of


def told(plan: HandPlan, count: int | None = None) -> tuple[int, int]:
    """How many fingers show, and how often the hand was filled."""
    hand = build_hand(plan)
    filled = mock.Mock(side_effect=hand_region.fill_solid)
    with mock.patch.object(hand_region, "fill_solid", filled):
        box = find_hand_box(hand.vertices, hand.faces, hand.wrist, hand.forearm, plan.length)
        assert box is not None
        found = FingerTeller(box, plan.length).tell(count)
    assert found is not None
    return len(found.branches), filled.call_count


def test_a_hand_of_five_fingers_is_filled_twice() -> None:
    """Once coarsely, to see where it is, and once finely: nothing more could be told."""
    assert told(plan_of(0)) == (5, 2)


@pytest.mark.parametrize("count", [3, 4])
def test_fewer_fingers_than_asked_for_are_not_made_up(count: int) -> None:
    """A number that no cells show changes nothing, and the coarse pass is not done again."""
    fingers, filled = told(plan_of(0), count)
    assert fingers == 5
    assert filled <= 3


def test_a_second_number_is_looked_for_in_the_same_cells() -> None:
    """Nothing is filled anew, and what is found is what a first look for that number finds."""
    hand = build_hand(plan_of(0))
    box = find_hand_box(hand.vertices, hand.faces, hand.wrist, hand.forearm, plan_of(0).length)
    assert box is not None
    teller = FingerTeller(box, plan_of(0).length)
    teller.tell(3)
    filled = mock.Mock(side_effect=hand_region.fill_solid)
    with mock.patch.object(hand_region, "fill_solid", filled):
        again = teller.tell()
    fresh = FingerTeller(box, plan_of(0).length).tell()
    assert filled.call_count == 0
    assert again is not None
    assert fresh is not None
    assert [b.cells.tolist() for b in again.branches] == [b.cells.tolist() for b in fresh.branches]
