"""Level cuts through a surface: how wide and deep is the figure around its middle at a height?"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.mesh.layers import columns, shell_grid

__all__ = ["SHOULDER_RATIO", "HeadBox", "Span", "find_head", "span_at"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

STEP = 0.0125
"""Distance between cuts, fraction of height."""
CENTRAL = 0.1
"""The crown is looked for this close to the symmetry plane: a raised hand may stand higher."""
JOINED = 0.004
"""Stretches of a cut closer than this are one, fraction of height."""
LOWEST_CHIN = 0.35
"""No head reaches lower, fraction of height: a two-heads-tall figure's chin is at one half
(references on stylised canons), less some for hats."""
NECK_RATIO = 0.8
"""A cut this much narrower than the widest above it is a neck (common practice, no source)."""
NECK_OVER_WAIST = 1.25
"""A neck may be broader than the waist of a thin trunk by this much (own synthetic characters)."""
SHOULDER_RATIO = 1.3
"""A cut this much wider than the widest above it is at the shoulders (common practice, no
source)."""
LEAST_HEAD = 0.09
"""Height of a head at least, fraction of the figure's: a ninth at nine heads tall, less some."""
LEAST_TALL = 0.7
"""Height of a head over its breadth at least (common practice, no source)."""
HEADS_TALL = 7.5
"""Of an ordinary figure, for a guess when nothing shows where the head ends (references on
canons)."""
BRIM = 0.06
"""Height at most of a hat's brim with its curl, fraction of height (own synthetic characters)."""
BRIM_ROUND = 0.6
"""Depth over breadth of a brim at least: level arms have a sixth (common practice, no source)."""
AIRY, AIRY_TIMES = 0.2, 2
"""Share of its box that a head fills at least: with long ears or antlers .24 at least, spikes alone
.16 at most (the even members of the invented family); and how often to look again."""
WALL = 1.0 / 150.0
"""Thickness below which what encloses more than it fills is a wall with an inner side, fraction of
height: thinner than a cell of the solid (`measure.body_limbs.CELL`)."""
AIR_CELLS = 24
"""Cells over the height of a box in which it is looked what a surface encloses."""
NARROW, NARROW_TALL = 0.03, 0.05
"""Half breadth below which nothing is a head (at nine heads tall one has .04), and how tall what is
so narrow must be to stand on a head, as a crest or a plume does, and not to be its top (common
practice, no source)."""
OPEN = 0.05
"""Share of a surface that may face one way and not be faced by another where it is closed."""
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


def span_at(corners: FloatArray, y: float, x: float) -> Span | None:
    """Extent of the cut at height `y` of triangles `corners` (m, 3, 3) around the place `x`.

    Stretches along x that touch (or nearly) count as one; the one that holds `x`, or the nearest,
    is given. None when nothing is cut.
    """
    return _around(_cuts(corners, np.array([y]))[0], x)


def _cuts(corners: FloatArray, levels: FloatArray) -> list[FloatArray]:
    """Per level (evenly spaced, falling) what it cuts: (k, 4) low and high x, low and high z."""
    step = levels[0] - levels[1] if len(levels) > 1 else 1.0
    p, q, r = corners[:, 0, 1], corners[:, 1, 1], corners[:, 2, 1]
    highest, lowest = np.maximum(np.maximum(p, q), r), np.minimum(np.minimum(p, q), r)
    # levels are numbered downward: a triangle meets those between its top and its bottom
    first = np.clip(np.ceil((levels[0] - highest) / step), 0, len(levels))
    last = np.clip(np.floor((levels[0] - lowest) / step), -1, len(levels) - 1)
    count = np.maximum(last - first + 1, 0).astype(np.int64)
    owner = np.repeat(np.arange(len(corners)), count)
    rank = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    level = first.astype(np.int64)[owner] + rank
    y = levels[level]
    low, high = np.full((len(owner), 2), np.inf), np.full((len(owner), 2), -np.inf)
    for i, j in ((0, 1), (1, 2), (2, 0)):
        a, b = corners[owner, i], corners[owner, j]
        rise = b[:, 1] - a[:, 1]
        crossed = (a[:, 1] > y) != (b[:, 1] > y)
        t = (y - a[:, 1]) / np.where(crossed, rise, 1.0)
        point = (a + t[:, None] * (b - a))[:, [0, 2]]
        low = np.where(crossed[:, None], np.minimum(low, point), low)
        high = np.where(crossed[:, None], np.maximum(high, point), high)
    cut = np.isfinite(low[:, 0])
    boxes = np.stack([low[:, 0], high[:, 0], low[:, 1], high[:, 1]], axis=1)[cut]
    order = np.argsort(level[cut], kind="stable")
    ends = np.searchsorted(level[cut][order], np.arange(len(levels) + 1))
    return [boxes[order[a:b]] for a, b in pairwise(ends)]


