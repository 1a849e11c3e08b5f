"""Tangents of a surface under a texture of normals: where the texture's right lies in space.

Every vertex has the mean of its triangles' tangents, each laid into the plane of the vertex's
normal and weighed by the angle of the corner; triangles on which the texture lies mirrored do not
share vertices with others (Mikkelsen 2008, Simulation of wrinkled surfaces revisited, from memory;
the way that ISO/IEC 12113:2022, 3.7.2.1, names for tangents that a file does not give).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["tangents_of", "texture_turns"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def texture_turns(corners: NDArray[np.float32]) -> FloatArray:
    """(m,) for triangles with texture coordinates (m, 3, 2), v down: 1 where the texture is seen
    from outside as it is, -1 where it is mirrored. Where it has no area it counts as not."""
    return np.where(_areas(corners.astype(np.float64)) < 0, -1.0, 1.0)


def tangents_of(
    places: NDArray[np.float32],
    normals: NDArray[np.float32],
    faces: IntArray,
    pairs: NDArray[np.float32],
) -> NDArray[np.float32]:
    """(k, 4) unit tangents of k vertices, and 1 or -1: what the cross product of normal and tangent
    is multiplied with to give the texture's up.

    `normals` are unit, `pairs` (k, 2) texture coordinates, v down; the triangles at a vertex all
    show the texture as it is, or all mirrored. A vertex at which the texture has no area gets any
    tangent.
    """
    at, normal = places.astype(np.float64)[faces], normals.astype(np.float64)
    uv = pairs.astype(np.float64)[faces]
    turn = texture_turns(pairs[faces])
    along = [at[:, i] - at[:, 0] for i in (1, 2)]
    up = [uv[:, 0, 1] - uv[:, i, 1] for i in (1, 2)]
    # the way in which only the right of the texture grows, times the area, which cancels
    right = (along[0] * up[1][:, None] - along[1] * up[0][:, None]) * turn[:, None]
    total = np.zeros((len(places), 3))
    for corner in range(3):
        vertex = faces[:, corner]
        legs = [_unit(at[:, (corner + i) % 3] - at[:, corner]) for i in (1, 2)]
        angle = np.arccos(np.clip(np.sum(legs[0] * legs[1], axis=1), -1.0, 1.0))
        flat = _unit(_in_plane(_unit(right), normal[vertex])) * angle[:, None]
        for axis in range(3):
            total[:, axis] += np.bincount(vertex, flat[:, axis], minlength=len(places))
    tangent = _unit(_in_plane(total, normal))
    lost = np.linalg.norm(tangent, axis=1) < 0.5
    least = np.eye(3)[np.argmin(np.abs(normal[lost]), axis=1)]
    tangent[lost] = _unit(_in_plane(least, normal[lost]))
    side = np.ones(len(places))
    side[faces.reshape(-1)] = np.repeat(turn, 3)
    return np.column_stack([tangent, side]).astype(np.float32)


def _areas(uv: FloatArray) -> FloatArray:
    """(m,) twice the areas of triangles in the texture, against the clock as one sees it."""
    a, b = uv[:, 1] - uv[:, 0], uv[:, 2] - uv[:, 0]
    return np.asarray(a[:, 1] * b[:, 0] - a[:, 0] * b[:, 1])  # v is down


def _in_plane(vectors: FloatArray, normals: FloatArray) -> FloatArray:
    return np.asarray(vectors - normals * np.sum(vectors * normals, axis=1, keepdims=True))


def _unit(vectors: FloatArray) -> FloatArray:
    """(n, 3) of length one; what has none stays zero."""
    length = np.linalg.norm(vectors, axis=1, keepdims=True)
    return np.asarray(np.divide(vectors, length, out=np.zeros_like(vectors), where=length > 1e-150))
