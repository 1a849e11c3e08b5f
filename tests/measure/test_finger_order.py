"""How far a finger bends, on lines whose bends are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.measure.finger_line import FingerLine
from autoplace.measure.finger_order import HandSide, bend_towards, order_fingers

ALONG, PALM = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, -1.0])


def finger(bends: tuple[float, ...], bone: float = 1.0) -> FingerLine:
    """A line of bones of one length, each turned to the palm by degrees more than the last."""
    angles = np.radians(np.cumsum(bends))
    ways = np.cos(angles)[:, None] * ALONG + np.sin(angles)[:, None] * PALM
    steps = np.repeat(ways * bone / 10.0, 10, axis=0)
    points = np.concatenate([[np.zeros(3)], np.cumsum(steps, axis=0)])
    arc = np.linspace(0.0, bone * len(bends), len(points))
    tangents = np.gradient(points, arc, axis=0)
    tangents /= np.linalg.norm(tangents, axis=1, keepdims=True)
    return FingerLine(points, arc, tangents, np.full(len(points), 0.2), 0.0, arc[-1])


@pytest.mark.parametrize("bends", [(0.0, 0.0, 0.0), (18.0, 22.0, 12.0), (72.0, 88.0, 52.0)])
def test_bends_add_up_also_beyond_two_right_angles(bends: tuple[float, ...]) -> None:
    """From the hand's own direction on the end is turned by the sum of the bends, a fist's by more
    than half a turn."""
    assert np.degrees(bend_towards(finger(bends), ALONG, PALM)) == pytest.approx(sum(bends))


def test_a_finger_that_bends_back_counts_below_nothing() -> None:
    """A finger bent away from the palm has a negative bend."""
    bend = bend_towards(finger((-10.0, -5.0, -5.0)), ALONG, PALM)
    assert np.degrees(bend) == pytest.approx(-20.0)


def placed(x: float, y: float, aside: float, bends: tuple[float, ...], bone: float) -> FingerLine:
    """A finger that begins at (x, y, 0), in hand lengths, turned aside by degrees towards +X."""
    line = finger(bends, bone)
    turn = np.radians(aside)
    way = np.array([[np.cos(turn), np.sin(turn), 0], [-np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    return replace(
        line,
        points=line.points @ way.T + np.array([x, y, 0.0]),
        tangents=line.tangents @ way.T,
        half_width=np.full(len(line.points), 0.04),
        web=y,
        tip_distance=y + float(line.arc[-1]),
    )


RELAXED = (8.0, 22.0, 12.0)
LEFT_HAND = [
    placed(0.24, 0.56, 4.0, (4.0, 5.0, 5.0), 0.08),
    placed(0.15, 0.56, 5.0, RELAXED, 0.14),
    placed(0.05, 0.56, 0.0, RELAXED, 0.15),
    placed(-0.05, 0.55, -5.0, RELAXED, 0.14),
    placed(-0.15, 0.50, -22.0, RELAXED, 0.09),
]
"""Seen from its back a left hand has its thumb on the right, +X, and bends to -Z. This thumb lies
along the hand and begins beyond the little finger, which stands off and is as short."""


def test_the_side_of_a_hand_tells_a_thumb_from_a_little_finger() -> None:
    """By their looks the little finger is rather the thumb; but then the fingers of this left hand
    would bend to its back."""
    found = order_fingers(LEFT_HAND, "left")
    assert found.order == [0, 1, 2, 3, 4]
    assert found.doubtful


def test_a_doubtful_thumb_makes_the_side_doubtful() -> None:
    """Which hand it is, is told no more surely than which finger is its thumb, and alike whatever
    side the hand was measured as: with the little finger for its thumb it were a right one."""
    for side in ("left", "right"):
        found = order_fingers(LEFT_HAND, side)
        told = found.side(HandSide(side, 1.0), side)
        assert told.side == "right"
        assert told.sure < 0.9


def test_a_clear_thumb_leaves_no_doubt() -> None:
    """A thumb that stands off begins nearest to the wrist and ends there too: it is the thumb
    whichever hand it is taken for, and the side is as sure as the palm shows it."""
    lines = [placed(0.2, 0.25, 45.0, (4.0, 5.0, 5.0), 0.1), *LEFT_HAND[1:]]
    for side in ("left", "right"):
        found = order_fingers(lines, side)
        assert found.order[0] == 0
        assert not found.doubtful
        assert found.side(HandSide("left", 0.99), side).side == "left"


def test_four_fingers_without_a_thumb_are_not_given_one() -> None:
    """The four fingers of a left hand whose thumb does not show begin with the index finger; who
    says that one of them is the thumb has his way."""
    row = [*LEFT_HAND[1:4], placed(-0.15, 0.5, -12.0, RELAXED, 0.12)]
    found = order_fingers(row, "left")
    assert not found.seen
    assert found.order == [0, 1, 2, 3]
    assert order_fingers(row, "left", seen=True).seen


def test_the_thumb_of_a_fist_lies_beside_the_row_of_folds() -> None:
    """Of a fist only folds stand free: those of the fingers lie in one row and the little finger's
    ends nearest to the wrist, but the thumb is what lies before the row and begins below it."""
    folds = [
        placed(x, y, 0.0, (60.0, 60.0, 30.0), 0.04)
        for x, y in ((0.15, 0.60), (0.05, 0.61), (-0.05, 0.60), (-0.15, 0.55))
    ]
    thumb = placed(0.16, 0.5, -40.0, RELAXED, 0.07)
    before = replace(thumb, points=thumb.points + 0.12 * PALM, web=0.6, tip_distance=0.76)
    for side in ("left", "right"):
        found = order_fingers([*folds, before], side)
        assert found.order == [4, 0, 1, 2, 3]
