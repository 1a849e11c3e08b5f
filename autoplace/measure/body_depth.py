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


def depth_in_body(vertices: FloatArray, faces: IntArray, points: FloatArray) -> FloatArray:
    """Distance of points to a body's surface, positive inside, also in what its shells enclose.

    Args:
        vertices: (n, 3) working frame, height = 1. faces: (m, 3), facing outward.
        points: (k, 3) working frame.

    Returns:
        (k,) fractions of the height.
    """
    depth = depth_of_points(vertices, faces, points)
    outside = depth < 0.0
    if not outside.any():
        return depth
    solid = fill_solid(vertices, faces, CELL)
    whole = with_hollows(solid, vertices, faces)
    held = outside if whole is not solid else np.zeros_like(outside)
    held = held & (whole.sample(points) > 0.5)
    return np.where(held, -depth, depth)
