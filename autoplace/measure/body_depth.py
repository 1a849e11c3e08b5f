"""How deep points lie in a body: under its surface, or in the hollow of a shell of walls."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.body_limbs import CELL
from autoplace.measure.hollow_shells import with_hollows
from autoplace.measure.point_depth import depth_of_points
from autoplace.measure.solid import fill_solid

__all__ = ["depth_in_body"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def depth_in_body(
    vertices: FloatArray, faces: IntArray, points: FloatArray, shells: bool = True
) -> FloatArray:
    """Distance of points to a body's surface, positive inside, also in what its shells enclose.

    Args:
        vertices: (n, 3) working frame, height = 1. faces: (m, 3), facing outward.
        points: (k, 3) working frame.
        shells: whether it may have thin shells; False where a `fill_body` found none.

    Returns:
        (k,) fractions of the height.
    """
    depth = depth_of_points(vertices, faces, points)
    outside = depth < 0.0
    if not shells or not outside.any():
        return depth
    solid = with_hollows(fill_solid(vertices, faces, CELL), vertices, faces)
    if not solid.shells:
        return depth
    return np.where(outside & (solid.sample(points) > 0.5), -depth, depth)
