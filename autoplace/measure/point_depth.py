"""How deep a few points lie inside a surface, without filling a grid."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.triangles import nearest_on_triangles

__all__ = ["depth_of_points", "inside_points"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Boxes = tuple[FloatArray, FloatArray]
"""Least and greatest coordinates, each (3, m), of the corners of m triangles."""

NUDGE = np.array([3.1e-7, 4.7e-7, 2.3e-7])
"""Moves the points off round coordinates, where rays would run along edges; share of the extent."""


def depth_of_points(vertices: FloatArray, faces: IntArray, points: FloatArray) -> FloatArray:
    """Distance of points to a surface, positive inside, same units.

    Args:
        vertices: (n, 3). faces: (m, 3), facing outward; open, overlapping or unwelded will do.
        points: (k, 3).

    Returns:
        (k,) distances to the nearest points of the triangles.
    """
    boxes = _boxes(vertices, faces)
    inside = _inside(vertices, faces, points, boxes)
    distance = np.array([_distance(vertices, faces, point, boxes) for point in points])
    return np.where(inside, distance, -distance)


def inside_points(vertices: FloatArray, faces: IntArray, points: FloatArray) -> NDArray[np.bool_]:
    """Whether points lie inside, by the signed crossings of rays along both ways of three axes.

    Each of the six readings is a winding number; a point is inside where most are one or more.
    """
    return _inside(vertices, faces, points, _boxes(vertices, faces))


def _boxes(vertices: FloatArray, faces: IntArray) -> Boxes:
    """The box about each of some triangles."""
    low, high = np.empty((3, len(faces))), np.empty((3, len(faces)))
    for axis in range(3):
        a, b, c = (vertices[:, axis][faces[:, corner]] for corner in range(3))
        low[axis] = np.minimum(np.minimum(a, b), c)
        high[axis] = np.maximum(np.maximum(a, b), c)
    return low, high


def _distance(vertices: FloatArray, faces: IntArray, point: FloatArray, boxes: Boxes) -> float:
    """Distance of a point to the nearest of some triangles."""
    low, high = boxes
    beside = np.maximum(np.maximum(low - point[:, None], point[:, None] - high), 0.0)
    squared = np.einsum("xm,xm->m", beside, beside)
    # at most as far as a corner of the triangle whose box is nearest
    ahead = vertices[faces[np.argmin(squared)]] - point
    near = np.flatnonzero(squared <= np.einsum("cx,cx->c", ahead, ahead).min())
    apart = nearest_on_triangles(point, vertices[faces[near]]) - point
    return float(np.sqrt(np.einsum("nx,nx->n", apart, apart).min()))


def _inside(
    vertices: FloatArray, faces: IntArray, points: FloatArray, boxes: Boxes
) -> NDArray[np.bool_]:
    low, high = boxes
    extent = float((high.max(axis=1) - low.min(axis=1)).max())
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
