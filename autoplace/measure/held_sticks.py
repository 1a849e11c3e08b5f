"""Weapons of one piece with the hand: what is long and thin and goes from the end of a limb."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.branches import BandTree

__all__ = ["without_sticks"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LONG = 0.14
"""Shortest stick, fraction of height: longer than a finger, .06, and than a hand, .11 (references
1.2)."""
THIN = 0.35
"""Its section over that of the limb it goes from at most: a blade and a staff have a sixth, the
finger of a hand a fifth and is short (further deals of the box family)."""
LIMB_RUN = 0.08
"""Limb between the trunk and the stick at least; a thin arm goes from the trunk itself."""
OF_TRUNK = 0.4
"""A limb's section over the trunk's at most (common practice, no source)."""
BESIDE = 0.06
"""A hand is so far beside the middle; a head and a tail are not (common practice, no source)."""
OPPOSITE = 0.04
"""What lies this near to the mirror image of another end is its like, fraction of height."""
LEVEL = 0.12
"""Two arms leave the trunk within such heights of each other, however they are posed."""
LONGER = 1.25
"""A limb with a stick over the other side's length, at least: a sword is as long as an arm."""
ALIKE = (0.75, 1.4)
"""A limb without its stick over the other side's length: a hand is a quarter of it."""
MOST = 2
"""Sticks in one hand: the two ends of a staff (common practice, no source)."""


def without_sticks(tree: BandTree) -> BandTree:
    """The tree without what one hand holds in one piece with it, and what is at its end.

    It makes its limb longer than the other side's, which has nothing of the kind. Thin forearms
    that go from wide sleeves, and claws, are on both sides and stay; so do two weapons.

    Args:
        tree: the bands of distance through a figure, rooted in its trunk, working frame.
    """
    below = tree.children()
    leaves = [node for node in range(len(below)) if not below[node]]
    ways = [_limb(tree, tree.path_to_root(leaf)) for leaf in leaves]
    begins = {
        stick
        for way in ways
        if (stick := _stick(tree, way)) >= 0 and _longer(tree, way, stick, ways)
    }
    sides = {bool(tree.centre[begin, 0] > 0.0) for begin in begins}
    if len(sides) != 1 or len(begins) > MOST:
        return tree
    gone = np.zeros(len(below), dtype=bool)
    for begin in begins:
        held = np.flatnonzero(tree.subtree(begin))
        gone[held] = not _has_opposite(tree, held)
    return _without(tree, gone) if gone.any() else tree


def _has_opposite(tree: BandTree, nodes: IntArray) -> bool:
    """Does most of a limb's end lie opposite to its like, as one of two legs under a skirt?"""
    mirrored = tree.centre[nodes] * [-1.0, 1.0, 1.0]
    gap = np.linalg.norm(mirrored[:, None] - tree.centre[None], axis=2).min(axis=1)
    return bool((gap < OPPOSITE).mean() > 0.5)


def _limb(tree: BandTree, path: list[int]) -> list[int]:
    """Of a path from leaf to root what is clear of the trunk."""
    trunk = np.flatnonzero(tree.count[path] > OF_TRUNK * float(tree.count[path].max()))
    return path[: int(trunk[0])] if len(trunk) else path


def _longer(tree: BandTree, way: list[int], stick: int, ways: list[list[int]]) -> bool:
    """Is a limb longer than the other side's by its stick, and about as long without it?"""
    root = tree.centre[way[-1]]
    others = [
        _length(tree, other)
        for other in ways
        if other
        and tree.centre[other[-1], 0] * root[0] < 0.0
        and abs(tree.centre[other[-1], 1] - root[1]) < LEVEL
    ]
    reach = max(others, default=0.0)
    left = float(tree.node_distance[stick] - tree.node_distance[way[-1]])
    whole = _length(tree, way) > LONGER * reach
    return whole and ALIKE[0] * reach < left < ALIKE[1] * reach


def _length(tree: BandTree, way: list[int]) -> float:
    return float(tree.node_distance[way[0]] - tree.node_distance[way[-1]])


def _stick(tree: BandTree, limb: list[int]) -> int:
    """The node of a limb, from its end, that a stick begins with; -1 where it has none."""
    count, distance = tree.count[limb].astype(np.float64), tree.node_distance[limb]
    for base in range(len(limb) - 1, 1, -1):
        if abs(tree.centre[limb[base], 0]) < BESIDE:
            return -1
        if distance[base] - distance[-1] < LIMB_RUN or distance[0] - distance[base] < LONG:
            continue
        thin = (distance[:base] < distance[base] + LONG) & (distance[:base] > distance[base])
        if count[:base][thin].max() < THIN * float(np.median(count[base:])):
            return limb[base - 1]
    return -1


def _without(tree: BandTree, gone: NDArray[np.bool_]) -> BandTree:
    """The tree without some nodes, with which all that hangs from them goes, and their cells."""
    kept = np.flatnonzero(~gone)
    name = np.full(len(gone) + 1, -1, dtype=np.int64)
    name[kept] = np.arange(len(kept))
    cell = ~gone[tree.node_of_cell]
    place = np.full(len(cell) + 1, -1, dtype=np.int64)
    place[np.flatnonzero(cell)] = np.arange(int(cell.sum()))
    return replace(
        tree,
        cells=tree.cells[cell],
        distance=tree.distance[cell],
        node_of_cell=name[tree.node_of_cell[cell]],
        parent=name[tree.parent[kept]],
        centre=tree.centre[kept],
        count=tree.count[kept],
        node_distance=tree.node_distance[kept],
        farthest=tree.farthest[kept],
        predecessor=place[tree.predecessor[cell]],
    )
