"""Arms told by the skin, where the volume does not show them.

An arm that lies against the trunk, or whose hand rests on the hip or reaches into the clothes,
fills one volume with it. Along the surface it is still a tube of its own that leaves the trunk at
the shoulder: bands of equal distance over the skin, from the neck down, part into trunk and arms.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.branches import BandTree, tree_of_bands
from autoplace.measure.cell_graph import NeighbourPairs
from autoplace.measure.limb_kinds import HIGHEST_SHOULDER, LOWEST_SHOULDER
from autoplace.measure.limb_record import BAND
from autoplace.measure.limbs import LEAST_BRANCH, branches_of, classify

__all__ = ["arms_of_skin"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MIDDLE = 0.03
"""Half the breadth of the strip about the middle plane in which a skin's upper end is sought,
fraction of height: less than half of a neck's, .072 (neck circumference 398 mm of 1756 mm of
stature, US Army 2012 survey)."""
ASIDE = 0.04
"""An arm leaves the trunk at least this far from the middle plane, fraction of height (common
practice, no source)."""
WELD = 1e-6
"""Vertices of one place, fraction of height."""
HALVINGS = 20
"""Most times that an edge is halved: one as long as the figure needs six."""


def arms_of_skin(pieces: Sequence[FloatArray]) -> dict[str, FloatArray]:
    """The arms of a skin that both arms are part of.

    Args:
        pieces: corners (k, 3, 3) of each connected piece of the body, working frame.

    Returns:
        By side, left first, corners (m, 3, 3) of the arm, closed at its shoulder; nothing where no
        piece shows both.
    """
    for corners in sorted(pieces, key=len, reverse=True):
        if not _reaches_across(corners):
            continue
        arms = _arms(corners)
        if len(arms) == 2:
            return arms
    return {}


def _reaches_across(corners: FloatArray) -> bool:
    """Is there skin on both sides of the middle plane and near it?"""
    x = corners[:, :, 0]
    return bool(x.min() < -MIDDLE and x.max() > MIDDLE and (np.abs(x) < MIDDLE).any())


def _arms(corners: FloatArray) -> dict[str, FloatArray]:
    """The longest arm of either side, left first."""
    vertices, faces = _fine_skin(corners)
    tree = _skin_tree(vertices, faces)
    found: dict[str, FloatArray] = {}
    for nodes in branches_of(tree, LEAST_BRANCH):
        line = tree.centre[nodes]
        side = "left" if line[0, 0] > 0.0 else "right"
        if side not in found and classify(line)[0] in ("arm", "other") and _leaves_as_arm(line):
            found[side] = _branch_surface(vertices, faces, tree, nodes[0])
    return {side: found[side] for side in ("left", "right") if side in found}


def _leaves_as_arm(line: FloatArray) -> bool:
    """Does a branch begin beside the trunk, at the height of shoulders? It may end anywhere."""
    return bool(abs(line[0, 0]) > ASIDE and LOWEST_SHOULDER < line[0, 1] < HIGHEST_SHOULDER)


def _fine_skin(corners: FloatArray) -> tuple[FloatArray, IntArray]:
    """A piece's vertices, one at each place, and triangles with no edge longer than a band."""
    from trimesh.remesh import subdivide_to_size

    points = corners.reshape(-1, 3)
    cells = np.rint(points / WELD).astype(np.int64)
    _, first, place = np.unique(cells, axis=0, return_index=True, return_inverse=True)
    faces = place.reshape(-1, 3)
    flat = (faces == np.roll(faces, 1, axis=1)).any(axis=1)
    vertices, faces = subdivide_to_size(  # type: ignore[no-untyped-call]
        points[first], faces[~flat], BAND, max_iter=HALVINGS
    )
    return vertices, faces


def _skin_tree(vertices: FloatArray, faces: IntArray) -> BandTree:
    """Bands of distance along the edges of a skin, from its upper end in the middle."""
    edges = np.unique(np.sort(_edges(faces), axis=1), axis=0)
    length = np.linalg.norm(vertices[edges[:, 0]] - vertices[edges[:, 1]], axis=1)
    numbers = np.arange(len(vertices))[:, None]
    middle = np.abs(vertices[:, 0]) < MIDDLE
    top = float(vertices[middle, 1].max())
    start = np.flatnonzero(middle & (vertices[:, 1] > top - BAND))
    pairs = NeighbourPairs(numbers, edges[:, 0], edges[:, 1], length)
    return tree_of_bands(pairs, vertices, start, np.zeros(len(start)), BAND)


def _branch_surface(vertices: FloatArray, faces: IntArray, tree: BandTree, node: int) -> FloatArray:
    """(m, 3, 3) the triangles of all that hangs from a node, closed where they leave the rest."""
    inside = np.zeros(len(vertices), dtype=bool)
    inside[tree.cells[tree.subtree(node)[tree.node_of_cell], 0]] = True
    own = faces[inside[faces].all(axis=1)]
    edges = _edges(own)
    _, number, count = np.unique(
        np.sort(edges, axis=1), axis=0, return_inverse=True, return_counts=True
    )
    rim = edges[count[number.reshape(-1)] == 1]
    if not len(rim):
        return np.asarray(vertices[own])
    hub = np.broadcast_to(vertices[np.unique(rim)].mean(axis=0), (len(rim), 3))
    lid = np.stack([vertices[rim[:, 1]], vertices[rim[:, 0]], hub], axis=1)
    return np.concatenate([vertices[own], lid])


def _edges(faces: IntArray) -> IntArray:
    """(3 m, 2) edges of triangles, as they go around them."""
    return np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
