"""A first binding: which joints move each vertex of the mesh, and how much.

Each vertex is given to the nearest bone, measured in a straight line, and shares itself with the
bones next to that one in the hierarchy as far as they are nearly as near. The shares are then
smoothed along the surface. Bones that are near but not neighbours in the hierarchy (the other leg,
the next finger) get nothing to begin with, and only what smoothing carries over a web of skin.

This is meant for a first look at the skeleton in motion. Distances go through the air, so an arm
that lies against the trunk may still drag some of it along.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import SIDES, family, metacarpal_of, side_of
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
AT_ONCE = 400_000
"""Vertex-bone pairs handled in one go; bounds the memory on large meshes."""


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
    vertices: FloatArray, faces: IntArray, skeleton: Skeleton, *, eyeball: NDArray[np.bool_]
) -> Binding:
    """Shares of the joints in every vertex (n, 3) of a mesh with triangles (m, 3).

    Vertices marked in `eyeball` (n,) are given wholly to the nearest eye joint, if there is one.
    Vertices and skeleton are in one frame, of any scale. Vertices at one place get one share, so
    that seams stay closed. Raises SkeletonError for a broken tree.
    """
    parents = parent_indices(skeleton)
    place_of, first = _places(vertices)
    places = vertices[first]
    owner, start, end = _segments(skeleton, parents)
    shares, distance = _nearest(places, owner, start, end, _relatives(skeleton, parents))
    shares = _spread(shares, distance, places, place_of[faces].reshape(-1, 3))
    joints, weights = _largest(shares)
    eyes = [i for i, joint in enumerate(skeleton) if family(joint.name) == "eye"]
    whole = eyeball[first]
    if eyes and np.any(whole):
        apart = places[whole][:, None, :] - skeleton.positions()[eyes][None]
        joints[whole], weights[whole] = 0, 0.0
        joints[whole, 0] = np.array(eyes)[np.argmin(np.sum(apart**2, axis=2), axis=1)]
        weights[whole, 0] = 1.0
    return Binding(joints[place_of], weights[place_of], place_of)


def _places(vertices: FloatArray) -> tuple[IntArray, IntArray]:
    """(n,) number of each vertex's place, and (p,) one vertex of every place."""
    order = np.lexsort(vertices.T)
    new = np.any(np.diff(vertices[order], axis=0) != 0, axis=1)
    number = np.concatenate([[0], np.cumsum(new)])
    place_of = np.empty(len(vertices), dtype=np.int64)
    place_of[order] = number
    return place_of, order[np.concatenate([[True], new])]


