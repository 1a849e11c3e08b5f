"""How far down the trunk goes, when a gap in it is no crotch: a head that hovers over its
shoulders, a shell that is open at the throat, a chest and a pelvis of rigid parts; nor is the trunk
where only a tail hangs behind the legs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["BESIDE", "HEM_LOSS", "SLOPE", "hangs_behind", "loss_below", "lowest_of_trunk"]

FloatArray = NDArray[np.float64]

WIDEST = 0.06
"""Gap that the trunk may have, fraction of height: what is bridged between limbs, too."""
LEAST_BELOW = 0.045
"""Height of what lies below a gap at least, fraction of height: less may be where knees touch; the
pelvis of a robot two heads tall has as much (own invented figures)."""
OFF_FLOOR, TO_FLOOR = 0.06, 0.2
"""What lies below a gap ends above feet, or is as tall as a skirt; fractions of height."""
CLEARLY = 0.02
"""What hangs behind the legs ends so far behind their middle, fraction of height: a crotch's lowest
cells lie behind it too, but less (common practice, no source)."""
EMPTY = 0.5
"""Share of the area of the body below it that a gap has at most: two thighs over knees that touch
have as much as these, or more (common practice, no source)."""

HEM_LOSS = 3.7
"""How many times more body there is above a hem than below it, at least: 1.1 to 2.6 times above a
crotch, 5.3 to 21 times above a hem (own invented family, 2026-11-25)."""
BESIDE = (0.015, 0.035)
"""Levels above and below that are compared, fraction of height."""
SLOPE = 0.12
"""Up to so far above the lowest of a hem it may end, fraction of height: gowns are often longer
behind (common practice, no source). Looked at so far up, there is 1.3 to 2.8 times as much body
above a crotch as below it, 5.7 times and more above a hem (own invented family, 2026-11-29)."""


def hangs_behind(
    inside: NDArray[np.bool_], middle: NDArray[np.bool_], cell: float
) -> NDArray[np.bool_]:
    """(ny,) levels at which a body's middle holds nothing but what hangs behind its legs: a tail,
    the skirts of a coat. Most of what is beside it lies before it; a staff that is held ahead is
    little, but lies far from the rest's middle. Where the trunk goes on below, nothing hangs: a
    cape behind a throat that is not modelled.

    Args:
        inside: (nx, ny, nz) the body's cells. middle: (ny, nz) those in its middle plane.
        cell: their size, fraction of height.
    """
    at = np.arange(middle.shape[1])
    rest = inside.sum(axis=0) - middle
    foremost = np.where(middle, at, -1).max(axis=1)
    ahead = np.where(at > foremost[:, None] + CLEARLY / cell, rest, 0).sum(axis=1)
    hanging = np.asarray(ahead > 0.5 * rest.sum(axis=1))
    filled = middle.any(axis=1) & ~hanging
    floor = int(np.argmax(inside.any(axis=(0, 2))))
    stretches = np.flatnonzero(np.diff(filled, prepend=False, append=False)).reshape(-1, 2)
    for bottom, top in stretches:
        if _is_trunk((top - bottom) * cell, (bottom - floor) * cell):
            hanging[bottom:] = False
            break
    return hanging


def loss_below(area: FloatArray, y: FloatArray, height: float) -> float:
    """How many times more body there is just above a height than just below it; levels `y` (n,)
    with areas (n,). Infinite where there is nothing below."""
    above = area[(y >= height + BESIDE[0]) & (y <= height + BESIDE[1])]
    below = area[(y >= height - BESIDE[1]) & (y <= height - BESIDE[0])]
    least = float(below.mean()) if len(below) else 0.0
    return float(above.mean()) / least if least > 0.0 and len(above) else np.inf


def lowest_of_trunk(filled: NDArray[np.bool_], area: FloatArray, row: int, cell: float) -> int:
    """The trunk's lowest level, followed down from one of its levels.

    Args:
        filled: (n,) whether the body's middle is solid at a level, from the floor up.
        area: (n,) how much of the body there is at a level, without the arms where they are known.
        row: a level of the trunk or the head, or in a gap between them.
        cell: distance between levels, fraction of height.

    Returns:
        The lowest level of the same stretch of solid middle, or of one below it from which only a
        gap divides it that has no thighs in it.
    """
    floor = int(np.argmax(area > 0))
    low = row
    while True:
        while low > 0 and filled[low - 1]:
            low -= 1
        below = low - 1
        while below >= 0 and not filled[below]:
            below -= 1
        if below < 0 or (low - 1 - below) * cell > WIDEST:
            return low
        bottom = below
        while bottom > 0 and filled[bottom - 1]:
            bottom -= 1
        tall, high = (below + 1 - bottom) * cell, (bottom - floor) * cell
        gap = float(area[below + 1 : low].max(initial=0.0))
        empty = gap < EMPTY * float(np.median(area[bottom : below + 1]))
        if not empty or not _is_trunk(tall, high):
            return low
        low = bottom


def _is_trunk(tall: float, high: float) -> bool:
    """Is what is so tall, and ends so high above the floor, more than knees or feet that touch?"""
    return tall >= LEAST_BELOW and (high >= OFF_FLOOR or tall >= TO_FLOOR)
