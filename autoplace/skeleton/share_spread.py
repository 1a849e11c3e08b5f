"""Shares of joints smoothed along a surface."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

__all__ = ["spread"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def spread(
    shares: sparse.csr_matrix,
    reach: FloatArray,
    places: FloatArray,
    edges: IntArray,
    rounds: int,
) -> sparse.csr_matrix:
    """Shares (p, joints) averaged over the edges (e, 2) between places (p, 3).

    `reach` (p,) is how far the shares of a place come from, as one standard deviation along the
    surface, in the unit of the places; so many `rounds` of averaging may not reach as far.
    """
    count = len(places)
    a, b = edges.T
    ones = np.ones(2 * len(a))
    links = sparse.csr_matrix(
        (ones, (np.concatenate([a, b]), np.concatenate([b, a]))), shape=(count, count)
    )
    squared = np.sum((places[a] - places[b]) ** 2, axis=1)
    uses = np.bincount(a, minlength=count) + np.bincount(b, minlength=count)
    summed = np.bincount(a, squared, count) + np.bincount(b, squared, count)
    mean_squared = summed / np.maximum(uses, 1)
    # a round that gives the share m to the neighbours spreads by a variance of m times the mean
    # square of the edges
    give = reach**2 / np.maximum(rounds * mean_squared, 1e-300)
    give = np.where(uses > 0, np.minimum(give, 0.9), 0.0)
    degree = np.maximum(np.diff(links.indptr), 1)
    step = sparse.diags(1.0 - give) + sparse.diags(give / degree) @ links
    for _ in range(rounds):
        shares = step @ shares
    return shares.tocsr()
