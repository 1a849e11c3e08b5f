"""Angles between directions and between sets of axes, exact also where they are small."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["angle_between", "angles_between", "turn_angle"]

FloatArray = NDArray[np.float64]


def angle_between(a: FloatArray, b: FloatArray) -> float:
    """Degrees between two vectors (3,); as `angles_between`."""
    return float(angles_between(a, b))


def angles_between(a: FloatArray, b: FloatArray) -> FloatArray:
    """Degrees between vectors (..., 3) and (..., 3), as (...); zero where one has no length.

    By the arc tangent, since the arc cosine is rounding alone at small angles.
    """
    ax, ay, az = a[..., 0], a[..., 1], a[..., 2]
    bx, by, bz = b[..., 0], b[..., 1], b[..., 2]
    across = np.sqrt((ay * bz - az * by) ** 2 + (az * bx - ax * bz) ** 2 + (ax * by - ay * bx) ** 2)
    along = ax * bx + ay * by + az * bz
    return np.asarray(np.degrees(np.arctan2(across, along)), dtype=np.float64)


def turn_angle(turns: FloatArray) -> FloatArray:
    """Degrees by which rotation matrices (..., 3, 3) turn, as (...)."""
    twice_sine = np.stack(
        [
            turns[..., 2, 1] - turns[..., 1, 2],
            turns[..., 0, 2] - turns[..., 2, 0],
            turns[..., 1, 0] - turns[..., 0, 1],
        ],
        axis=-1,
    )
    trace = np.trace(turns, axis1=-2, axis2=-1)
    angles = np.arctan2(np.linalg.norm(twice_sine, axis=-1), trace - 1.0)
    return np.asarray(np.degrees(angles), dtype=np.float64)
