"""Level cuts through a surface: how wide and deep is the figure around its middle at a height?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["HeadBox", "Span", "find_head", "span_at"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

STEP = 0.0125
"""Distance between cuts, fraction of height."""
CENTRAL = 0.1
"""The crown is looked for this close to the symmetry plane: a raised hand may stand higher."""
LOWEST_CHIN = 0.35
"""No head reaches lower, fraction of height: a two-heads-tall figure's chin is at one half
(references on stylised canons), less some for hats."""
NECK_RATIO = 0.8
"""A cut this much narrower than the widest above it is a neck (common practice, no source)."""
SHOULDER_RATIO = 1.3
"""A cut this much wider than the widest above it is at the shoulders (common practice, no
source)."""
CROWN = 0.03
"""Cuts this close under the top are not yet the head's breadth."""


@dataclass(frozen=True)
class Span:
    """Extent of one level cut around a given x, working frame."""

    x_low: float
    x_high: float
    z_low: float
    z_high: float

    @property
    def half_breadth(self) -> float:
        """Half the extent along x."""
        return 0.5 * (self.x_high - self.x_low)


@dataclass(frozen=True)
class HeadBox:
    """A rough box of the head, hair and hat included, working frame."""

    low: FloatArray
    high: FloatArray
    certain: bool
    """False when neither a neck nor shoulders were seen and the box is a guess."""


def span_at(corners: FloatArray, y: float, x: float, gap: float = 0.004) -> Span | None:
    """Extent of the cut at height `y` of triangles `corners` (m, 3, 3) around the place `x`.

    Stretches along x that touch (or come closer than `gap`) count as one; the one that holds `x`,
    or the nearest, is given. None when nothing is cut.
    """
    heights = corners[:, :, 1]
    crossing = np.flatnonzero((heights.min(axis=1) <= y) & (heights.max(axis=1) > y))
    if len(crossing) == 0:
        return None
    chosen = corners[crossing]
    above = chosen[:, :, 1] > y
    points_x = np.empty((len(chosen), 2))
    points_z = np.empty((len(chosen), 2))
    filled = np.zeros(len(chosen), dtype=np.int64)
    for i, j in ((0, 1), (1, 2), (2, 0)):
        cut = np.flatnonzero(above[:, i] != above[:, j])
        a, b = chosen[cut, i], chosen[cut, j]
        t = ((y - a[:, 1]) / (b[:, 1] - a[:, 1]))[:, None]
        point = a + t * (b - a)
        points_x[cut, filled[cut]] = point[:, 0]
        points_z[cut, filled[cut]] = point[:, 2]
        filled[cut] += 1
    low, high = points_x.min(axis=1), points_x.max(axis=1)
    order = np.argsort(low, kind="stable")
    reach = np.maximum.accumulate(high[order])
    first = np.concatenate(([0], np.flatnonzero(low[order][1:] > reach[:-1] + gap) + 1))
    last = np.append(first[1:], len(order)) - 1
    starts, ends = low[order][first], reach[last]
    distance = np.maximum(np.maximum(starts - x, x - ends), 0.0)
    chosen_run = int(np.argmin(distance))
    mine = order[first[chosen_run] : last[chosen_run] + 1]
    return Span(
        float(starts[chosen_run]),
        float(ends[chosen_run]),
        float(points_z[mine].min()),
        float(points_z[mine].max()),
    )


def find_head(corners: FloatArray) -> HeadBox:
    """A rough box of the head from level cuts of triangles (m, 3, 3), working frame.

    From the top down the head ends where a cut is much narrower than the widest above it (the
    neck), or much wider (the shoulders).
    """
    central = np.abs(corners[:, :, 0]) < CENTRAL
    top = float(corners[:, :, 1][central].max(initial=-np.inf))
    if not np.isfinite(top):
        top = float(corners[:, :, 1].max())
    upper = corners[corners[:, :, 1].max(axis=1) > LOWEST_CHIN * top]
    x = 0.0
    spans: list[tuple[float, Span]] = []
    widest, chin, certain = 0.0, top * (1 - 1 / 7.5), False
    narrowest = np.inf
    for y in np.arange(top - 0.5 * STEP, LOWEST_CHIN * top, -STEP):
        span = span_at(upper, float(y), x)
        if span is None:
            continue
        breadth = span.half_breadth
        if y < top - CROWN:
            if widest > 0 and breadth > SHOULDER_RATIO * max(widest, 1e-6):
                chin, certain = float(y) + STEP, True
                break
            if breadth < NECK_RATIO * widest and breadth < narrowest:
                narrowest, chin, certain = breadth, float(y), True
            elif certain and breadth > SHOULDER_RATIO * narrowest:
                break
        widest = max(widest, breadth)
        spans.append((float(y), span))
        x = 0.5 * (span.x_low + span.x_high)
    inside = [span for y, span in spans if y >= chin]
    if not inside:
        inside = [span for _, span in spans] or [Span(-0.05, 0.05, -0.05, 0.05)]
    low = np.array([min(s.x_low for s in inside), chin, min(s.z_low for s in inside)])
    high = np.array([max(s.x_high for s in inside), top, max(s.z_high for s in inside)])
    return HeadBox(low, high, certain)
