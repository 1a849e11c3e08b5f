"""Which joint each place of a surface belongs to: the nearest through the flesh, in one region.

The nearest bone alone leaves islands: a patch of the flank given to the arm, the back of the mouth
given to the neck, a thigh given to the hand that sinks into it. A joint's skin hangs together and
on that of the joint above (`skin_patches`), so a patch that does not goes to the joints of the skin
around it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.skin.bone_reach import BoneLines, distances, leads_in
from autoplace.skeleton.skin.skin_patches import joints_under, loose_patches, patches

__all__ = ["find_owners", "flesh_normals", "settled"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

FLESH = 0.8
"""A piece of which less than this share of the area looks away from the nearest bone is worn. The
bodies of the open dataset that may be looked at and the demo characters have .91 to .99, their
belts, cloaks, scarves and waistcoats .46 to .53, a beard and most caps of hair .72 to .77."""
ROUNDS = 6
"""Loose patches beside loose ones take as many rounds as they lie deep."""


def find_owners(
    places: FloatArray,
    normals: FloatArray,
    areas: FloatArray,
    edges: IntArray,
    lines: BoneLines,
    parents: IntArray,
) -> IntArray:
    """(p,) joint that each place belongs to.

    Args:
        places: (p, 3) in the frame of the bones.
        normals: (p, 3) out of the flesh, of length one or less where that is doubtful.
        areas: (p,) of the surface about each place.
        edges: (e, 2) places joined by the edge of a triangle.
        lines: the bones.
        parents: (joints,) of each joint, -1 for a root; parents come first.
    """
    owner = np.empty(len(places), dtype=np.int64)
    for rows, distance in distances(places, normals, lines):
        owner[rows] = np.argmin(distance, axis=1)

    def choose(lost: IntArray, allowed: BoolArray) -> IntArray:
        moved = owner[lost]
        for rows, distance in distances(places[lost], normals[lost], lines):
            distance[~allowed[rows]] = np.inf
            moved[rows] = np.argmin(distance, axis=1)
        return moved

    return settled(owner, areas, edges, parents, choose)


def settled(
    owner: IntArray,
    areas: FloatArray,
    edges: IntArray,
    parents: IntArray,
    choose: Callable[[IntArray, BoolArray], IntArray],
) -> IntArray:
    """(p,) joint of each place, with every loose patch given to the joints of the skin around it.

    Args:
        owner: (p,) joint that each place is nearest to.
        areas, edges, parents: as in `find_owners`.
        choose: what gives the joint of places (k,), of those allowed (k, joints) to each.
    """
    owner = owner.copy()
    piece = patches(len(owner), edges)
    under = joints_under(parents)
    for _ in range(ROUNDS):
        same = owner[edges[:, 0]] == owner[edges[:, 1]]
        patch = patches(len(owner), edges[same])
        loose = loose_patches(owner, piece, patch, areas, edges[~same], parents)
        across = np.concatenate([edges[~same], edges[~same][:, ::-1]])
        shore = across[loose[patch[across[:, 0]]] & ~loose[patch[across[:, 1]]]]
        if not len(shore):
            break
        # (patches, joints) True where a patch borders firm skin of the joint
        around = np.zeros((len(loose), len(parents)), dtype=bool)
        around[patch[shore[:, 0]], owner[shore[:, 1]]] = True
        moving = np.asarray(around.any(axis=1))
        # what hangs on a loose patch of a joint above waits until it is known whose that is
        waiting = across[under[owner[across[:, 1]], owner[across[:, 0]]]]
        waiting = waiting[moving[patch[waiting[:, 1]]]]
        moving[patch[waiting[:, 0]]] = False
        lost = np.flatnonzero(moving[patch])
        owner[lost] = choose(lost, around[patch[lost]])
    return owner


def flesh_normals(
    places: FloatArray, normals: FloatArray, areas: FloatArray, edges: IntArray, lines: BoneLines
) -> FloatArray:
    """The normals (p, 3), zero on pieces of the surface that are no flesh; as in `find_owners`.

    A cloak, a belt or a cap of hair has no bones inside: half of its skin, the lining, looks at the
    bones of the body that it is worn on, and the way it faces says nothing about whose it is.
    """
    piece = patches(len(places), edges)
    whole = np.bincount(piece, areas)
    inward = np.bincount(piece, areas * leads_in(places, normals, lines))
    return np.where((inward >= FLESH * whole)[piece][:, None], normals, 0.0)
