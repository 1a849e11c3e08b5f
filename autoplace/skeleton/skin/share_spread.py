"""Shares of joints smoothed along a surface."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

__all__ = ["cotangents", "spread"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def spread(
    shares: sparse.csr_matrix,
    reach: FloatArray,
    places: FloatArray,
    edges: IntArray,
    rounds: int,
    pull: FloatArray | None = None,
) -> sparse.csr_matrix:
    """Shares (p, joints) averaged over the edges (e, 2) between places (p, 3).

    `reach` (p,) is how far the shares of a place come from, as one standard deviation along the
    surface, in the unit of the places; so many `rounds` of averaging may not reach as far. `pull`
    (e,) is how much the ends of each edge count for one another, all alike when not given.
    """
    count = len(places)
    a, b = edges.T
    weight = np.ones(len(a)) if pull is None else pull
    links = sparse.csr_matrix(
        (np.tile(weight, 2), (np.concatenate([a, b]), np.concatenate([b, a]))),
        shape=(count, count),
    )
    squared = weight * np.sum((places[a] - places[b]) ** 2, axis=1)
    uses = np.bincount(a, weight, count) + np.bincount(b, weight, count)
    summed = np.bincount(a, squared, count) + np.bincount(b, squared, count)
    mean_squared = summed / np.where(uses > 0.0, uses, 1.0)
    # a round that gives the share m to the neighbours spreads by a variance of m times the mean
    # square of the edges
    give = reach**2 / np.maximum(rounds * mean_squared, 1e-300)
    give = np.where(uses > 0.0, np.minimum(give, 0.9), 0.0)
    step = sparse.diags(1.0 - give) + sparse.diags(give / np.where(uses > 0.0, uses, 1.0)) @ links
    for _ in range(rounds):
        shares = step @ shares
    return shares.tocsr()


def cotangents(places: FloatArray, faces: IntArray) -> tuple[IntArray, FloatArray]:
    """Edges (e, 2) of triangles (m, 3) between places (p, 3), each once, and how much they pull.

    By half the cotangents of the angles opposite, which makes averaging the same however the
    surface is cut into triangles (Pinkall and Polthier 1993; from memory); never less than nothing.
    """
    edges, pulls = [], []
    for one, other, top in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        u, v = (places[faces[:, end]] - places[faces[:, top]] for end in (one, other))
        area = np.linalg.norm(np.cross(u, v), axis=1)
        lengths = np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1)
        # an angle of less than half a degree counts as that
        pulls.append(0.5 * np.sum(u * v, axis=1) / np.maximum(area, 0.01 * lengths + 1e-300))
        edges.append(np.sort(faces[:, [one, other]], axis=1))
    whole = np.concatenate(edges)
    key, number = np.unique(whole[:, 0] * len(places) + whole[:, 1], return_inverse=True)
    pull = np.bincount(number.reshape(-1), np.concatenate(pulls), len(key))
    found = np.stack([key // len(places), key % len(places)], axis=1)
    kept = (pull > 1e-9) & (found[:, 0] != found[:, 1])
    return found[kept], pull[kept]
