"""Closed pieces that touch face to face: told apart where more than two triangles share an edge.

Figures of blocks are built so that an arm's corners are those of the trunk. By their corners the
two are one piece; but along the edges where they touch, four triangles meet or more, and the
surface of each goes on through edges of its own, which two share.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

__all__ = ["parted_at_shared_edges"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SAME_PLACE = 2.0**-18
"""Corners nearer than about this are one place, fraction of height: what 32-bit numbers tell apart
after a turn."""
LEAST_FACES = 4
"""Triangles of a block, at least: fewer are the wall between two."""


def parted_at_shared_edges(pieces: Sequence[FloatArray]) -> tuple[FloatArray, ...]:
    """Pieces cut apart along edges that more than two triangles share.

    Args:
        pieces: (k, 3, 3) corners of the triangles of each, working frame (height = 1).

    Returns:
        As many pieces or more; walls between two blocks, which belong to both, are left out.
    """
    found: list[FloatArray] = []
    for corners in pieces:
        label = _surfaces(corners)
        sizes = np.bincount(label)
        blocks = np.flatnonzero(sizes >= LEAST_FACES)
        found += [corners] if len(blocks) < 2 else [corners[label == block] for block in blocks]
    return tuple(found)


def _surfaces(corners: FloatArray) -> IntArray:
    """(k,) label of every triangle (k, 3, 3): those joined through edges that just two share."""
    count = len(corners)
    keys = np.rint(corners.reshape(-1, 3) / SAME_PLACE).astype(np.int64)
    place = np.unique(keys, axis=0, return_inverse=True)[1].reshape(count, 3)
    edges = np.sort(place[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    number, times = np.unique(edges, axis=0, return_inverse=True, return_counts=True)[1:]
    number = number.reshape(-1)
    order = np.argsort(number, kind="stable")
    first = np.cumsum(times) - times
    pair = first[times == 2]
    one, other = order[pair] // 3, order[pair + 1] // 3
    links = coo_array((np.ones(len(one), dtype=np.int8), (one, other)), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)