def _around(boxes: FloatArray, x: float) -> Span | None:
    """The stretch of one cut that holds `x`, or the nearest."""
    if len(boxes) == 0:
        return None
    order = np.argsort(boxes[:, 0], kind="stable")
    low = boxes[order, 0]
    reach = np.maximum.accumulate(boxes[order, 1])
    first = np.concatenate(([0], np.flatnonzero(low[1:] > reach[:-1] + JOINED) + 1))
    last = np.append(first[1:], len(order)) - 1
    starts, ends = low[first], reach[last]
    distance = np.maximum(np.maximum(starts - x, x - ends), 0.0)
    run = int(np.argmin(distance))
    mine = boxes[order[first[run] : last[run] + 1]]
    return Span(
        float(starts[run]), float(ends[run]), float(mine[:, 2].min()), float(mine[:, 3].max())
    )


def _parted(boxes: FloatArray, span: Span) -> bool:
    """Is a cut in two, beside the middle on both sides? Then it is at horns or ears, not a head."""
    if span.x_low <= 0.0 <= span.x_high:
        return False
    near = np.abs(boxes[:, :2]).min(axis=1) < CENTRAL
    return bool((boxes[near, 0] > 0.0).any() and (boxes[near, 1] < 0.0).any())


def find_head(corners: FloatArray) -> HeadBox:
    """A rough box of the head from level cuts of triangles (m, 3, 3), working frame.

    What is mostly air, such as spikes of hair, is no head: then it is sought below.
    """
    head = _head_in(corners)
    for _ in range(AIRY_TIMES):
        if not _is_airy(corners, head):
            break
        below = corners[corners[:, :, 1].min(axis=1) < head.low[1]]
        if not len(below):
            break
        below[:, :, 1] = np.minimum(below[:, :, 1], head.low[1])
        corners, head = below, _head_in(below)
    return head


def _is_airy(corners: FloatArray, head: HeadBox) -> bool:
    """Does a closed surface fill little of the box that is taken for a head?"""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    above = np.clip(corners[:, :, 1] - head.low[1], 0.0, None).mean(axis=1)
    chosen = above > 0
    across = 0.5 * np.cross((b - a)[chosen], (c - a)[chosen])
    total = float(np.linalg.norm(across, axis=1).sum())
    # level sides cancel out on what is closed but for its cut; a mask or a scan is not judged
    if total <= 0 or np.abs(across[:, [0, 2]].sum(axis=0)).max() > OPEN * total:
        return False
    filled = float(above[chosen] @ across[:, 1])
    box = float(np.prod(head.high - head.low))
    if not 0.0 < filled < AIRY * box:
        return False
    # a shell with an inner wall fills little and encloses much
    walled = 2.0 * filled < WALL * total
    return not (walled and _enclosed(corners[chosen], head) > AIRY * box)


def _enclosed(corners: FloatArray, head: HeadBox) -> float:
    """Volume of a head's box that has some of a surface (m, 3, 3) above it and on all four sides;
    between spikes that stand up it is open above."""
    cell = float(head.high[1] - head.low[1]) / AIR_CELLS
    grid = shell_grid(corners, cell)
    walls = columns(grid.occupied([0]))
    within = walls.beyond(1, 1)
    for axis in (0, 2):
        within &= walls.beyond(axis, -1) & walls.beyond(axis, 1)
    middle = grid.origin + (np.argwhere(within) + 0.5) * cell
    inside = np.all((middle > head.low) & (middle < head.high), axis=1)
    return float(inside.sum() * cell**3)


