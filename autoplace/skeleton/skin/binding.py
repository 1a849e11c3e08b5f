"""A first binding: which joints move each vertex of the mesh, and how much.

Each vertex belongs to the bone that is nearest through the flesh (`bone_reach`) and whose skin it
hangs together with (`bone_owners`). It shares itself with the bones next to that one in the
hierarchy as far as they are nearly as near. The shares are then smoothed along the surface. Bones
that are near but not neighbours in the hierarchy (the other leg, the next finger) get nothing to
begin with, and only what smoothing carries over a web of skin; between two fingers not even that.

What is worn follows the body beneath it (`worn_shares`), and what is rigid follows one joint
(`rigid_pieces`). Which pieces these are is told by their roles; without roles all is body, and a
piece that is plainly no flesh goes by straight distance.

This is meant for a first look at the skeleton in motion.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from autoplace.mesh.outward import flips
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import finger_of, side_of
from autoplace.skeleton.skin.bone_owners import find_owners, flesh_normals
from autoplace.skeleton.skin.bone_reach import BoneLines, bone_lines, distances, relatives
from autoplace.skeleton.skin.dressing import Surface, dressed
from autoplace.skeleton.skin.share_spread import spread
from autoplace.skeleton.structure import parent_indices

__all__ = ["MOST_JOINTS", "Binding", "bind_mesh"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_JOINTS = 4
"""Joints a vertex; readers of glTF need not look at more than four."""
REACH = 0.5
"""A neighbouring bone this much farther than the nearest, as a share of that distance, gets
nothing. Around a joint of a limb of radius r the shares then blend over about r to either side
(sqrt(1.5^2 - 1) = 1.1 r); common practice, no source."""
SPREAD = 0.5
"""The shares are spread over the surface by this share of the distance to the bone (one standard
deviation), as far as `ROUNDS` of averaging over the edges of the mesh reach; common practice, no
source. It softens the places where the nearest bone changes."""
ROUNDS = 10


@dataclass(frozen=True)
class Binding:
    """Joints and shares of every vertex."""

    joints: IntArray
    """(n, 4) indices into the skeleton's joints, largest share first; 0 where the share is 0."""
    weights: FloatArray
    """(n, 4) shares, not negative, with sum one."""
    place_of: IntArray
    """(n,) number of the place that a vertex stands at; vertices of one seam share it."""


def bind_mesh(
    vertices: FloatArray,
    faces: IntArray,
    skeleton: Skeleton,
    *,
    roles: NDArray[np.str_] | None = None,
) -> Binding:
    """Shares of the joints in every vertex (n, 3) of a mesh with triangles (m, 3).

    `roles` (n,) tell what each vertex belongs to, by the names of `mesh.pieces.ROLES`; all is body
    without them. Vertices and skeleton are in one frame, of any scale. The surface may be open,
    overlapping and wound either way. Vertices at one place get one share, so that seams stay
    closed.

    Raises SkeletonError for a broken tree.
    """
    parents = parent_indices(skeleton)
    place_of, first = _places(vertices)
    places = vertices[first]
    corners = place_of[faces].reshape(-1, 3)
    normals, areas, edges, rims = _surface(places, corners)
    lines = bone_lines(skeleton, parents)
    normals = flesh_normals(places, normals, areas, edges, lines)
    owner = find_owners(places, normals, areas, edges, lines, parents)
    shares, distance = _shares(places, normals, owner, lines, relatives(skeleton, parents))
    # what smoothing carried over the web between two fingers would glue them together
    finger = _fingers(skeleton)[owner]
    apart = (finger[edges] >= 0).all(axis=1) & (finger[edges[:, 0]] != finger[edges[:, 1]])
    shares = spread(shares, SPREAD * distance, places, edges[~apart], ROUNDS)
    if roles is not None:
        surface = Surface(places, corners, areas, edges, rims)
        kinds = np.asarray(roles)[first]
        shares = dressed(shares, owner, distance, surface, kinds, skeleton, parents)
    joints, weights = _largest(shares)
    return Binding(joints[place_of], weights[place_of], place_of)


def _places(vertices: FloatArray) -> tuple[IntArray, IntArray]:
    """(n,) number of each vertex's place, and (p,) one vertex of every place."""
    order = np.lexsort(vertices.T)
    new = np.any(np.diff(vertices[order], axis=0) != 0, axis=1)
    number = np.concatenate([[0], np.cumsum(new)])
    place_of = np.empty(len(vertices), dtype=np.int64)
    place_of[order] = number
    return place_of, order[np.concatenate([[True], new])]


