"""Legs that are blocks stuck into one another: the cells show one column, the pieces show two."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.solid import Solid
from autoplace.measure.thigh_gap import HIGHEST, with_open_middle

__all__ = ["with_legs_of_pieces"]

FloatArray = NDArray[np.float64]

ASIDE = 0.3
"""A piece is one side's where its middle lies beside the middle plane by this share of its half
breadth, at least: two legs may be stuck into one another by so much that a quarter of each lies
beyond (common practice, no source)."""
LEAST_LEG = 0.1
"""Height over which pieces of either side stand beside one another, at least, fraction of height:
two soles have less (common practice, no source)."""
AT_FLOOR = 0.03
"""They begin this near to the floor, fraction of height."""


def with_legs_of_pieces(solid: Solid, pieces: Sequence[FloatArray]) -> Solid:
    """The body with its legs held apart where, from the floor up, only pieces of one side or the
    other are in its middle.

    Args:
        solid: the body's cells, working frame; a plane between two columns is the middle.
        pieces: (k, 3, 3) corners of the triangles of each of its pieces, working frame.

    Returns:
        The same solid where there are no such pieces.
    """
    y = solid.origin[1] + np.arange(solid.coverage.shape[1]) * solid.cell
    sides = {"left": np.zeros(len(y), bool), "right": np.zeros(len(y), bool)}
    between = np.zeros(len(y), bool)
    for corners in pieces:
        low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
        rows = (y >= low[1]) & (y <= high[1])
        middle, half = 0.5 * (low[0] + high[0]), 0.5 * (high[0] - low[0])
        if abs(middle) >= ASIDE * half:
            sides["left" if middle > 0.0 else "right"] |= rows
        else:
            between |= rows
    legs = sides["left"] & sides["right"] & ~between & (y < HIGHEST)
    first = int(np.argmax(legs))
    stretch = legs[first:]
    last = first + (int(np.argmin(stretch)) if not stretch.all() else len(stretch))
    if not legs.any() or y[first] > AT_FLOOR or y[last - 1] - y[first] < LEAST_LEG:
        return solid
    opened = np.zeros(solid.coverage.shape[1:], dtype=bool)
    opened[:last] = True
    return with_open_middle(solid, opened)