def _head_in(corners: FloatArray) -> HeadBox:
    """A rough box of the head, whatever it is filled with.

    From the top down the head ends at the narrowest cut above the shoulders, where the figure
    gets wider than anything above; where no shoulders are that wide (a big head, a broad hat), at
    the narrowest waist of the outline that widens again below. What stands on the head in two, as
    horns and ears do, is above its top.
    """
    central = np.abs(corners[:, :, 0]) < CENTRAL
    top = float(corners[:, :, 1][central].max(initial=-np.inf))
    if not np.isfinite(top):
        top = float(corners[:, :, 1].max())
    highest = np.maximum(np.maximum(corners[:, 0, 1], corners[:, 1, 1]), corners[:, 2, 1])
    upper = corners[highest > LOWEST_CHIN * top]
    spans: list[tuple[float, Span]] = []
    x = 0.0
    levels = np.arange(top - 0.5 * STEP, LOWEST_CHIN * top, -STEP)
    for y, boxes in zip(levels, _cuts(upper, levels), strict=True):
        span = _around(boxes, x)
        if span is None and spans and top - y > max(s.half_breadth for _, s in spans):
            span = Span(x, x, 0.0, 0.0)  # a head that hovers over its trunk has no narrower neck
        if span is None or (not spans and _parted(boxes, span)):
            continue
        spans.append((float(y), span))
        x = 0.5 * (span.x_low + span.x_high)
    narrow = next((i for i, (_, s) in enumerate(spans) if s.half_breadth > NARROW), 0)
    if narrow and top - spans[narrow][0] > NARROW_TALL:
        top, spans = spans[narrow][0] + 0.5 * STEP, spans[narrow:]
    spans = _above_shoulders(_without_brim(spans), top)
    chin = _neck_height(spans, top)
    bottom = chin
    if bottom is None:
        bottom = top * (1 - 1 / HEADS_TALL)
        broad = max((2.0 * span.half_breadth for y, span in spans if y >= bottom), default=0.0)
        # a head is no broader than tall: that of an ordinary figure would be too small here
        bottom = float(np.clip(top - broad, LOWEST_CHIN * top, bottom))
    inside = [span for y, span in spans if y >= bottom]
    if not inside:
        inside = [span for _, span in spans] or [Span(-0.05, 0.05, -0.05, 0.05)]
    low = np.array([min(s.x_low for s in inside), bottom, min(s.z_low for s in inside)])
    high = np.array([max(s.x_high for s in inside), top, max(s.z_high for s in inside)])
    return HeadBox(low, high, chin is not None)


def _without_brim(spans: list[tuple[float, Span]]) -> list[tuple[float, Span]]:
    """Cuts listed from the top down without those through the brim of a hat: for a short stretch
    far broader than above and below, and round, as level arms are not."""
    if not spans:
        return spans
    breadth = np.array([span.half_breadth for _, span in spans])
    deep = np.array([span.z_high - span.z_low for _, span in spans])
    base = ndimage.grey_opening(breadth, size=2 * round(BRIM / STEP / 2) + 1, mode="nearest")
    brim = (breadth > SHOULDER_RATIO * base) & (deep > BRIM_ROUND * 2.0 * breadth)
    return [one for one, gone in zip(spans, brim, strict=True) if not gone]


def _above_shoulders(spans: list[tuple[float, Span]], top: float) -> list[tuple[float, Span]]:
    """Cuts listed from the top down, to the first at the shoulders."""
    widest = np.inf
    for index, (y, span) in enumerate(spans):
        # a wide dome is not shoulders, nor is a hat below its tip
        deep_enough = top - y > max(2 * LEAST_TALL * widest, LEAST_HEAD)
        if deep_enough and span.half_breadth > SHOULDER_RATIO * widest:
            return spans[: index + 1]
        if y < top - CROWN:
            widest = max(span.half_breadth, widest if np.isfinite(widest) else 0.0)
    return spans


def _neck_height(spans: list[tuple[float, Span]], top: float) -> float | None:
    """Height of the neck in cuts listed from the top down, or None when no neck shows."""
    below = [(y, s.half_breadth) for y, s in spans if y < top - CROWN]
    if len(below) < 3:
        return None
    breadth = np.array([b for _, b in below])
    widest = np.maximum.accumulate(breadth)
    # no neck is so near to the top; between the tips of hair or horns there is air
    low_enough = np.array([y for y, _ in below]) < top - LEAST_HEAD
    narrow = (breadth < NECK_RATIO * widest) & low_enough
    shoulders_seen = top - below[-1][0] > 2 * LEAST_TALL * breadth[:-1].max()
    if shoulders_seen and breadth[-1] > SHOULDER_RATIO * breadth[:-1].max():
        if narrow.any():
            return below[int(np.argmin(np.where(narrow, breadth, np.inf)))][0]
        return below[-2][0]  # straight from the head onto the shoulders
    waists = [
        i
        for i in range(1, len(breadth) - 1)
        if narrow[i]
        and breadth[i] <= breadth[i - 1 : i + 2].min()
        and breadth[i:].max() > breadth[i] / NECK_RATIO
    ]
    if not waists:
        return None
    # a hat over the head makes a waist too, but the neck is narrower; the trunk's may be a little
    # narrower still
    narrowest = float(breadth[waists].min())
    return below[min(i for i in waists if breadth[i] <= NECK_OVER_WAIST * narrowest)][0]
