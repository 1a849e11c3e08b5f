"""Which way the palm faces and which way the thumb lies, from the joints of a hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.hinge import cross, reject, unit
from autoplace.skeleton.names import LONG_FINGERS

__all__ = ["HAND_SHARE", "Palm", "find_palm"]

FloatArray = NDArray[np.float64]

HAND_SHARE = 0.11
"""Length of the hand, share of stature: 193.3 / 1756 and 181.1 / 1629 (US Army 2012 survey)."""
LEAST_AREA = 0.02
"""Knuckles and wrist span a plane when the sine of the angle between the two outer knuckles, seen
from the wrist, exceeds this (about 1 degree). The real angle is about 40 degrees: the index and
little finger knuckles lie 0.35 hand breadths apart at their bases and spread from there (Buchholz
et al. 1992); common practice for the limit itself."""


@dataclass(frozen=True)
class Palm:
    """Directions of one hand; unit vectors (3,) at right angles to each other, save `along`."""

    along: FloatArray
    """From the wrist to the knuckle it aims at."""
    facing: FloatArray
    """Out of the palm, the way the fingers curl; at right angles to `along`."""
    thumbward: FloatArray
    """Across the palm to the thumb's side; at right angles to both."""
    source: str
    """'knuckles', 'thumb' or 'arm': what it was found from."""

    @property
    def bend(self) -> FloatArray:
        """(3,) axis about which a positive turn carries the fingers toward the palm."""
        return cross(self.along, self.facing)


def find_palm(
    points: Mapping[str, FloatArray], side: str, along: FloatArray, forward: FloatArray
) -> Palm:
    """The palm from joint positions by stem ('wrist', 'index_1', ...), in one right-handed frame.

    `along` (3,) unit, wrist to the knuckle aimed at; `forward` (3,) the way the elbow bends, used
    only when neither two knuckles nor a thumb are there. The palm's plane goes through the wrist
    and the two outer knuckles. With one knuckle (a mitten) the thumb's joints show the thumb's
    side. Side 'left' or 'right' decides which face of the plane is the palm: on a left hand that
    points away from you with its palm down, the thumb is to the right.
    """
    sign = 1.0 if side == "left" else -1.0
    wrist = points["wrist"]
    knuckles = [points[f"{f}_1"] for f in LONG_FINGERS if f"{f}_1" in points]
    thumb = [points[n] for n in ("thumb_1", "thumb_2", "thumb_3", "thumb_tip") if n in points]

    if len(knuckles) >= 2:
        first, last = knuckles[0] - wrist, knuckles[-1] - wrist
        normal = cross(last, first)
        if np.linalg.norm(normal) > LEAST_AREA * np.linalg.norm(first) * np.linalg.norm(last):
            return _palm(along, reject(along, sign * unit(normal)), sign, "knuckles")
    if thumb:
        toward = np.mean(thumb, axis=0) - wrist
        across = toward - (toward @ along) * along
        if np.linalg.norm(across) > LEAST_AREA * np.linalg.norm(toward):
            facing = sign * cross(along, unit(across))
            return _palm(along, reject(along, unit(facing)), sign, "thumb")
    facing = sign * cross(along, reject(along, forward))
    return _palm(along, reject(along, unit(facing)), sign, "arm")


def _palm(along: FloatArray, facing: FloatArray, sign: float, source: str) -> Palm:
    return Palm(along, facing, sign * cross(facing, along), source)
