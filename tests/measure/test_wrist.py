"""The wrists of two arms judged together; all lengths are those of an arm of length one."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.wrist import HAND_SHARE, HAND_SHARE_SPREAD, Wrist, wrists_alike

HIDDEN = 1.0 - HAND_SHARE


def wrist(hand: float | None, total: float = 1.0, spread: float = 0.01) -> Wrist:
    """Of an arm that shows a hand of this share of it, or none."""
    share = np.array([] if hand is None else [hand])
    places = np.append(1.0 - share, HIDDEN) * total
    spreads = np.append(np.full(len(share), spread), HAND_SHARE_SPREAD) * total
    misfit = np.append(((share - HAND_SHARE) / HAND_SHARE_SPREAD) ** 2, 0.0)
    likely = np.zeros(len(places))
    likely[0] = 1.0
    return Wrist(total, places, spreads, likely, misfit)


@pytest.mark.parametrize("hand", [0.12, 0.26, 0.5])
def test_arms_that_agree_keep_their_wrists(hand):
    """Small, usual or huge, a hand that both arms show stays as each shows it."""
    one = wrist(hand)
    again = wrists_alike(one, wrist(hand))
    assert again.arc == pytest.approx(one.arc)
    assert again.spread == pytest.approx(one.spread)


@pytest.mark.parametrize("curled", [0.0, 0.06])
def test_arms_posed_apart_agree(curled):
    """Fingers that are curled make one arm shorter, by no more than the arms agree from the
    shoulder: the wrist stays within a spread."""
    one = wrist(0.25)
    length = 1.0 - curled
    again = wrists_alike(one, wrist((0.25 - curled) / length, length))
    assert again.arc == pytest.approx(one.arc, abs=one.spread)


@pytest.mark.parametrize("hand", [0.16, 0.3, 0.4])
def test_a_wrist_that_does_not_show_is_the_other_ones(hand):
    """It comes nearer to the other arm's than to the usual share, and is surer than alone."""
    again = wrists_alike(wrist(None), wrist(hand))
    assert abs(again.arc - (1.0 - hand)) < 0.5 * abs(HIDDEN - (1.0 - hand)) + 0.001
    assert again.spread < HAND_SHARE_SPREAD
    assert again.by_other


def test_nothing_is_learned_from_an_arm_that_shows_none():
    """Two arms without hands stay as they are."""
    alone = wrists_alike(wrist(None), wrist(None))
    assert alone.arc == HIDDEN
    assert not alone.by_other
    one = wrist(0.2)
    assert wrists_alike(one, wrist(None)).arc == pytest.approx(one.arc, abs=one.spread)


def test_an_arm_that_holds_something_tells_nothing():
    """An arm that a blade makes half as long again leaves the other as it is."""
    one = wrist(None)
    assert wrists_alike(one, wrist(0.5, total=1.5)) is one


def test_of_two_that_disagree_the_unlikely_hand_is_misread():
    """A bracer read as the hand, half of the arm, yields to the other arm's hand of a quarter,
    which stays; the one that yields says that it is unsure."""
    good, bad = wrist(0.25), wrist(0.5)
    assert wrists_alike(good, bad).arc == pytest.approx(good.arc, abs=0.02)
    again = wrists_alike(bad, good)
    assert again.arc == pytest.approx(good.arc, abs=0.05)
    assert again.spread > 2.0 * good.spread


def test_of_two_places_on_one_arm_the_other_arm_tells_which():
    """A hand or its cuff, of which either may be the hand: the other arm, which has no cuff, says
    that it is the hand."""
    one = wrist(0.25)
    both = Wrist(
        1.0,
        np.array([0.65, 0.75, HIDDEN]),
        np.array([0.01, 0.01, HAND_SHARE_SPREAD]),
        np.array([0.5, 0.5, 0.0]),
        np.array([0.8, 0.0, 0.0]),
    )
    again = wrists_alike(both, one)
    assert again.arc == pytest.approx(0.75, abs=0.01)
    assert again.spread < both.spread


def test_hands_that_may_both_be_leave_it_open():
    """Where a hand of .22 stands against one of .36, neither is unlikely: both wrists lie between
    the two, and their spreads reach what they read themselves."""
    one, other = wrist(0.22), wrist(0.36)
    for mine, theirs in ((one, other), (other, one)):
        again = wrists_alike(mine, theirs)
        low, high = sorted((mine.arc, theirs.arc))
        assert low - 0.001 < again.arc < high + 0.001
        assert abs(again.arc - mine.arc) < 2.0 * again.spread
