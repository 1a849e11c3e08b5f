"""Arms that hang close to the trunk, or rest on it: modelled as pieces, they are parted from it.

The body's cells bridge the gap between such an arm and the trunk, and a hand on the hip joins them
for good, so that no arm seems to branch off. Where the mesh says what the arm is, since it is a
piece of its own that is stuck into the trunk, the cells between both are opened, except where the
arm goes from the shoulder. One that hangs beside the trunk in air is joined to it there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from autoplace.measure.branches import WIDEST_GAP
from autoplace.measure.gap_bridges import ABUTMENT, LEAST_PIECE
from autoplace.measure.limb_kinds import HIGHEST_SHOULDER, LOWEST_SHOULDER
from autoplace.measure.limb_record import CLEAR_OF_FLOOR
from autoplace.measure.solid import Solid, fill_solid
from autoplace.measure.thigh_gap import OPENED
from autoplace.measure.trunk_ends import neck_height
from autoplace.mesh.triangles import surface_of

__all__ = ["PieceArm", "arm_alone", "find_piece_arms", "pieces_of_arms", "with_arm_gaps"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

LONG = 0.1
"""Longest side of an arm's box at least, fraction of height: the arms of a figure two heads tall
and of stubby build are .14 long with their hands (further deals of the box family)."""
OF_ONE_SIDE = 0.25
"""The middle of an arm's surface lies at least this share of its breadth beside the figure's, also
with a hand or a shield before the belly (common practice, no source)."""
FALLS = 0.2
"""Nor does an arm end below this share of the height of its upper end: a leg without its shoe has a
sixth, the arm of a figure two heads tall a quarter (further deals of the box family)."""
LEGS_END = 0.3
"""A piece that hangs from another and ends below this share of the shoulder's height is no forearm
but a leg that a hand touches (common practice, no source)."""
ABOVE_NECK = 0.02
"""An arm's upper end lies this little above the neck's narrowest place at most, fraction of height:
a raised arm, an ear and hair that hang reach higher (common practice, no source)."""
SLENDER = 1.2
"""Spread of an arm's cells along it over that across it at least: short wide sleeves have 1.22,
plates over a shoulder 1.08 (further deals of the box family); an arm that is bent by a right angle
has twice."""
LEVEL = 0.1
"""Both arms are joined to the trunk at heights that differ by less, fraction of height."""
AWAY = 0.3
"""Share of the arm from its shoulder up to which it may well touch the trunk; nothing is opened
within, and nothing at all if it touches nowhere beyond (common practice, no source)."""
FOREARM = 0.4
"""Share of the arm's reach from its shoulder from which on it is looked at by itself; its shoulder
is told with the trunk (tuned on the dataset's open builds with hanging arms, 2026-11-30)."""
HAND = 0.6
"""A piece that is farther from the shoulder than this share of the arm is its hand, and need not be
slender: a mitten or a block (common practice, no source)."""
LINKED, UNDER = 0.02, 0.5
"""Links of an arm are apart by less, fraction of height, and lie under one another by this share of
their breadth at least: the thigh beside a hand does not (common practice, no source)."""
JOINED = 0.55
"""Coverage of a joined cell: just full, so that the skin stays where it was."""


@dataclass(frozen=True)
class PieceArm:
    """A piece that may be an arm, in cells of the body's grid."""

    cells: BoolArray
    """(nx, ny, nz) what it fills."""
    shoulder: FloatArray
    """(3,) where it meets the rest highest, or would."""
    opened: IntArray
    """(m, 3) cells of the rest that touch it away from the shoulder; none if it hangs free."""
    joined: IntArray
    """(m, 3) empty cells between its upper end and the rest, where they do not touch."""
    side: str = "left"
    """'left' or 'right', the character's own."""

    @property
    def reach(self) -> float:
        """How far it reaches from the shoulder, in cells."""
        return float(np.linalg.norm(np.argwhere(self.cells) - self.shoulder, axis=1).max())


def find_piece_arms(solid: Solid, pieces: Sequence[FloatArray]) -> tuple[PieceArm, ...]:
    """Pieces of the mesh that are arms or hang from such.

    Args:
        solid: the body's cells, working frame.
        pieces: corners (k, 3, 3) of each connected piece of the body, working frame.

    Returns:
        None of them where the arms are no pieces of their own, or where not both show.
    """
    highest = min(HIGHEST_SHOULDER, neck_height(solid) + ABOVE_NECK)
    found = {side: _arms_of(solid, pieces, side, highest) for side in ("left", "right")}
    kept = []
    for side, arms in found.items():
        others = found["right" if side == "left" else "left"]
        heights = np.array([other.shoulder[1] for other in others])
        kept += [
            arm
            for arm in arms
            if len(heights) and np.abs(arm.shoulder[1] - heights).min() * solid.cell < LEVEL
        ]
    return tuple(kept)


def pieces_of_arms(solid: Solid, arms: Mapping[str, FloatArray]) -> tuple[PieceArm, ...]:
    """What is known to be the arms, as `find_piece_arms` has them.

    Args:
        solid: the body's cells, working frame.
        arms: by side corners (k, 3, 3) of the arm's triangles, working frame.

    Returns:
        Those of enough cells that meet the rest of the body, or nearly do.
    """
    filled = {side: _filled(solid, corners) for side, corners in arms.items()}
    rest = solid.inside & ~np.logical_or.reduce(list(filled.values()))
    floor = -solid.origin[1] / solid.cell
    found = []
    for side, cells in filled.items():
        arm = _arm(cells, rest, floor, WIDEST_GAP / solid.cell, ())
        found += [] if arm is None else [replace(arm, side=side)]
    return tuple(found)


def with_arm_gaps(solid: Solid, arms: Sequence[PieceArm]) -> Solid:
    """The body with the cells opened that join an arm to the trunk beside its shoulder, and those
    filled that part it from the trunk there.

    Args:
        solid: the body's cells. arms: see `find_piece_arms`.

    Returns:
        The same solid where the arms hang clear of the trunk from their shoulders.
    """
    if not any(len(arm.opened) or len(arm.joined) for arm in arms):
        return solid
    coverage = solid.coverage.copy()
    for arm in arms:
        opened, joined = tuple(arm.opened.T), tuple(arm.joined.T)
        coverage[opened] = np.minimum(coverage[opened], np.float32(OPENED))
        coverage[joined] = np.maximum(coverage[joined], np.float32(JOINED))
    return replace(solid, coverage=coverage)


def _arms_of(
    solid: Solid, pieces: Sequence[FloatArray], side: str, highest: float
) -> list[PieceArm]:
    """What may be an arm of one side, whose upper end lies no higher than `highest`, and what hangs
    from it."""
    sign = 1.0 if side == "left" else -1.0
    beside, arms = [], []
    for corners in pieces:
        points = corners.reshape(-1, 3)
        low, high = points.min(axis=0), points.max(axis=0)
        # a leg stays what an arm is parted from
        if not _is_beside(corners, sign) or low[1] < max(CLEAR_OF_FLOOR, FALLS * highest):
            continue
        beside.append(corners)
        if _may_be_arm(low, high, highest):
            arms.append(corners)
    arms = arms or _chains(beside, highest)
    if not arms:
        return []
    rest = solid.inside & ~_filled(solid, np.concatenate(beside))
    floor = -solid.origin[1] / solid.cell
    arms.sort(key=lambda corners: -float(corners[:, :, 1].max()))
    found: list[PieceArm] = []
    for corners in arms:
        arm = _arm(_filled(solid, corners), rest, floor, WIDEST_GAP / solid.cell, found)
        if arm is not None and (_is_slender(arm.cells) or _is_hand(arm.cells, found)):
            found.append(replace(arm, side=side))
    return found


def _chains(beside: Sequence[FloatArray], highest: float) -> list[FloatArray]:
    """Pieces (k, 3, 3) that hang under one another, as the short links of a robot's arm do, put
    together where that makes an arm."""
    links = sorted(beside, key=lambda corners: -float(corners[:, :, 1].max()))
    found = []
    while links:
        chain = [links.pop(0)]
        for link in list(links):
            if _hangs_under(link, chain[-1]):
                chain.append(link)
                links = [other for other in links if other is not link]
        whole = np.concatenate(chain)
        low, high = whole.min(axis=(0, 1)), whole.max(axis=(0, 1))
        if len(chain) > 1 and _may_be_arm(low, high, highest):
            found.append(whole)
    return found


def _may_be_arm(low: FloatArray, high: FloatArray, highest: float) -> bool:
    """Is what lies between two corners (3,) as long and as high as an arm?"""
    upright = LOWEST_SHOULDER < high[1] < highest and low[1] > FALLS * high[1]
    return bool(upright and (high - low).max() > LONG)


def _hangs_under(link: FloatArray, upper: FloatArray) -> bool:
    """Does a piece lie below another, as near as links do, and mostly under it?"""
    low, high = link.min(axis=(0, 1)), link.max(axis=(0, 1))
    low_above, high_above = upper.min(axis=(0, 1)), upper.max(axis=(0, 1))
    near = abs(low_above[1] - high[1]) < LINKED and low[1] < low_above[1]
    shared = np.minimum(high, high_above) - np.maximum(low, low_above)
    narrow = np.minimum(high - low, high_above - low_above)
    return bool(near and (shared[[0, 2]] > UNDER * narrow[[0, 2]]).all())


def _is_beside(corners: FloatArray, sign: float) -> bool:
    """Does a piece (k, 3, 3) lie on one side of the figure, but for what reaches over?"""
    area = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    aside = sign * corners[:, :, 0]
    middle = float(area @ aside.mean(axis=1)) / max(float(area.sum()), 1e-300)
    return bool(middle > OF_ONE_SIDE * (aside.max() - aside.min()))


def arm_alone(solid: Solid, corners: FloatArray, begins: FloatArray) -> Solid:
    """The body about the beginning of an arm, and beyond that nothing but the arm.

    Args:
        solid: the body's cells. corners: (k, 3, 3) of the arm's triangles, same frame.
        begins: (3,) where the arm leaves the trunk.
    """
    reach = float(np.linalg.norm(corners.reshape(-1, 3) - begins, axis=1).max())
    axes = (np.arange(count) for count in solid.coverage.shape)
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    near = np.linalg.norm(solid.to_points(grid) - begins, axis=-1) < FOREARM * reach
    return replace(solid, coverage=np.where(near, solid.coverage, _coverage(solid, corners)))


def _filled(solid: Solid, corners: FloatArray) -> BoolArray:
    """(nx, ny, nz) cells of a solid within a piece (k, 3, 3)."""
    return np.asarray((_coverage(solid, corners) > 0.5) & solid.inside)


def _coverage(solid: Solid, corners: FloatArray) -> NDArray[np.float32]:
    """(nx, ny, nz) share of each cell of a solid's grid that lies within a piece (k, 3, 3)."""
    # the grid of a box is counted from the frame's zero, that of a figure from its middle
    zero = solid.origin + 2.5 * solid.cell
    points, faces = surface_of(corners - zero)
    part = fill_solid(points, faces, solid.cell, points.min(axis=0), points.max(axis=0))
    start = np.rint((part.origin + zero - solid.origin) / solid.cell).astype(int)
    coverage = np.zeros_like(solid.coverage)
    low = np.maximum(start, 0)
    high = np.minimum(start + part.coverage.shape, coverage.shape)
    whole = tuple(slice(a, b) for a, b in zip(low, high, strict=True))
    own = tuple(slice(a, b) for a, b in zip(low - start, high - start, strict=True))
    coverage[whole] = part.coverage[own]
    return coverage


def _is_slender(cells: BoolArray) -> bool:
    """Is a piece long for how broad it is?"""
    spread = np.linalg.eigvalsh(np.cov(np.argwhere(cells).T))
    return bool(spread[2] >= SLENDER**2 * spread[1])


def _is_hand(cells: BoolArray, arms: Sequence[PieceArm]) -> bool:
    """Is a piece at the end of the first of some arms, however short it is?"""
    if not arms:
        return False
    away = np.linalg.norm(np.argwhere(cells) - arms[0].shoulder, axis=1)
    return bool(away.min() > HAND * arms[0].reach)


def _arm(
    cells: BoolArray, rest: BoolArray, floor: float, widest: float, above: Sequence[PieceArm]
) -> PieceArm | None:
    """A piece of enough cells as an arm, where it meets the rest; None otherwise. What hangs from
    one of those above, as a forearm does, is nowhere joined to the rest; there is one to hang from
    at most.

    Args:
        cells, rest: (nx, ny, nz) the piece, and the body without the pieces of this side.
        floor, widest: height of the floor, and the gap that is joined over, in cells.
    """
    index = np.argwhere(cells)
    if len(index) < LEAST_PIECE:
        return None
    low, high = np.maximum(index.min(axis=0) - 1, 0), index.max(axis=0) + 2
    box = tuple(slice(a, b) for a, b in zip(low, high, strict=True))
    around = ndimage.binary_dilation(cells[box], np.ones((3, 3, 3)))
    meets = np.argwhere(around & rest[box]) + low
    none = np.zeros((0, 3), dtype=np.int64)
    hangs = next((arm for arm in above if (around & arm.cells[box]).any()), None)
    if hangs is not None:
        ends = float(index[:, 1].min()) - floor
        if ends < LEGS_END * (float(hangs.shoulder[1]) - floor):
            return None
        # a second layer of the arm goes from the shoulder as the first does
        away = np.linalg.norm(meets - hangs.shoulder, axis=1)
        return PieceArm(cells, hangs.shoulder, meets[away > AWAY * hangs.reach], none)
    if above:
        return None
    if not len(meets):
        return _joined(cells, index, rest, widest)
    shoulder = meets[meets[:, 1] >= meets[:, 1].max() - 1].mean(axis=0)
    away = np.linalg.norm(meets - shoulder, axis=1)
    arm = PieceArm(cells, shoulder, meets, none)
    return replace(arm, opened=meets[away > AWAY * arm.reach])


def _joined(cells: BoolArray, index: IntArray, rest: BoolArray, widest: float) -> PieceArm | None:
    """An arm that hangs beside the trunk in air, joined to it by its upper end; None if too far."""
    top, bottom = int(index[:, 1].max()), int(index[:, 1].min())
    upper = index[index[:, 1] > top - AWAY * (top - bottom)]
    others = np.argwhere(rest[:, : top + 1])
    if not len(others):
        return None
    away, partner = cKDTree(others).query(upper, distance_upper_bound=widest)
    if not away.min() <= widest:
        return None
    near = np.flatnonzero(away <= away.min() + ABUTMENT)
    steps = np.linspace(0.0, 1.0, 2 * int(np.ceil(widest)) + 1)[:, None, None]
    line = upper[near] + steps * (others[partner[near]] - upper[near])
    between = np.unique(np.rint(line).astype(np.int64).reshape(-1, 3), axis=0)
    none = np.zeros((0, 3), dtype=np.int64)
    return PieceArm(cells, upper[near].mean(axis=0), none, between)
