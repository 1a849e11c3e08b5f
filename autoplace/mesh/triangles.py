"""Areas and normals of triangles, and their nearest points."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "face_normals",
    "nearest_on_triangles",
    "nearest_shares",
    "surface_area",
    "surface_of",
    "without_doubles",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SAME = 2.0**-20
"""Corners closer than about this share of the whole size lie at one place."""


def face_normals(vertices: FloatArray, faces: IntArray) -> tuple[FloatArray, FloatArray]:
    """(m, 3) unit normals (zero where there is no area) and (m,) areas of triangles."""
    a = vertices[faces[:, 0]]
    e, f = vertices[faces[:, 1]] - a, vertices[faces[:, 2]] - a
    cross = np.empty_like(e)
    for i, (j, k) in enumerate(((1, 2), (2, 0), (0, 1))):
        cross[:, i] = e[:, j] * f[:, k] - e[:, k] * f[:, j]
    double = np.sqrt(np.einsum("ij,ij->i", cross, cross))
    cross /= np.where(double > 0.0, double, 1.0)[:, None]
    return cross, 0.5 * double


def surface_area(vertices: FloatArray, faces: IntArray) -> float:
    """Area of a surface; `vertices` (n, 3), `faces` (m, 3)."""
    return float(face_normals(vertices, faces)[1].sum())


def surface_of(corners: FloatArray) -> tuple[FloatArray, IntArray]:
    """Vertices (3 m, 3) and triangles (m, 3) with the corners (m, 3, 3), none of them shared."""
    return corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3)


def without_doubles(vertices: FloatArray, faces: IntArray) -> IntArray:
    """The triangles (k, 3) of `faces` (m, 3), each only once where several lie at one place.

    Overlapping parts cut from one surface share triangles; counted twice they would be two walls.
    """
    used = vertices[faces.ravel()]
    low, size = used.min(axis=0), max(float(np.ptp(used, axis=0).max()), 1e-300)
    cells = np.rint((vertices - low) / (SAME * size)).astype(np.int64)
    # any corner order and winding gives the same sums; two different triangles hardly ever do
    prime = np.array([1, 2_097_169, 4_398_042_316_799], dtype=np.int64)
    mixed = cells @ prime
    mixed ^= mixed >> 29
    mixed *= np.int64(-4_658_895_280_553_007_687)
    mixed ^= mixed >> 32
    key = mixed[faces[:, 0]] + mixed[faces[:, 1]] + mixed[faces[:, 2]]
    _, first = np.unique(key, return_index=True)
    return np.ascontiguousarray(faces[np.sort(first)])


def nearest_on_triangles(point: FloatArray, corners: FloatArray) -> FloatArray:
    """(n, 3) the point of each triangle (n, 3, 3) nearest to one point (3,)."""
    shares = nearest_shares(np.broadcast_to(point, (len(corners), 3)), corners)
    return np.asarray(np.einsum("nc,ncx->nx", shares, corners))


def nearest_shares(points: FloatArray, corners: FloatArray) -> FloatArray:
    """(n, 3) barycentric shares of the point of each triangle (n, 3, 3) nearest to its point.

    The foot of the perpendicular where it falls inside, else the nearest point of the three sides.
    A triangle without area has only sides.
    """
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    u, v, w = b - a, c - a, points - a
    uu, uv, vv = _dot(u, u), _dot(u, v), _dot(v, v)
    wu, wv = _dot(w, u), _dot(w, v)
    area = uu * vv - uv * uv
    flat = area <= 1e-14 * uu * vv
    scale = np.where(flat, 1.0, area)
    s, t = (vv * wu - uv * wv) / scale, (uu * wv - uv * wu) / scale
    inside = ~flat & (s >= 0.0) & (t >= 0.0) & (s + t <= 1.0)
    found = np.stack([1.0 - s - t, s, t], axis=1)
    least = np.where(inside, -1.0, np.inf)
    for one, other in ((0, 1), (1, 2), (2, 0)):
        side = corners[:, other] - corners[:, one]
        way = points - corners[:, one]
        along = np.clip(_dot(way, side) / np.maximum(_dot(side, side), 1e-300), 0.0, 1.0)
        squared = _dot(way - along[:, None] * side, way - along[:, None] * side)
        nearer = squared < least
        edge = np.zeros_like(found)
        edge[:, one], edge[:, other] = 1.0 - along, along
        found = np.where(nearer[:, None], edge, found)
        least = np.minimum(least, squared)
    return found


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.asarray(np.einsum("nx,nx->n", a, b), dtype=np.float64)
