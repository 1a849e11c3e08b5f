"""What can be seen of a thumb, as a shape that its hidden base is read from.

The carpometacarpal joint lies in the ball of the thumb, and no skin bends over it. Buchholz et al.
1992 have it .07 of the hand beyond the wrist, others who model hands up to .2, and those who put it
far out draw the thumb otherwise too. So the base is read from the joints beyond it, as in known
hands (`place/readings.py`); people's and invented ones are learned together.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hand_shape import HandShape

__all__ = ["ThumbShape"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class ThumbShape:
    """The thumb of one hand; coordinates are shares of the hand's length from the knuckle on:
    towards the thumb's side, along the hand, out of the palm."""

    hand: HandShape
    wrist: FloatArray
    """(3,) working frame."""
    joints: FloatArray
    """(3, 3) metacarpophalangeal and interphalangeal joint and the end, working frame."""

    @cached_property
    def frame(self) -> FloatArray:
        """(3, 3) rows: to the thumb's side, along the hand, out of the palm."""
        return np.stack([self.hand.across, self.hand.along, self.hand.palm_normal])

    @property
    def values(self) -> FloatArray:
        """(11,) the joints from the wrist on, the palm's breadth and the thumb's radius, shares of
        the hand's length."""
        length = self.hand.length
        places = (self.joints - self.wrist) @ self.frame.T
        girth = [self.hand.breadth, self.hand.fingers["thumb"].typical_radius()]
        return np.concatenate([places.ravel(), girth]) / length

    def point(self, coordinates: FloatArray) -> FloatArray:
        """(3,) working frame."""
        return np.asarray(self.joints[0] + self.hand.length * coordinates @ self.frame)

    def coordinates(self, point: FloatArray) -> FloatArray:
        """(3,) of a point in the working frame."""
        return np.asarray((point - self.joints[0]) @ self.frame.T / self.hand.length)

    def axes(self, coordinates: FloatArray) -> FloatArray:
        """(3, 3) columns: how a point moves with each coordinate."""
        return self.hand.length * self.frame.T
