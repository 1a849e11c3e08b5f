"""Where joint names go: beside the figure, never on one another, with short leader lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.show.ink import Box

__all__ = ["Label", "Tag", "place_around", "place_in_columns"]

Point = tuple[float, float]
FloatArray = NDArray[np.float64]

LINE_SPACE = 1.22
"""Distance of two lines of text, in their height (common practice, no source)."""

MIDDLE = 0.12
"""Part of a figure's width to either side of its middle that counts as the middle (from memory)."""


@dataclass(frozen=True)
class Tag:
    """A name that wants a place."""

    joint: str
    text: str
    anchor: Point
    """The joint on the page, pixels."""
    width: float
    """Width of the text, pixels."""
    group: str = ""
    """Tags of one group (a finger) stay in one column."""


@dataclass(frozen=True)
class Label:
    """A name with its place."""

    joint: str
    text: str
    anchor: Point
    box: Box
    """Where the text stands: left, top, right, bottom, page pixels."""
    elbow: Point
    """Where the leader line leaves the text."""

    @property
    def to_right(self) -> bool:
        """True when the text stands to the right of its joint."""
        return self.elbow[0] <= (self.box[0] + self.box[2]) / 2


def place_in_columns(
    tags: Sequence[Tag],
    panel: Box,
    left_edge: float,
    right_edge: float,
    line: float,
    right_only: bool = False,
) -> tuple[Label, ...]:
    """Names in two columns left and right of a figure, at the heights of their joints.

    The left column ends at `left_edge` (text set flush right), the right one begins at
    `right_edge`; both stay within the panel's top and bottom. `line` is the text's height.
    A group goes to the side it is nearer to, one in the middle to the side with fewer names,
    unless all are wanted on the right.
    """
    groups: dict[str, list[Tag]] = {}
    for tag in tags:
        groups.setdefault(tag.group or tag.joint, []).append(tag)
    centre, width = (left_edge + right_edge) / 2, max(right_edge - left_edge, 1.0)
    columns: dict[bool, list[Tag]] = {False: [], True: []}
    between = []
    for _, group in sorted(groups.items()):
        off = (float(np.mean([tag.anchor[0] for tag in group])) - centre) / width
        if right_only or abs(off) > MIDDLE:
            columns[right_only or off > 0].extend(group)
        else:
            between.append((off, group))
    for off, group in sorted(between, key=lambda item: (-abs(item[0]), item[1][0].joint)):
        fewer = len(columns[True]) < len(columns[False])
        even = len(columns[True]) == len(columns[False])
        columns[off > 0 if even else fewer].extend(group)
    return _column(columns[False], panel, left_edge, False, line) + _column(
        columns[True], panel, right_edge, True, line
    )


def _column(
    tags: list[Tag], panel: Box, edge: float, to_right: bool, line: float
) -> tuple[Label, ...]:
    """One column: as near to the joints' heights as the other names allow."""
    if not tags:
        return ()
    tags = sorted(tags, key=lambda t: (t.anchor[1], t.anchor[0], t.joint))
    space = min(line * LINE_SPACE, (panel[3] - panel[1]) / len(tags))
    wish = np.array([tag.anchor[1] for tag in tags])
    heights = _spread_out(wish, space, panel[1] + line / 2, panel[3] - line / 2)
    _uncross(tags, heights, edge)
    labels = []
    for tag, y in zip(tags, heights, strict=True):
        x0, x1 = (edge, edge + tag.width) if to_right else (edge - tag.width, edge)
        elbow = (edge - 4, float(y)) if to_right else (edge + 4, float(y))
        box = (x0, float(y) - line / 2, x1, float(y) + line / 2)
        labels.append(Label(tag.joint, tag.text, tag.anchor, box, elbow))
    return tuple(labels)


def _spread_out(wish: FloatArray, space: float, top: float, bottom: float) -> FloatArray:
    """Rising heights at least `space` apart and nearest to the rising `wish` (least squares)."""
    # pool adjacent violators on the wish less the space already taken
    blocks: list[tuple[float, int]] = []
    for index, y in enumerate(wish):
        mean, count = float(y) - index * space, 1
        while blocks and blocks[-1][0] > mean:
            before, many = blocks.pop()
            mean = (before * many + mean * count) / (many + count)
            count += many
        blocks.append((mean, count))
    base = np.concatenate([np.full(count, mean) for mean, count in blocks])
    room = bottom - (len(wish) - 1) * space
    result: FloatArray = np.clip(base, top, max(room, top)) + np.arange(len(wish)) * space
    return result


