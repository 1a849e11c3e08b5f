"""Where a point inside a surface goes when the vertices of that surface move.

The surface around the point decides: an affine map is fitted to the vertices and where they have
gone, each weighted by its area and by the inverse sixth power of its distance from the point
(moving least squares; Lancaster and Salkauskas 1981, doi 10.1090/S0025-5718-1981-0616367-1, from
memory). A move, turn or other scale of the whole is followed exactly.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.triangles import face_normals

__all__ = ["carry_by_vertices", "moves_as_one"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

POWER = 6
"""Of the inverse distance. On pairs of bodies that may be looked at (`tests/keep/cases.py`) 95 of
100 joints come within 0.57 to 0.60 percent of the height with any power from 4 to 8, within 0.63 or
more with a bell curve, and within 0.58 to 0.61 with a similarity in place of the affine map."""
NEAREST = 0.003
"""Distances below this share of the surface's extent count as it, so that a point on a vertex does
not hang on that vertex alone (common practice, no source)."""
STIFF = 0.01
"""Share of the scatter that is held to the similarity of the same vertices, so that a point under
one flat piece of surface has a map too (common practice, no source)."""
CHECKED = 2000
"""Vertices that are looked at to tell whether two surfaces correspond."""
TORN = 3.0
"""How many times as far apart two neighbours are at the median, against their distance before, in
surfaces that do not correspond: skin stretches to twice its length on a body that grows fat or
bends, and vertices in another order lie a body's size apart (common practice, no source)."""


def carry_by_vertices(
    points: FloatArray, old: FloatArray, new: FloatArray, faces: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Points carried from one surface to another with the same vertices.

    Args:
        points: (k, 3) in the old surface's frame and units. old, new: (n, 3) its vertices before
            and after, each in a frame and units of its own. faces: (m, 3) triangles of both.

    Returns:
        (k, 3) points in the new surface's frame and units, and (k,) how far the vertices around lie
        from where the fitted map puts them (weighted root mean square), same units. Where no vertex
        has moved, the points are the same to the last bit.
    """
    points = np.asarray(points, dtype=np.float64)
    if np.array_equal(old, new):
        return points.copy(), np.zeros(len(points))
    used = np.unique(faces)
    _, area = face_normals(old, faces)
    share = np.zeros(len(old))
    for corner in range(3):
        np.add.at(share, faces[:, corner], area / 3.0)
    start, end, share = old[used], new[used], share[used]
    least = NEAREST * float(np.ptp(start, axis=0).max())
    carried, misfit = np.empty_like(points), np.empty(len(points))
    for index, point in enumerate(points):
        squared = np.sum((start - point) ** 2, axis=1) / least**2
        weight = share / (1.0 + squared) ** (POWER // 2)
        carried[index], misfit[index] = _mapped(point, start, end, weight / weight.sum())
    return carried, misfit


def moves_as_one(old: FloatArray, new: FloatArray) -> bool:
    """Whether vertices (n, 3) of the same numbers are the same places of two surfaces: neighbours
    in the old one are neighbours in the new one too."""
    if len(old) < 2:
        return True
    from scipy.spatial import cKDTree

    some = old[:: max(1, len(old) // CHECKED)]
    distance, beside = cKDTree(old).query(some, k=min(8, len(old)))
    size = [float(np.linalg.norm(np.std(points, axis=0))) for points in (old, new)]
    if not size[0] or not size[1]:
        return False
    here = new[:: max(1, len(old) // CHECKED)]
    after = np.linalg.norm(new[beside] - here[:, None], axis=2) / size[1]
    before = distance / size[0]
    apart = before > 1e-6  # vertices of a seam lie on one place
    return not apart.any() or float(np.median(after[apart] / before[apart])) < TORN


def _mapped(
    point: FloatArray, start: FloatArray, end: FloatArray, weight: FloatArray
) -> tuple[FloatArray, float]:
    """Where the affine map that fits start (n, 3) to end with weights (n,) of sum one puts a point,
    and its root mean square misfit."""
    first, second = weight @ start, weight @ end
    before, after = start - first, end - second
    scatter = (before * weight[:, None]).T @ before
    across = (before * weight[:, None]).T @ after
    left, stretch, right = np.linalg.svd(across)
    upright = np.array([1.0, 1.0, np.sign(np.linalg.det(left @ right)) or 1.0])
    size = float(stretch @ upright) / max(float(np.trace(scatter)), 1e-300)
    similarity = size * (left * upright) @ right
    stiffness = STIFF * float(np.trace(scatter)) / 3.0
    linear = np.linalg.solve(scatter + stiffness * np.eye(3), across + stiffness * similarity)
    off = after - before @ linear
    return second + (point - first) @ linear, float(np.sqrt(weight @ np.sum(off**2, axis=1)))
