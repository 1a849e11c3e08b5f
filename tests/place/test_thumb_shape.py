"""The thumb's base is read from the thumb that shows."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.hand_shape import HandAtWrist, HandShape
from autoplace.place import readings
from autoplace.place.hands import place_hand
from autoplace.place.thumb_shape import ThumbShape
from tests.figures_hand import KnownHand, build_hand, plan_of


@pytest.fixture(scope="module")
def hand() -> KnownHand:
    return build_hand(plan_of(0))


@pytest.fixture(scope="module")
def seen(hand: KnownHand) -> ThumbShape:
    shape = measured(hand, 1.0)
    chain = place_hand(shape, hand.wrist).chains["thumb"]
    return ThumbShape(shape, hand.wrist, np.array([point.position for point in chain[1:]]))


def measured(hand: KnownHand, size: float) -> HandShape:
    plan = hand.plan
    shape = HandAtWrist(
        size * hand.vertices,
        hand.faces,
        size * hand.wrist,
        hand.forearm,
        size * plan.length,
        plan.side,
    ).measure()
    assert isinstance(shape, HandShape), str(shape)
    return shape


def test_coordinates_lead_back_to_the_point(seen: ThumbShape) -> None:
    """A point's coordinates give the point again, and its axes say how it moves with them."""
    point = seen.joints[0] + [0.01, -0.02, 0.005]
    at = seen.coordinates(point)
    assert seen.point(at) == pytest.approx(point)
    step = np.array([1e-3, -2e-3, 3e-3])
    assert seen.point(at + step) - point == pytest.approx(seen.axes(at) @ step)


def test_values_are_free_of_size(hand: KnownHand, seen: ThumbShape) -> None:
    """A hand twice as large shows the same thumb."""
    large = measured(hand, 2.0)
    chain = place_hand(large, 2.0 * hand.wrist).chains["thumb"]
    twice = ThumbShape(large, 2.0 * hand.wrist, np.array([p.position for p in chain[1:]]))
    assert twice.values == pytest.approx(seen.values, abs=1e-9)


def test_a_thumb_like_no_other_is_not_read(seen: ThumbShape) -> None:
    """A thumb that ends far behind the wrist says nothing of its base."""
    away = seen.joints - 3.0 * seen.hand.length * seen.hand.along
    strange = ThumbShape(seen.hand, seen.wrist, away)
    assert readings.read_joint("thumb", "thumb_1", strange, "") is None


def test_what_was_read_stands_among_the_reasons(hand: KnownHand, seen: ThumbShape) -> None:
    """The base says what was read, beside the hand and the thumb's own bones."""
    base = place_hand(seen.hand, hand.wrist).chains["thumb"][0]
    kinds = [reason.kind for reason in base.evidence]
    assert kinds == ["hand_share", "bone_share", "learned_shape"]
    assert sum(reason.weight for reason in base.evidence) == pytest.approx(1.0)
