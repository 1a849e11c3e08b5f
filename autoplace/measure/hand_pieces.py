"""Rings, bracelets and things held, told from the pieces that a hand is made of.

What is worn or held is usually a piece of its own. A ring is a closed surface with one hole (its
Euler characteristic is 0), which no piece of a hand is. A thing held is long and straight, lies
across the hand, and both its ends are far from everything else, while a finger that is a piece of
its own begins at the palm.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

__all__ = ["MOST_PIECES", "pieces_about", "without_worn"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Shares of the guessed hand length (no source: they only part what differs much).
NEAR = 1.6
"""Pieces with a corner within this distance of the wrist are looked at."""
FREE = 0.15
"""Ends of a thing held are this far from everything else."""
MOST_PIECES = 60
"""More pieces than this are a mesh that is not welded, where no piece tells anything."""
HAND_LONG = 0.6
"""What reaches so far along the forearm is a hand or a glove, though two of its fingers have grown
together; a bracelet or a cuff is shorter."""
LONG = 4.0
"""Length to breadth of a thing held, at least."""
ACROSS = 0.8
"""Largest cosine of the angle between a thing held and the forearm."""


def without_worn(
    vertices: FloatArray, faces: IntArray, wrist: FloatArray, forearm: FloatArray, length: float
) -> IntArray:
    """The faces less those of rings, bracelets and things held about one hand.

    Args:
        vertices: (n, 3). faces: (m, 3).
        wrist: (3,) approximate. forearm: (3,) direction from elbow to wrist.
        length: of the hand, approximate.

    Returns:
        (k, 3) faces, the same ones where nothing is worn or held.
    """
    about, corner, piece = pieces_about(vertices, faces, wrist, length)
    count = int(piece.max(initial=-1)) + 1
    if not 1 < count <= MOST_PIECES:
        return faces
    points = vertices[np.unique(faces[about])]
    owner = piece[corner[:, 0]]
    a, b, c = (points[corner[:, k]] for k in range(3))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    finest = int(np.bincount(owner, minlength=count).argmax())
    largest = int(np.bincount(owner, area, minlength=count).argmax())
    worn = []
    for number in range(count):
        own = corner[owner == number]
        if number == largest or len(own) < 8:
            continue
        # a hand that is a part of its own may have a hole too, where two fingers have grown
        # together; a rod may be more finely cut than a hand
        ring = number != finest and not _as_long_as_a_hand(points[piece == number], forearm, length)
        ring = ring and _has_a_hole(own)
        if ring or _held(points, piece == number, wrist, forearm, length):
            worn.append(number)
    if not worn:
        return faces
    kept = np.ones(len(faces), dtype=bool)
    kept[about[np.isin(owner, worn)]] = False
    return faces[kept]


def pieces_about(
    vertices: FloatArray, faces: IntArray, wrist: FloatArray, length: float
) -> tuple[IntArray, IntArray, IntArray]:
    """The pieces that a mesh is made of about one hand.

    Args:
        vertices: (n, 3). faces: (m, 3).
        wrist: (3,) approximate. length: of the hand, approximate.

    Returns:
        (k,) numbers of the triangles of pieces that come near; (k, 3) their corners, numbered in
        the order of the vertices; and (l,) the piece of each of these corners, from 0.
    """
    gap = np.abs(vertices - wrist).max(axis=1) < NEAR * length
    about = np.flatnonzero(gap[faces].any(axis=1))
    local, corner = np.unique(faces[about], return_inverse=True)
    corner = corner.reshape(-1, 3)
    ends = (np.r_[corner[:, 0], corner[:, 1]], np.r_[corner[:, 1], corner[:, 2]])
    links = coo_matrix((np.ones(len(ends[0]), dtype=np.int8), ends), shape=(len(local),) * 2)
    return about, corner, np.asarray(connected_components(links, directed=False)[1], np.int64)


def _as_long_as_a_hand(points: FloatArray, forearm: FloatArray, length: float) -> bool:
    """Whether a piece reaches as far along the forearm as most of a hand."""
    reach = float(np.ptp(points @ forearm)) / float(np.linalg.norm(forearm))
    return reach > HAND_LONG * length


def _has_a_hole(faces: IntArray) -> bool:
    """Whether a closed surface has as many corners and faces as edges: that of a ring."""
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    single, times = np.unique(edges, axis=0, return_counts=True)
    closed = bool((times == 2).all())
    return closed and len(np.unique(faces)) - len(single) + len(faces) == 0


def _held(
    points: FloatArray,
    own: NDArray[np.bool_],
    wrist: FloatArray,
    forearm: FloatArray,
    length: float,
) -> bool:
    """Whether a piece is long, lies across the hand and is free at both ends."""
    mine = points[own]
    middle = mine.mean(axis=0)
    _, sizes, axes = np.linalg.svd(mine - middle, full_matrices=False)
    if sizes[0] < LONG * sizes[1]:
        return False
    aim = axes[0]
    if abs(float(aim @ forearm)) > ACROSS * float(np.linalg.norm(forearm)):
        return False
    # the piece may be finely or coarsely cut: its ends are judged by where it ends
    place = (mine - middle) @ aim
    others = cKDTree(points[~own])
    ends = [middle + aim * place.min(), middle + aim * place.max()]
    nearest = np.array([float(others.query(end)[0]) for end in ends])
    if nearest.min() < FREE * length:
        return False
    along = np.linspace(place.min(), place.max(), 21)[:, None] * aim + middle
    return bool(np.linalg.norm(along - wrist, axis=1).min() < length)
