"""Patches of a surface that belong to one joint, and which of them hang on the body.

Skin follows the tree of the joints: from that of the uppermost joint of a piece one comes over the
surface to that of every other by way of the joint above it. A patch that is not come to so is no
skin of its joint, though its bone be the nearest: the back of the mouth before the neck, or the
thigh that a hand sinks into.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import breadth_first_order, connected_components

__all__ = ["joints_under", "loose_patches", "patches"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

ISLAND = 0.25
"""A patch of less than this share of the largest patch of its joint is an island; common practice,
no source."""


def patches(count: int, edges: IntArray) -> IntArray:
    """(count,) number of the connected patch of each place, by edges (e, 2) between places."""
    links = sparse.coo_matrix((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), (count, count))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)


def loose_patches(
    owner: IntArray,
    piece: IntArray,
    patch: IntArray,
    areas: FloatArray,
    across: IntArray,
    parents: IntArray,
) -> BoolArray:
    """(patches,) True where a patch is an island, or hangs on no skin of the joints above its own.

    Above a joint is the nearest joint over it that owns skin of the same piece, and the next such;
    two, because a large joint's skin may pass a small one by. Of a joint none of whose patches is
    come to, the largest is kept, unless all skin around it belongs to joints below, as in a mouth
    over a neck too short to show.

    Args:
        owner, piece, patch: (p,) joint, connected piece and patch of each place.
        areas: (p,) of the surface about each place.
        across: (e, 2) places side by side with different owners.
        parents: (joints,) of each joint, -1 for a root; parents come first.
    """
    joints, count = len(parents), int(patch.max()) + 1
    joint, home = np.empty(count, dtype=np.int64), np.empty(count, dtype=np.int64)
    joint[patch], home[patch] = owner, piece
    kind = home * joints + joint
    total = np.asarray(np.bincount(patch, areas), dtype=np.float64)

    owned = np.zeros((int(home.max()) + 1, joints), dtype=bool)
    owned[home, joint] = True
    above = _over(joint, home, owned, parents)
    next_above = _over(above, home, owned, parents)
    ways = np.unique(np.concatenate([patch[across], patch[across][:, ::-1]]), axis=0)
    upper, lower = ways.T
    down = (joint[upper] == above[lower]) | (joint[upper] == next_above[lower])
    firm = _come_to(above < 0, ways[down])
    missed = ~np.isin(kind, kind[firm])
    missed &= total == _largest(kind, total)[kind]
    beside = np.zeros(count, dtype=bool)
    beside[lower[~joints_under(parents)[joint[lower], joint[upper]]]] = True
    firm = _come_to(firm | (missed & beside), ways[down])
    # what is not come to is no measure of how large a patch should be
    return ~firm | (total < ISLAND * _largest(kind, np.where(firm, total, 0.0))[kind])


def _largest(kind: IntArray, area: FloatArray) -> FloatArray:
    """Largest of the areas (patches,) by kind."""
    largest = np.zeros(int(kind.max()) + 1)
    np.maximum.at(largest, kind, area)
    return largest


def _over(joint: IntArray, home: IntArray, owned: BoolArray, parents: IntArray) -> IntArray:
    """(patches,) nearest joint over `joint` that owns skin of the piece `home`, -1 for none."""
    over = np.where(joint >= 0, parents[joint], -1)
    while True:
        bare = (over >= 0) & ~owned[home, over]
        if not bare.any():
            return over
        over[bare] = parents[over[bare]]


def joints_under(parents: IntArray) -> BoolArray:
    """(n, n) True where the second joint hangs below the first."""
    under = np.zeros((len(parents), len(parents)), dtype=bool)
    for joint, parent in enumerate(parents):
        if parent >= 0:
            under[:, joint] = under[:, parent]
            under[parent, joint] = True
    return under


def _come_to(start: BoolArray, ways: IntArray) -> BoolArray:
    """(patches,) True for those at the start and all that `ways` (w, 2) lead to from them."""
    count = len(start)
    first = np.flatnonzero(start)
    rows = np.concatenate([ways[:, 0], np.full(len(first), count)])
    columns = np.concatenate([ways[:, 1], first])
    links = sparse.csr_matrix((np.ones(len(rows)), (rows, columns)), (count + 1, count + 1))
    found = np.zeros(count + 1, dtype=bool)
    found[breadth_first_order(links, count, return_predecessors=False)] = True
    return found[:count]
