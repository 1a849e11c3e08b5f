"""Where a skirt, gown or robe of one piece with the body ends, and what shows of the legs below it.

A crotch parts the body into two thighs that together are hardly thinner than the body above them;
at the hem of a skirt most of the body ends. What reaches the floor as one mass has its hem there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.limb_record import Limb, Limbs
from autoplace.measure.sections import arc_lengths
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_ends import GROWN_HEAD, HIDDEN_PARTING
from autoplace.measure.trunk_gaps import BESIDE, HEM_LOSS, SLOPE, loss_below
from autoplace.measure.trunk_shape import TrunkShape, cells_of_arms

__all__ = ["Hem", "ShownLeg", "find_hem", "limbs_below"]

FloatArray = NDArray[np.float64]

AT_FLOOR = 0.05
"""A body that parts lower than this reaches the floor: a sole and a shoe's upper are as high,
fraction of height (common practice, no source)."""
TUNIC = 2.0
"""Above the height of legs that are hidden anyhow, such a hem has this many times the loss of a
level one, at least: what is broad and ends over the short legs of a big-headed figure, which begin
there, has less (common practice, no source)."""
FLARE = 1.3
"""A skirt's hem over the narrowest cut above it, at least: a wrist that a hand stands on is
narrower than the palm (own invented family: 1.9 and more)."""
GROWN_CROTCH, UNDER_ARMPIT = 0.4, 0.8
"""Under a grown head the waist is looked for above the first height and up to the second share of
the chin's, though arms that are one with the body begin lower: waist and armpit are at .69 and .87
of it (common practice, no source)."""
WAIST_BELOW_ARMS = 0.03
"""The waist is looked for this far below the arms, fraction of height."""
AT_ELBOW = 0.1
"""An arm that begins lower than the other by more leaves the trunk at its elbow, fraction of
height: an upper arm has .186 of it (Drillis & Contini in Winter 2009), and one that is raised
begins a little higher than one that hangs (common practice, no source)."""
LOWEST_WAIST = 0.25
"""A narrowest cut below this height is two ankles over feet, and no waist over a skirt: at two
heads tall the legs part at a quarter (own synthetic characters)."""
LEAST_LEG_SHOWN = 0.8
"""Share of a leg's cells that lie below the hem."""
LEAST_FOOT = 20
"""Cells of a foot that shows, at least."""
ARMS_ALIKE = (0.35, 0.12)
"""Shorter arm over the longer one at least (a sword makes one more than twice as long), and how
much higher one may begin: what is told for a figure by its arms alone must have two of them (own
invented family)."""


@dataclass(frozen=True)
class ShownLeg:
    """What shows of one leg below a hem, working frame."""

    top: FloatArray
    """(3,) middle of the uppermost cut below the hem."""
    low: FloatArray
    """(3,) and"""
    high: FloatArray
    """(3,) corners of the box about all that shows."""


@dataclass(frozen=True)
class Hem:
    """The end of a skirt that is of one piece with the body, working frame."""

    height: float
    """Of the hem, of one that slopes its middle; 0 where it reaches the floor."""
    waist: float
    """Height of the narrowest cut between hem and arms."""
    narrowing: float
    """How much narrower that cut is than the widest above it: 1 for not at all."""
    low: FloatArray
    """(3,) and"""
    high: FloatArray
    """(3,) corners of the box about the skirt just above its hem."""
    shown: Mapping[str, ShownLeg]
    """By side, where part of a leg shows below the hem."""


