"""A fist as it closes: every finger curls by one share of its range, until its tip is on the palm.

Nobody's fingers reach the ends of all their ranges at once, for the palm is in the way; turned so
far, the tips of most hands would stand deep in it. What a skeleton must allow is that within the
ranges the tips come to lie on the palm.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from autoplace.skeleton.bending.gaps import thumb_gap
from autoplace.skeleton.bending.hand_shape import Hand, find_hand
from autoplace.skeleton.bending.subject import Subject
from autoplace.skeleton.names import SIDES
from autoplace.skeleton.pose import Pose, Posed, Turn

__all__ = ["closed_fist"]

Chain = tuple[str, ...]
"""Joints of a finger from its knuckle to its tip."""
Gap = Callable[[Posed, Hand, Chain], float]

STEPS = 40
"""Shares that are tried, evenly over the range, and again between the two beside the best: the
turns of a finger are then found to about a quarter of a degree."""


def closed_fist(subject: Subject, whole: Pose) -> Pose:
    """The fist that closes on the way to `whole`, which turns all joints to the ends of their
    ranges: first the fingers on the palm, then the thumb on them or on the palm. One that does not
    reach what it should lie on stays where it came nearest.
    """
    hands = [hand for side in SIDES if (hand := find_hand(subject, side)) is not None]
    fingers = {
        f"{hand.side}_{f}": (hand, hand.fingers[f]) for hand in hands for f in hand.long_fingers
    }
    thumbs = {
        f"{hand.side}_thumb": (hand, hand.fingers["thumb"])
        for hand in hands
        if "thumb" in hand.fingers and hand.long_fingers
    }

    def from_palm(posed: Posed, hand: Hand, chain: Chain) -> float:
        return hand.from_palm(posed.positions[subject.index[chain[-1]]])

    def from_fist(posed: Posed, hand: Hand, chain: Chain) -> float:
        return thumb_gap(subject, posed, hand)

    return _stopped(subject, _stopped(subject, whole, fingers, from_palm), thumbs, from_fist)


def _stopped(
    subject: Subject, whole: Pose, chains: Mapping[str, tuple[Hand, Chain]], gap_of: Gap
) -> Pose:
    """The pose with the turns of each of the chains stopped where its gap is least."""
    low, high = dict.fromkeys(chains, 0.0), dict.fromkeys(chains, 1.0)
    best: dict[str, float] = {}
    for _ in range(2 if chains else 0):
        tried = {name: np.linspace(low[name], high[name], STEPS + 1) for name in chains}
        gaps: dict[str, list[float]] = {name: [] for name in chains}
        for step in range(STEPS + 1):
            shares = {name: float(some[step]) for name, some in tried.items()}
            posed = subject.posed(_turned(whole, chains, shares))
            for name, (hand, chain) in chains.items():
                # rounded, so that noise does not decide between the sides of a symmetric figure
                gaps[name].append(round(gap_of(posed, hand, chain), 9))
        for name, some in tried.items():
            at = int(np.argmin(gaps[name]))
            best[name] = float(some[at])
            low[name], high[name] = float(some[max(at - 1, 0)]), float(some[min(at + 1, STEPS)])
    return _turned(whole, chains, best)


def _turned(
    whole: Pose,
    chains: Mapping[str, tuple[Hand, Chain]],
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
