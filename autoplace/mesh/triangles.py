"""Areas and normals of triangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["face_normals", "surface_area", "without_doubles"]

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
