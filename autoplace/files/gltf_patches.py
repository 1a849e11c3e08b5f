"""A part cut into the primitives that glTF needs: one material each, one coordinate a vertex.

In glTF a vertex has one pair of texture coordinates, so one that lies on a seam of the texture is
written once for each pair. All of these have one place, and with it one normal and one binding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.files.looks import PartLook
from autoplace.mesh.character import Part

__all__ = ["Patch", "patches_of"]

IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Patch:
    """Triangles of one part under one material."""

    vertices: IntArray
    """(k,) which of the part's vertices stands at each of the patch's."""
    faces: IntArray
    """(f, 3) indices into the patch's vertices."""
    coordinates: NDArray[np.float32] | None
    """(k, 2) texture coordinates as in `PartLook`."""
    material: int
    """As in `PartLook`."""


def patches_of(part: Part, look: PartLook | None) -> list[Patch]:
    """The patches of a part, in order of their materials; without a look the part as it is."""
    if look is None:
        look = PartLook(None, np.full(len(part.faces), -1))
    found = []
    materials = np.unique(look.material)
    for material in materials.tolist():
        mine = np.flatnonzero(look.material == material)
        if look.coordinates is not None:
            pairs = look.coordinates[mine].reshape(-1, 2) + np.float32(0.0)  # no zeros with a minus
            vertices, pairs, faces = _split(part.faces[mine], pairs)
            found.append(Patch(vertices, faces, pairs, material))
        elif len(materials) == 1:
            found.append(Patch(np.arange(len(part.vertices)), part.faces, None, material))
        else:
            vertices, faces = np.unique(part.faces[mine], return_inverse=True)
            found.append(Patch(vertices, faces.reshape(-1, 3), None, material))
    return found


def _split(
    faces: IntArray, pairs: NDArray[np.float32]
) -> tuple[IntArray, NDArray[np.float32], IntArray]:
    """Vertices (k,) with their pairs (k, 2), each of both once, and triangles (f, 3) of them."""
    corner = faces.reshape(-1)
    order = np.lexsort((pairs[:, 1], pairs[:, 0], corner))
    corner, pairs = corner[order], pairs[order]
    new = (np.diff(corner) != 0) | np.any(np.diff(pairs, axis=0) != 0, axis=1)
    first = np.concatenate([[True], new])
    number = np.empty(len(order), dtype=np.int64)
    number[order] = np.cumsum(first) - 1
    return corner[first], pairs[first], number.reshape(-1, 3)
