"""Cut balls out of islands that more hangs on: eyes that teeth or lashes are joined to.

A modeller's ball is smooth, and what was joined to it meets it at a crease. So an island is cut
along its creases, and a piece that is most of a sphere becomes an island of its own; everything
else stays as it was.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from autoplace.mesh.eyeballs import LOWEST_EYE, RADIUS_RANGE
from autoplace.mesh.islands import Islands
from autoplace.mesh.spheres import IslandMeasures, measure_islands

__all__ = ["split_balls"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CREASE = 0.5
"""Cosine between the normals of two triangles below which (60 degrees) their edge is a crease: a
ball of 40 triangles turns by 42 degrees (icosahedron)."""
ROUND = 0.2
"""Misfit of a ball at most: a fine one with an iris's steep dish has 0.16, a cube 0.47 (own
synthetic eyes)."""
SHOWN, WHOLE = 0.25, 0.6
"""Share of the sphere that a piece shows at least, where it hangs on something small, and where it
hangs on an island of many times its size: that may be skin which bulges, and the figure would not
be whole without it."""
MANY_TIMES = 20.0
"""Both eyes and all teeth have about ten times the surface of one eye (own synthetic eyes)."""
LEAST_FACES = 20


def split_balls(
    islands: Islands,
    vertices: FloatArray,
    faces: IntArray,
    measures: IslandMeasures,
    excluded: Collection[int] = (),
) -> Islands:
    """The same islands but for balls that something hangs on, which come last, on their own.

    Args:
        islands: of the triangles `faces` (m, 3) of `vertices` (n, 3), working frame.
        measures: of the islands.
        excluded: islands to leave whole.
    """
    tall = (measures.high[:, 1] > LOWEST_EYE) & ~islands.grouped
    tall[list(excluded)] = False
    near = np.flatnonzero(
        tall[islands.label] & (measures.face_centre[:, 1] > LOWEST_EYE - RADIUS_RANGE[1])
    )
    if len(near) < LEAST_FACES:
        return islands
    piece = _smooth_pieces(islands.place[faces[near]], measures.normals[near])
    count = int(piece.max()) + 1
    # a piece lies in one island, since pieces are joined by shared edges only
    of_piece = Islands(
        piece, piece, np.zeros(1, np.int64), count, np.zeros(count, bool), islands.place
    )
    found = measure_islands(of_piece, vertices, faces[near])
    size = np.bincount(piece, minlength=count)
    radius = np.abs(found.ball_radius)
    home = np.zeros(count, dtype=np.int64)
    home[piece] = islands.label[near]
    least = np.where(measures.area[home] > MANY_TIMES * found.area, WHOLE, SHOWN)
    ball = (
        (size >= LEAST_FACES)
        & (found.ball_misfit < ROUND)
        & (found.ball_share > least)
        & (radius > RADIUS_RANGE[0])
        & (radius < RADIUS_RANGE[1])
        & (found.ball_centre[:, 1] > LOWEST_EYE)
    )
    # something must stay of every island: the largest piece where all are balls
    left = np.bincount(islands.label, minlength=islands.count)
    for one in np.flatnonzero(ball)[np.argsort(size[ball], kind="stable")]:
        left[home[one]] -= size[one]
        ball[one] = left[home[one]] > 0
    if not ball.any():
        return islands
    label = islands.label.copy()
    number = islands.count + np.cumsum(ball) - 1
    cut = ball[piece]
    label[near[cut]] = number[piece[cut]]
    grouped = np.concatenate([islands.grouped, np.zeros(int(ball.sum()), dtype=bool)])
    return replace(islands, label=label, count=len(grouped), grouped=grouped)


def _smooth_pieces(corners: IntArray, normals: FloatArray) -> IntArray:
    """(m,) number of the piece of each triangle (m, 3), cut along creases and crowded edges."""
    edges = np.sort(np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]]), 1)
    owner = np.tile(np.arange(len(corners)), 3)
    key = edges[:, 0] * (int(corners.max()) + 1) + edges[:, 1]
    order = np.argsort(key, kind="stable")
    key, owner = key[order], owner[order]
    starts = np.flatnonzero(np.r_[True, key[1:] != key[:-1]])
    # an edge of three triangles or more is where something was joined on
    pairs = starts[np.diff(np.r_[starts, len(key)]) >= 2]
    crowd = np.diff(np.r_[starts, len(key)])[np.diff(np.r_[starts, len(key)]) >= 2]
    first, second = owner[pairs], owner[pairs + 1]
    third = owner[np.minimum(pairs + 2, len(owner) - 1)]
    links = [(first, second), (first, third), (second, third)]
    rows, columns = [], []
    for number, (a, b) in enumerate(links):
        smooth = np.einsum("ij,ij->i", normals[a], normals[b]) > CREASE
        smooth &= (crowd >= 3) if number else True
        rows.append(a[smooth])
        columns.append(b[smooth])
    row, column = np.concatenate(rows), np.concatenate(columns)
    graph = coo_array((np.ones(len(row), np.int8), (row, column)), shape=(len(corners),) * 2)
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)
