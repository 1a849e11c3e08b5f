"""The joints of a thumb that does not show: it is grown to the palm and to the index finger."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hand_shape import HandShape
from autoplace.place.bend_plane import flatten_chain
from autoplace.place.hand_priors import HandPriors
from autoplace.place.placed_point import PlacedPoint, placed

__all__ = ["hidden_thumb"]

FloatArray = NDArray[np.float64]

BESIDE = 1.6
"""How far the thumb lies beside the middle of the index finger's first bone, radii of that finger:
two round fingers that overlap by a fifth of their breadth, since no gap shows."""
BASE = (0.09, 0.07, 0.0)
"""Base of the metacarpal from the wrist: to the thumb's side, beyond, out of the palm; share of the
hand's length (Buchholz et al. 1992)."""
BONES = (0.274, 0.187, 0.162)
"""Metacarpal, proximal and end phalanx with the soft tip, share of the hand's length (Buryanov &
Kotiuk 2010: 46.22, 31.57 and 27.34 mm of 168.7)."""
SPREAD = (0.06, 0.04, 0.03, 0.06)
"""One standard deviation of the four joints, share of the hand's length: no skin tells of them (own
invented hands of further deals)."""


def hidden_thumb(
    shape: HandShape, wrist: FloatArray, index: Sequence[PlacedPoint], priors: HandPriors
) -> tuple[list[PlacedPoint], FloatArray]:
    """The four points of a thumb that lies along the hand, from proportions alone.

    Args:
        shape: the hand. wrist: (3,) the wrist joint.
        index: joints of the index finger.
        priors: proportions to place by.

    Returns:
        Four points, and the (3,) unit axis about which a right-handed turn curls the thumb.
    """
    length, (across, along, palmward) = shape.length, BASE
    base = wrist + length * (
        across * shape.across + along * shape.along + palmward * shape.palm_normal
    )
    knuckle, joint = index[0].position, index[1].position
    radius = shape.fingers["index"].typical_radius()
    aim = 0.5 * (knuckle + joint) + BESIDE * radius * shape.across - base
    ways = np.concatenate([[0.0], np.cumsum(BONES)]) * length / np.linalg.norm(aim)
    note = "no thumb shows: where one would lie that is grown to the index finger"
    points = [
        placed([("hand_share", base + way * aim, spread * length, note)])
        for way, spread in zip(ways, SPREAD, strict=True)
    ]
    radius *= priors.plane_offset
    return flatten_chain(points, -shape.across, radius, priors.thumb_plane_turn)
