"""A tail that is one skin with the trunk, taken off before the trunk is measured.

A tail's root reaches deep into the level cuts of the hips: with it, the back of the trunk would lie
where the tail is, and pelvis and spine behind the body.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.limb_kinds import leads_as_tail
from autoplace.measure.limb_record import Limb, Limbs
from autoplace.measure.solid import Solid

__all__ = ["without_tails"]

ROOT = 2.5
"""A tail's root flares to this many of its radii, at most (common practice, no source)."""
LEAST_ROOT = 0.03
"""Half of the least height of such a root, fraction of height: what is shorter has no room for a
line from the skin above it to the skin below (common practice, no source)."""
ABOUT = (0.06, 0.2)
"""The back's skin is looked for so far below and above a root, fraction of height: tails begin low
on the trunk (common practice, no source)."""
USUAL = 75.0
"""Percentile of that skin's depths, from behind: a sloping tail's root covers more than half of the
levels, and a back is hollow over the seat (common practice, no source)."""


def without_tails(solid: Solid, limbs: Limbs) -> tuple[Solid, Limbs]:
    """The body's cells without those of tails and of their roots, and the other branches in them.

    Over a root the back is the straight line from the skin above it to the skin below.

    Args:
        solid: the body, working frame. limbs: its branches.

    Returns:
        The same solid and branches where there is no tail.
    """
    others = [limb for limb in limbs.limbs if limb.kind == "other"]
    tails = [limb for limb in others if leads_as_tail(limb.line, limbs.limbs, limbs.seed)]
    if not tails:
        return solid, limbs
    coverage = solid.coverage.copy()
    for tail in tails:
        coverage[solid.index_of(tail.cells)] = 0.0
    for tail in tails:
        _even_root(coverage, solid, tail)
    solid = replace(solid, coverage=coverage)
    kept = (_left_of(limb, solid) for limb in limbs.limbs)
    # what branches off a tail goes with it
    return solid, replace(limbs, limbs=tuple(limb for limb in kept if len(limb.cells)))


def _left_of(limb: Limb, solid: Solid) -> Limb:
    """A branch with those of its cells that are still there."""
    there = solid.inside[solid.index_of(limb.cells)]
    return limb if there.all() else replace(limb, cells=limb.cells[there])


def _even_root(coverage: NDArray[np.float32], solid: Solid, tail: Limb) -> None:
    """Take away, column by column across the body, what stands out behind the back: behind the line
    between the skin above and below the root, and behind what is usual about it."""
    column, row, behind = solid.to_cells(tail.line[0])
    below, above = ABOUT
    about = slice(max(int(row - below / solid.cell), 0), int(row + above / solid.cell) + 1)
    middle = coverage[int(np.clip(np.round(column), 0, len(coverage) - 1))]
    # a tail that slopes leaves the back as far above or below as it begins behind it
    stump = max(_usual_back(middle[about]) - behind, 0.0)
    half = max(ROOT * float(tail.radius[0]), LEAST_ROOT) / solid.cell + stump
    first = max(int(np.floor(row - half)), 0)
    last = min(int(np.ceil(row + half)), coverage.shape[1] - 1)
    rows = np.arange(first, last + 1)
    depth = np.arange(coverage.shape[2])
    left = max(int(np.floor(column - half)), 0)
    for x in range(left, min(int(np.ceil(column + half)) + 1, len(coverage))):
        inside = coverage[x] > 0.5
        usual = _usual_back(coverage[x, about])
        ends = [
            float(np.argmax(inside[end])) if inside[end].any() else usual for end in (first, last)
        ]
        line = np.minimum(np.interp(rows, (first, last), ends), usual)
        coverage[x, first : last + 1][depth[None, :] < line[:, None]] = 0.0


def _usual_back(coverage: NDArray[np.float32]) -> float:
    """The cell at which a body's skin (n, k) lies behind, as far ahead as a quarter of its levels;
    0 where there is none."""
    inside = coverage > 0.5
    back = np.argmax(inside, axis=1)[inside.any(axis=1)]
    return float(np.percentile(back, USUAL)) if len(back) else 0.0
