"""Where the forearm becomes the hand, as the sections through both show it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.finger_webs import PALM
from autoplace.measure.hand_region import HandRegion

__all__ = ["WristHint", "find_wrist"]

FloatArray = NDArray[np.float64]

# Shares of the hand's length.
ARM_SPREAD = 0.13
"""Of the approximate wrist that the hand was cut out by: off by up to a quarter of a hand."""
PALM_SPREAD = 0.12
"""Of that: .02 among people; wide because modelled hands are not people's (no source)."""
FLARE = 0.45
"""Length of arm below the widest section of the palm in which the wrist is looked for."""
NEARLY = 0.85
"""The rise of the palm is followed up to this share of its widest section."""
LEAST_FLARE = 1.15
"""Widest section of the palm to that at the wrist; less is no wrist that shows (no source)."""
AS_WELL = 0.1
"""Excess of a misfit over the least one that makes a place e times less likely: between twenty rows
of cells that tell of one another it is about one part in ten (chi squared)."""
CUT_OFF = 7.0
"""Growth of a section's logarithm over the hand's length beyond which the mesh's end cuts into the
section: an arm broadens by far less (common practice, no source)."""
ROUNDS = 3
"""Rounds in which the distance of a section from the fingers settles."""
BEND_SPREAD = 0.055
"""Of the place where the sections begin to grow, when that shows clearly (no source)."""
TAIL = 4.0
"""Degrees of freedom of Student's t distribution that it has: the hem of a glove or a sleeve may
pass for it (common practice, no source)."""


@dataclass(frozen=True)
class WristHint:
    """The wrist as the hand's own sections show it."""

    position: FloatArray
    """(3,) middle of the section."""
    spread: float
    """One standard deviation along the arm; wide when no narrowing shows."""
    note: str
    """Plain words."""


def find_wrist(region: HandRegion, roots: FloatArray, length: float) -> WristHint:
    """Find where the sections of the arm begin to grow into the palm.

    The narrowest section is no good: on a slim arm it lies far up the forearm. So the logarithm of
    the area is fitted by two straight lines that meet, and the wrist is where they do.

    Args:
        region: the hand and a piece of forearm.
        roots: (3,) middle of the roots of the fingers, frame of the region's solid.
        length: the hand's length, estimated from its fingers.

    Returns:
        The wrist in the frame of the region's solid.
    """
    solid, root = region.solid, float(roots[1])
    area = solid.coverage.sum(axis=(0, 2), dtype=np.float64)
    rows = solid.origin[1] + np.arange(len(area)) * solid.cell
    weights = np.array([ARM_SPREAD, PALM_SPREAD]) ** -2.0
    expected = float(np.dot(weights, [0.0, _behind(region, roots, PALM * length)]) / weights.sum())
    spread = length / float(np.sqrt(weights.sum()))
    filled = area > 0.2 * np.median(area[area > 0])
    # an arm that is cut off aslant ends in sections of which a part is missing
    growth = np.diff(np.log(np.maximum(area, 1e-9))) * length / solid.cell
    whole = np.flatnonzero(filled[:-1] & (growth < CUT_OFF))
    filled[: whole[0] if len(whole) else 0] = False
    bend = _flare(rows[filled], np.log(area[filled]), expected, root, length)
    if bend is None:
        note = "the forearm runs into the hand without a narrowing; placed by proportions"
        place = max(expected, float(rows[filled].min()))
        return WristHint(_middle(region, place), spread, note)
    at, wider = bend
    own = BEND_SPREAD * length * max(1.0, 0.5 / (wider - 1.0))
    off = (at - expected) ** 2 / (own**2 + spread**2)
    own *= float(np.sqrt(1.0 + off / TAIL))
    share = own**-2.0 / (own**-2.0 + spread**-2.0)
    place = share * at + (1.0 - share) * expected
    note = f"the sections begin to grow into the palm, which is {wider:.1f} times as large"
    return WristHint(_middle(region, place), float((own**-2.0 + spread**-2.0) ** -0.5), note)


def _behind(region: HandRegion, roots: FloatArray, way: float) -> float:
    """Height of the section whose middle lies so far from the roots of the fingers. On a bent hand
    the palm is no upright, and a height alone would lie too far down the arm."""
    height = float(roots[1]) - way
    for _ in range(ROUNDS):
        gap = float(np.linalg.norm(roots - _middle(region, height)))
        height += gap - way
    return min(height, float(roots[1]) - 0.5 * way)


def _flare(
    rows: FloatArray, size: FloatArray, expected: float, root: float, length: float
) -> tuple[float, float] | None:
    """Where two lines through the sections' size meet, and how much larger the palm is."""
    palm = (rows > expected) & (rows < root)
    if palm.sum() < 4:
        return None
    top = int(np.flatnonzero(palm)[np.argmax(size[palm])])
    below = (rows > rows[top] - (FLARE + 0.1) * length) & (rows <= rows[top])
    below &= size <= size[top] + np.log(NEARLY)
    if below.sum() < 8:
        return None
    x, y = rows[below], size[below]
    places, errors, wider = [], [], []
    for at in x[2:-2]:
        columns = np.stack([np.ones_like(x), x - at, np.maximum(x - at, 0.0)], axis=1)
        fit, *_ = np.linalg.lstsq(columns, y, rcond=None)
        if fit[2] > 0.0 and fit[1] + fit[2] > 0.0:
            places.append(float(at))
            errors.append(float(((columns @ fit - y) ** 2).mean()))
            wider.append(float(np.exp(size[top] - fit[0])))
    if not places:
        return None
    # all places that fit about as well, for the best one alone jumps from row to row
    error = np.array(errors)
    weight = np.exp(-(error - error.min()) / max(float(error.min()), 1e-6) / AS_WELL)
    weight /= weight.sum()
    broader = float(weight @ np.array(wider))
    if broader < LEAST_FLARE:
        return None
    return float(weight @ np.array(places)), broader


def _middle(region: HandRegion, height: float) -> FloatArray:
    """(3,) middle of the section at a height."""
    solid = region.solid
    row = round((height - solid.origin[1]) / solid.cell)
    slab = slice(max(row - 1, 0), row + 2)
    part = solid.coverage[:, slab]
    cells = np.argwhere(part > 0.02)
    if not len(cells):
        return np.array([0.0, height, 0.0])
    share = part[tuple(cells.T)].astype(np.float64)
    centre = solid.to_points(cells)
    middle = (centre * share[:, None]).sum(axis=0) / share.sum()
    middle[1] = height
    return np.asarray(middle)