def _uncross(tags: list[Tag], heights: FloatArray, edge: float) -> None:
    """Exchange names whose leader lines cross (changes `tags` in place)."""
    for _ in range(len(tags)):
        changed = False
        for i in range(len(tags)):
            for j in range(i + 1, len(tags)):
                first, second = (edge, float(heights[i])), (edge, float(heights[j]))
                if _cross(tags[i].anchor, first, tags[j].anchor, second):
                    tags[i], tags[j] = tags[j], tags[i]
                    changed = True
        if not changed:
            return


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    """True when the segments a-b and c-d cross."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def _crossings(
    anchor: Point, ex: FloatArray, ey: FloatArray, start: Point, end: Point
) -> NDArray[np.bool_]:
    """(k,) true where the segment from `anchor` to (ex, ey) crosses start-end."""
    ax, ay = ex - anchor[0], ey - anchor[1]
    bx, by = end[0] - start[0], end[1] - start[1]
    ends = [ax * (p[1] - anchor[1]) - ay * (p[0] - anchor[0]) for p in (start, end)]
    own = bx * (anchor[1] - start[1]) - by * (anchor[0] - start[0])
    other = bx * (ey - start[1]) - by * (ex - start[0])
    crossing: NDArray[np.bool_] = (ends[0] * ends[1] < 0) & (own * other < 0)
    return crossing


REACHES = (14, 22, 32, 44, 60, 80, 104, 132, 164, 200)
"""Distances from the joint to its name that are tried, in units of a 16-pixel line over 16."""
DIRECTIONS = 24


def place_around(
    tags: Sequence[Tag],
    panel: Box,
    covered: NDArray[np.bool_],
    line: float,
    taken: Sequence[Box] = (),
) -> tuple[Label, ...]:
    """Names near their joints, on free ground where there is any.

    covered: (height, width) of the page or of its part that starts at the panel's corner: true
    where the figure is. `taken` are boxes no name may touch. Names that find no free place are
    left out, the later ones first.
    """
    sums = np.zeros((covered.shape[0] + 1, covered.shape[1] + 1), dtype=np.int32)
    covered.cumsum(axis=1, dtype=np.int32).cumsum(axis=0, out=sums[1:, 1:])
    anchors = np.array([tag.anchor for tag in tags]).reshape(-1, 2)
    anchor_x, anchor_y = anchors[:, :1], anchors[:, 1:]
    boxes: list[Box] = list(taken)
    leaders: list[tuple[Point, Point]] = []
    labels: list[Label] = []
    turn = np.arange(DIRECTIONS) * (2 * np.pi / DIRECTIONS)
    reach = np.array(REACHES) * line / 16
    dx = np.outer(reach, np.cos(turn)).ravel()
    dy = np.outer(reach, np.sin(turn)).ravel()
    far = np.repeat(reach, DIRECTIONS)
    flat = np.tile(np.abs(np.cos(turn)), len(reach))
    for tag in tags:
        ex, ey = tag.anchor[0] + dx, tag.anchor[1] + dy
        # the text starts at the leader's end, on the side that looks away from the joint
        left = np.where(dx >= -1e-6, ex + 3, ex - 3 - tag.width)
        top = ey - line / 2
        right, bottom = left + tag.width, top + line
        cost = far / line + 0.6 * (1 - flat)
        ok = (left >= panel[0]) & (right <= panel[2]) & (top >= panel[1]) & (bottom <= panel[3])
        for box in boxes:
            gap = 3.0
            ok &= (
                (left > box[2] + gap)
                | (right < box[0] - gap)
                | (top > box[3] + gap / 2)
                | (bottom < box[1] - gap / 2)
            )
        cost += 14 * _share(
            sums, left - panel[0], top - panel[1], right - panel[0], bottom - panel[1]
        )
        beside = (left < anchor_x + 7) & (right > anchor_x - 7)
        beside &= (top < anchor_y + 7) & (bottom > anchor_y - 7)
        cost += 3.0 * np.count_nonzero(beside, axis=0)
        for start, end in leaders:
            cost += 6.0 * _crossings(tag.anchor, ex, ey, start, end)
            cost += 4.0 * (
                (left < max(start[0], end[0]) + 2)
                & (right > min(start[0], end[0]) - 2)
                & (top < max(start[1], end[1]) + 2)
                & (bottom > min(start[1], end[1]) - 2)
            )
        if not ok.any():
            continue
        best = int(np.argmin(np.where(ok, cost, np.inf)))
        box = (float(left[best]), float(top[best]), float(right[best]), float(bottom[best]))
        elbow = (float(ex[best]), float(ey[best]))
        boxes.append(box)
        leaders.append((tag.anchor, elbow))
        labels.append(Label(tag.joint, tag.text, tag.anchor, box, elbow))
    return tuple(labels)


def _share(
    sums: NDArray[np.int32],
    left: FloatArray,
    top: FloatArray,
    right: FloatArray,
    bottom: FloatArray,
) -> FloatArray:
    """Share of each box that is covered, from the summed table."""
    height, width = sums.shape[0] - 1, sums.shape[1] - 1
    x0 = np.clip(left, 0, width).astype(np.int64)
    x1 = np.clip(np.ceil(right), 0, width).astype(np.int64)
    y0 = np.clip(top, 0, height).astype(np.int64)
    y1 = np.clip(np.ceil(bottom), 0, height).astype(np.int64)
    total = sums[y1, x1] - sums[y0, x1] - sums[y1, x0] + sums[y0, x0]
    result: FloatArray = total / np.maximum((x1 - x0) * (y1 - y0), 1)
    return result
