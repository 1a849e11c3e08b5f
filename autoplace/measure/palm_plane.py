"""How the palm lies about the hand's own length, told from the volume just below the fingers.

The roots of the outer fingers tell it too, but a root that is off by a tenth of a finger's breadth
turns the palm by two degrees. The palm is a flat body of thousands of cells: the axes of its
section hold still.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.limb_skin import beyond
from autoplace.measure.solid import Solid

__all__ = ["palm_across"]

FloatArray = NDArray[np.float64]

BAND = (-0.15, -0.02)
"""Stretch of the palm looked at, from the middle of the fingers' roots, shares of the hand's
length: the heads of the metacarpals, clear of the ball of the thumb (own demo characters)."""
SIDE = 0.5
"""How far beyond the outer fingers' middles the palm reaches, breadths of a finger."""
THICK = 2.5
"""Farthest from the middle of the palm through it, breadths of a finger: no other body."""
ROUNDS = 2
LEAST_SHARE = 0.02
"""Cells that are covered less say nothing."""


def palm_across(
    solid: Solid,
    roots: FloatArray,
    along: FloatArray,
    across: FloatArray,
    length: float,
    girth: float,
) -> FloatArray:
    """Turn the direction across the hand about its length into the palm's own breadth.

    Args:
        solid: the hand. roots: (k, 3) where fingers begin, the thumb's left out.
        along, across: (3,) unit, square to each other; the second as the roots tell it.
        length: of the hand. girth: breadth of a finger.

    Returns:
        (3,) unit, square to `along`. A palm about as thick as broad tells nothing and changes
        nothing.
    """
    middle = roots.mean(axis=0)
    half = 0.5 * float(np.ptp(roots @ across)) + SIDE * girth
    # the hand stands about upright in its own grid: only rows near the roots matter
    row = (middle[1] - solid.origin[1] + np.array([2.0 * BAND[0], -BAND[0]]) * length) / solid.cell
    first, last = np.clip(np.round(row).astype(np.int64), 0, solid.coverage.shape[1])
    coverage = solid.coverage[:, first:last]
    cells = np.argwhere(coverage > LEAST_SHARE)
    share = coverage[tuple(cells.T)].astype(np.float64)
    offset = solid.to_points(cells + np.array([0, first, 0])) - middle
    place = offset @ along
    cell = solid.cell
    share *= beyond(place, BAND[0] * length, cell) - beyond(place, BAND[1] * length, cell)
    some = share > 0.0
    offset, share = offset[some], share[some]
    for _ in range(ROUNDS):
        through = np.cross(along, across)
        flat = np.stack([offset @ across, offset @ through], axis=1)
        inner = share * (1.0 - beyond(np.abs(flat[:, 0]), half, cell))
        inner = inner * (1.0 - beyond(np.abs(flat[:, 1]), THICK * girth, cell))
        if inner.sum() < 8.0:
            return across
        flat = flat - inner @ flat / inner.sum()
        (broad, mixed), (_, thick) = flat.T @ (flat * inner[:, None]) / inner.sum()
        turn = 0.5 * float(np.arctan2(2.0 * mixed, broad - thick))
        # twice as broad as thick is four times the square
        flatness = max(broad / max(thick, 1e-300) - 1.0, 0.0) ** 2
        turn *= flatness / (flatness + 1.0)
        across = np.cos(turn) * across + np.sin(turn) * through
    return np.asarray(across)
