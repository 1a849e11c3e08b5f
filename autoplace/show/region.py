"""Which faces belong to a hand, a foot or the head, for the close-ups."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.show.shade import Surface

__all__ = ["connected", "within"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def within(surface: Surface, points: FloatArray, reach: float) -> Surface:
    """The faces with a corner within `reach` of one of the points (k, 3)."""
    return surface.only(_faces_near(surface, points, reach))


def connected(surface: Surface, points: FloatArray, reach: float, rivals: FloatArray) -> Surface:
    """The faces with a corner within `reach` of the points (k, 3) that hang together with them.

    What only happens to be close by, such as the thigh beside a hanging hand, is left out: of
    the connected patches inside the reach, those are kept that are nearest to one of the
    points, and whole small pieces (nails, buckles) that are not nearer to one of the `rivals`
    (r, 3).
    """
    chosen = _faces_near(surface, points, reach)
    if not len(chosen):
        return surface.only(chosen)
    patch = _patches(surface.seams[surface.faces[chosen]])
    count = int(patch.max()) + 1
    if count == 1:
        return surface.only(chosen)
    keep = np.zeros(count, dtype=bool)
    keep[patch[_nearest_faces(surface, chosen, points)]] = True
    if not keep.all():
        keep |= _small_pieces(surface, chosen, patch, points, reach, rivals)
    return surface.only(chosen[keep[patch]])


def _small_pieces(
    surface: Surface,
    chosen: IntArray,
    patch: IntArray,
    points: FloatArray,
    reach: float,
    rivals: FloatArray,
) -> NDArray[np.bool_]:
    """True for each patch that the region does not cut and that is not a rival's."""
    count = int(patch.max()) + 1
    gap = _nearest_square(surface.middles[chosen], points)
    outside = np.ones(len(surface.faces), dtype=bool)
    outside[chosen] = False
    beyond = np.zeros(len(surface.seams), dtype=bool)
    beyond[surface.seams[surface.faces[outside]].ravel()] = True
    corners = surface.seams[surface.faces[chosen]]
    cut = np.zeros(count, dtype=bool)
    cut[patch[beyond[corners].any(axis=1)]] = True
    near = np.zeros(count, dtype=bool)
    near[patch[gap < (0.8 * reach) ** 2]] = True
    if len(rivals):
        lost = _nearest_square(surface.middles[chosen], rivals) < gap
        near &= np.bincount(patch, weights=lost, minlength=count) < 0.5 * np.bincount(
            patch, minlength=count
        )
    return near & ~cut


def _faces_near(surface: Surface, points: FloatArray, reach: float) -> IntArray:
    """Indices of the faces with a corner within `reach` of one of the points."""
    if not len(surface.faces) or not len(points):
        return np.zeros(0, dtype=np.int64)
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    inside = np.ones(len(surface.vertices), dtype=bool)
    for axis in range(3):
        values = surface.vertices[:, axis]
        inside &= (values >= low[axis]) & (values <= high[axis])
    candidates = np.flatnonzero(inside)
    far = _nearest_square(surface.vertices[candidates], points) > reach**2
    inside[candidates[far]] = False
    a, b, c = (inside[surface.faces[:, i]] for i in range(3))
    return np.flatnonzero(a | b | c)


def _nearest_faces(surface: Surface, chosen: IntArray, points: FloatArray) -> IntArray:
    """(k,) position in `chosen` of the face nearest to each point.

    Measured to seven spots of each face, for the middle of a long triangle may be far away.
    """
    from scipy.spatial import cKDTree

    a, b, c = (surface.vertices[surface.faces[chosen, i]] for i in range(3))
    spots = np.concatenate([a, b, c, (a + b) / 2, (b + c) / 2, (c + a) / 2, (a + b + c) / 3])
    nearest: IntArray = np.asarray(cKDTree(spots).query(points)[1], dtype=np.int64) % len(chosen)
    return nearest


def _patches(corners: IntArray) -> IntArray:
    """(m,) number of the connected patch of each face, from its corners' places (m, 3)."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    used = np.zeros(int(corners.max()) + 1, dtype=bool)
    used[corners.ravel()] = True
    local = (np.cumsum(used) - 1)[corners]
    count = int(np.count_nonzero(used))
    links = np.concatenate([local[:, [0, 1]], local[:, [1, 2]]])
    graph = coo_matrix(
        (np.ones(len(links), dtype=np.int8), (links[:, 0], links[:, 1])),
        shape=(count, count),
    )
    label: IntArray = connected_components(graph, directed=False)[1].astype(np.int64)
    return label[local[:, 0]]


def _nearest_square(spots: FloatArray, points: FloatArray) -> FloatArray:
    """(n,) squared distance of each spot (n, 3) to the nearest of the points (k, 3)."""
    gap = np.full(len(spots), np.inf)
    x, y, z = spots.T
    for px, py, pz in points:
        np.minimum(gap, (x - px) ** 2 + (y - py) ** 2 + (z - pz) ** 2, out=gap)
    return gap
