"""A part cut into the primitives that glTF needs: one material each, one coordinate a vertex.

In glTF a vertex has one pair of texture coordinates in each set, so one that lies on a seam of the
texture is written once for each pair. All of these have one place, and with it one normal and one
binding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.files.gltf_tangents import texture_turns
from autoplace.files.looks import Material, PartLook
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
    coordinates: tuple[NDArray[np.float32], ...]
    """Sets of (k, 2) texture coordinates as in `PartLook`, those that there are."""
    sets: tuple[int, ...]
    """Number in `PartLook` of each."""
    material: int
    """As in `PartLook`."""
    normal_set: int | None
    """Which of `coordinates` its texture of normals goes by; None for no such texture."""


def patches_of(part: Part, look: PartLook | None, materials: Sequence[Material]) -> list[Patch]:
    """The patches of a part, in order of their materials; without a look the part as it is."""
    if look is None:
        look = PartLook((), np.full(len(part.faces), -1))
    found = []
    sets = look.sets()
    given = [c for c in look.coordinates if c is not None]
    numbers = np.unique(look.material)
    for material in numbers.tolist():
        mine = np.flatnonzero(look.material == material)
        coordinates: tuple[NDArray[np.float32], ...] = ()
        normal = None if material < 0 else materials[material].on(sets).normal
        normal_set = None if normal is None else normal.coordinates
        if given:
            columns = [c[mine].reshape(-1, 2) for c in given]
            if normal_set is not None:
                turns = texture_turns(given[normal_set][mine]).astype(np.float32)
                columns.append(np.repeat(turns, 3)[:, None])
            pairs = np.concatenate(columns, axis=1)
            pairs = pairs + np.float32(0.0)  # no zeros with a minus
            vertices, pairs, faces = _split(part.faces[mine], pairs)
            coordinates = tuple(
                np.ascontiguousarray(pairs[:, 2 * i : 2 * i + 2]) for i in range(len(given))
            )
        elif len(numbers) == 1:
            vertices, faces = np.arange(len(part.vertices)), part.faces
        else:
            vertices, faces = np.unique(part.faces[mine], return_inverse=True)
            faces = faces.reshape(-1, 3)
        found.append(Patch(vertices, faces, coordinates, sets, material, normal_set))
    return found


def _split(
    faces: IntArray, pairs: NDArray[np.float32]
) -> tuple[IntArray, NDArray[np.float32], IntArray]:
    """Vertices (k,) with their numbers (k, s), each of both once, and triangles (f, 3) of them."""
    corner = faces.reshape(-1)
    order = np.lexsort((*pairs.T[::-1], corner))
    corner, pairs = corner[order], pairs[order]
    new = (np.diff(corner) != 0) | np.any(np.diff(pairs, axis=0) != 0, axis=1)
    first = np.concatenate([[True], new])
    number = np.empty(len(order), dtype=np.int64)
    number[order] = np.cumsum(first) - 1
    return corner[first], pairs[first], number.reshape(-1, 3)
