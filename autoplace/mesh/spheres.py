"""Measures of islands in the working frame: area, box, and how much each is like a sphere."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.islands import Islands, island_boxes

__all__ = ["IslandMeasures", "measure_islands"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


MOST_OVAL = 0.3
"""Fraction of height: what is longer is no eye (twice the limit of its radius, and some)."""
MOST_ASPECT = 4.0
"""Longest over shortest side of an eye's box at most (common practice, no source)."""


@dataclass(frozen=True)
class IslandMeasures:
    """One row per island, working frame (height = 1)."""

    count: IntArray
    """(k,) triangles."""
    area: FloatArray
    low: FloatArray
    """(k, 3) lowest corner of the box."""
    high: FloatArray
    centroid: FloatArray
    """(k, 3) mean of the surface."""
    ball_centre: FloatArray
    """(k, 3) centre of the sphere whose normals fit the surface's best."""
    ball_radius: FloatArray
    """Negative when the faces look inward."""
    ball_misfit: FloatArray
    """Root mean square distance of the surface from where that sphere has the same normal, over
    the radius; 0 for a sphere, large for anything else."""
    ball_share: FloatArray
    """Area over that of the whole sphere."""
    oval_misfit: FloatArray
    """`ball_misfit` of the island made as wide, tall and deep as it is largest: 0 for a whole
    ellipsoid that stands square."""
    normals: FloatArray
    """(m, 3) unit normals of all triangles."""
    face_area: FloatArray
    """(m,)"""
    face_centre: FloatArray
    """(m, 3)"""


def measure_islands(islands: Islands, vertices: FloatArray, faces: IntArray) -> IslandMeasures:
    """Measure every island of a surface. `vertices` (n, 3) in the working frame, `faces` (m, 3).

    On a sphere each point is the centre plus the radius times its normal, so centre and radius
    follow from area-weighted sums over the triangles in closed form (least squares), for all
    islands at once, and for a cap as well as for a whole sphere.
    """
    label, count = islands.label, islands.count
    corners = vertices[faces]
    normals, weight = _normals(corners)
    middle = (corners[:, 0] + corners[:, 1] + corners[:, 2]) / 3.0
    area = np.asarray(np.bincount(label, weight, count), dtype=np.float64)
    centroid, centre, radius, misfit = _spheres(label, count, middle, normals, weight)
    low, high = island_boxes(label, count, corners)
    share = area / (4 * np.pi * np.maximum(np.abs(radius), 1e-12) ** 2)
    size = high - low
    oval = np.full(count, np.inf)
    small = (size.max(axis=1) < MOST_OVAL) & (size.max(axis=1) < MOST_ASPECT * size.min(axis=1))
    if small.any():
        chosen = small[label]
        # islands by number among the small ones
        number = (np.cumsum(small) - 1)[label[chosen]]
        cubed = corners[chosen] / size[label[chosen]][:, None, :]
        turned, cover = _normals(cubed)
        count_small = int(small.sum())
        oval[small] = _spheres(number, count_small, cubed.mean(axis=1), turned, cover)[3]
    made = np.bincount(label, minlength=count)
    return IslandMeasures(
        made,
        area,
        low,
        high,
        centroid,
        centre,
        radius,
        misfit,
        share,
        oval,
        normals,
        weight,
        middle,
    )


def _normals(corners: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Unit normals (m, 3) and areas (m,) of triangles (m, 3, 3)."""
    e, f = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    cross = np.stack(
        [
            e[:, 1] * f[:, 2] - e[:, 2] * f[:, 1],
            e[:, 2] * f[:, 0] - e[:, 0] * f[:, 2],
            e[:, 0] * f[:, 1] - e[:, 1] * f[:, 0],
        ],
        axis=1,
    )
    double = np.sqrt(np.einsum("ij,ij->i", cross, cross))
    return cross / np.where(double > 0, double, 1.0)[:, None], 0.5 * double


def _spheres(
    label: IntArray, count: int, middle: FloatArray, normals: FloatArray, weight: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Per island centroid (k, 3), and centre (k, 3), radius and misfit of its sphere."""
    area = np.asarray(np.bincount(label, weight, count), dtype=np.float64)
    safe = np.where(area > 0, area, 1.0)

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(label, weight * values, count) / safe, dtype=np.float64)

    centroid = np.stack([mean(middle[:, i]) for i in range(3)], axis=1)
    mean_normal = np.stack([mean(normals[:, i]) for i in range(3)], axis=1)
    offset = middle - centroid[label]
    turned = normals - mean_normal[label]
    covariance = mean(np.einsum("ij,ij->i", offset, turned))
    variance = mean(np.einsum("ij,ij->i", turned, turned))
    radius = covariance / np.maximum(variance, 1e-12)
    centre = centroid - radius[:, None] * mean_normal
    away = middle - centre[label] - radius[label][:, None] * normals
    misfit = np.sqrt(mean(np.einsum("ij,ij->i", away, away))) / np.maximum(np.abs(radius), 1e-12)
    misfit[variance < 1e-6] = np.inf
    return centroid, centre, radius, misfit
