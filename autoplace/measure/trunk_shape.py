"""The trunk, neck and head as level cuts of the body, and the landmarks read from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.leg_join import legs_join
from autoplace.measure.limb_record import Limbs
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_gaps import lowest_of_trunk
from autoplace.measure.trunk_middle import middle_past_shoulders

__all__ = ["TrunkShape", "cells_of_arms", "measure_trunk", "skin_ends"]

FloatArray = NDArray[np.float64]

CORE_HALF_WIDTH = 0.035
"""Half width of the strip around the middle plane that front and back are read in, fraction of
height: narrower than any neck in the references (neck breadth about .065 S, from memory)."""
CHIN_REACH = 0.22
"""The chin is looked for this far above and below the neck's narrowest cut, as a share of the
stretch from there to the crown; the lips begin at a third (face canon, common practice)."""
CHIN_BELOW_NECK = 0.4
"""A chin that is expected far below the neck's narrowest cut is looked for down to this share of
the head above that cut: on fat necks the cut lies as high as the cheeks (own synthetic
characters)."""
EXPECTED_SPREAD = 0.25
"""Spread of the chin's height about where the eyes let it be expected, share of the head: hats and
hair raise the crown by as much (common practice, no source)."""
LEAST_OVERHANG = 0.06
"""A chin stands ahead of the throat by this share of the head at least (common practice, no
source)."""
CONTACT = 0.6
"""Where the middle plane is thinner than this share of both sides beside it, two thighs touch and
it is no longer the trunk."""
LEAST_HEAD_ROWS = 8
"""Cuts at the top that neck and head have to themselves, whatever limbs begin beside them."""
LEAST_HEAD = 0.05
"""A head's cut over the trunk's at least: nine heads tall it is a quarter; what is less on top is a
spike or a plume (common practice, no source)."""
TOP = 1.0
"""Height of the figure's top: the working frame's own unit."""
SKULL_CUT = 0.15
"""A cut of this share of the head's largest is skull still; ears, horns and tufts are thinner
(common practice, no source)."""
STANDS_OUT = (0.08, 0.16)
"""What stands above the skull by less than the first share of the head is hair and the skull's own
shape, and the crown is the figure's top; by more than the second, it is something on the head and
the crown is the skull's (common practice, no source)."""
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
    """(3,) top of the skull, or of the hair close over it."""
    chin: FloatArray
    """(3,) underside of the chin at the front."""
    neck: FloatArray
    """(3,) middle of the narrowest cut between shoulders and head."""
    neck_radius: float
    """Radius of that cut."""
    chin_seen: bool
    """False when no overhang of a chin showed and the neck's height stands in for it."""
    shoulder_span: float | None = None
    """Length of the trunk, crotch to where a chin would be on a usual neck, as the shoulders tell
    it; None before they are known."""

    @property
    def span(self) -> float:
        """Length that the trunk's proportions are shares of: crotch to chin, or what the shoulders
        tell of it where the neck is long or the chin is hidden."""
        return self.shoulder_span or float(self.chin[1] - self.crotch[1])

    @property
    def heads_tall(self) -> float:
        """Height over head height, chin to crown."""
        return TOP / max(float(self.crown[1] - self.chin[1]), 0.02)

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
        The cuts and landmarks, working frame. Landmarks lie between the cuts where the cuts'
        values say so, so that noise moves them a little and never by a cell.
    """
    in_arms = cells_of_arms(solid, limbs)
    cuts = _level_cuts(solid, in_arms)
    y, front, back = cuts.y, cuts.front, cuts.back
    seed_row = int(np.clip(np.searchsorted(y, limbs.seed[1]), 0, len(y) - 1))
    whole = (solid.inside & ~in_arms).sum(axis=(0, 2)).astype(np.float64)
    low = lowest_of_trunk(cuts.filled > 0.5, whole, seed_row, solid.cell)
    joined = legs_join(solid.inside & ~in_arms, low, solid.cell)
    top = len(y) - 1
    while top > seed_row and cuts.filled[top] <= 0.5:
        top -= 1
    crotch_y = _crossing(y, cuts.filled, low, 0.5)
    if joined is not None:
        low, crotch_y = joined, float(y[joined]) - BELOW_CONTACT
    gaps = np.flatnonzero(cuts.filled[low : seed_row + 1] <= 0.5)
    parted = low + int(gaps[0]) - 1 if len(gaps) else seed_row
    while parted > low and cuts.notch[parted - 1] > CONTACT:
        parted -= 1
    if parted > low:
        crotch_y = max(crotch_y, _crossing(y, cuts.notch, parted, CONTACT) - BELOW_CONTACT)
    # tufts of hair and ears may pass for arms: of each side only the longest is one
    arms = limbs.pair("arm")
    neck_low = np.searchsorted(y, max((arm.line[0, 1] for arm in arms), default=0.6 * y[top]))
    neck_y = _narrowest(y, cuts.area, min(int(neck_low), top - LEAST_HEAD_ROWS), top)
    crown_y = _crown(y, cuts.filled_area, neck_y)
    chin_y = _chin(y, front, (neck_y, crown_y), eye_height)
    seen = chin_y is not None
    chin_y = neck_y if chin_y is None else chin_y
    # the crown lies where the line of the head's middles leaves it: a head may lean
    head = np.arange(min(int(np.searchsorted(y, chin_y)), top - 1), top + 1)
    weight = np.sqrt(np.maximum(cuts.area[head], 1e-9))
    _, head_x = np.polyfit(y[head] - crown_y, cuts.middle[head], 1, w=weight)

    def at(height: float, values: FloatArray) -> float:
        return float(np.interp(height, y, values))

    rows = slice(low, top + 1)
    return TrunkShape(
        y=y[rows],
        middle_x=ndimage.gaussian_filter1d(
            middle_past_shoulders(y, cuts.middle, arms, neck_y)[rows], 2.0
        ),
        width=cuts.width[rows],
        front=ndimage.gaussian_filter1d(front[rows], 1.0),
        back=ndimage.gaussian_filter1d(back[rows], 1.0),
        crotch=np.array([0.0, crotch_y, 0.5 * (front[low] + back[low])]),
        crown=np.array([float(head_x), crown_y, 0.5 * (front[top] + back[top])]),
        chin=np.array([at(chin_y, cuts.middle), chin_y, at(chin_y, front)]),
        neck=np.array(
            [at(neck_y, cuts.middle), neck_y, 0.5 * (at(neck_y, front) + at(neck_y, back))]
        ),
        neck_radius=0.5 * float(np.sqrt(at(neck_y, cuts.area))),
        chin_seen=seen,
    )


def cells_of_arms(solid: Solid, limbs: Limbs) -> NDArray[np.bool_]:
    """(nx, ny, nz) True in the arms: one arm at a level must not pull the middle to its side."""
    arms = np.zeros(solid.inside.shape, dtype=bool)
    for limb in limbs.limbs:
        if limb.kind == "arm":
            arms[solid.index_of(limb.cells)] = True
    return arms


@dataclass(frozen=True)
class _Cuts:
    """Level cuts from the floor to the top of the grid, one a row of cells: (n,) each."""

    y: FloatArray
    middle: FloatArray
    """x of the middle region's centroid."""
    width: FloatArray
    front: FloatArray
    back: FloatArray
    area: FloatArray
    """Of the region's box, since a mouth's hollow takes away from the cut itself."""
    filled_area: FloatArray
    """Of the cut itself."""
    filled: FloatArray
    """Coverage in the middle at its fullest: above one half the middle is solid."""
    notch: FloatArray
    """How thick the middle is against the thinner of its two sides."""


