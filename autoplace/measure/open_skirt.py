"""Legs that end inside a skirt which is open below: led up to the trunk.

What a kilt or the skirts of a coat hide is often not modelled. The legs are then pieces of their
own that stand under the trunk, and nothing of the body hangs together with them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.branches import WIDEST_GAP
from autoplace.measure.limb_record import CLEAR_OF_FLOOR
from autoplace.measure.solid import Solid

__all__ = ["with_thighs"]

BoolArray = NDArray[np.bool_]

LONGEST = 0.2
"""Most that is led on, fraction of height: a thigh has .245 of it (Drillis & Contini in Winter
2009), and its upper end lies in the trunk."""
LEAST_SHOWN = 0.15
"""A leg shows from the floor to this height at least: half of a shank and foot (.285 of the height,
Drillis & Contini in Winter 2009)."""
TAPER = 2
"""Rows at the end of a leg that its closed end narrows."""


def with_thighs(solid: Solid) -> Solid:
    """The solid with both legs led straight up to the trunk, where they stand under it as pieces
    that are farther from it than a bridge is built; else the solid itself.

    Args:
        solid: the body, working frame, height = 1.
    """
    pieces, count = ndimage.label(solid.inside, np.ones((3, 3, 3)))
    if count < 3:
        return solid
    trunk = pieces == 1 + int(np.argmax(np.bincount(pieces.ravel())[1:]))
    found = [_led_up(solid, pieces == number, trunk) for number in range(1, count + 1)]
    thighs = [one for one in found if one is not None]
    if sorted(side for side, _ in thighs) != [-1, 1]:
        return solid
    coverage = solid.coverage.copy()
    for _, cells in thighs:
        coverage[cells] = 1.0
    return replace(solid, coverage=coverage)


def _led_up(solid: Solid, piece: BoolArray, trunk: BoolArray) -> tuple[int, BoolArray] | None:
    """Side, 1 for the left, and the cells between a leg and the trunk over it; None for no leg."""
    rows = np.flatnonzero(piece.any(axis=(0, 2)))
    columns = np.flatnonzero(piece.any(axis=(1, 2)))
    low, high = solid.origin[1] + rows[[0, -1]] * solid.cell
    right, left = solid.origin[0] + columns[[0, -1]] * solid.cell
    side = int(right > 0.0) - int(left < 0.0)
    if low > CLEAR_OF_FLOOR or high < LEAST_SHOWN or side == 0:
        return None
    top = int(rows[-1])
    over = trunk[:, top + 1 : top + 1 + round(LONGEST / solid.cell), :]
    over = over & piece[:, top - TAPER, None, :]
    met, gap = np.asarray(over.any(axis=1)), np.asarray(over.argmax(axis=1))
    if not met.any() or gap[met].min() * solid.cell <= WIDEST_GAP:
        return None  # nothing is over it, or a bridge joins it
    level = np.arange(piece.shape[1])[None, :, None]
    between = (level > top - TAPER) & (level <= top + gap[:, None, :])
    return side, np.asarray(met[:, None, :] & between)
