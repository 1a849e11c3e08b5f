"""How much of the body ends where the legs part: a little at a crotch, more at a tunic's hem; and
how long the trunk would be by the arms, if they parted at the crotch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.limb_record import Limbs
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_shape import TrunkShape, cells_of_arms

__all__ = ["HemStep", "measure_hem_step"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

ABOVE, BELOW = (0.006, 0.03), (0.01, 0.035)
"""Levels over and under the parting that are compared, fraction of height."""
LOW = 0.105
"""Down to so far under the parting, the legs' own branches tell where the legs are, fraction of
height: a branch may begin a little lower than the leg does (common practice, no source)."""


@dataclass(frozen=True)
class HemStep:
    """How the body changes where the legs part, each 1 where nothing ends there but the trunk."""

    broad: float
    """Breadth of the trunk just above over that from the outside of one leg to that of the other
    just below."""
    area: float
    """The same of the area of the cuts."""
    gap: float
    """Breadth of what lies between both legs just below, share of what both are broad."""
    reach: float | None = None
    """From the middle along the longer arm to its end, over the trunk from where the legs part to
    the chin; None without arms."""


def measure_hem_step(solid: Solid, limbs: Limbs, trunk: TrunkShape) -> HemStep | None:
    """Compare the body just above the parting of the legs with the legs just below it.

    Args:
        solid: the body, working frame. limbs: its branches. trunk: its level cuts.

    Returns:
        The comparison; None where two legs do not show below.
    """
    legs = limbs.pair("leg")
    if len(legs) < 2:
        return None
    body = solid.inside & ~cells_of_arms(solid, limbs)
    away = solid.origin[1] + np.arange(body.shape[1]) * solid.cell - float(trunk.crotch[1])
    # where a leg is a little lower tells which of the regions of a cut is the leg
    low = (away > -LOW) & (away < -BELOW[0])
    places: list[BoolArray] = []
    for leg in legs:
        mine = np.zeros(body.shape, dtype=bool)
        mine[solid.index_of(leg.cells)] = True
        places.append(np.asarray(mine[:, low].any(axis=1)))
    under, gaps = [], []
    for row in np.flatnonzero((away > -BELOW[1]) & (away < -BELOW[0])):
        both = [_touched(body[:, row], place) for place in places]
        if all(one.any() for one in both):
            under.append(_size(both[0] | both[1]))
            gaps.append(_gap(both))
    whole = [
        _touched(body[:, row], places[0] | places[1])
        for row in np.flatnonzero((away > ABOVE[0]) & (away < ABOVE[1]))
    ]
    over = [_size(region) for region in whole if region.any()]
    if not under or not over:
        return None
    broad, area = np.median(over, axis=0) / np.median(under, axis=0)
    return HemStep(float(broad), float(area), float(np.median(gaps)), _reach(limbs, trunk))


def _reach(limbs: Limbs, trunk: TrunkShape) -> float | None:
    """Half of the span over the trunk; what is too short for an arm is one that is half hidden."""
    long = float(trunk.chin[1] - trunk.crotch[1])
    spans = [
        abs(float(arm.line[0, 0])) + float(np.linalg.norm(np.diff(arm.line, axis=0), axis=1).sum())
        for arm in limbs.pair("arm")
    ]
    return max(spans) / long if spans and long > 0.0 else None


def _touched(cut: BoolArray, place: BoolArray) -> BoolArray:
    """The regions of a cut that lie where `place` is."""
    labels, _ = ndimage.label(cut)
    found = np.unique(labels[place])
    return np.isin(labels, found[found > 0])


def _size(region: BoolArray) -> FloatArray:
    """Breadth and area in cells."""
    x = np.flatnonzero(region.any(axis=1))
    return np.array([x[-1] - x[0] + 1, region.sum()], dtype=np.float64)


def _gap(both: list[BoolArray]) -> float:
    """Breadth between two legs, share of that from the outside of one to that of the other."""
    left, right = (np.flatnonzero(one.any(axis=1)) for one in both)
    whole = max(left[-1], right[-1]) - min(left[0], right[0]) + 1
    return float(max(left[0] - right[-1] - 1, right[0] - left[-1] - 1, 0)) / whole
