"""The trunk, neck and head as level cuts of the body, and the landmarks read from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.limbs import Limbs
from autoplace.measure.solid import Solid

__all__ = ["TrunkShape", "measure_trunk"]

FloatArray = NDArray[np.float64]

CORE_HALF_WIDTH = 0.035
"""Half width of the strip around the middle plane that front and back are read in, fraction of
height: narrower than any neck in the references (neck breadth about .065 S, from memory)."""
CHIN_REACH = 0.22
"""The chin is looked for this far above and below the neck's narrowest cut, as a share of the
stretch from there to the crown; the lips begin at a third (face canon, common practice)."""


CONTACT = 0.6
"""Where the middle plane is thinner than this share of both sides beside it, two thighs touch and
it is no longer the trunk."""
BELOW_CONTACT = 0.013
"""The trunk's lowest point lies below the level of `CONTACT` by this much, fraction of height
(tuned on the dataset's young women, 2026-11-25)."""


@dataclass(frozen=True)
class TrunkShape:
    """Level cuts through the middle of the body from crotch to crown, working frame."""

    y: FloatArray
    """(n,) height of each cut."""
    middle_x: FloatArray
    """(n,) centre of the middle region across the body."""
    width: FloatArray
    """(n,) width of the middle region (arms in contact with it count)."""
    front: FloatArray
    """(n,) z of the front skin near the middle plane."""
    back: FloatArray
    """(n,) z of the back skin near the middle plane."""
    crotch: FloatArray
    """(3,) lowest point of the trunk between the legs."""
    crown: FloatArray
    """(3,) top of the head."""
    chin: FloatArray
    """(3,) underside of the chin at the front."""
    neck: FloatArray
    """(3,) middle of the narrowest cut between shoulders and head."""
    neck_radius: float
    """Radius of that cut."""
    chin_seen: bool
    """False when no overhang of a chin showed and the neck's height stands in for it."""

    def depth_at(self, y: float, share_from_back: float) -> float:
        """z at a share of the local depth from the back skin, at height y."""
        back, front = np.interp(y, self.y, self.back), np.interp(y, self.y, self.front)
        return float(back + share_from_back * (front - back))

    def middle_at(self, y: float) -> float:
        """x of the body's middle at height y."""
        return float(np.interp(y, self.y, self.middle_x))

    def width_at(self, y: float) -> float:
        """Width of the middle region at height y."""
        return float(np.interp(y, self.y, self.width))


def measure_trunk(solid: Solid, limbs: Limbs, eye_height: float | None = None) -> TrunkShape:
    """Cut the body level by level around its middle plane and read the trunk's landmarks.

    Args:
        solid: the body, working frame. limbs: its branches.
        eye_height: height of the eyeballs where there are any; tells the chin from lips and nose.

    Returns:
        The cuts and landmarks, working frame.
    """
    cuts = _level_cuts(solid, _cells_of_arms(solid, limbs))
    y, width, middle, front, back, area, solid_middle, notch = cuts
    seed_row = int(np.clip(np.searchsorted(y, limbs.seed[1]), 0, len(y) - 1))
    low = seed_row
    while low > 0 and solid_middle[low - 1]:
        low -= 1
    top = len(y) - 1
    while top > seed_row and not solid_middle[top]:
        top -= 1
    # the skin lies where the coverage of the last cell says
    column = solid.coverage[_column(solid, 0.0), low - 1 : low + 1, :].max(axis=1)
    crotch_y = y[low] + solid.cell * (0.5 - float(np.clip(column.sum(), 0.5, 1.5)))
    parted = seed_row
    while parted > low and notch[parted - 1] > CONTACT:
        parted -= 1
    crotch_y = max(crotch_y, float(y[parted]) - 0.5 * solid.cell - BELOW_CONTACT)
    crotch = np.array([0.0, crotch_y, 0.5 * (front[low] + back[low])])
    shoulders = [limb.line[0, 1] for limb in limbs.limbs if limb.kind == "arm"]
    neck_low = np.searchsorted(y, max(shoulders, default=0.6 * y[top]))
    neck_row = _narrowest(area, int(neck_low), top)
    level = None if eye_height is None else 2.0 * eye_height - float(y[top])
    chin_row, seen = _chin(y, front, neck_row, top, level)
    # the crown lies where the line of the head's middles leaves it: a head may lean
    head = np.arange(min(chin_row, top - 1), top + 1)
    _, head_x = np.polyfit(y[head] - y[top], middle[head], 1)
    rows = slice(low, top + 1)
    return TrunkShape(
        y=y[rows],
        middle_x=ndimage.gaussian_filter1d(middle[rows], 2.0),
        width=width[rows],
        front=ndimage.gaussian_filter1d(front[rows], 1.0),
        back=ndimage.gaussian_filter1d(back[rows], 1.0),
        crotch=crotch,
        crown=np.array([float(head_x), 1.0, 0.5 * (front[top] + back[top])]),
        chin=np.array([middle[chin_row], y[chin_row], front[chin_row]]),
        neck=np.array([middle[neck_row], y[neck_row], 0.5 * (front[neck_row] + back[neck_row])]),
        neck_radius=float(0.5 * np.sqrt(area[neck_row])),
        chin_seen=seen,
    )


def _column(solid: Solid, x: float) -> int:
    index = round(float((x - solid.origin[0]) / solid.cell))
    return int(np.clip(index, 0, solid.coverage.shape[0] - 1))


def _cells_of_arms(solid: Solid, limbs: Limbs) -> NDArray[np.bool_]:
    """(nx, ny, nz) True in the arms: one arm at a level must not pull the middle to its side."""
    arms = np.zeros(solid.inside.shape, dtype=bool)
    for limb in limbs.limbs:
        if limb.kind == "arm":
            arms[tuple(np.round(solid.to_cells(limb.cells)).astype(np.int64).T)] = True
    return arms


def _level_cuts(solid: Solid, arms: NDArray[np.bool_]) -> tuple[FloatArray, ...]:
    """Per level: y, width, middle x, front z, back z, area, whether the middle is solid, and how
    thick the middle is against the thinner of its two sides.

    The region of a level is the one through the middle plane; it is followed sideways from the
    level before, so that a head which leans stays the head.
    """
    inside = solid.inside
    labels = ndimage.label(inside, structure=_level_structure())[0]
    count = inside.shape[1]
    y = solid.origin[1] + np.arange(count) * solid.cell
    width, middle, front, back, area, notch = (np.zeros(count) for _ in range(6))
    is_solid = np.zeros(count, dtype=bool)
    strip = max(1, round(CORE_HALF_WIDTH / solid.cell))
    x_now = 0.0
    for row in range(count):
        level = labels[:, row, :]
        column = _column(solid, x_now)
        # below mid-height only the middle column itself: thighs stand close beside it
        beside = 1 if row > 0.5 * count else 0
        near = level[max(column - beside, 0) : column + beside + 1]
        found = near[near > 0]
        if len(found) == 0:
            middle[row] = x_now
            continue
        region = level == np.bincount(found).argmax()
        xs = np.flatnonzero(region.any(axis=1))
        core = region[max(column - strip, 0) : column + strip + 1]
        zs = np.flatnonzero(core.any(axis=0))
        cover = solid.coverage[:, row, :] * region
        # the box, since a mouth's hollow takes away from the cut itself
        span = len(np.flatnonzero(region.any(axis=0)))
        area[row] = len(xs) * span * solid.cell**2
        width[row] = len(xs) * solid.cell
        if (region & ~arms[:, row, :]).any():
            cover = cover * ~arms[:, row, :]
        centre = float((cover.sum(axis=1) @ np.arange(len(region))) / max(cover.sum(), 1e-9))
        middle[row] = solid.origin[0] + centre * solid.cell
        back[row] = solid.origin[2] + (zs[0] - 0.5) * solid.cell
        front[row] = solid.origin[2] + (zs[-1] + 0.5) * solid.cell
        is_solid[row] = True
        thick = region.sum(axis=1)
        sides = min(thick[:column].max(initial=0), thick[column + 1 :].max(initial=0))
        notch[row] = thick[column] / max(float(sides), 1.0)
        if row > 0.5 * count:
            x_now = float(np.clip(middle[row], x_now - solid.cell, x_now + solid.cell))
    for values in (front, back):
        values[~is_solid] = np.interp(y[~is_solid], y[is_solid], values[is_solid])
    return y, width, middle, front, back, area, is_solid, notch


def _level_structure() -> NDArray[np.bool_]:
    """Connectivity within a level only."""
    structure = np.zeros((3, 3, 3), dtype=bool)
    structure[:, 1, :] = ndimage.generate_binary_structure(2, 1)
    return structure


def _narrowest(area: FloatArray, low: int, top: int) -> int:
    """Row that is most clearly narrower than what lies below and above it."""
    rows = np.arange(low, top + 1)
    below = np.maximum.accumulate(area[rows])
    above = np.maximum.accumulate(area[rows][::-1])[::-1]
    return int(rows[np.argmax(np.minimum(below, above) / np.maximum(area[rows], 1e-12))])


def _chin(
    y: FloatArray, front: FloatArray, neck_row: int, top: int, expected: float | None
) -> tuple[int, bool]:
    """Row of the chin's underside: a sharp step forward above the neck, going up.

    Lips and nose make further steps. With the eyes known, the chin is as far below them as the
    crown is above ('eyes at half the head height', references 6); else it is the first step.
    """
    reach = max(2, round(CHIN_REACH * (top - neck_row)))
    rows = np.arange(max(neck_row - reach, 1), min(neck_row + reach, top - 3))
    if len(rows) == 0:
        return neck_row, False
    step = front[rows + 2] - front[rows - 1]
    sharp = step >= (0.5 if expected is None else 0.3) * step.max()
    peaks = np.flatnonzero(
        sharp & (step >= np.r_[-np.inf, step[:-1]]) & (step >= np.r_[step[1:], -np.inf])
    )
    if len(peaks) == 0:
        return neck_row, False
    best = int(peaks[0])
    if expected is not None:
        best = int(peaks[np.argmin(np.abs(y[rows[peaks] + 1] - expected))])
    if step[best] < 0.06 * (y[top] - y[neck_row]):
        return neck_row, False
    return int(rows[best] + 1), True
