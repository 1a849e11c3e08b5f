"""Reading joints off the skin along the back of a finger."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.finger_back import BackProfile
from autoplace.measure.finger_line import FingerLine

__all__ = ["shown_bend", "turn_at", "under_skin"]

FloatArray = NDArray[np.float64]

LEAST_TURN = 0.05
"""Turn of the skin, radians, below which it says nothing."""
NEAR = 4
"""How many places from the chosen one its bend may lie."""


def turn_at(back: BackProfile | None, arcs: FloatArray) -> FloatArray:
    """Turn of the skin at lengths along the finger; 0 where it is unknown."""
    if back is None:
        return np.zeros(len(arcs))
    known = np.isfinite(back.turn)
    if known.sum() < 2:
        return np.zeros(len(arcs))
    return np.interp(arcs, back.arc[known], back.turn[known], left=0.0, right=0.0)


def shown_bend(
    places: FloatArray, turn: FloatArray, chosen: float, sharpness: float
) -> tuple[float, float] | None:
    """The bend of the skin next to a chosen place, and how sharply it shows.

    Args:
        places: (n,) evenly spaced places along the finger, any unit.
        turn: (n,) turn of the skin at each, radians.
        chosen: where the joint was chosen to be.
        sharpness: turn that makes a place e times as likely to be a joint, radians.

    Returns:
        Place and spread in the unit of the places, or None when no bend shows there.
    """
    step = float(places[1] - places[0])
    index = int(np.argmin(np.abs(places - chosen)))
    near = slice(max(index - NEAR, 0), index + NEAR + 1)
    peak = near.start + int(np.argmax(turn[near]))
    if turn[peak] < LEAST_TURN or not 0 < peak < len(turn) - 1:
        return None
    bow = (turn[peak - 1] - 2.0 * turn[peak] + turn[peak + 1]) / step**2
    if bow >= 0.0:
        return None
    shift = 0.5 * (turn[peak - 1] - turn[peak + 1]) / (bow * step)
    spread = float(np.sqrt(sharpness / -bow))
    return float(places[peak] + np.clip(shift, -step, step)), max(spread, 0.5 * step)


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
