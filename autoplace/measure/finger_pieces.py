"""Fingers made of rigid pieces, as a robot's or a jointed doll's: what hangs from what, and where.

A phalanx that is a piece of its own goes on where the piece before it ends. Where the two touch, or
the gap between them lies, is the joint. A nail, a ring or a glove lies over a finger that goes on
beneath it, and says nothing of joints. Gaps are bridged, so that fingers hang together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError, cKDTree

from autoplace.measure.hand_pieces import MOST_PIECES, pieces_about
from autoplace.mesh.layers import layer_grid
from autoplace.mesh.triangles import face_normals

__all__ = ["bridge_pieces"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Shares of the guessed hand length (common practice, no source: they part what differs much).
WIDEST = 0.12
"""Widest gap between two pieces of a finger: a third of a phalanx."""
TOUCHES = 0.002
"""Pieces nearer than this touch, and need no bridge."""
SPACING = 0.015
"""Of the points by which surfaces are compared."""
FACING = 0.03
"""Points of two pieces face each other that are farther apart than the nearest by less than this:
half of a finger's breadth, lest one corner tell for the whole end."""
LEAST_LONG = 0.03
"""Length of a piece that is worth a joint: less is a screw."""
OUTWARD = 0.5
"""Least cosine of the way from a piece to the next with that from the wrist: fingers beside each
other lie across it."""
SIDEWAYS = 2.0
"""A gap to the side counts as so many times wider, and once more (as for limbs, `gap_bridges`)."""
BESIDE = 0.7
"""How far from the piece's axis it is looked whether the one before it reaches on, share of its
greatest distance from that axis."""
LONG, BASE = 1.3, 0.2
"""A piece is long that spreads this much wider along than across; share of its length that is its
end."""
ENDS = 0.35
"""Share of a piece's length by which the one before it may reach on beside the joint: more, and the
piece lies over it, as a nail does."""


@dataclass(frozen=True)
class _Piece:
    """One piece, by points spread over its surface."""

    points: FloatArray
    """(k, 3)"""
    tree: cKDTree
    middle: FloatArray
    """(3,) of its box."""
    away: float
    """Of its middle from the wrist."""
    base: FloatArray
    """(3,) middle of its end towards the wrist."""


def bridge_pieces(
    vertices: FloatArray, faces: IntArray, wrist: FloatArray, forearm: FloatArray, length: float
) -> tuple[FloatArray, IntArray, tuple[FloatArray, ...]]:
    """Find which pieces about a wrist continue which, and fill the gaps between them.

    Args:
        vertices: (n, 3) working frame. faces: (m, 3) triangles, facing outward.
        wrist: (3,) approximate. forearm: (3,) direction from elbow to wrist.
        length: of the hand, approximate.

    Returns:
        The surface with its bridges, and where pieces of the hand meet, from the wrist on: (3,)
        middles of what faces each other. The same surface where there is but one piece.
    """
    pieces = _pieces(vertices, faces, wrist, length)
    joints: list[FloatArray] = []
    surfaces = [(vertices, faces)]
    for one in sorted(pieces, key=lambda piece: piece.away):
        link = _hangs_from(one, pieces, wrist, length)
        if link is None:
            continue
        here, there, gap, other = link
        # a forearm hangs from its hand, since that lies nearer to the wrist: there is no finger
        if min((piece.middle - wrist) @ forearm for piece in (one, other)) > 0.0:
            joints.append(0.5 * (here.mean(axis=0) + there.mean(axis=0)))
        bridge = _hull(np.concatenate([here, there])) if gap > TOUCHES * length else None
        if bridge is not None:
            surfaces.append(bridge)
    if len(surfaces) == 1:
        return vertices, faces, tuple(joints)
    start = np.cumsum([0, *(len(points) for points, _ in surfaces[:-1])])
    joined = [corner + first for (_, corner), first in zip(surfaces, start, strict=True)]
    return np.concatenate([points for points, _ in surfaces]), np.concatenate(joined), tuple(joints)


