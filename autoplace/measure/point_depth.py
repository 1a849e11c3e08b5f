"""How deep a few points lie inside a surface, without filling a grid."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.measure.samples import sample_surface

__all__ = ["depth_of_points", "inside_points"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SAMPLES = 20_000
"""Surface points for the distance: .005 of the height apart on a figure, so that a depth d is
overstated by at most hypot(d, .003) - d."""
NUDGE = np.array([3.1e-7, 4.7e-7, 2.3e-7])
"""Moves the points off round coordinates, where rays would run along edges; share of the extent."""


def depth_of_points(vertices: FloatArray, faces: IntArray, points: FloatArray) -> FloatArray:
    """Distance of points to a surface, positive inside, same units.

    Args:
        vertices: (n, 3). faces: (m, 3), facing outward; open, overlapping or unwelded will do.
        points: (k, 3).

    Returns:
        (k,) distances, from the vertices and evenly spread surface points.
    """
    samples = sample_surface(vertices, faces, SAMPLES)
    used = np.zeros(len(vertices), dtype=bool)
    used[faces] = True
    surface = np.concatenate([vertices[used], samples.points])
    distance, _ = cKDTree(surface).query(points)
    return np.where(inside_points(vertices, faces, points), distance, -distance)


def inside_points(vertices: FloatArray, faces: IntArray, points: FloatArray) -> NDArray[np.bool_]:
    """Whether points lie inside, by the signed crossings of rays along both ways of three axes.

    Each of the six readings is a winding number; a point is inside where most are one or more.
    """
    low, high = [], []
    for axis in range(3):
        a, b, c = (vertices[:, axis][faces[:, corner]] for corner in range(3))
        low.append(np.minimum(np.minimum(a, b), c))
        high.append(np.maximum(np.maximum(a, b), c))
    extent = max(float(most.max() - least.min()) for least, most in zip(low, high, strict=True))
    nudged = np.asarray(points, dtype=np.float64) + NUDGE * extent
    votes = np.zeros(len(nudged), dtype=np.int64)
    for index, point in enumerate(nudged):
        spans = [(low[axis] <= point[axis]) & (high[axis] >= point[axis]) for axis in range(3)]
        for axis in range(3):
            u, v = [a for a in range(3) if a != axis]
            near = np.flatnonzero(spans[u] & spans[v])
            below, above = _crossings(vertices[faces[near]], point, (u, v, axis))
            votes[index] += (below >= 1) + (above >= 1)
    return votes > 3


def _crossings(
    corners: FloatArray, point: FloatArray, axes: tuple[int, int, int]
) -> tuple[int, int]:
    """Winding number of a point read from below and from above along the last axis."""
    u, v, w = axes
    flips = -1.0 if w == 1 else 1.0  # (u, v, w) is a left-handed order for the middle axis
    a, b, c = (corners[:, i] - point for i in range(3))

    def cross(p: FloatArray, q: FloatArray) -> FloatArray:
        return np.asarray(p[:, u] * q[:, v] - p[:, v] * q[:, u])

    wa, wb, wc = cross(b, c), cross(c, a), cross(a, b)
    hit = ((wa > 0) & (wb > 0) & (wc > 0)) | ((wa < 0) & (wb < 0) & (wc < 0))
    total = wa[hit] + wb[hit] + wc[hit]
    depth = (wa[hit] * a[hit, w] + wb[hit] * b[hit, w] + wc[hit] * c[hit, w]) / total
    facing = np.sign(total) * flips
    return int(-facing[depth < 0].sum()), int(facing[depth > 0].sum())
