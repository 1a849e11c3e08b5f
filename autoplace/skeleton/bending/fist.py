"""A fist as it closes: every finger curls by one share of its range, until its tip is on the palm.

Nobody's fingers reach the ends of all their ranges at once, for the palm is in the way; turned so
far, the tips of most hands would stand deep in it. What a skeleton must allow is that within the
ranges the tips come to lie on the palm.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.bending.hand_shape import Hand, find_hand
from autoplace.skeleton.bending.subject import Subject
from autoplace.skeleton.names import SIDES
from autoplace.skeleton.pose import Pose, Turn

__all__ = ["closed_fist"]

FloatArray = NDArray[np.float64]

STEPS = 40
"""Shares that are tried, evenly over the range, and again between the two beside the best: the
turns of a finger are then found to about a quarter of a degree."""


def closed_fist(subject: Subject, whole: Pose) -> Pose:
    """The fist that closes on the way to `whole`, which turns all joints to the ends of their
    ranges; the thumb goes there. A finger that does not reach the palm stays where it came nearest.
    """
    hands = [hand for side in SIDES if (hand := find_hand(subject, side)) is not None]
    chains = {
        f"{hand.side}_{finger}": (hand, hand.fingers[finger])
        for hand in hands
        for finger in hand.long_fingers
    }
    low, high = dict.fromkeys(chains, 0.0), dict.fromkeys(chains, 1.0)
    best: dict[str, float] = {}
    for _ in range(2):
        tried = {name: np.linspace(low[name], high[name], STEPS + 1) for name in chains}
        gaps = _gaps(subject, whole, chains, tried)
        for name, shares in tried.items():
            at = int(np.argmin(gaps[name]))
            best[name] = float(shares[at])
            low[name], high[name] = shares[max(at - 1, 0)], shares[min(at + 1, STEPS)]
    return _turned(whole, chains, best)


def _gaps(
    subject: Subject,
    whole: Pose,
    chains: Mapping[str, tuple[Hand, tuple[str, ...]]],
    tried: Mapping[str, FloatArray],
) -> dict[str, list[float]]:
    """By finger: how far its tip is from the palm at each of the shares (k,)."""
    gaps: dict[str, list[float]] = {name: [] for name in chains}
    for step in range(STEPS + 1):
        shares = {name: float(some[step]) for name, some in tried.items()}
        posed = subject.posed(_turned(whole, chains, shares))
        for name, (hand, chain) in chains.items():
            # rounded, so that noise does not decide between the two sides of a symmetric figure
            gap = hand.from_palm(posed.positions[subject.index[chain[-1]]])
            gaps[name].append(round(gap, 9))
    return gaps


def _turned(
    whole: Pose,
    chains: Mapping[str, tuple[Hand, tuple[str, ...]]],
    shares: Mapping[str, float],
) -> dict[str, Turn]:
    """The pose with every finger's turns at its share."""
    pose = dict(whole)
    for name, (_, chain) in chains.items():
        for joint in chain:
            if joint in pose:
                turn, share = pose[joint], shares[name]
                pose[joint] = Turn(share * turn.bend, share * turn.third, share * turn.aim)
    return pose
