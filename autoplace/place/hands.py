"""Finger joints of a measured hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hand_shape import HandShape, HandSide, WristHint
from autoplace.place.finger_chain import finger_chains
from autoplace.place.hand_priors import HandPriors
from autoplace.place.hidden_thumb import hidden_thumb
from autoplace.place.piece_joints import at_pieces
from autoplace.place.placed_point import PlacedPoint
from autoplace.place.thumb_chain import thumb_chain

__all__ = ["HandPlacement", "PlacedPoint", "hands_mirrored", "place_hand"]

FloatArray = NDArray[np.float64]

ALIKE = 0.035
"""Finger ends of mirrored hands differ by less than this share of the hand: two cells of the hand's
grid (no source)."""


CLOSED_SPREAD = 3.0
"""How much less sure joints of a closed hand are: most of what tells them is hidden (own invented
hands)."""
FOLDED_SPREAD = 9.0
"""The same of one of which only stubs of fingers are seen: its fingers lie a bone or two elsewhere
(own invented hands of even number and of a further deal)."""
TOLD_SPREAD = 3.0
"""The same of a hand whose fingers were told by the other hand (no source)."""
MITTEN_SPREAD = 2.0
"""The same of a lone finger beside a thumb, which has no web of its own to count from."""
FINGER_SPREAD, THUMB_SPREAD = (1.75, 1.2, 1.5, 1.8), (1.2, 1.0, 2.2, 1.35)
"""How much less sure each joint is than its evidence says by itself, which takes every maker's
knuckles for equally deep and every skin for equally true: so that 95 of 100 lie within twice the
spread (own invented hands of even number and of further deals)."""


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
    length: float
    """From the wrist hint to the end of the longest finger."""
    finger_count: int
    """Number of fingers found, the thumb included."""
    wrist_hint: WristHint
    """The wrist as the hand's own sections show it."""
    notes: tuple[str, ...] = ()
    metacarpals: Mapping[str, PlacedPoint] = field(default_factory=dict)
    """Base of the metacarpal by finger name, where it was asked for."""
    closed: bool = False
    """True for a fist: its joints are expected more than seen."""
    likely_side: HandSide | None = None
    """Left or right as the hand's own shape shows it."""


def hands_mirrored(left: HandPlacement, right: HandPlacement) -> bool:
    """Whether two hands are mirror images about x = 0: same fingers, ends at mirrored places.

    Arms may be mirrored while fingers are bent differently, so hands are judged by themselves.
    """
    if list(left.chains) != list(right.chains):
        return False
    flip = np.array([-1.0, 1.0, 1.0])
    limit = ALIKE * 0.5 * (left.length + right.length)
    return all(
        float(np.linalg.norm(chain[3].position - flip * right.chains[name][3].position)) < limit
        for name, chain in left.chains.items()
    )


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
    if shape.joints:
        fitted = at_pieces(fitted, shape.joints)
    if shape.hidden_thumb:
        thumb = hidden_thumb(shape, at, fitted["index"][0], priors)
        fitted = {"thumb": thumb, **fitted}
    wider = FOLDED_SPREAD if shape.folded else CLOSED_SPREAD if shape.closed else 1.0
    wider = max(wider, TOLD_SPREAD) if shape.told else wider
    lone = MITTEN_SPREAD if list(shape.fingers) == ["thumb", "middle"] else 1.0
    return HandPlacement(
        chains={
            name: [
                replace(point, spread=wider * own * point.spread)
                for own, point in zip(_less_sure(name, lone), points, strict=True)
            ]
            for name, (points, _) in fitted.items()
        },
        hinges={name: hinge for name, (_, hinge) in fitted.items()},
        palm_normal=shape.palm_normal,
        length=shape.length,
        finger_count=shape.finger_count,
        wrist_hint=shape.wrist_hint,
        notes=shape.notes,
        closed=shape.closed,
        likely_side=shape.likely_side,
    )


def _less_sure(name: str, lone: float) -> list[float]:
    """How much less sure the four joints of a finger are than their evidence says."""
    if name == "thumb":
        return list(THUMB_SPREAD)
    return [lone * share for share in FINGER_SPREAD]