def _level_cuts(solid: Solid, arms: NDArray[np.bool_]) -> _Cuts:
    """Cut the solid level by level.

    The region of a level is the one through the middle plane; it is followed sideways from the
    level before, so that a head which leans stays the head.
    """
    labels = ndimage.label(solid.inside, structure=_level_structure())[0]
    count = solid.inside.shape[1]
    y = solid.origin[1] + np.arange(count) * solid.cell
    width, middle, front, back, area, filled_area = (np.zeros(count) for _ in range(6))
    filled, notch = np.zeros(count), np.zeros(count)
    x_now = 0.0
    for row in range(count):
        level, shares = labels[:, row, :], solid.coverage[:, row, :]
        column, part = _columns(solid, x_now)
        core = (1.0 - part) * shares[column] + part * shares[column + 1]
        # below mid-height only the middle itself: thighs stand close beside it
        beside = 1 if row > 0.5 * count else 0
        near = level[max(column - beside, 0) : column + 2 + beside]
        found = near[near > 0]
        filled[row] = shares[column : column + 2].max() if beside else core.max()
        if len(found) == 0 or (filled[row] <= 0.5 and not beside):
            middle[row] = x_now
            continue
        filled[row] = max(filled[row], 0.5001) if beside else filled[row]
        region = level == np.bincount(found).argmax()
        cover = shares * (ndimage.binary_dilation(region) & (region | (level == 0)))
        left, right = skin_ends(cover.max(axis=1)[None])
        rear, fore = skin_ends(cover.max(axis=0)[None])
        width[row] = (right[0] - left[0]) * solid.cell
        filled_area[row] = float(cover.sum()) * solid.cell**2
        area[row] = width[row] * (fore[0] - rear[0]) * solid.cell
        back[row], front[row] = _skin(cover, solid, x_now)
        thick = cover.sum(axis=1)
        sides = min(float(thick[: column + 1].max()), float(thick[column + 1 :].max()))
        own = (1.0 - part) * thick[column] + part * thick[column + 1]
        notch[row] = own / max(sides, 1.0)
        if (region & ~arms[:, row, :]).any():
            cover = cover * ~arms[:, row, :]
        centre = float((cover.sum(axis=1) @ np.arange(len(region))) / max(float(cover.sum()), 1e-9))
        middle[row] = solid.origin[0] + centre * solid.cell
        if row > 0.5 * count:
            x_now = float(np.clip(middle[row], x_now - solid.cell, x_now + solid.cell))
    is_solid = filled > 0.5
    for values in (front, back):
        values[~is_solid] = np.interp(y[~is_solid], y[is_solid], values[is_solid])
    return _Cuts(y, middle, width, front, back, area, filled_area, filled, notch)


