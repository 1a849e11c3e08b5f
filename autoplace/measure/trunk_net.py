"""The skin of one half of the trunk, read at the knots of a net between crotch and chin.

Where the joints inside a trunk lie shows in the whole of its skin: how broad and deep the hips
are against the waist, how the chest stands over the belly, how the neck leaves the shoulders. The
net is free of size, place and side, so trunks of any figure can be compared.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.limb_record import Limbs
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_shape import TrunkShape, cells_of_arms, skin_ends

__all__ = ["BREADTH", "EVERY", "TrunkNet", "middle_net", "trunk_nets"]

FloatArray = NDArray[np.float64]

HEIGHTS = np.array(
    [0.0, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.79, 0.86, 0.93, 1.0]
)
"""Of the net's rows above the crotch, shares of the trunk from crotch to chin."""
WAIST = 0.25
"""Height at which the trunk's half breadth is the unit across: above the hips' joints, where no
thigh is, however it is posed."""
RIBS = (0.4, 0.5)
"""Heights of the lower ribs; of the two the narrower row is clear of an arm beside it."""
ACROSS = np.array([0.0, 0.2, 0.4, 0.6, 0.8])
"""Of the net's columns outward from the middle, shares of that half breadth."""
BREADTH, EVERY = slice(0, 1), slice(None)
"""Of the lengths beside the net: the half breadth alone, or all of them."""


@dataclass(frozen=True)
class TrunkNet:
    """One half of a trunk, working frame."""

    values: FloatArray
    """(n,) lengths as shares of the trunk: skin at the front and at the back of every knot, how
    far out the trunk's side is in every row, half breadth, height and radius of the neck, the
    head's height and the crotch's."""
    origin: FloatArray
    """(3,) in the middle plane at the crotch's height, amid the depth at the waist."""
    scale: float
    """Height of the trunk, crotch to chin."""
    outward: float
    """+1 for the left half, -1 for the right."""

    @property
    def rib_breadth(self) -> float:
        """Half breadth of the trunk below the arms, fraction of height."""
        reach = self.values[2 * len(HEIGHTS) * len(ACROSS) :][: len(HEIGHTS)]
        return float(reach[[np.abs(HEIGHTS - h).argmin() for h in RIBS]].min()) * self.scale

    def point(self, coordinates: FloatArray) -> FloatArray:
        """(3,) working frame, of coordinates outward, up and forward in shares of the trunk."""
        return self.origin + self.scale * coordinates * np.array([self.outward, 1.0, 1.0])

    def coordinates(self, point: FloatArray) -> FloatArray:
        """(3,) outward, up and forward of the origin in shares of the trunk: undoes `point`."""
        return (point - self.origin) / self.scale * np.array([self.outward, 1.0, 1.0])

    def axes(self, coordinates: FloatArray) -> FloatArray:
        """(3, 3) columns: how the point moves with each of its coordinates."""
        return np.diag([self.outward, 1.0, 1.0]) * self.scale

    def between(self, low: float, high: float, told: slice) -> TrunkNet:
        """The same trunk, of which only the rows between two heights are kept, shares of the trunk,
        and of the lengths beside the net those asked for."""
        rows = (low <= HEIGHTS) & (high >= HEIGHTS)
        count = len(HEIGHTS) * len(ACROSS)
        knots = self.values[: 2 * count].reshape(2, len(HEIGHTS), len(ACROSS))[:, rows]
        reach = self.values[2 * count :][: len(HEIGHTS)][rows]
        rest = self.values[2 * count + len(HEIGHTS) :][told]
        return replace(self, values=np.concatenate([knots.ravel(), reach, rest]))

    def extended(self, values: FloatArray) -> TrunkNet:
        """The same trunk with more said about it."""
        return replace(self, values=np.r_[self.values, values])


def trunk_nets(solid: Solid, limbs: Limbs, trunk: TrunkShape) -> dict[str, TrunkNet]:
    """Read both halves of a trunk.

    Args:
        solid: the body, working frame. limbs: its branches; arms are left out of the trunk.
        trunk: its landmarks.

    Returns:
        The nets of the sides "left" and "right".
    """
    scale = float(trunk.chin[1] - trunk.crotch[1])
    rows = (trunk.crotch[1] + HEIGHTS * scale - solid.origin[1]) / solid.cell
    rows = np.clip(rows, 0.0, solid.coverage.shape[1] - 1.001)
    below = rows.astype(np.int64)
    share = rows - below
    arms = cells_of_arms(solid, limbs)

    def level(row: NDArray[np.int64]) -> FloatArray:
        return np.where(arms[:, row, :], 0.0, solid.coverage[:, row, :]).astype(np.float64)

    cover = level(below) * (1.0 - share[:, None]) + level(below + 1) * share[:, None]
    cover = cover.transpose(1, 0, 2)  # (rows, nx, nz)
    flat = cover.reshape(-1, cover.shape[2])
    back, front = (
        solid.origin[2] + solid.cell * ends.reshape(cover.shape[:2]) for ends in skin_ends(flat)
    )
    there = (flat.max(axis=1) > 0.5).reshape(cover.shape[:2])
    right, left = (solid.origin[0] + solid.cell * ends for ends in skin_ends(cover.max(axis=2)))
    x = solid.origin[0] + solid.cell * np.arange(cover.shape[1])
    waist = int(np.argmin(np.abs(HEIGHTS - WAIST)))
    origin = np.array([0.0, float(trunk.crotch[1]), 0.0])
    nets = {}
    for side, outward, reach in (("left", 1.0, left), ("right", -1.0, -right)):
        half = max(float(reach[waist]), solid.cell)
        knots = np.stack(
            [
                [
                    _knots(outward * x, z, full, ACROSS * half)
                    for z, full in zip(skin, there, strict=True)
                ]
                for skin in (front, back)
            ]
        )
        origin[2] = knots[:, waist, 0].mean()
        told = [
            half,
            float(trunk.neck[1] - trunk.crotch[1]),
            trunk.neck_radius,
            1.0 - float(trunk.chin[1]),
            float(trunk.crotch[1]),
        ]
        values = np.concatenate([(knots - origin[2]).ravel(), reach, told]) / scale
        nets[side] = TrunkNet(values, origin.copy(), scale, outward)
    return nets


def middle_net(nets: Sequence[TrunkNet]) -> TrunkNet:
    """What both halves have in common, for the joints between them."""
    values = np.mean([net.values for net in nets], axis=0)
    origin = np.mean([net.origin for net in nets], axis=0)
    return TrunkNet(values, origin, nets[0].scale, 1.0)


def _knots(
    x: FloatArray, skin: FloatArray, there: NDArray[np.bool_], across: FloatArray
) -> FloatArray:
    """Depth of the skin at places across, from the columns of cells (nx,) that hold any body."""
    if not there.any():
        return np.zeros(len(across))
    order = np.argsort(x[there])
    return np.interp(across, x[there][order], skin[there][order])