def _pieces(
    vertices: FloatArray, faces: IntArray, wrist: FloatArray, length: float
) -> list[_Piece]:
    """The pieces about a hand that are worth a joint; none where the mesh is of one piece or falls
    apart."""
    about, corner, piece = pieces_about(vertices, faces, wrist, length)
    count = int(piece.max(initial=-1)) + 1
    if not 1 < count <= MOST_PIECES:
        return []
    _, area = face_normals(vertices, faces[about])
    grid = layer_grid(vertices[faces[about]], area, piece[corner[:, 0]], SPACING * length)
    found = []
    for number in range(count):
        points = grid.points[grid.island == number]
        low, high = points.min(axis=0), points.max(axis=0)
        if (high - low).max() > LEAST_LONG * length:
            middle = 0.5 * (low + high)
            away = float(np.linalg.norm(middle - wrist))
            base = _base(points, middle - wrist)
            found.append(_Piece(points, cKDTree(points), middle, away, base))
    return found


def _base(points: FloatArray, outward: FloatArray) -> FloatArray:
    """(3,) middle of the end of a piece from which its own axis, or where it is not long that from
    the wrist, leads outward."""
    spread, axes = np.linalg.eigh(np.cov(points.T))
    axis = axes[:, 2] if spread[2] > LONG**2 * spread[1] else outward
    along = points @ (axis * np.sign(axis @ outward or 1.0))
    end = points[along < along.min() + BASE * np.ptp(along)]
    return np.asarray(0.5 * (end.min(axis=0) + end.max(axis=0)))


def _hangs_from(
    one: _Piece, pieces: list[_Piece], wrist: FloatArray, length: float
) -> tuple[FloatArray, FloatArray, float, _Piece] | None:
    """What faces each other of a piece and of that which it continues, (k, 3) and (l, 3) points,
    the gap between them and that other piece; None where it continues none."""
    best, least = None, np.inf
    for other in pieces:
        way = one.middle - other.middle
        far = float(np.linalg.norm(way)) * one.away
        cosine = float(way @ (one.middle - wrist)) / max(far, 1e-300)
        if other.away >= one.away or cosine < OUTWARD:
            continue
        # the corner of a phalanx may be nearer to the finger beside it than to its own
        cost = float(other.tree.query(one.base)[0]) * (1.0 + SIDEWAYS * (1.0 - cosine))
        if cost >= least:
            continue
        apart, _ = other.tree.query(one.points, distance_upper_bound=(WIDEST + FACING) * length)
        gap = float(apart.min())
        if gap < WIDEST * length:
            within = gap + FACING * length
            here = one.points[apart < within]
            back, _ = one.tree.query(other.points, distance_upper_bound=within)
            there = other.points[np.isfinite(back)]
            best, least = (here, there, gap, other), cost
    if best is None:
        return None
    here, there, gap, other = best
    return None if _lies_over(one, other, here, there) else best


def _lies_over(one: _Piece, other: _Piece, here: FloatArray, there: FloatArray) -> bool:
    """Does the piece before the joint reach on beside that after it?"""
    joint = 0.5 * (here.mean(axis=0) + there.mean(axis=0))
    axis = one.middle - joint
    axis = axis / max(float(np.linalg.norm(axis)), 1e-300)
    own, theirs = one.points - joint, other.points - joint
    breadth = float(np.linalg.norm(own - np.outer(own @ axis, axis), axis=1).max())
    beside = np.linalg.norm(theirs - np.outer(theirs @ axis, axis), axis=1) < BESIDE * breadth
    reach = float((theirs[beside] @ axis).max(initial=-np.inf))
    return reach > ENDS * float((own @ axis).max())


def _hull(points: FloatArray) -> tuple[FloatArray, IntArray] | None:
    """Vertices and faces of the convex hull of points, facing outward; None where they are flat."""
    try:
        hull = ConvexHull(points)
    except QhullError:
        return None
    corners = points[hull.simplices]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    turned = np.einsum("ij,ij->i", normal, hull.equations[:, :3]) < 0.0
    faces = np.where(turned[:, None], hull.simplices[:, ::-1], hull.simplices)
    return points, np.asarray(faces, dtype=np.int64)
