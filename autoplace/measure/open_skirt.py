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
    of which one at least is farther from it than a bridge is built; else the solid itself.

    Args:
        solid: the body, working frame, height = 1.
    """
    boxes = ndimage.find_objects(solid.pieces)
    if len(boxes) < 3:
        return solid
    trunk = solid.pieces == 1 + int(np.argmax(np.bincount(solid.pieces.ravel())[1:]))
    thighs = []
    for number, box in enumerate(boxes, start=1):
        side = _leg_side(solid, box)
        if side is not None:
            led = _led_up(solid, solid.pieces == number, box[1].stop - 1, trunk)
            thighs += [(side, *led)] if led is not None else []
    # in a stride one leg ends higher than the other, which may be near enough for a bridge
    far = any(gap > WIDEST_GAP for *_, gap in thighs)
    if sorted(side for side, *_ in thighs) != ["left", "right"] or not far:
        return solid
    coverage = solid.coverage.copy()
    for _, cells, _ in thighs:
        coverage[cells] = 1.0
    return replace(solid, coverage=coverage)


def _leg_side(solid: Solid, box: tuple[slice, ...]) -> str | None:
    """The side that a piece in a box of cells stands on, if it is as tall as a leg that shows."""
    low, high = (solid.origin[1] + row * solid.cell for row in (box[1].start, box[1].stop - 1))
    if low > CLEAR_OF_FLOOR or high < LEAST_SHOWN:
        return None
    right, left = (solid.origin[0] + x * solid.cell for x in (box[0].start, box[0].stop - 1))
    if right > 0.0:
        return "left"
    return "right" if left < 0.0 else None


def _led_up(
    solid: Solid, leg: BoolArray, top: int, trunk: BoolArray
) -> tuple[BoolArray, float] | None:
    """The cells between a leg, whose uppermost row is `top`, and the trunk over it, and how wide
    the gap is, fraction of height; None where nothing is over it."""
    over = trunk[:, top + 1 : top + 1 + round(LONGEST / solid.cell), :]
    over = over & leg[:, top - TAPER, None, :]
    met, gap = np.asarray(over.any(axis=1)), np.asarray(over.argmax(axis=1))
    if not met.any():
        return None
    level = np.arange(leg.shape[1])[None, :, None]
    between = (level > top - TAPER) & (level <= top + gap[:, None, :])
    return np.asarray(met[:, None, :] & between), float(gap[met].min()) * solid.cell
