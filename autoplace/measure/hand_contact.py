"""Where a hand touches thigh or clothes, which of the cells are the hand's.

The body's own cells tell arm from trunk and legs by how they hang together. A hand's cells that
run on into those of the rest have met them by touch, and are parted where both are as near.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.measure.solid import Solid

__all__ = ["ArmCells", "arm_and_rest", "within_arm"]

FloatArray = NDArray[np.float64]

TOUCHED = 0.05
"""Share of a hand's cells that lie in the rest of the body from which the two have met: what is
cut coarser than the body strays over a thigh that is merely near (common practice, no source)."""


@dataclass(frozen=True)
class ArmCells:
    """The body's cells on both sides of the parting, working frame."""

    arm: FloatArray
    """(m, 3) cell centres of the arm beyond the trunk."""
    rest: FloatArray
    """(k, 3) of all else."""
    cell: float
    """Edge of a cell."""


def arm_and_rest(solid: Solid, arm: FloatArray) -> ArmCells:
    """A body's cells, parted by the cell centres (m, 3) of one arm."""
    rest = solid.inside.copy()
    rest[solid.index_of(arm)] = False
    return ArmCells(arm, solid.to_points(np.argwhere(rest)), solid.cell)


def within_arm(points: FloatArray, beyond: NDArray[np.bool_], body: ArmCells) -> NDArray[np.bool_]:
    """(n,) which of a hand's places are the arm's: all, unless the hand has met the rest.

    Args:
        points: (n, 3) places that hang together with the wrist, working frame.
        beyond: (n,) True where a place lies beyond the wrist.
        body: the body's cells.
    """
    everything = np.ones(len(points), dtype=bool)
    if not len(body.arm) or not beyond.any():
        return everything
    to_arm = cKDTree(body.arm).query(points)[0]
    # what is farther from all of the hand than its own arm decides nothing
    margin = max(body.cell, float(to_arm.max()))
    about = (body.rest >= points.min(axis=0) - margin) & (body.rest <= points.max(axis=0) + margin)
    near = body.rest[about.all(axis=1)]
    if not len(near):
        return everything
    to_rest = cKDTree(near).query(points)[0]
    met = (to_rest < body.cell) & (to_rest < to_arm)
    return everything if met[beyond].mean() < TOUCHED else to_arm <= to_rest
