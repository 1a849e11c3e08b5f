"""Bridges over the gaps between pieces of one body: a robot's shank hangs below its knee in air.

Pieces are joined as a spanning tree, nearest pieces first, so no bridge is ever built between
pieces that hang together already: a hand beside the thigh stays a hand. Long pieces are joined by
their ends before their sides: a forearm hangs from its upper arm, though the hip beside be nearer.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from autoplace.measure.cell_graph import NeighbourPairs

__all__ = ["ABUTMENT", "LEAST_PIECE", "bridge_gaps"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LEAST_PIECE = 27
"""Cells of a piece that is worth a bridge; smaller ones are crumbs."""
ABUTMENT = 0.5
"""A bridge is as broad as the gap is at most this much wider than at its narrowest, cells."""
LONG = 1.5
"""A piece is long whose cells spread this much wider along it than across (common practice, no
source)."""
SIDEWAYS = 2.0
"""A gap that a bridge leaves a long piece's side for counts as so many times wider, and once more;
the gap at a robot's elbow is a fifth of its forearm (own invented robots), and arms that hang leave
a tenth of it between them and the hips."""


def bridge_gaps(
    pairs: NeighbourPairs, widest: float, middle: float | None = None
) -> NeighbourPairs:
    """Add pairs of cells across gaps until all pieces hang together, as far as gaps allow.

    Args:
        pairs: the cells and which of them touch.
        widest: gap that is still bridged, in cells.
        middle: the plane of symmetry along the first axis, in cells: a piece of one side is joined
            to one of the other only when all else is joined, so that a shank hangs from its thigh
            and not from the other shank, however near that is.

    Returns:
        The pairs with the bridges' pairs after them; unchanged where all cells hang together.
    """
    count = len(pairs.index)
    touching = coo_matrix(
        (np.ones(len(pairs.first), dtype=np.int8), (pairs.first, pairs.second)), (count, count)
    )
    number, piece = connected_components(touching, directed=False)
    if number < 2:
        return pairs
    size = np.bincount(piece, minlength=number)
    large = np.flatnonzero(size >= LEAST_PIECE)
    cells = [np.flatnonzero(piece == one) for one in large]
    beside = [0] * len(large)
    if middle is not None:
        ends = [(pairs.index[one, 0].min(), pairs.index[one, 0].max()) for one in cells]
        beside = [int(low >= middle) - int(high <= middle) for low, high in ends]
    along = [_axis(pairs.index[one]) for one in cells]
    gaps = []
    for a, b in combinations(range(len(large)), 2):
        found = _gap(pairs.index, cells[a], cells[b], widest)
        if found is not None:
            apart = beside[a] * beside[b] < 0
            way = (pairs.index[found[1]] - pairs.index[found[0]]).mean(axis=0)
            way = way / max(float(np.linalg.norm(way)), 1e-300)
            cosines = [1.0]
            for axis in (along[a], along[b]):
                if axis is not None:
                    cosines.append(abs(float(way @ axis)))
            sideways = 1.0 - min(cosines)
            wide = float(found[2].min()) * (1.0 + SIDEWAYS * sideways)
            gaps.append((apart, wide, a, b, found))
    group = np.arange(len(large))
    built = []
    for _, _, a, b, found in sorted(gaps, key=lambda gap: gap[:4]):
        if group[a] != group[b]:
            group[group == group[b]] = group[a]
            built.append(found)
    if not built:
        return pairs
    first, second, length = (np.concatenate(column) for column in zip(*built, strict=True))
    return NeighbourPairs(
        pairs.index,
        np.concatenate([pairs.first, first]),
        np.concatenate([pairs.second, second]),
        np.concatenate([pairs.length, length]),
    )


def _axis(cells: IntArray) -> FloatArray | None:
    """Unit direction along a long piece; None for others."""
    spread, axes = np.linalg.eigh(np.cov(cells.T))
    long = spread[2] > LONG**2 * max(float(spread[1]), 1e-12)
    return np.asarray(axes[:, 2]) if long else None


def _gap(
    index: IntArray, one: IntArray, other: IntArray, widest: float
) -> tuple[IntArray, IntArray, FloatArray] | None:
    """Pairs of cells across the narrowest part of the gap between two pieces, and their distances;
    None where it is too wide."""
    here, there = index[one], index[other]
    low, high = there.min(axis=0) - widest, there.max(axis=0) + widest
    near = np.flatnonzero(((here >= low) & (here <= high)).all(axis=1))
    if not len(near):
        return None
    reach = widest + ABUTMENT
    away, partner = cKDTree(there).query(here[near], distance_upper_bound=reach)
    if not away.min() <= widest:
        return None
    chosen = np.flatnonzero(away <= away.min() + ABUTMENT)
    return one[near[chosen]], other[partner[chosen]], away[chosen]
