"""The hand as a volume of its own: cut out around the wrist, set upright, filled finely.

Two passes. A coarse one finds which cells hang together with the wrist and how far they reach, so
that the fine one fills a tight box and nothing else. In the hand's own frame +Y runs from the
wrist to the fingers, +X across the hand and +Z through its thickness (signs of X and Z unknown at
this stage); the origin is the approximate wrist.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.hand_contact import ArmCells, within_arm
from autoplace.measure.solid import Solid, faces_about, fill_solid

__all__ = ["HandBox", "HandRegion", "find_hand_box"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Lengths below are shares of the guessed hand length unless said otherwise; they only bound what
# is looked at, so their exact size does not move a result (common practice, no source).
COARSE_CELLS = 18
"""Coarse cells along the guessed hand: half a finger's thickness each."""
FINE_CELLS = 66
"""Fine cells along the hand as the coarse pass saw it: about six across a finger."""
FINE_LIMIT = 900_000
"""Most cells of the fine grid; a hand that needs more gets larger cells. With finer cells it may
have more in proportion."""
MOST_INSIDE = 80_000
"""Most cells inside: half as many again as the fullest of our own invented hands has, 50,000. A
block for a hand, or a chibi's, has ten times as many, and nothing so fine to show."""
FOREARM_KEPT = 0.55
"""Length of forearm kept below the approximate wrist."""
REACH = 1.75
"""Farthest fingertip above the approximate wrist."""
BREADTH = 1.25
"""Half the box across the forearm."""
SEED_HALF = 0.3
"""Half-length and radius of the space around the wrist in which the hand's piece must show."""
BLUR = 0.8
"""Of the coverage where the skin is read, cells, one standard deviation."""


@dataclass(frozen=True)
class HandRegion:
    """A hand and a piece of forearm as a fine solid in the hand's own frame."""

    solid: Solid
    """Coverage in the hand frame, of this hand only (other geometry is emptied)."""
    rotation: FloatArray
    """(3, 3) rows: across, along, through the hand; in the working frame."""
    origin: FloatArray
    """(3,) working-frame point that is the origin: the approximate wrist."""
    notes: tuple[str, ...] = ()

    @cached_property
    def smooth(self) -> Solid:
        """The same volume with its coverage blurred by less than a cell.

        Where the coverage falls through one half strays by a tenth of a cell with how the cells
        happen to lie; blurred, by much less, and a finger three cells thick loses a tenth of one.
        """
        blurred = ndimage.gaussian_filter(self.solid.coverage, BLUR, mode="constant")
        return replace(self.solid, coverage=blurred)

    def to_working(self, points: FloatArray) -> FloatArray:
        """Hand-frame points (..., 3) in the working frame."""
        return np.asarray(points, dtype=np.float64) @ self.rotation + self.origin

    def to_hand(self, points: FloatArray) -> FloatArray:
        """Working-frame points (..., 3) in the hand frame."""
        return (np.asarray(points, dtype=np.float64) - self.origin) @ self.rotation.T


@dataclass(frozen=True)
class HandBox:
    """Where a hand lies, as the coarse pass found it."""

    local: FloatArray
    """(n, 3) vertices in the hand's own frame."""
    faces: IntArray
    """(m, 3) triangles about the hand."""
    points: FloatArray
    """(k, 3) coarse cells of the hand, and their size."""
    coarse_cell: float
    lower: FloatArray
    """(3,) corners of the box that is filled."""
    upper: FloatArray
    rotation: FloatArray
    """(3, 3) and (3,): as those of the region."""
    origin: FloatArray
    parted: bool = False
    """Whether the hand has met the rest of the body, so that only its own cells are its."""

    def filled(self, finer: float = 1.0) -> HandRegion | None:
        """The box filled finely; None when nothing in it is solid.

        Args:
            finer: how many times as fine the cells are as those that serve for most hands.
        """
        cell = float(self.upper[1]) / (FINE_CELLS * finer)
        most = FINE_LIMIT * finer
        cell = max(cell, float((np.prod(self.upper - self.lower) / most) ** (1 / 3)))
        full = float(np.count_nonzero(self.points[:, 1] > 0.0)) / (MOST_INSIDE * finer)
        cell = max(cell, self.coarse_cell * full ** (1 / 3))
        margin = 4.0 * cell
        faces, _ = faces_about(self.local, self.faces, self.lower - margin, self.upper + margin)
        fine = fill_solid(self.local, faces, cell, self.lower, self.upper)
        if self.parted:
            own = _near(fine, self.points, self.coarse_cell)
            fine = replace(fine, coverage=np.where(own, fine.coverage, np.float32(0.0)))
        keep = _matching(fine, self.points, self.coarse_cell)
        coverage = np.where(keep, fine.coverage, 0.0).astype(np.float32)
        solid = Solid(coverage, fine.origin, fine.cell)
        return HandRegion(solid, self.rotation, self.origin) if solid.inside.any() else None