def find_hem(solid: Solid, limbs: Limbs, trunk: TrunkShape, told: bool = False) -> Hem | None:
    """The hem of a skirt that is of one piece with the body.

    Args:
        solid: the body, working frame. limbs: its branches. trunk: its level cuts, whose crotch
            is the hem where there is one.
        told: whether something else tells that the legs part at a hem, however little ends there.

    Returns:
        The hem, or None where the legs show to the crotch or nothing tells that it is a figure.
    """
    arms = limbs.pair("arm")
    if not _is_figure(limbs, arms, trunk):
        return None
    cover = np.where(cells_of_arms(solid, limbs), np.float32(0.0), solid.coverage)
    area = cover.sum(axis=(0, 2)).astype(np.float64)
    y = solid.origin[1] + np.arange(len(area)) * solid.cell
    parting = float(trunk.crotch[1])
    grown = parting < HIDDEN_PARTING and _has_grown_head(trunk)

    over = np.flatnonzero((y >= parting + BESIDE[0]) & (y <= parting + SLOPE))
    fullest = int(over[np.argmax(area[over])])
    above, height = float(area[fullest]), 0.0
    if parting >= AT_FLOOR:
        below = float(area[(y >= parting - BESIDE[1]) & (y <= parting - BESIDE[0])].mean())
        slopes = above > (1.0 if parting < HIDDEN_PARTING else TUNIC) * HEM_LOSS * below
        # close over the floor a cut below the hem is one of feet, which are as long as a skirt
        if not (told or grown or slopes or loss_below(area, y, parting) >= HEM_LOSS):
            return None
        # where half of the loss is done: a hem that slopes ends at many heights
        full = (y > parting - BESIDE[0]) & (area > 0.5 * (above + below))
        height = max(parting, float(y[np.argmax(full)]) - 0.5 * solid.cell)
    # one arm may leave the trunk only at its elbow: then the higher one tells where the trunk is
    begin = np.array([float(arm.line[0, 1]) for arm in arms])
    highest = float(begin[begin > begin.max() - AT_ELBOW].min()) - WAIST_BELOW_ARMS
    lowest = max(parting + BESIDE[1], float(y[fullest]))
    if grown:
        lowest, highest = GROWN_CROTCH, max(highest, UNDER_ARMPIT * float(trunk.chin[1]))
    rows = np.flatnonzero((y > lowest) & (y < highest))
    if len(rows) < 3:
        return None
    waist = int(rows[np.argmin(area[rows])])
    if not told and (y[waist] < LOWEST_WAIST or not (grown or above >= FLARE * area[waist])):
        return None
    broadest = float(area[waist : int(rows[-1]) + 1].max())
    fullest_cut = cover[:, fullest - 1 : fullest + 2, :].max(axis=1)
    low, high = _box(solid, np.argwhere(fullest_cut > 0.5))
    low[1] = high[1] = height
    shown = _shown_legs(solid, cover, y, parting)
    return Hem(height, float(y[waist]), float(area[waist]) / broadest, low, high, shown)


def _is_figure(limbs: Limbs, arms: list[Limb], trunk: TrunkShape) -> bool:
    """Do two arms that are alike tell a figure, or an arm with a head above it, as where one is
    held before the body and one is on the hip? A head branches off, or its chin shows; an arm that
    reaches below where the body parts may be a leg that was taken for one, and then nothing does.
    """
    if len(arms) == 2 and _alike(arms[0], arms[1]):
        return True
    if any(arm.cells[:, 1].min() < trunk.crotch[1] for arm in limbs.limbs if arm.kind == "arm"):
        return False
    heads = [float(limb.line[0, 1]) for limb in limbs.limbs if limb.kind == "head"]
    heads += [float(trunk.chin[1])] if trunk.chin_seen else []
    return any(arm.line[0, 1] < max(heads, default=0.0) for arm in arms)


def _has_grown_head(trunk: TrunkShape) -> bool:
    """Does a head show that is small for the figure, as on all but small children and dolls?"""
    return trunk.chin_seen and float(trunk.crown[1] - trunk.chin[1]) < GROWN_HEAD * trunk.crown[1]


def _alike(left: Limb, right: Limb) -> bool:
    lengths = sorted(float(arc_lengths(arm.line)[-1]) for arm in (left, right))
    level = abs(float(left.line[0, 1] - right.line[0, 1]))
    return lengths[0] > ARMS_ALIKE[0] * lengths[1] and level < ARMS_ALIKE[1]


def _box(solid: Solid, columns: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
    """Corners of the box about (n, 2) columns of cells; heights are left at 0."""
    low, high = np.zeros(3), np.zeros(3)
    low[[0, 2]] = solid.origin[[0, 2]] + (columns.min(axis=0) - 0.5) * solid.cell
    high[[0, 2]] = solid.origin[[0, 2]] + (columns.max(axis=0) + 0.5) * solid.cell
    return low, high


def _shown_legs(
    solid: Solid, cover: NDArray[np.float32], y: FloatArray, parting: float
) -> dict[str, ShownLeg]:
    """What lies below the hem, left and right of the middle plane."""
    below = y < parting - 0.5 * BESIDE[0]
    points = solid.to_points(np.argwhere((cover > 0.5) & below[None, :, None]))
    shown = {}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        mine = points[sign * points[:, 0] > 0.0]
        if len(mine) < LEAST_FOOT:
            continue
        top = mine[mine[:, 1] > mine[:, 1].max() - 2.5 * solid.cell].mean(axis=0)
        half = 0.5 * solid.cell
        shown[side] = ShownLeg(top, mine.min(axis=0) - half, mine.max(axis=0) + half)
    return shown if len(shown) == 2 else {}


def limbs_below(limbs: Limbs, hem: Hem) -> Limbs:
    """The limbs without legs that are folds of the skirt: a leg shows mostly below the hem."""
    kept = []
    for limb in limbs.limbs:
        under = float((limb.cells[:, 1] < hem.height + BESIDE[0]).mean())
        if limb.kind != "leg" or under > LEAST_LEG_SHOWN:
            kept.append(limb)
    return replace(limbs, limbs=tuple(kept))
