"""Shares of what is no flesh: worn pieces follow what is beneath them, rigid ones one joint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import family
from autoplace.skeleton.skin.bone_owners import settled
from autoplace.skeleton.skin.rigid_pieces import PieceShapes, rigid_joints
from autoplace.skeleton.skin.share_spread import cotangents, spread
from autoplace.skeleton.skin.skin_patches import patches
from autoplace.skeleton.skin.worn_shares import Beneath, nearest_beneath

__all__ = ["Surface", "dressed"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

WORN = ("garment", "accessory", "hair", "left_out")
"""Roles that follow the body beneath, unless rigid."""
BODY = ("body", "unknown")
ARM = ("arm", "hand", "finger", "metacarpal")
LOOSE = 1.0
"""Shares of cloth are spread over it by this share of how far it hangs off the body (one standard
deviation); common practice, no source."""
ROUNDS = 30
"""Rounds of averaging over the edges of cloth."""
TOUCH = 0.01
"""A piece touches the body where it is no farther from it than at its nearest place and this share
of the extent of the joints; common practice, no source."""
SMALL = 0.05
"""A button or a stud is smaller than this share of the extent of the joints; common practice, no
source."""


@dataclass(frozen=True)
class Surface:
    """A mesh whose vertices at one place are one."""

    places: FloatArray
    """(p, 3)"""
    faces: IntArray
    """(m, 3)"""
    areas: FloatArray
    """(p,) of the surface about each place."""
    edges: IntArray
    """(e, 2) each once."""
    rims: BoolArray
    """(e,) True for edges of one triangle alone."""


def dressed(
    shares: sparse.csr_matrix,
    owner: IntArray,
    depth: FloatArray,
    surface: Surface,
    roles: NDArray[np.str_],
    skeleton: Skeleton,
    parents: IntArray,
) -> sparse.csr_matrix:
    """(p, joints) shares with those of worn and of rigid pieces in the place of the given ones.

    Args:
        shares: (p, joints) of a body, rows of sum one. owner: (p,) joint that each place is of.
        depth: (p,) how far the bone of that joint is.
        surface: in the frame of the joints.
        roles: (p,) of `mesh.pieces.ROLES`; a connected piece has the role of most of its places.
        parents: (joints,) of each joint, -1 for a root; parents come first.
    """
    piece = patches(len(surface.places), surface.edges)
    role = _of_most(piece, roles)
    shares, touch, lean = _worn(shares, surface, piece, role, owner, depth, skeleton, parents)
    shapes = _shapes(surface, piece, role, owner, touch, lean)
    one = rigid_joints(shapes, skeleton.names, skeleton.positions(), parents)[piece]
    eyes = [i for i, joint in enumerate(skeleton) if family(joint.name) == "eye"]
    balls = np.flatnonzero((roles == "eyeball") if eyes else np.zeros(len(roles), dtype=bool))
    if len(balls):
        apart = surface.places[balls, None] - skeleton.positions()[eyes]
        one[balls] = np.array(eyes)[np.argmin(np.sum(apart**2, axis=2), axis=1)]
    rigid = np.flatnonzero(one >= 0)
    if not len(rigid):
        return shares
    whole = sparse.csr_matrix(
        (np.ones(len(rigid)), (rigid, one[rigid])), shape=shares.shape, dtype=np.float64
    )
    return (sparse.diags((one < 0).astype(np.float64)) @ shares + whole).tocsr()


def _worn(
    shares: sparse.csr_matrix,
    surface: Surface,
    piece: IntArray,
    role: NDArray[np.str_],
    owner: IntArray,
    depth: FloatArray,
    skeleton: Skeleton,
    parents: IntArray,
) -> tuple[sparse.csr_matrix, FloatArray, FloatArray]:
    """The shares with those of worn pieces taken from beneath, and (pieces, joints) the mean of
    what is beneath each piece where it touches, and (pieces,) how much it lies to one side."""
    touch = np.zeros((len(role), shares.shape[1]))
    body = surface.faces[np.isin(role, BODY)[piece[surface.faces[:, 0]]]]
    mine = np.flatnonzero(np.isin(role, WORN)[piece])
    if not len(mine) or not len(body):
        return shares, touch, np.zeros(len(role))
    number = np.full(len(piece), -1)
    number[mine] = np.arange(len(mine))
    edges = number[surface.edges]
    edges = edges[(edges >= 0).all(axis=1)]
    beneath = _beneath(surface, mine, edges, body, owner, depth, skeleton, parents)
    carried = beneath.carried(shares)
    low, high = _boxes(surface.places, piece, len(role))
    size = (high - low).max(axis=1)
    least = np.full(len(role), np.inf)
    np.minimum.at(least, piece[mine], beneath.gap)
    extent = float(np.linalg.norm(np.ptp(skeleton.positions(), axis=0)))
    near = beneath.gap <= least[piece[mine]] + TOUCH * extent
    touch = _means(carried, piece[mine], np.where(near, surface.areas[mine], 0.0), len(role))
    away = surface.places[mine] - beneath.points(surface.places)
    away /= np.maximum(np.linalg.norm(away, axis=1), 1e-300)[:, None]
    ways = _means(sparse.csr_matrix(away), piece[mine], surface.areas[mine], len(role))
    lean = np.linalg.norm(ways, axis=1)

    corners = number[surface.faces]
    corners = corners[(corners >= 0).all(axis=1)]
    edges, pull = cotangents(surface.places[mine], corners)
    carried = spread(carried, LOOSE * beneath.gap, surface.places[mine], edges, ROUNDS, pull)
    button = (size < SMALL * extent)[piece[mine]]
    if button.any():
        mean = sparse.csr_matrix(_means(carried, piece[mine], surface.areas[mine], len(role)))
        kept = sparse.diags((~button).astype(np.float64)) @ carried
        carried = kept + sparse.diags(button.astype(np.float64)) @ mean[piece[mine]]
    bare = np.ones(len(piece))
    bare[mine] = 0.0
    lift = sparse.csr_matrix(
        (np.ones(len(mine)), (mine, np.arange(len(mine)))), shape=(len(piece), len(mine))
    )
    return (sparse.diags(bare) @ shares + lift @ carried).tocsr(), touch, lean


def _beneath(
    surface: Surface,
    mine: IntArray,
    edges: IntArray,
    body: IntArray,
    owner: IntArray,
    depth: FloatArray,
    skeleton: Skeleton,
    parents: IntArray,
) -> Beneath:
    """The point of the body that carries each of the worn places `mine` (n,).

    That is the nearest, but a cloak behind an arm hangs from the shoulders: an arm carries only
    what is no farther from it than it is thick. And cloth hangs together as skin does: the cuff of
    a wide sleeve beside the flank belongs to the arm that the sleeve is on.
    """
    places = surface.places
    found = nearest_beneath(places[mine], places, body)
    arm = np.array([family(name) in ARM for name in skeleton.names])
    over = found.leading
    off = np.flatnonzero(arm[owner[over]] & (found.gap > depth[over]))
    trunk = body[~arm[owner[body]].any(axis=1)]
    if len(off) and len(trunk):
        found = found.replaced(off, nearest_beneath(places[mine[off]], places, trunk))

    def choose(lost: IntArray, allowed: BoolArray) -> IntArray:
        nonlocal found
        kinds, kind = np.unique(allowed, axis=0, return_inverse=True)
        for number, some in enumerate(kinds):
            rows = lost[kind.reshape(-1) == number]
            faces = body[some[owner[body]].all(axis=1)]
            if len(faces):
                found = found.replaced(rows, nearest_beneath(places[mine[rows]], places, faces))
        return np.asarray(owner[found.leading[lost]])

    settled(owner[found.leading], surface.areas[mine], edges, parents, choose)
    return found


def _shapes(
    surface: Surface,
    piece: IntArray,
    role: NDArray[np.str_],
    owner: IntArray,
    touch: FloatArray,
    lean: FloatArray,
) -> PieceShapes:
    count, joints = touch.shape
    area = np.asarray(np.bincount(piece, surface.areas, count), dtype=np.float64)
    low, high = _boxes(surface.places, piece, count)
    closed = area > 0.0
    closed[piece[surface.edges[surface.rims, 0]]] = False
    table = np.bincount(piece * joints + owner, surface.areas, count * joints)
    led = table.reshape(count, joints) / np.maximum(area, 1e-300)[:, None]
    return PieceShapes(role, area, low, high, closed, led, lean, touch)


def _of_most(piece: IntArray, roles: NDArray[np.str_]) -> NDArray[np.str_]:
    """(pieces,) the role of most of the places (p,) of each piece."""
    names, number = np.unique(roles, return_inverse=True)
    count = int(piece.max()) + 1
    table = np.bincount(piece * len(names) + number.reshape(-1), minlength=count * len(names))
    return np.asarray(names[np.argmax(table.reshape(count, -1), axis=1)])


def _boxes(places: FloatArray, piece: IntArray, count: int) -> tuple[FloatArray, FloatArray]:
    """(count, 3) lowest and highest corner of the box of each piece."""
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    np.minimum.at(low, piece, places)
    np.maximum.at(high, piece, places)
    return low, high


def _means(rows: sparse.csr_matrix, piece: IntArray, weight: FloatArray, count: int) -> FloatArray:
    """(count, k) mean of the rows (n, k) of each piece by weight (n,); by number without weight."""
    total = np.bincount(piece, weight, count)
    weight = np.where(total[piece] > 0.0, weight, 1.0)
    total = np.maximum(np.bincount(piece, weight, count), 1e-300)
    places = np.arange(len(piece))
    gather = sparse.csr_matrix((weight / total[piece], (piece, places)), (count, len(piece)))
    return np.asarray((gather @ rows).todense())
