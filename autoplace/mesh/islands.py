"""Which triangles hang together? Seams are joined by position, over all parts of the file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from autoplace.mesh.character import Character

__all__ = ["Islands", "find_islands", "island_boxes"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

WELD = 2.0**-20
"""Points closer than about this share of the whole size are one point: what text files with six
digits and 32-bit numbers can tell apart."""
COARSE_WELDS = (2.0**-13, 2.0**-10)
"""Tried one after the other on a surface that falls into crumbs: unwelded and jittered."""
CRUMB_FACES = 3
"""A surface whose typical island is not larger than this many triangles is crumbs, not pieces."""
KEPT_ISLANDS = 48
"""Largest islands of a part that are judged one by one; the rest (strands, stitches, beads) are
judged together. Bounds the work on meshes with thousands of strands."""


@dataclass(frozen=True)
class Islands:
    """Connected sets of triangles; each triangle is in exactly one."""

    label: IntArray
    """(m,) island of every triangle of the character (all parts one after another)."""
    part_of_face: IntArray
    """(m,) part of every triangle."""
    face_start: IntArray
    """(p,) index of each part's first triangle."""
    count: int
    grouped: NDArray[np.bool_]
    """(count,) True for an island that is a group of many small ones of one part."""
    place: IntArray
    """(n,) number of each vertex's place; vertices that count as joined share theirs."""


def find_islands(character: Character) -> Islands:
    """Connected sets of triangles of a character, the same for the same input.

    Vertices at one position count as joined, also across parts, so that neither texture seams nor
    fully unwelded triangles break a surface up. The many tiny islands of one part (beyond its
    48 largest) are put together as one.
    """
    vertices, faces = character.vertices, character.faces
    part_of_face = np.repeat(
        np.arange(len(character.parts)), [len(part.faces) for part in character.parts]
    )
    sizes = np.array([len(part.faces) for part in character.parts])
    used = np.zeros(len(vertices), dtype=bool)
    used[faces] = True
    low = vertices[used].min(axis=0)
    size = float((vertices[used].max(axis=0) - low).max())
    unit = (np.where(used[:, None], vertices, low) - low) / size
    place = _welded(unit)
    label = _components(place, faces)
    for coarse in COARSE_WELDS:
        if len(faces) <= CRUMB_FACES * KEPT_ISLANDS:
            break
        per_face = np.bincount(label)[label]
        if np.median(per_face) > CRUMB_FACES:
            break
        place = _welded_near(unit, coarse)
        label = _components(place, faces)
    label, grouped = _group_small(label, part_of_face, len(character.parts))
    return Islands(label, part_of_face, np.cumsum(sizes) - sizes, len(grouped), grouped, place)


def island_boxes(label: IntArray, count: int, corners: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(count, 3) low and high corner of the box of each island of triangles (m, 3, 3)."""
    order = np.argsort(label, kind="stable")
    starts = np.searchsorted(label[order], np.arange(count))
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    low = np.minimum.reduceat(np.minimum(np.minimum(a, b), c)[order], starts)
    high = np.maximum.reduceat(np.maximum(np.maximum(a, b), c)[order], starts)
    return low, high


def _welded(points: FloatArray) -> IntArray:
    """(n,) number of each point's place; points of a unit box in one cell of `WELD` share one."""
    cells = np.rint(points / WELD).astype(np.int64)
    key = (cells[:, 0] << 42) | (cells[:, 1] << 21) | cells[:, 2]
    _, place = np.unique(key, return_inverse=True)
    return np.asarray(place, dtype=np.int64).reshape(-1)


def _welded_near(points: FloatArray, tolerance: float) -> IntArray:
    """(n,) number of each point's place; points within `tolerance` of one another share one."""
    pairs = cKDTree(points).query_pairs(tolerance, output_type="ndarray")
    count = len(points)
    links = coo_array(
        (np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), shape=(count, count)
    )
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)


def _components(place: IntArray, faces: IntArray) -> IntArray:
    """(m,) component of every triangle, when the vertices at one place are one."""
    a, b, c = (place[faces[:, corner]].astype(np.int32) for corner in range(3))
    count = int(place.max()) + 1
    rows, columns = np.concatenate([a, b]), np.concatenate([b, c])
    links = coo_array((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(count, count))
    total, of_vertex = connected_components(links, directed=False)
    # components that no triangle uses get no number
    own = of_vertex[a]
    used = np.zeros(total, dtype=bool)
    used[own] = True
    return np.asarray((np.cumsum(used) - 1)[own], dtype=np.int64)


def _group_small(
    label: IntArray, part_of_face: IntArray, part_count: int
) -> tuple[IntArray, NDArray[np.bool_]]:
    """Labels in order of first face, with each part's small islands beyond the cap made one."""
    count = int(label.max()) + 1
    grouped_as = np.arange(count)
    size = np.bincount(label, minlength=count)
    home = np.full(count, part_count)
    np.minimum.at(home, label, part_of_face)
    for part in np.flatnonzero(np.bincount(home, minlength=part_count) > KEPT_ISLANDS):
        mine = np.flatnonzero(home == part)
        small = mine[np.argsort(-size[mine], kind="stable")][KEPT_ISLANDS:]
        grouped_as[small] = small.min()
    is_group = np.bincount(grouped_as, minlength=count) > 1
    _, first, renumbered = np.unique(grouped_as[label], return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.int64)
    rank[np.argsort(first, kind="stable")] = np.arange(len(first))
    renumbered = rank[renumbered.reshape(-1)]
    grouped = np.zeros(len(first), dtype=bool)
    grouped[renumbered] = is_group[grouped_as[label]]
    return renumbered, grouped
