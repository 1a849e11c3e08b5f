"""Finger joints of a measured hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hand_shape import HandShape, WristHint
from autoplace.place.finger_chain import finger_chains
from autoplace.place.hand_priors import HandPriors
from autoplace.place.placed_point import PlacedPoint
from autoplace.place.thumb_chain import thumb_chain

__all__ = ["HandPlacement", "PlacedPoint", "place_hand"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class HandPlacement:
    """The finger joints of one hand, working frame."""

    chains: Mapping[str, list[PlacedPoint]]
    """Four points by finger name: joints 1 to 3 and the tip."""
    hinges: Mapping[str, FloatArray]
    """(3,) unit by finger name: at right angles to the finger's bend plane; a right-handed turn
    about it curls the finger towards the palm."""
    palm_normal: FloatArray
    """(3,) unit, out of the palm."""
    finger_count: int
    """Number of fingers found, the thumb included."""
    wrist_hint: WristHint
    """The wrist as the hand's own sections show it."""
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
    fitted: dict[str, tuple[list[PlacedPoint], FloatArray]] = {}
    if "thumb" in shape.fingers:
        fitted["thumb"] = thumb_chain(shape, at, priors)
    fitted.update(finger_chains(shape, priors))
    return HandPlacement(
        chains={name: points for name, (points, _) in fitted.items()},
        hinges={name: hinge for name, (_, hinge) in fitted.items()},
        palm_normal=shape.palm_normal,
        finger_count=shape.finger_count,
        wrist_hint=shape.wrist_hint,
        notes=shape.notes,
    )
