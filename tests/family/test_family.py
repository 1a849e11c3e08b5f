"""How well the invented family is placed: a spread of it always, the whole of it when asked for."""

from __future__ import annotations

import numpy as np
import pytest

from meshes.family import family
from tests.dataset import scores
from tests.examples import each_time
from tests.family.placing import TARGETS, Scored, score, score_all, told_apart

SPREADS = (("m000",), ("m163",), ("m045", "m100"))
"""Three to nine heads tall, in skirts, coat and cape, bubble, helmet and horns, in T and with bent
elbows. Chosen among the members that are placed well: they hold what works, the whole family says
how much does."""
SPREAD_LIMIT = scores.Target(0.8, 2.2)
FAILURES_TODAY, SWAPS_TODAY = 1, 0
"""Of the 220 members, when this was last looked at; may only go down."""
LIMBS_TODAY = scores.Target(0.55, 1.6)
"""What the limbs of the members of odd number meet, of which nothing was learned; may only come
nearer to the target."""


@pytest.fixture(scope="module", params=each_time(SPREADS[:1], SPREADS[1:]))
def spread(request) -> list[Scored]:
    members = [m for m in family() if m.params.name.split("_")[0] in request.param]
    assert len(members) == len(request.param)
    return [score(member) for member in members]


@pytest.fixture(scope="module")
def whole() -> list[Scored]:
    return score_all(family())


def told(scored: list[Scored]) -> str:
    """What went wrong, for the message of a failed test."""
    outcomes = [one.outcome for one in scored]
    return "\n".join(scores.failure_lines(outcomes) + scores.worst_lines(outcomes))


def seen_limbs(scored: list[Scored]) -> np.ndarray:
    return scores.group_errors([one.seen for one in scored], "limbs")


def test_spread_is_placed_without_failure(spread):
    """Members of different build, dress and pose are placed, with no side swapped."""
    assert not [one for one in spread if one.outcome.problems or one.swapped], told(spread)


def test_spread_is_within_the_limit(spread):
    """Their limb joints are within .8 percent of the height in the middle, 95 of 100 within 2.2."""
    assert SPREAD_LIMIT.met(seen_limbs(spread)), told(spread)


@pytest.mark.family
def test_no_more_members_fail_than_did(whole):
    """Of the whole family no more members fail or have sides swapped than did before."""
    assert sum(bool(one.outcome.problems) for one in whole) <= FAILURES_TODAY, told(whole)
    assert sum(bool(one.swapped) for one in whole) <= SWAPS_TODAY, told(whole)


@pytest.mark.family
def test_limbs_are_no_farther_off_than_they_were(whole):
    """Of the limb joints of members that nothing was learned from half lie within .55 percent of
    the height, 95 of 100 within 1.6."""
    odd, _ = told_apart(whole)
    assert LIMBS_TODAY.met(seen_limbs(odd)), told(odd)


@pytest.mark.family
@pytest.mark.xfail(
    strict=True,
    reason="fingers that touch are missed on a few hands",
)
def test_whole_family_is_within_the_targets(whole):
    """Every member is placed without failure, and together their limbs meet the targets."""
    assert not [one for one in whole if one.outcome.problems or one.swapped], told(whole)
    assert TARGETS["limbs"].met(seen_limbs(whole)), told(whole)