def _columns(solid: Solid, x: float) -> tuple[int, float]:
    """The column of cells before a place across the body, and how far on to the next it lies."""
    place = float(np.clip((x - solid.origin[0]) / solid.cell, 0.0, solid.coverage.shape[0] - 1.001))
    return int(place), place - int(place)


def _skin(cover: FloatArray, solid: Solid, x: float) -> tuple[float, float]:
    """Back and front skin of a region's coverage (nx, nz) in a strip around a place across."""
    half = CORE_HALF_WIDTH / solid.cell
    place = (x - solid.origin[0]) / solid.cell
    first = max(int(np.ceil(place - half)), 1)
    last = min(int(np.floor(place + half)), len(cover) - 2)
    rear, fore = skin_ends(cover)
    there: NDArray[np.bool_] = np.asarray(cover.max(axis=1) > 0.5)
    inner = np.zeros_like(there)
    inner[first : last + 1] = True
    inner = there & inner if (there & inner).any() else there
    low, high = float(rear[inner].min()), float(fore[inner].max())
    # the strip ends between two columns
    for own, beyond, over in (
        (first, first - 1, first - place + half),
        (last, last + 1, place + half - last),
    ):
        if there[own] and there[beyond]:
            low = min(low, float(rear[own] + over * (rear[beyond] - rear[own])))
            high = max(high, float(fore[own] + over * (fore[beyond] - fore[own])))
    return float(solid.origin[2] + low * solid.cell), float(solid.origin[2] + high * solid.cell)


