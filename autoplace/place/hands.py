"""Finger joints of a measured hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hand_shape import HandShape, WristHint
from autoplace.place.finger_chain import PlacedPoint, finger_chains
from autoplace.place.hand_priors import HandPriors
from autoplace.place.thumb_chain import thumb_chain

__all__ = ["HandPlacement", "PlacedPoint", "place_hand"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class HandPlacement:
    """The finger joints of one hand, working frame."""

    chains: Mapping[str, list[PlacedPoint]]
    """Four points by finger name: joints 1 to 3 and the tip."""
    palm_normal: FloatArray
    """(3,) unit, out of the palm."""
    finger_count: int
    wrist_hint: WristHint
    notes: tuple[str, ...] = ()


def place_hand(
    shape: HandShape,
    wrist: FloatArray | None = None,
    side: str | None = None,
    priors: HandPriors | None = None,
) -> HandPlacement:
    """Place the joints of all fingers of a hand.

    Args:
        shape: the measured hand.
        wrist: (3,) the wrist joint, if it is known better than the hand alone shows.
        side: 'left' or 'right'; must be that of the shape when given.
        priors: proportions to place by.

    Returns:
        Four points a finger, with spread and evidence.

    Raises:
        ValueError: when `side` is not the side the shape was measured as.
    """
    if side is not None and side != shape.side:
        raise ValueError(f"the shape was measured as a {shape.side} hand, not a {side} one")
    priors = priors or HandPriors()
    at = shape.wrist_hint.position if wrist is None else np.asarray(wrist, dtype=np.float64)
    chains: dict[str, list[PlacedPoint]] = {}
    if "thumb" in shape.fingers:
        chains["thumb"] = thumb_chain(shape, at, priors.thumb)
    chains.update(finger_chains(shape, priors))
    return HandPlacement(
        chains, shape.palm_normal, shape.finger_count, shape.wrist_hint, shape.notes
    )