def _segments(skeleton: Skeleton, parents: IntArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Owner (k,), start and end (k, 3) of all bones: from each joint to each of its children.

    Heels and chins lie behind the joint they turn about, where no bone goes; each gets a bone of
    its own. A skeleton of one joint is one bone of no length.
    """
    at = skeleton.positions()
    below = np.flatnonzero(parents >= 0)
    owner, start, end = [parents[below]], [at[parents[below]]], [at[below]]
    extra = [_jaw(skeleton), *(_heel(skeleton, side) for side in SIDES)]
    for joint, tail, tip in [bone for bone in extra if bone is not None]:
        owner.append(np.array([skeleton.names.index(joint)]))
        start.append(tail[None])
        end.append(tip[None])
    if not len(below):
        return np.zeros(1, dtype=np.int64), at[:1], at[:1]
    return np.concatenate(owner), np.concatenate(start), np.concatenate(end)


def _jaw(skeleton: Skeleton) -> tuple[str, FloatArray, FloatArray] | None:
    """The head's bone from between the eyes to the chin.

    Eyes lie at half the height of the head (ANSUR II: ectocanthus at 0.48 of it from the top).
    """
    if any(name not in skeleton for name in ("head", "head_top", "left_eye", "right_eye")):
        return None
    eyes = 0.5 * (skeleton["left_eye"].position + skeleton["right_eye"].position)
    rise = skeleton["head_top"].position - skeleton["head"].position
    rise = rise / max(float(np.linalg.norm(rise)), 1e-300)
    above = float((skeleton["head_top"].position - eyes) @ rise)
    return "head", eyes, eyes - above * rise


def _heel(skeleton: Skeleton, side: str) -> tuple[str, FloatArray, FloatArray] | None:
    """The ankle's bone to the heel, at the height of the ball.

    The ankle stands 0.20 of the foot's length before the heel and the ball 0.69 (HAnim, Manal et
    al. 2013; the middle of the row of toe joints), so the heel is 0.20 / 0.49 of that way behind.
    """
    names = [f"{side}_{base}" for base in ("knee", "ankle", "ball")]
    if any(name not in skeleton for name in names):
        return None
    knee, ankle, ball = (np.asarray(skeleton[name].position) for name in names)
    down = (ankle - knee) / max(float(np.linalg.norm(ankle - knee)), 1e-300)
    drop = float((ball - ankle) @ down) * down
    return names[1], ankle, ankle + drop - (0.20 / 0.49) * (ball - ankle - drop)


def _relatives(skeleton: Skeleton, parents: IntArray) -> NDArray[np.bool_]:
    """(n, n) True where one joint is the other or at most two steps above or below it.

    Two, because the bones of a spine are shorter than the trunk is thick. Joints side by side, such
    as two fingers or the two hips, are no relatives; metacarpals are, since one palm covers them.
    """
    count = len(parents)
    related = np.eye(count, dtype=bool)
    below, above = np.arange(count), np.arange(count)
    for _ in range(2):
        above = np.where(above >= 0, parents[above], -1)
        real = above >= 0
        related[below[real], above[real]] = True
        related[above[real], below[real]] = True
    palms = np.array([metacarpal_of(joint.name) is not None for joint in skeleton])
    sides = np.array([side_of(joint.name) == "left" for joint in skeleton])
    return related | (palms[:, None] & palms & (sides[:, None] == sides))


def _nearest(
    points: FloatArray,
    owner: IntArray,
    start: FloatArray,
    end: FloatArray,
    related: NDArray[np.bool_],
) -> tuple[sparse.csr_matrix, FloatArray]:
    """(n, joints) sparse shares by distance to the bones, rows of sum one; (n,) least distance."""
    count = len(related)
    along = end - start
    squared = np.maximum(np.sum(along**2, axis=1), 1e-300)
    rows, columns, values, nearest = [], [], [], []
    step = max(1, AT_ONCE // len(owner))
    for low in range(0, len(points), step):
        some = points[low : low + step]
        # (v, k): how far along each bone its nearest point lies, 0 to 1
        ahead = (some @ along.T - np.sum(start * along, axis=1)) / squared
        ahead = np.clip(ahead, 0.0, 1.0)
        gap = np.zeros_like(ahead)
        for axis in range(3):
            gap += (some[:, axis, None] - start[:, axis] - ahead * along[:, axis]) ** 2
        distance = np.full((len(some), count), np.inf)
        for bone, joint in enumerate(owner):
            np.minimum(distance[:, joint], gap[:, bone], out=distance[:, joint])
        distance = np.sqrt(distance)
        closest = np.argmin(distance, axis=1)
        least = distance[np.arange(len(some)), closest]
        beyond = distance / np.maximum(least, 1e-300)[:, None] - 1.0
        share = np.clip(1.0 - beyond / REACH, 0.0, None) ** 2
        share[~related[closest]] = 0.0
        # a vertex on the bone itself has no distance to measure others by
        share[np.arange(len(some)), closest] = 1.0
        row, column = np.nonzero(share)
        rows.append(row + low)
        columns.append(column)
        values.append(share[row, column])
        nearest.append(least)
    shares = sparse.csr_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
        shape=(len(points), count),
    )
    return _of_sum_one(shares), np.concatenate(nearest)


def _spread(
    shares: sparse.csr_matrix, distance: FloatArray, places: FloatArray, faces: IntArray
) -> sparse.csr_matrix:
    """Shares averaged over the edges of the mesh, the more the farther the bone (n,) is."""
    count = len(places)
    a, b = faces[:, [0, 1, 2]].reshape(-1), faces[:, [1, 2, 0]].reshape(-1)
    real = a != b
    a, b = a[real], b[real]
    ones = np.ones(2 * len(a))
    links = sparse.csr_matrix(
        (ones, (np.concatenate([a, b]), np.concatenate([b, a]))), shape=(count, count)
    )
    links.data[:] = 1.0  # an edge between two triangles was counted twice
    squared = np.sum((places[a] - places[b]) ** 2, axis=1)
    uses = np.bincount(a, minlength=count) + np.bincount(b, minlength=count)
    summed = np.bincount(a, squared, count) + np.bincount(b, squared, count)
    mean_squared = summed / np.maximum(uses, 1)
    # a round that gives the share m to the neighbours spreads by a variance of m times the mean
    # square of the edges
    give = (SPREAD * distance) ** 2 / np.maximum(ROUNDS * mean_squared, 1e-300)
    give = np.where(uses > 0, np.minimum(give, 0.9), 0.0)
    degree = np.maximum(np.diff(links.indptr), 1)
    step = sparse.diags(1.0 - give) + sparse.diags(give / degree) @ links
    for _ in range(ROUNDS):
        shares = step @ shares
    return shares.tocsr()


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
