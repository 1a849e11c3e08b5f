"""A limb finer than its cells: how much of each is covered, and where the skin lies between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.solid import Solid

__all__ = ["LimbSkin", "beyond", "end_of", "limb_skin", "share_level"]

FloatArray = NDArray[np.float64]

LEAST_SHARE = 0.02
"""Cells that are covered less say nothing."""
SMEAR = 8
"""Places that stand for a cell's extent when a level between cells is looked for."""
END_VOLUME = 8.0
"""Volume beyond the place from which a limb's end is told, cells: a mean over some columns, which
noise and the cells' places move little."""
END_REACH = 4.0
"""Nothing farther behind the foremost cell, in cells, is of that volume."""


@dataclass(frozen=True)
class LimbSkin:
    """The volume and surface of a limb, finer than cells. Frame and units of the solid."""

    points: FloatArray
    """(n, 3) centres of the limb's cells and of the partly covered ones around them."""
    share: FloatArray
    """(n,) covered share of each."""
    skin: FloatArray
    """(k, 3) points of the surface: where coverage falls through one half between two cells."""
    cell: float

    def near(self, chosen: FloatArray, on_skin: NDArray[np.bool_]) -> LimbSkin:
        """Part of it: cells by how far they belong to it (n,) from 0 to 1, skin by a mask (k,)."""
        some = chosen > 0.0
        return LimbSkin(
            self.points[some], (self.share * chosen)[some], self.skin[on_skin], self.cell
        )


def limb_skin(solid: Solid, cells: FloatArray) -> LimbSkin:
    """The cells of a limb with their covered shares, and its skin.

    Args:
        solid: the body. cells: (m, 3) centres of the limb's inside cells.
    """
    index = np.round(solid.to_cells(cells)).astype(np.int64)
    low = np.maximum(index.min(axis=0) - 1, 0)
    high = np.minimum(index.max(axis=0) + 2, solid.coverage.shape)
    box = tuple(slice(a, b) for a, b in zip(low, high, strict=True))
    cover = solid.coverage[box]
    own = np.zeros(cover.shape, dtype=bool)
    own[tuple((index - low).T)] = True
    empty = cover <= 0.5
    around = ndimage.binary_dilation(own) & empty & (cover > LEAST_SHARE)
    taken = np.argwhere(own | around)
    share = cover[tuple(taken.T)].astype(np.float64)
    skin = []
    for axis in range(3):
        for step in (-1, 1):
            # the grid has cells to spare on every side, so nothing comes round from the far one
            beyond = np.roll(cover, -step, axis)
            here = np.argwhere(own & np.roll(empty, -step, axis))
            inner = cover[tuple(here.T)].astype(np.float64)
            outer = beyond[tuple(here.T)].astype(np.float64)
            place = here.astype(np.float64)
            place[:, axis] += step * (inner - 0.5) / np.maximum(inner - outer, 1e-6)
            skin.append(place)
    return LimbSkin(
        solid.to_points(taken + low), share, solid.to_points(np.concatenate(skin) + low), solid.cell
    )


def beyond(values: FloatArray, level: float, cell: float) -> FloatArray:
    """How far cells at `values` lie beyond a level: 0 before it, 1 behind it, in between by how
    much of the cell does."""
    return np.clip((values - level) / cell + 0.5, 0.0, 1.0)


def share_level(values: FloatArray, share: FloatArray, cell: float, wanted: float) -> float:
    """The level below which the wanted share of covered cells lies.

    A cell is as wide as it is, and a partly covered one is covered on its lower side, as those at
    the upper end are.

    Args:
        values: (n,) places of the cells along some direction. share: (n,) their covered shares.
        cell: edge of a cell, same unit. wanted: from 0 to 1.
    """
    parts = (np.arange(SMEAR) + 0.5) / SMEAR
    spread = (values[:, None] + (parts * share[:, None] - 0.5) * cell).reshape(-1)
    weight = np.repeat(share / SMEAR, SMEAR)
    order = np.argsort(spread, kind="stable")
    summed = np.cumsum(weight[order])
    return float(np.interp(wanted * summed[-1], summed - 0.5 * weight[order], spread[order]))


def end_of(values: FloatArray, share: FloatArray, cell: float) -> float:
    """Where a limb ends along a direction.

    The place beyond which a small volume lies is behind the end, on a dome by half as much for a
    quarter of the volume (a cap's volume grows with the square of its height), on a flat end hardly
    at all. So the step from the one to the other is taken once more.

    Args:
        values: (n,) places of cells along the direction. share: (n,) their covered shares.
        cell: edge of a cell, same unit.
    """
    last = values > float(values.max()) - END_REACH * cell
    values, share = values[last], share[last]
    total = float(share.sum())
    far, near = (
        share_level(values, share, cell, max(1.0 - volume / total, 0.0))
        for volume in (END_VOLUME, 0.25 * END_VOLUME)
    )
    return 2.0 * near - far
