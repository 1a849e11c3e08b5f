"""Arms that the mesh models as pieces, held against the branches of the body.

A branch that ends in such a piece is the arm of its side, whatever else branches off about the
shoulder: a plate, the wing of a collar. Where none does, since plates hide how the arm leaves the
trunk, the piece itself is the arm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.arm_gap import PieceArm, with_arm_gaps
from autoplace.measure.belted import Hanging, belted
from autoplace.measure.limb_record import BAND, Limb, Limbs, hanging
from autoplace.measure.limbs import find_limbs
from autoplace.measure.solid import Solid

__all__ = ["limbs_with_pieces", "with_piece_arms"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SHOWN = 0.55
"""Share of a piece that the branch found without it holds at least: the rest is the shoulder, which
is stuck into the trunk (common practice, no source)."""
HELD = 0.2
"""Share of pieces that a limb holds from which on it is theirs, though it does not reach their end:
a staff of one piece with the hand is no arm (common practice, no source)."""
ELSEWHERE = 0.1
"""Share of a piece that an arm beside it holds at most (common practice, no source)."""
LEAST_BANDS = 5
"""Bands of distance along a piece that is made a limb, at least: what is shorter says too little
(common practice, no source)."""


def limbs_with_pieces(
    solid: Solid, pieces: Sequence[PieceArm], how: str = "as a piece of the mesh"
) -> tuple[Solid, Limbs]:
    """The limbs of a body some of whose pieces may be arms, and the cells that show them.

    Args:
        solid: the body's cells, working frame. pieces: see `find_piece_arms`.
        how: an arm that is parted from the trunk was told from it, for the note that says so.

    Returns:
        The same solid and its branches where these are the pieces; else the solid with its arms
        parted from the trunk and joined at the shoulders, and the limbs of that.
    """
    limbs = find_limbs(solid)
    pieces = [piece for piece in pieces if not _other_arm(limbs, solid, piece)]
    pieces = _over_belt(limbs, solid, pieces)
    missed = [piece for piece in pieces if not _shows(limbs, solid, pieces, piece.side)]
    if not missed:
        return solid, limbs
    solid = with_arm_gaps(solid, missed)
    limbs = with_piece_arms(find_limbs(solid), solid, pieces)
    sides = [side for side in ("left", "right") if any(piece.side == side for piece in missed)]
    notes = tuple(
        f"the {side} arm lies against the body, and was told from it {how}"
        for side in sides
        if limbs.one("arm", side) is not None
    )
    return solid, replace(limbs, notes=notes)


def _other_arm(limbs: Limbs, solid: Solid, piece: PieceArm) -> bool:
    """Is there an arm on the piece's side that is longer and elsewhere? Then it is a strap."""
    arm = limbs.one("arm", piece.side)
    if arm is None or _held(arm, solid, piece.cells) > ELSEWHERE:
        return False
    reach = np.linalg.norm(np.argwhere(piece.cells) - piece.shoulder, axis=1).max() * solid.cell
    return bool(np.linalg.norm(arm.line[-1] - arm.line[0]) > reach)


def _over_belt(limbs: Limbs, solid: Solid, pieces: Sequence[PieceArm]) -> list[PieceArm]:
    """The pieces without those that hang from a belt below the arms."""
    if not pieces:
        return []
    arms = [limb for limb in limbs.limbs if limb.kind == "arm"]
    hung = belted(
        [hanging(limb) for limb in arms],
        [_hanging(piece, solid) for piece in pieces],
        solid,
        limbs.neck,
        limbs.parting,
    )
    return [piece for piece, low in zip(pieces, hung, strict=True) if not low]


def _hanging(piece: PieceArm, solid: Solid) -> Hanging:
    """A piece as what leaves the trunk to its side."""
    begins = solid.to_points(piece.shoulder)
    points = solid.to_points(np.argwhere(piece.cells))
    reach = np.linalg.norm(points - [0.0, begins[1], begins[2]], axis=1).max()
    aside = float(np.abs(points[:, 0]).max())
    height = float(begins[1])
    return Hanging(piece.side, height, height, float(reach), aside, len(points))


def _held(limb: Limb, solid: Solid, cells: NDArray[np.bool_]) -> float:
    """Share of these cells that a limb holds."""
    index = np.rint(solid.to_cells(limb.cells)).astype(int)
    return float(cells[tuple(index.T)].sum() / max(cells.sum(), 1))


def _shows(limbs: Limbs, solid: Solid, pieces: Sequence[PieceArm], side: str) -> bool:
    """Does the arm of one side hold most of its pieces, and begin at their shoulder?"""
    mine = [piece for piece in pieces if piece.side == side]
    arm = limbs.one("arm", side)
    if arm is None or any(len(piece.joined) for piece in mine):
        return False
    begin, end = np.linalg.norm(arm.line[[0, -1]] - solid.to_points(mine[0].shoulder), axis=1)
    held = _held(arm, solid, np.logical_or.reduce([piece.cells for piece in mine]))
    return bool(held > SHOWN and begin < end)


def with_piece_arms(limbs: Limbs, solid: Solid, pieces: Sequence[PieceArm]) -> Limbs:
    """The limbs with arms as the mesh's own pieces have them.

    Args:
        limbs: the branches of the body. solid: its cells. pieces: what may be arms.

    Returns:
        The same limbs where no piece is an arm.
    """
    found = list(limbs.limbs)
    for side in ("left", "right"):
        mine = [piece for piece in pieces if piece.side == side]
        if not mine:
            continue
        cells = np.logical_or.reduce([piece.cells for piece in mine])
        end = _farthest(cells, mine[0].shoulder)
        arms = [limb for limb in found if limb.kind == "arm" and limb.side == side]
        true = [
            limb
            for limb in arms
            if _ends_near(limb, solid, end) or _held(limb, solid, cells) > HELD
        ]
        if not true:
            own = _limb(solid, cells, mine[0].shoulder, side)
            if own is None:
                continue
            true = [own]
            found.append(own)
        for limb in arms:
            if not any(limb is one for one in true):
                at = next(i for i, one in enumerate(found) if one is limb)
                found[at] = replace(limb, kind="other")
    return replace(limbs, limbs=tuple(found))


def _farthest(cells: NDArray[np.bool_], shoulder: FloatArray) -> FloatArray:
    """(3,) the cell farthest from the shoulder, in cells."""
    index = np.argwhere(cells)
    return np.asarray(index[np.argmax(np.linalg.norm(index - shoulder, axis=1))], dtype=np.float64)


def _ends_near(limb: Limb, solid: Solid, end: FloatArray) -> bool:
    """Does a limb reach to the end of the pieces?"""
    away = np.linalg.norm(limb.cells - solid.to_points(end), axis=1)
    return bool(away.min() < BAND)


def _limb(solid: Solid, cells: NDArray[np.bool_], shoulder: FloatArray, side: str) -> Limb | None:
    """Pieces as a limb, in bands of distance from where they meet the trunk."""
    index = np.argwhere(cells)
    away = np.linalg.norm(index - shoulder, axis=1) * solid.cell
    band = np.floor(away / BAND).astype(int)
    numbers, band = np.unique(band, return_inverse=True)
    if len(numbers) < LEAST_BANDS:
        return None
    points = solid.to_points(index)
    count = np.bincount(band).astype(np.float64)
    line = np.stack([np.bincount(band, points[:, axis]) / count for axis in range(3)], axis=1)
    radius = np.sqrt(count * solid.cell**3 / (np.pi * BAND))
    return Limb("arm", side, line, radius, solid.to_points(shoulder), points)
