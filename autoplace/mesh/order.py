"""One order for one mesh: vertices and triangles by where they are, not by where the file has them.

What samples a surface, breaks a tie or adds up many numbers would else depend on how the modelling
program happened to write the mesh out. Only triangles at one place keep the order of the file.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.character import Character, Part

__all__ = ["in_order", "smallest_first"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BITS = 20
"""Steps along each side of a part's box, as a power of two: what lies within one step is one point
(as `mesh.islands` welds)."""


def in_order(character: Character) -> tuple[Character, tuple[IntArray, ...]]:
    """The same mesh, with the vertices of each part along a curve that fills its box, and its
    triangles by their corners; all stay in the input frame.

    Returns:
        The character, and per part (m,) which of its triangles each was.
    """
    ordered = [_part_in_order(part) for part in character.parts]
    parts = tuple(part for part, _ in ordered)
    return replace(character, parts=parts), tuple(source for _, source in ordered)


def smallest_first(faces: IntArray) -> IntArray:
    """(m, 3) triangles wound as they are, each from its smallest corner on."""
    first = faces.argmin(axis=1)
    return np.take_along_axis(faces, (np.arange(3) + first[:, None]) % 3, axis=1)


def _part_in_order(part: Part) -> tuple[Part, IntArray]:
    if not len(part.faces):
        return part, np.zeros(0, dtype=np.int64)
    code = _along_curve(part.vertices, part.faces)
    by_place = np.argsort(code, kind="stable")
    rank = np.empty(len(by_place), dtype=np.int64)
    rank[by_place] = np.arange(len(by_place))
    # vertices at one place, as an unwelded mesh has them, count as one
    place = np.empty(len(by_place), dtype=np.int64)
    place[by_place] = np.cumsum(np.diff(code[by_place], prepend=code[by_place[0]]) != 0)
    # by all three corners, however the triangle is wound; two at one place stay as the file has
    # them, for of a sheet that is modelled from both sides the first one counts
    low, middle, high = np.sort(place[part.faces], axis=1).T
    source = np.lexsort((high, low * (place.max() + 1) + middle))
    ordered = replace(
        part,
        vertices=part.vertices[by_place],
        faces=smallest_first(rank[part.faces[source]]),
        source_vertices=part.source_vertices[by_place],
        source_faces=part.source_faces[source],
    )
    return ordered, source


def _along_curve(points: FloatArray, faces: IntArray) -> IntArray:
    """(n,) place of each point along a curve through the box of those that triangles use: the bits
    of its three coordinates, in turns."""
    used = points[np.unique(faces)]
    low = used.min(axis=0)
    size = max(float(np.ptp(used, axis=0).max()), 1e-300)
    step = np.clip((points - low) / size * (2**BITS - 1) + 0.5, 0, 2**BITS - 1).astype(np.int64)
    code = np.zeros(len(points), dtype=np.int64)
    for axis in range(3):
        spread = step[:, axis]
        # the bits are drawn apart by halves, quarters and so on
        for shift, mask in (
            (32, 0x1F00000000FFFF),
            (16, 0x1F0000FF0000FF),
            (8, 0x100F00F00F00F00F),
            (4, 0x10C30C30C30C30C3),
            (2, 0x1249249249249249),
        ):
            spread = (spread | (spread << shift)) & mask
        code |= spread << axis
    return code
