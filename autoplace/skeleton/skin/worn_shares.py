"""What worn pieces follow: the shares of the body beneath them.

A sleeve has no bones of its own, and bends where the arm inside it bends, so each place of what is
worn takes the shares of the nearest point of the body's surface. Over a gap between limbs, as in a
skirt between two legs, the nearest point jumps from one to the other; there the shares are spread
along the cloth, the farther the looser it hangs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.spatial import cKDTree

from autoplace.mesh.triangles import nearest_shares

__all__ = ["Beneath", "nearest_beneath"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CORNERS = 3
"""Nearest vertices of the body whose triangles are looked at for the nearest point. On the clothes
of two demo characters 1 or 2 of 100 points found are then not the nearest, by 0.006 of the height
at most; with 6 vertices it is 1 of 100, and twice the time."""
AT_ONCE = 400_000
"""Pairs of a point and a triangle looked at in one go; bounds the memory on large meshes."""


@dataclass(frozen=True)
class Beneath:
    """The nearest point of a body under each of n points."""

    corners: IntArray
    """(n, 3) places of the body at the corners of the triangle that it lies in."""
    shares: FloatArray
    """(n, 3) barycentric, not negative, with sum one."""
    gap: FloatArray
    """(n,) how far away it is."""

    @property
    def leading(self) -> IntArray:
        """(n,) the corner that has most of the point."""
        most = np.argmax(self.shares, axis=1)
        return np.asarray(self.corners[np.arange(len(most)), most])

    def points(self, places: FloatArray) -> FloatArray:
        """(n, 3) where the points are, on a surface with its corners at `places` (p, 3)."""
        return np.asarray(np.einsum("nc,ncx->nx", self.shares, places[self.corners]))

    def replaced(self, rows: IntArray, other: Beneath) -> Beneath:
        """The same with other points under some rows (k,)."""
        corners, shares, gap = self.corners.copy(), self.shares.copy(), self.gap.copy()
        corners[rows], shares[rows], gap[rows] = other.corners, other.shares, other.gap
        return Beneath(corners, shares, gap)

    def carried(self, matrix: sparse.csr_matrix) -> sparse.csr_matrix:
        """(n, k) rows of a (places, k) matrix, interpolated in the triangles."""
        count = len(self.gap)
        rows = np.repeat(np.arange(count), 3)
        weights = sparse.csr_matrix(
            (self.shares.reshape(-1), (rows, self.corners.reshape(-1))),
            shape=(count, matrix.shape[0]),
        )
        return (weights @ matrix).tocsr()


def nearest_beneath(points: FloatArray, places: FloatArray, faces: IntArray) -> Beneath:
    """The nearest point of a surface to each of `points` (n, 3), among the triangles about the
    `CORNERS` nearest corners.

    Args:
        places: (p, 3) of which `faces` (m, 3), one at least, use some; frame of the points.
    """
    used = np.unique(faces)
    tree = cKDTree(places[used])
    near = used[tree.query(points, k=range(1, min(CORNERS, len(used)) + 1))[1]]
    # triangles about each place, one place after another
    corner = faces.reshape(-1)
    order = np.argsort(corner, kind="stable")
    about = order // 3
    begin = np.searchsorted(corner[order], np.arange(len(places) + 1))
    corners = np.empty((len(points), 3), dtype=np.int64)
    shares, gap = np.empty((len(points), 3)), np.empty(len(points))
    sizes = (begin[near + 1] - begin[near]).sum(axis=1)
    ends = np.cumsum(sizes)
    low = 0
    while low < len(points):
        done = ends[low - 1] if low else 0
        high = max(low + 1, int(np.searchsorted(ends, done + AT_ONCE, side="right")))
        fan = near[low:high]
        counts = (begin[fan + 1] - begin[fan]).reshape(-1)
        start = np.repeat(begin[fan].reshape(-1) - (np.cumsum(counts) - counts), counts)
        triangle = about[start + np.arange(int(counts.sum()))]
        row = np.repeat(np.repeat(np.arange(high - low), near.shape[1]), counts)
        weight = nearest_shares(points[low:high][row], places[faces[triangle]])
        there = np.einsum("nc,ncx->nx", weight, places[faces[triangle]])
        apart = points[low:high][row] - there
        distance = np.sqrt(np.einsum("nx,nx->n", apart, apart))
        begins = np.searchsorted(row, np.arange(high - low))
        hits = np.flatnonzero(distance == np.minimum.reduceat(distance, begins)[row])
        # the first where several are as near
        best = hits[np.searchsorted(row[hits], np.arange(high - low))]
        corners[low:high], shares[low:high] = faces[triangle[best]], weight[best]
        gap[low:high] = distance[best]
        low = high
    return Beneath(corners, shares, gap)