def skin_ends(cover: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where coverage (n, k) first rises and last falls through one half, in cells: (n,) each."""
    padded = np.pad(cover, ((0, 0), (1, 1)))
    inside = padded > 0.5
    rows = np.arange(len(padded))
    first = np.argmax(inside, axis=1)
    last = padded.shape[1] - 1 - np.argmax(inside[:, ::-1], axis=1)
    first, last = np.maximum(first, 1), np.minimum(last, padded.shape[1] - 2)
    ends = []
    for place, step in ((first, -1), (last, 1)):
        own, next_one = padded[rows, place], padded[rows, place + step]
        share = (own - 0.5) / np.maximum(own - next_one, 1e-6)
        ends.append(place - 1 + step * np.clip(share, 0.0, 1.0))
    return ends[0], ends[1]


def _crossing(y: FloatArray, values: FloatArray, row: int, level: float) -> float:
    """Height at which values fall through a level, going down from a row above it to the next."""
    if row == 0:
        return float(y[0])
    fall = max(float(values[row] - values[row - 1]), 1e-9)
    share = float(np.clip((values[row] - level) / fall, 0.0, 1.0))
    return float(y[row] - share * (y[row] - y[row - 1]))


def _level_structure() -> NDArray[np.bool_]:
    """Connectivity within a level only."""
    structure = np.zeros((3, 3, 3), dtype=bool)
    structure[:, 1, :] = ndimage.generate_binary_structure(2, 1)
    return structure


def _narrowest(y: FloatArray, area: FloatArray, low: int, top: int) -> float:
    """Height that is most clearly narrower than what lies below and above it."""
    rows = np.arange(low, top + 1)
    below = np.maximum.accumulate(area[rows])
    above = np.maximum.accumulate(area[rows][::-1])[::-1]
    clear = np.minimum(below, above) / np.maximum(area[rows], 1e-12)
    head = above >= LEAST_HEAD * below.max()
    return _peak(y[rows], clear, int(np.argmax(np.where(head, clear, 0.0))))


def _peak(y: FloatArray, values: FloatArray, row: int) -> float:
    """Height of a peak at a row, by the parabola through it and its neighbours."""
    if row in (0, len(y) - 1):
        return float(y[row])
    before, here, after = (float(v) for v in values[row - 1 : row + 2])
    curve = before - 2.0 * here + after
    share = 0.5 * (before - after) / curve if curve < -1e-12 else 0.0
    return float(y[row] + np.clip(share, -0.5, 0.5) * (y[1] - y[0]))


def _crown(y: FloatArray, area: FloatArray, neck: float) -> float:
    """Height of the skull's top, which horns, ears and tufts may stand far above.

    From the skull's widest cut up, its cuts shrink as an ellipsoid's do: to a share s of the widest
    at sqrt(1 - s) of the way to the top.
    """
    rows = np.flatnonzero(y > neck)
    if len(rows) < LEAST_HEAD_ROWS:
        return TOP
    shares = area / max(float(area[rows].max()), 1e-12)
    widest = int(rows[np.argmax(shares[rows])])
    thin = widest + np.flatnonzero(shares[widest:] < SKULL_CUT)
    if not len(thin):
        return TOP
    last = _crossing(y, -shares, int(thin[0]), -SKULL_CUT)
    middle = float(y[widest])
    skull = middle + (last - middle) / float(np.sqrt(1.0 - SKULL_CUT))
    low, high = STANDS_OUT
    above = (TOP - skull) / max(skull - neck, 1e-9)
    share = float(np.clip((above - low) / (high - low), 0.0, 1.0))
    return TOP - share * (TOP - skull)


def _chin(
    y: FloatArray, front: FloatArray, ends: tuple[float, float], eyes: float | None
) -> float | None:
    """Height of the chin's underside: a sharp step forward above the neck, going up.

    Lips and nose make further steps. With the eyes known, the chin is as far below them as the
    crown is above ('eyes at half the head height', references 6); else it is the first step.
    """
    cell = float(y[1] - y[0])
    neck, crown = ends
    expected = None if eyes is None else 2.0 * eyes - crown
    if expected is None:
        reach = CHIN_REACH * (crown - neck)
        low, high, head = neck - reach, neck + reach, crown - neck
    else:
        head = crown - expected
        low, high = expected - head, expected + 0.6 * head
        if neck < 0.5 * (expected + crown):
            # what hides the skull's top lowers what is expected
            low = max(low, neck - CHIN_BELOW_NECK * (crown - neck))
    rows = np.flatnonzero((y > low) & (y < min(high, crown - 3.0 * cell)))
    rows = rows[rows >= 1]
    if len(rows) < 3:
        return None
    step = front[rows + 2] - front[rows - 1]
    peaks = (step >= np.r_[-np.inf, step[:-1]]) & (step >= np.r_[step[1:], -np.inf])
    if expected is None:
        best = int(np.argmax(peaks & (step >= 0.5 * step.max())))
    else:
        # a small step where the chin is expected, or a larger one farther from there
        away = (y[rows] + 0.5 * cell - expected) / (EXPECTED_SPREAD * head)
        best = int(np.argmax(np.where(peaks, step * np.exp(-0.5 * away**2), -np.inf)))
    if step[best] < LEAST_OVERHANG * head:
        return None
    # the step's own height is where it is half done
    below = int(rows[best]) - 1
    half = 0.5 * (front[below] + front[below + 3])
    above = below + 1 + int(np.argmax(front[below + 1 : below + 4] >= half))
    return _crossing(y, front, above, float(half))
