"""Weapons of one piece with the hand: what is long and thin and goes from the end of a limb."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.branches import BandTree

__all__ = ["BESIDE", "ways_to_ends", "without_sticks"]

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
    ways = ways_to_ends(tree)
    begins = {stick for way in ways if (stick := _stick(tree, way, ways)) >= 0}
    sides = {bool(tree.centre[begin, 0] > 0.0) for begin in begins}
    if len(sides) != 1 or len(begins) > MOST:
        return tree
    gone = np.zeros(len(tree.parent), dtype=bool)
    for begin in begins:
        held = np.flatnonzero(tree.subtree(begin))
        gone[held] = not _has_opposite(tree, held)
    return tree.without(gone) if gone.any() else tree


def _has_opposite(tree: BandTree, nodes: IntArray) -> bool:
    """Does most of a limb's end lie opposite to its like, as one of two legs under a skirt?"""
    mirrored = tree.centre[nodes] * [-1.0, 1.0, 1.0]
    gap = np.linalg.norm(mirrored[:, None] - tree.centre[None], axis=2).min(axis=1)
    return bool((gap < OPPOSITE).mean() > 0.5)


def ways_to_ends(tree: BandTree) -> list[list[int]]:
    """The way from each end of a figure to its trunk, as far as it is clear of that."""
    return [_clear_of_trunk(tree, tree.path_to_root(leaf)) for leaf in tree.leaves()]


def _clear_of_trunk(tree: BandTree, path: list[int]) -> list[int]:
    """Of a path from leaf to root what is clear of the trunk."""
    trunk = np.flatnonzero(tree.count[path] > OF_TRUNK * float(tree.count[path].max()))
    return path[: int(trunk[0])] if len(trunk) else path


def _stick(tree: BandTree, way: list[int], ways: list[list[int]]) -> int:
    """The node of a limb, from its end, that a stick begins with; -1 where it has none.

    Thin after thick may be an arm after its shoulder, too: the stick begins where the limb without
    it is about as long as the other side's.
    """
    if not way:
        return -1
    count, distance = tree.count[way].astype(np.float64), tree.node_distance[way]
    reach = _other_reach(tree, way, ways)
    if _length(tree, way) <= LONGER * reach:
        return -1
    for base in range(len(way) - 1, 1, -1):
        if abs(tree.centre[way[base], 0]) < BESIDE:
            return -1
        left = distance[base] - distance[-1]
        if left < LIMB_RUN or distance[0] - distance[base] < LONG:
            continue
        thin = (distance[:base] < distance[base] + LONG) & (distance[:base] > distance[base])
        thinner = count[:base][thin].max() < THIN * float(np.median(count[base:]))
        if thinner and ALIKE[0] * reach < left < ALIKE[1] * reach:
            return way[base - 1]
    return -1


def _other_reach(tree: BandTree, way: list[int], ways: list[list[int]]) -> float:
    """Length of the longest limb of the other side that leaves the trunk as high."""
    root = tree.centre[way[-1]]
    others = [
        _length(tree, other)
        for other in ways
        if other
        and tree.centre[other[-1], 0] * root[0] < 0.0
        and abs(tree.centre[other[-1], 1] - root[1]) < LEVEL
    ]
    return max(others, default=0.0)


def _length(tree: BandTree, way: list[int]) -> float:
    return float(tree.node_distance[way[0]] - tree.node_distance[way[-1]])
