"""Points spread evenly over a surface, so that measures do not depend on its triangles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.triangles import face_normals

__all__ = ["Samples", "area_level", "sample_surface"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

HALVINGS = 24
"""Of the range of heights in the search for a level."""


@dataclass(frozen=True)
class Samples:
    """Points on a surface, each standing for the same area."""

    points: FloatArray
    """(n, 3)"""
    normals: FloatArray
    """(n, 3) unit normals, by the triangles' winding; zero on triangles without area."""
    area: float
    """Of the whole surface."""

    @property
    def spacing(self) -> float:
        """Typical distance of neighbouring points."""
        return float(np.sqrt(self.area / max(len(self.points), 1)))


def sample_surface(
    vertices: FloatArray,
    faces: IntArray,
    count: int,
    normals: FloatArray | None = None,
    area: FloatArray | None = None,
) -> Samples:
    """Points spread evenly by area, the same for the same input.

    Args:
        vertices: (n, 3) positions. faces: (m, 3) triangles. count: number of points.
        normals, area: of the triangles, if known already.

    Returns:
        `count` points; each lies at the middle of its stretch of accumulated area, inside its
        triangle by a low-discrepancy sequence. A surface without any area gives its corners.
    """
    if normals is None or area is None:
        normals, area = face_normals(vertices, faces)
    ends = np.cumsum(area)
    total = float(ends[-1]) if len(ends) else 0.0
    if total <= 0.0:
        corners = vertices[faces].reshape(-1, 3)
        return Samples(corners, np.zeros_like(corners), 0.0)
    at = (np.arange(count) + 0.5) / count * total
    face = np.minimum(np.searchsorted(ends, at), len(faces) - 1)
    # additive recurrence with the plastic number fills the unit square evenly
    k = np.arange(1, count + 1)
    s, t = (k * 0.7548776662466927) % 1.0, (k * 0.5698402909980532) % 1.0
    over = s + t > 1.0
    s, t = np.where(over, 1 - s, s)[:, None], np.where(over, 1 - t, t)[:, None]
    a, b, c = (vertices[faces[face, corner]] for corner in range(3))
    return Samples(a + s * (b - a) + t * (c - a), normals[face], total)


def area_level(heights: FloatArray, area: FloatArray, wanted: float) -> float:
    """The level below which a surface has the wanted area.

    Args:
        heights: (m, 3) heights of the triangles' corners. area: (m,) their areas.
        wanted: area, more than none and less than all.
    """
    ordered = np.sort(heights, axis=1)
    low, high = float(ordered[:, 0].min()), float(ordered[:, 2].max())
    for _ in range(HALVINGS):
        level = 0.5 * (low + high)
        near = ordered[:, 0] < level
        if float(area[near] @ _share_below(ordered[near], level)) < wanted:
            low = level
        else:
            high = level
    return 0.5 * (low + high)


def _share_below(ordered: FloatArray, level: float) -> FloatArray:
    """(m,) share of each triangle below a level; rows of `ordered` are ascending heights."""
    a, b, c = ordered.T
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        lower = (level - a) ** 2 / ((c - a) * (b - a))
        upper = 1.0 - (c - level) ** 2 / ((c - a) * (c - b))
    # the branches that divide by nothing are never the ones chosen
    return np.asarray(np.where(level >= c, 1.0, np.where(level < b, lower, upper)))
