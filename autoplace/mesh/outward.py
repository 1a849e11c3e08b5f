"""Turns the faces of every piece to look outward, however the file wound them.

Two triangles that share an edge are wound alike when they run along it in opposite directions. From
neighbour to neighbour this decides every triangle of a piece against every other; which of the two
ways is outward is then a question of the piece's volume.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from autoplace.mesh.character import Character

__all__ = ["face_outward", "flips"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

FLAT = 0.004
"""Volume over area to the power of 3/2, below which a piece is a sheet that has no inside; a ball
has .094, a finger without its end .04, a cap of 20 degrees .03, of 2.5 .004 (closed forms)."""


def face_outward(character: Character, place: IntArray) -> Character:
    """The character with its faces wound so that they look outward; nothing else changes.

    Args:
        character: the mesh. place: (n,) number of each vertex's place; seams share theirs.
    """
    turned = flips(character.vertices, character.faces, place)
    if not turned.any():
        return character
    parts, start = [], 0
    for part in character.parts:
        mine = turned[start : start + len(part.faces)]
        start += len(part.faces)
        if mine.any():
            part = replace(
                part, faces=np.where(mine[:, None], part.faces[:, [0, 2, 1]], part.faces)
            )
        parts.append(part)
    return replace(character, parts=tuple(parts))


def flips(vertices: FloatArray, faces: IntArray, place: IntArray) -> BoolArray:
    """(m,) True for the triangles that must be turned over to look outward.

    Args:
        vertices: (n, 3). faces: (m, 3). place: (n,) number of each vertex's place.

    A sheet without an inside keeps the winding that most of its area has. A piece that has no two
    sides (a Moebius strip) is left as it is.
    """
    first, second, alike = _neighbours(place[faces], len(place))
    count = len(faces)
    against, piece = _against_first(first, second, alike, count)
    area, volume = _measures(vertices, faces, piece)
    pieces = int(piece.max()) + 1
    sign = np.where(against, -1.0, 1.0)
    whole = np.bincount(piece, volume * sign, pieces)
    total = np.bincount(piece, area, pieces)
    kept = np.bincount(piece, area * sign, pieces)
    sheet = np.abs(whole) < FLAT * total**1.5
    outward = np.where(sheet, kept, whole) >= 0.0
    return np.asarray(against == outward[piece])


def _neighbours(corners: IntArray, places: int) -> tuple[IntArray, IntArray, BoolArray]:
    """Pairs of triangles that share an edge with no third, and whether they are wound alike."""
    begin = corners.T.reshape(-1)
    end = corners[:, [1, 2, 0]].T.reshape(-1)
    key = np.minimum(begin, end) * places + np.maximum(begin, end)
    key[begin == end] = -1 - np.flatnonzero(begin == end)
    order = np.argsort(key, kind="stable")
    ordered = key[order]
    same = ordered[1:] == ordered[:-1]
    # only edges of exactly two triangles: a third one makes it a branching
    before = np.r_[False, same[:-1]]
    after = np.r_[same[1:], False]
    pair = np.flatnonzero(same & ~before & ~after)
    one, other = order[pair], order[pair + 1]
    count = len(corners)
    alike = (begin[one] < end[one]) != (begin[other] < end[other])
    return one % count, other % count, alike


def _against_first(
    first: IntArray, second: IntArray, alike: BoolArray, count: int
) -> tuple[BoolArray, IntArray]:
    """(m,) whether each triangle is wound against the first one of its piece, and (m,) its piece.

    Every triangle stands twice in a graph, as it is and turned over; what is linked fits together.
    """
    if alike.all():
        ones = np.ones(len(first), dtype=np.int8)
        links = coo_array((ones, (first, second)), shape=(count, count))
        piece = connected_components(links, directed=False)[1]
        return np.zeros(count, dtype=bool), piece.astype(np.int64)
    shift = np.where(alike, 0, count)
    rows = np.concatenate([first, first + count])
    columns = np.concatenate([second + shift, (second + count - shift)])
    links = coo_array((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(2 * count,) * 2)
    label = connected_components(links, directed=False)[1]
    upright, over = label[:count], label[count:]
    lower = np.minimum(upright, over)
    _, piece = np.unique(lower, return_inverse=True)
    return np.asarray(upright > over), piece.reshape(-1).astype(np.int64)


def _measures(
    vertices: FloatArray, faces: IntArray, piece: IntArray
) -> tuple[FloatArray, FloatArray]:
    """(m,) area of each triangle and volume of the cone from it to the middle of its piece."""
    a = vertices[faces[:, 0]]
    e, f = vertices[faces[:, 1]] - a, vertices[faces[:, 2]] - a
    cross = np.empty_like(e)
    for i, (j, k) in enumerate(((1, 2), (2, 0), (0, 1))):
        cross[:, i] = e[:, j] * f[:, k] - e[:, k] * f[:, j]
    area = 0.5 * np.sqrt(np.einsum("ij,ij->i", cross, cross))
    total = np.maximum(np.bincount(piece, area), 1e-300)
    third = a + (e + f) / 3.0
    middle = np.stack([np.bincount(piece, area * third[:, i]) / total for i in range(3)], axis=1)
    return area, np.einsum("ij,ij->i", third - middle[piece], cross) / 6.0