def _surface(
    places: FloatArray, faces: IntArray
) -> tuple[FloatArray, FloatArray, IntArray, NDArray[np.bool_]]:
    """Normals (p, 3) out of the flesh, areas (p,) about each place, and edges (e, 2), each once,
    with (e,) True for those of one triangle alone.

    A normal is the mean of the unit normals about its place by area. It is short where faces look
    all ways, as on two-sided cloth, for there is no telling which way is out.
    """
    if not len(faces):
        none = np.zeros((0, 2), dtype=np.int64)
        return np.zeros_like(places), np.zeros(len(places)), none, np.zeros(0, dtype=bool)
    a, b, c = (places[faces[:, corner]] for corner in range(3))
    across = np.cross(b - a, c - a)
    across[flips(places, faces, np.arange(len(places)))] *= -1.0
    normals = np.zeros_like(places)
    corners = faces.reshape(-1)
    for axis in range(3):
        spread = np.repeat(across[:, axis], 3)
        normals[:, axis] = np.bincount(corners, spread, len(places))
    areas = np.bincount(corners, np.repeat(np.linalg.norm(across, axis=1), 3), len(places))
    length = np.maximum(areas, 1e-300)[:, None]
    edges = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    whole, uses = np.unique(edges[:, 0] * len(places) + edges[:, 1], return_counts=True)
    edges = np.stack([whole // len(places), whole % len(places)], axis=1)
    long = edges[:, 0] != edges[:, 1]
    return normals / length, areas / 6.0, edges[long], uses[long] == 1


def _shares(
    places: FloatArray,
    normals: FloatArray,
    owner: IntArray,
    lines: BoneLines,
    related: NDArray[np.bool_],
) -> tuple[sparse.csr_matrix, FloatArray]:
    """(p, joints) sparse shares by distance to the bones, rows of sum one; (p,) the owner's."""
    rows, columns, values = [], [], []
    nearest = np.empty(len(places))
    for some, distance in distances(places, normals, lines):
        own = owner[some]
        least = distance[np.arange(len(own)), own]
        beyond = distance / np.maximum(least, 1e-300)[:, None] - 1.0
        share = np.clip(1.0 - beyond / REACH, 0.0, 1.0) ** 2
        share[~related[own]] = 0.0
        # a vertex on the bone itself has no distance to measure others by
        share[np.arange(len(own)), own] = 1.0
        row, column = np.nonzero(share)
        rows.append(row + some.start)
        columns.append(column)
        values.append(share[row, column])
        nearest[some] = least
    shares = sparse.csr_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
        shape=(len(places), lines.joints),
    )
    return _of_sum_one(shares), nearest


def _fingers(skeleton: Skeleton) -> IntArray:
    """(n,) number of the finger that each joint belongs to; -1 for the others."""
    names = [(side_of(name), finger_of(name)) for name in skeleton.names]
    known = sorted({name for name in names if name[1]}, key=str)
    return np.array([known.index(name) if name[1] else -1 for name in names])


def _of_sum_one(matrix: sparse.csr_matrix) -> sparse.csr_matrix:
    total = np.asarray(matrix.sum(axis=1)).reshape(-1)
    return sparse.diags(1.0 / total).dot(matrix).tocsr()


def _largest(shares: sparse.csr_matrix) -> tuple[IntArray, FloatArray]:
    """The four largest shares of each row, scaled to sum one; ties go to the earlier joint."""
    shares.sort_indices()
    count = shares.shape[0]
    row = np.repeat(np.arange(count), np.diff(shares.indptr))
    # rounded, so that rounding noise does not decide between the two sides of a symmetric mesh
    order = np.lexsort((shares.indices, -np.round(shares.data, 12), row))
    rank = np.arange(len(row)) - shares.indptr[row]
    kept = rank < MOST_JOINTS
    joints = np.zeros((count, MOST_JOINTS), dtype=np.int64)
    weights = np.zeros((count, MOST_JOINTS))
    joints[row[kept], rank[kept]] = shares.indices[order][kept]
    weights[row[kept], rank[kept]] = shares.data[order][kept]
    weights[weights < 1e-4] = 0.0
    joints[weights == 0.0] = 0
    return joints, weights / weights.sum(axis=1, keepdims=True)
