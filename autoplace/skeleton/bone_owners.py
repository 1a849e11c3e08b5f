"""Which joint each place of a surface belongs to: the nearest through the flesh, in one region.

The nearest bone alone leaves islands: a patch of the flank given to the arm, the back of the mouth
given to the neck. A joint's skin hangs together, so a small patch that is cut off from the rest of
its joint's skin goes to the joints of the skin around it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from autoplace.skeleton.bone_reach import BoneLines, distances, leads_in

__all__ = ["find_owners", "flesh_normals"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ISLAND = 0.25
"""A patch of less than this share of the largest patch of its joint is an island; common practice,
no source."""
FLESH = 0.8
"""A piece of which less than this share of the area looks away from the nearest bone is worn. The
bodies of the open dataset that may be looked at and the demo characters have .91 to .99, their
belts, cloaks, scarves and waistcoats .46 to .53, a beard and most caps of hair .72 to .77."""
ROUNDS = 3
"""Islands beside islands take as many rounds as they lie deep."""


def find_owners(
    places: FloatArray, normals: FloatArray, areas: FloatArray, edges: IntArray, lines: BoneLines
) -> IntArray:
    """(p,) joint that each place belongs to.

    Args:
        places: (p, 3) in the frame of the bones.
        normals: (p, 3) out of the flesh, of length one or less where that is doubtful.
        areas: (p,) of the surface about each place.
        edges: (e, 2) places joined by the edge of a triangle.
        lines: the bones.
    """
    owner = np.empty(len(places), dtype=np.int64)
    for rows, distance in distances(places, normals, lines):
        owner[rows] = np.argmin(distance, axis=1)
    piece = _patches(len(places), edges)
    for _ in range(ROUNDS):
        same = owner[edges[:, 0]] == owner[edges[:, 1]]
        patch = _patches(len(places), edges[same])
        island = _islands(owner, piece, patch, areas, lines.joints)
        across = np.concatenate([edges[~same], edges[~same][:, ::-1]])
        shore = across[island[patch[across[:, 0]]] & ~island[patch[across[:, 1]]]]
        if not len(shore):
            break
        # (patches, joints) True where a patch borders firm skin of the joint
        around = np.zeros((len(island), lines.joints), dtype=bool)
        around[patch[shore[:, 0]], owner[shore[:, 1]]] = True
        lost = np.flatnonzero(np.asarray(around.any(axis=1))[patch])
        moved = owner[lost]
        for rows, distance in distances(places[lost], normals[lost], lines):
            distance[~around[patch[lost[rows]]]] = np.inf
            moved[rows] = np.argmin(distance, axis=1)
        owner[lost] = moved
    return owner


def flesh_normals(
    places: FloatArray, normals: FloatArray, areas: FloatArray, edges: IntArray, lines: BoneLines
) -> FloatArray:
    """The normals (p, 3), zero on pieces of the surface that are no flesh; as in `find_owners`.

    A cloak, a belt or a cap of hair has no bones inside: half of its skin, the lining, looks at the
    bones of the body that it is worn on, and the way it faces says nothing about whose it is.
    """
    piece = _patches(len(places), edges)
    whole = np.bincount(piece, areas)
    inward = np.bincount(piece, areas * leads_in(places, normals, lines))
    return np.where((inward >= FLESH * whole)[piece][:, None], normals, 0.0)


def _patches(count: int, edges: IntArray) -> IntArray:
    """(count,) number of the connected patch of each place."""
    links = sparse.coo_matrix((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), (count, count))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)


def _islands(
    owner: IntArray, piece: IntArray, patch: IntArray, areas: FloatArray, joints: int
) -> NDArray[np.bool_]:
    """(patches,) True where a patch is much smaller than its joint's largest in the same piece."""
    total = np.bincount(patch, areas)
    kind = np.empty(len(total), dtype=np.int64)
    kind[patch] = piece * joints + owner
    largest = np.zeros(int(kind.max()) + 1)
    np.maximum.at(largest, kind, total)
    return np.asarray(total < ISLAND * largest[kind], dtype=np.bool_)
