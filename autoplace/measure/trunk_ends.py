"""Where a trunk begins and ends, before its limbs are known: the parting of the legs, the neck."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.belted import breadths
from autoplace.measure.leg_join import legs_join
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_gaps import HEM_LOSS, hangs_behind, loss_below, lowest_of_trunk

__all__ = ["GROWN_HEAD", "HIDDEN_PARTING", "neck_height", "parting_of_legs"]

HIDDEN_PARTING, LOWEST_PARTING = 0.12, 0.05
"""Legs that part below the first height are hidden by a skirt (common practice, no source), unless
they together are as thick as what is above them: those of a figure two heads tall in a high hat.
Below the second there are feet at most, soles and shoes (common practice, no source)."""
GROWN_HEAD = 0.2
"""A head of at most this share of the height is carried by legs of two fifths of it at least, as at
four years of age; where it shows, a body that parts at its ankles is in a skirt, flared or not
(common practice, no source)."""
HEAD_OVER_NECK, TRUNK_OVER_NECK = 1.2, 2.0
"""A neck has a cut above it that is so many times as large, and one below it (common practice, no
source: 1.7 and 4 on a grown body)."""
LOWEST_NECK = 0.25
"""No neck is looked for below this height: at two heads tall the legs part there."""
THROAT_CLEAR = 1.5
"""How many times broader a figure is above and below a neck, at least: what begins above it is no
arm if another begins below (common practice, no source)."""


def parting_of_legs(solid: Solid) -> float | None:
    """Height at which the middle plane, followed down from mid-height, leaves the body, or at which
    two legs join above that; None where it runs to the floor, as in a skirt."""
    column = round(float(-solid.origin[0] / solid.cell))
    middle: NDArray[np.bool_] = np.asarray(
        solid.inside[max(column - 1, 0) : column + 1].all(axis=0)
    )
    filled: NDArray[np.bool_] = middle.any(axis=1) & ~hangs_behind(solid.inside, middle, solid.cell)
    row = min(round(float((0.55 - solid.origin[1]) / solid.cell)), len(filled) - 1)
    area = solid.inside.sum(axis=(0, 2)).astype(np.float64)
    row = lowest_of_trunk(filled, area, row, solid.cell)
    joined = legs_join(solid.inside, row, solid.cell)
    row = row if joined is None else joined
    height = float(solid.origin[1] + row * solid.cell)
    y = solid.origin[1] + np.arange(len(area)) * solid.cell
    if height > HIDDEN_PARTING:
        return height
    short = height > LOWEST_PARTING and loss_below(area, y, height) < HEM_LOSS
    return height if short and not _has_grown_head(area, y) else None


def _has_grown_head(area: NDArray[np.float64], y: NDArray[np.float64]) -> bool:
    """Do level cuts of these areas, at these heights, show a neck under a head that is small?

    The neck is the least cut of those that have larger ones above and far larger ones below.
    """
    above = np.maximum.accumulate(area[::-1])[::-1]
    below = np.maximum.accumulate(np.where(y > LOWEST_NECK, area, 0.0))
    neck = (y > LOWEST_NECK) & (above > HEAD_OVER_NECK * area) & (below > TRUNK_OVER_NECK * area)
    rows = np.flatnonzero(neck)
    return len(rows) > 0 and bool(y[rows[np.argmin(area[rows])]] > 1.0 - GROWN_HEAD)


def neck_height(solid: Solid) -> float:
    """Height of the neck, where the figure is clearly broader above and below; infinite where no
    neck shows."""
    y, _, _, clear = breadths(solid)
    rows = np.flatnonzero(clear >= THROAT_CLEAR)
    if not len(rows):
        return np.inf
    # the uppermost such place: below it there may be a waist, or a gap between a robot's parts
    breaks = np.flatnonzero(np.diff(rows) > 1)
    rows = rows[breaks[-1] + 1 :] if len(breaks) else rows
    return float(y[rows[int(np.argmax(clear[rows]))]])
