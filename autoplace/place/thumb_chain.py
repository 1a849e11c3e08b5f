"""The joints of the thumb."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hand_shape import HandShape
from autoplace.place.finger_chain import PlacedPoint, placed
from autoplace.place.hand_priors import ThumbPrior

__all__ = ["thumb_chain"]

FloatArray = NDArray[np.float64]


def thumb_chain(shape: HandShape, wrist: FloatArray, prior: ThumbPrior) -> list[PlacedPoint]:
    """Carpometacarpal, metacarpophalangeal and interphalangeal joint and the tip of the thumb.

    Args:
        shape: the hand.
        wrist: (3,) the wrist joint.
        prior: proportions to place by.

    Returns:
        Four points, working frame.
    """
    line, length = shape.fingers["thumb"], shape.length
    base = wrist + length * (
        prior.base_across * shape.across
        + prior.base_along * shape.along
        + prior.base_palmward * shape.palm_normal
    )
    end = line.at((1.0 - prior.visible_distal) * float(line.arc[-1]))
    to_base = base - end
    aim = to_base / np.linalg.norm(to_base) - line.base_aim(0.5)
    aim /= np.linalg.norm(aim)
    reach = min(prior.proximal * length, 0.7 * float(np.linalg.norm(to_base)))
    middle = end + aim * reach
    return [
        placed([("hand_share", base, prior.base_spread * length, "share of the hand")]),
        placed([("hand_share", middle, 0.03 * length, "share of the hand")]),
        placed([("finger_share", end, 0.03 * length, "share of the thumb")]),
        placed([("finger_end", line.tip, 0.01 * length, "end of the thumb")]),
    ]