def find_hand_box(
    vertices: FloatArray,
    faces: IntArray,
    wrist: FloatArray,
    forearm_direction: FloatArray,
    hand_length_guess: float,
    body: ArmCells | None = None,
) -> HandBox | None:
    """Find the hand that hangs together with the wrist.

    Args:
        vertices: (n, 3) working frame.
        faces: (m, 3) triangles, facing outward; may be open, overlapping, in pieces.
        wrist: (3,) approximate wrist.
        forearm_direction: (3,) from elbow to wrist.
        hand_length_guess: wrist to fingertip, within about a third.
        body: the body's cells by arm and rest, to part a hand from what it touches; None leaves
            out what does not hang together with the wrist and nothing else.

    Returns:
        Where it lies, or None when nothing solid lies beyond the wrist.
    """
    guess = float(hand_length_guess)
    along = np.asarray(forearm_direction, dtype=np.float64)
    along = along / np.linalg.norm(along)
    rotation = _frame_about(along)
    local = (np.asarray(vertices, dtype=np.float64) - wrist) @ rotation.T
    lower = np.array([-BREADTH, -FOREARM_KEPT, -BREADTH]) * guess
    upper = np.array([BREADTH, REACH, BREADTH]) * guess
    faces, count = faces_about(local, faces, lower, upper)
    if not count.any():
        return None
    inner = local[faces[count == 3]].reshape(-1, 3)
    if not len(inner):
        return None
    lower = np.maximum(lower, inner.min(axis=0))
    upper = np.minimum(upper, inner.max(axis=0))
    if np.any(upper <= lower):
        return None
    coarse = fill_solid(local, faces, guess / COARSE_CELLS, lower, upper)
    cells = _hand_cells(coarse, guess)
    if cells is None:
        return None
    points = coarse.to_points(np.argwhere(cells))
    parted = False
    if body is not None:
        own = within_arm(points @ rotation + wrist, points[:, 1] > 0.0, body)
        points, parted = points[own], not own.all()
    beyond = points[points[:, 1] > 0.15 * guess]
    if len(beyond) < 12:
        return None
    turn = _upright(beyond)
    points, local = points @ turn.T, local @ turn.T
    margin = 1.5 * coarse.cell
    lower, upper = points.min(axis=0) - margin, points.max(axis=0) + margin
    lower[1] = max(lower[1], -0.8 * FOREARM_KEPT * guess)
    origin = np.asarray(wrist, dtype=np.float64)
    return HandBox(local, faces, points, coarse.cell, lower, upper, turn @ rotation, origin, parted)


def _frame_about(along: FloatArray) -> FloatArray:
    """(3, 3) rows across, along, through: any right-handed frame about a direction."""
    other = np.eye(3)[int(np.argmin(np.abs(along)))]
    across = np.cross(along, other)
    across /= np.linalg.norm(across)
    return np.array([across, along, np.cross(across, along)])


def _hand_cells(coarse: Solid, guess: float) -> NDArray[np.bool_] | None:
    """Coarse cells of the piece (or pieces, when the hand is apart) at the wrist."""
    structure = np.ones((3, 3, 3), dtype=bool)
    labels, count = ndimage.label(coarse.coverage > 0.35, structure)
    if not count:
        return None
    filled = np.argwhere(labels > 0)
    where = coarse.to_points(filled)
    owner = labels[labels > 0]
    radius = np.hypot(where[:, 0], where[:, 2])
    nearest = owner[np.argmin(np.linalg.norm(where, axis=1))]
    chosen = {int(nearest)}
    close = (np.abs(where[:, 1]) < SEED_HALF * guess) & (radius < SEED_HALF * guess)
    size = np.bincount(owner)
    for label in np.unique(owner[close]):
        inner = close[owner == label].mean()
        middle = where[owner == label].mean(axis=0)
        # a thigh beside the wrist lies mostly outside of the space about it
        if inner > 0.08 and size[label] > 3 and np.hypot(middle[0], middle[2]) < 0.8 * guess:
            chosen.add(int(label))
    return np.isin(labels, list(chosen))


def _upright(points: FloatArray) -> FloatArray:
    """(3, 3) turn that brings the hand's length on +Y and its thickness on +Z."""
    along = points.mean(axis=0)
    along = along / np.linalg.norm(along)
    frame = _frame_about(along)
    flat = points @ frame[[0, 2]].T
    _, axes = np.linalg.eigh(np.cov(flat.T))
    across = axes[0, 1] * frame[0] + axes[1, 1] * frame[2]
    return np.array([across, along, np.cross(across, along)])


def _cells_at(solid: Solid, points: FloatArray) -> tuple[IntArray, ...]:
    """The cells that points lie in, by axis; those outside of the grid are left out."""
    index = np.round(solid.to_cells(points)).astype(np.int64)
    index = index[((index >= 0) & (index < solid.coverage.shape)).all(axis=1)]
    return tuple(index.T)


def _near(fine: Solid, points: FloatArray, cell: float) -> NDArray[np.bool_]:
    """Fine cells that lie in one of the coarse cells, or at its edge."""
    near = np.zeros(fine.coverage.shape, dtype=bool)
    near[_cells_at(fine, points)] = True
    reach = int(np.ceil(0.5 * np.sqrt(3.0) * cell / fine.cell))
    return np.asarray(ndimage.distance_transform_edt(~near) <= reach)


def _matching(fine: Solid, points: FloatArray, reach: float) -> NDArray[np.bool_]:
    """Fine cells that belong to the hand: connected, and near a coarse cell of it."""
    labels, count = ndimage.label(fine.inside)
    if count <= 1:
        return np.ones(fine.coverage.shape, dtype=bool)
    hits = np.bincount(labels[_cells_at(fine, points)], minlength=count + 1)
    size = np.bincount(labels.ravel(), minlength=count + 1)
    hits[0] = 0
    ours = hits * (reach / fine.cell) ** 3 > 0.25 * size
    ours[0] = False
    # partly covered cells go with the nearest piece
    keep = ndimage.binary_dilation(ours[labels], iterations=2)
    return (
        keep & ~ndimage.binary_dilation((labels > 0) & ~ours[labels], iterations=1) | ours[labels]
    )
