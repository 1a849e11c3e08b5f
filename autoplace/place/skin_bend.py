"""Reading joints off the skin along the back of a finger."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.finger_back import BackProfile
from autoplace.measure.finger_line import FingerLine

__all__ = ["told_beside", "turn_at", "under_skin"]

FloatArray = NDArray[np.float64]

MOST_TOLD = 0.5
"""A joint's variance is at least this share less than expected, or nothing is said about what made
it so: the place that skin alone would give runs off where it says hardly anything."""


def turn_at(back: BackProfile | None, arcs: FloatArray) -> FloatArray:
    """Turn of the skin at lengths along the finger; 0 where it is unknown."""
    if back is None:
        return np.zeros(len(arcs))
    known = np.isfinite(back.turn)
    if known.sum() < 2:
        return np.zeros(len(arcs))
    return np.interp(arcs, back.arc[known], back.turn[known], left=0.0, right=0.0)


def told_beside(expected: tuple[float, float], found: tuple[float, float]) -> tuple[float, float]:
    """What must have been told beside an expectation to make of it what was found.

    Args:
        expected: place and spread before. found: place and spread with all that is known.

    Returns:
        The place and spread that, weighed with the expectation by inverse squared spreads, give
        the place that was found.
    """
    before = expected[1] ** -2.0
    after = max(found[1] ** 2, 1e-12) ** -1.0
    after = max(after, before / MOST_TOLD)
    own = after - before
    return (after * found[0] - before * expected[0]) / own, own**-0.5


def under_skin(
    line: FingerLine, back: BackProfile | None, palm_side: FloatArray, arc: float, depth: float
) -> FloatArray:
    """A place at a depth under the skin of the back."""
    if back is not None:
        skin, direction = back.at(float(np.clip(arc, back.arc[0], back.arc[-1])))
        return np.asarray(skin - depth * direction)
    ahead = line.root_aim
    out = palm_side - ahead * np.dot(ahead, palm_side)
    radius = float(line.radius_at(arc)) if arc > line.arc[0] else line.typical_radius()
    return np.asarray(line.at(arc) - out / np.linalg.norm(out) * (radius - depth))
