"""The centreline of one finger: where the middle of its sections runs, and how thick they are.

Method: starting from the means of cells of equal distance from the forearm, every cell of the
finger is assigned to its place along the line, and the means of the covered share of the cells in
soft slices give the next line. Two rounds settle it; in the second, the web's cells are left out.
Because partly covered cells count by their share, a section's middle is good to a small part of a
cell.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.cell_graph import CellGraph
from autoplace.measure.finger_branches import Branch
from autoplace.measure.finger_root import follow_down
from autoplace.measure.sections import arc_lengths

__all__ = ["FingerLine", "finger_cells", "trace_finger"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SLICE = 1.5
"""Distance of neighbouring slices, in cells."""
STUB_LEVELS = 5
"""Levels that a short finger's line is begun with, at least."""
STIFF = 0.5
"""Length over which a finger's line is smoothed, in its radii, one standard deviation: no finger
bends more sharply than about its radius."""
ROOT_SHARE = 0.35
"""Share of the free finger that its direction at the root is taken from: within its first bone."""
ROOT_FADE = 0.15
"""Over this share on either side sections count less and less for it."""
BELOW = 2.5
"""How far about its beginning the flesh below a line is looked for, in radii."""
ROOT_AIM = 2.0
"""Length of the first part of a line from which it is followed down into the palm, in radii."""
HOOK = 0.2
"""First sections whose middles lie farther than this beside the finger's axis, in its radii, are
left out."""
OWN = 1.3
"""Cells of the root farther than this from the finger's axis, in its radii, are the web's."""


@dataclass(frozen=True)
class FingerLine:
    """A finger's centreline from its web to its end, in the frame of the solid."""

    points: FloatArray
    """(n, 3) middles of the sections, the last one at the end of the finger."""
    arc: FloatArray
    """(n,) length along the line from the web; the first whole section lies a little beyond."""
    tangents: FloatArray
    """(n, 3) unit directions towards the tip."""
    half_width: FloatArray
    """(n,) radius of a disc of the section's area; the last is 0."""
    web: float
    """Distance from the forearm at the web, through the inside."""
    tip_distance: float
    """Distance from the forearm at the tip, through the inside."""

    @property
    def length(self) -> float:
        """From the web to the end of the finger."""
        return float(self.arc[-1])

    @property
    def tip(self) -> FloatArray:
        """(3,) the end of the finger."""
        return self.points[-1]

    @cached_property
    def root_aim(self) -> FloatArray:
        """(3,) unit direction of the first third of the finger, counted from its web."""
        return self.axis_from(0.0)[1]

    def axis_from(self, arc: float) -> tuple[FloatArray, FloatArray]:
        """Axis of the finger's first third, less what lies below a length along it.

        Args:
            arc: length along the line from its web.

        Returns:
            A point (3,) on the axis and its unit direction (3,) towards the tip.
        """
        share = self.arc / self.arc[-1]
        least = arc / self.arc[-1]
        low, high = least - ROOT_FADE, max(ROOT_SHARE, least + ROOT_FADE) + ROOT_FADE
        weight = np.clip(np.minimum(share - low, high - share) / ROOT_FADE, 0.0, 1.0)
        if (weight > 0.0).sum() < 4:
            weight = np.zeros(len(share))
            weight[: min(4, len(weight))] = 1.0
        middle = weight @ self.points / weight.sum()
        _, _, axes = np.linalg.svd((self.points - middle) * np.sqrt(weight)[:, None])
        aim = axes[0] * np.sign(np.dot(axes[0], self.points[-1] - self.points[0]))
        return np.asarray(middle), np.asarray(aim)

    def starting_at(self, arc: float) -> FingerLine:
        """The same line with lengths counted from another place along it."""
        return replace(self, arc=self.arc - arc)

    def beside(self, point: FloatArray) -> float:
        """Length along the line, straight on before its start, where a point lies beside it."""
        gap = np.linalg.norm(self.points - point, axis=1)
        k = int(np.argmin(gap))
        return float(self.arc[k] + np.dot(point - self.points[k], self.tangents[k]))

    def at(self, arc: float | FloatArray) -> FloatArray:
        """Points at lengths along the line (any shape); straight on beyond both ends."""
        s = np.asarray(arc, dtype=np.float64)
        inner = np.clip(s, self.arc[0], self.arc[-1])
        middle = np.stack(
            [np.interp(inner, self.arc, self.points[:, i]) for i in range(3)], axis=-1
        )
        low = np.minimum(s - self.arc[0], 0.0)[..., None] * self.tangents[0]
        high = np.maximum(s - self.arc[-1], 0.0)[..., None] * self.tangents[-1]
        return np.asarray(middle + low + high)

    def radius_at(self, arc: float | FloatArray) -> FloatArray:
        """Half-width at lengths along the line."""
        return np.asarray(np.interp(arc, self.arc, self.half_width))

    def typical_radius(self) -> float:
        """Median half-width of the middle of the finger."""
        inner = (self.arc > 0.15 * self.length) & (self.arc < 0.75 * self.length)
        return float(np.median(self.half_width[inner] if inner.any() else self.half_width[:-1]))


def finger_cells(graph: CellGraph, branches: list[Branch]) -> list[tuple[FloatArray, FloatArray]]:
    """Cells of each finger with the partly covered ones around it: centres (k, 3), shares (k,)."""
    coverage = graph.solid.coverage
    shape = np.array(coverage.shape)
    padded = np.zeros(shape + 2, dtype=np.int16)
    core = padded[1:-1, 1:-1, 1:-1]
    core[tuple(graph.index.T)] = 1
    for number, branch in enumerate(branches):
        core[tuple(graph.index[branch.cells].T)] = number + 2
    partial = np.argwhere((coverage > 0.02) & (coverage <= 0.5))
    strides = np.array([padded.shape[1] * padded.shape[2], padded.shape[2], 1])
    flat = (partial + 1) @ strides
    beside = np.stack([padded.ravel()[flat + sign * s] for s in strides for sign in (-1, 1)])
    touches = [(beside == number + 2).any(axis=0) for number in range(len(branches))]
    owners = np.sum(touches, axis=0)
    result = []
    for branch, mine in zip(branches, touches, strict=True):
        index = np.concatenate([graph.index[branch.cells], partial[mine]])
        shares = coverage[tuple(index.T)].astype(np.float64)
        # a cell between two fingers is half of each
        shares[len(branch.cells) :] /= owners[mine]
        result.append((graph.solid.to_points(index), shares))
    return result


def trace_finger(
    graph: CellGraph, branch: Branch, points: FloatArray, shares: FloatArray
) -> FingerLine | None:
    """Centreline of one finger.

    Args:
        graph: the hand's cells.
        branch: the finger.
        points: (k, 3) its cells with the partly covered ones.
        shares: (k,) covered share of each.

    Returns:
        The line, or None when the finger is too short to have a direction.
    """
    cell = graph.solid.cell
    if not len(branch.cells):
        return None
    line = _levels(graph, branch)
    if len(line) < 4:
        return None
    line = _smooth(line, _rounds(_radius(graph, branch) / cell))
    line, area = _slices(line, points, shares, cell)
    if len(line) < 4:
        return None
    line = _smooth(line, _rounds(float(np.sqrt(np.median(area) / np.pi)) / cell) - 1)
    own = _own_cells(line, float(np.sqrt(np.median(area) / np.pi)), points)
    line, area = _slices(line, points[own], shares[own], cell)
    if len(line) < 4:
        return None
    line = _smooth(line, _rounds(float(np.sqrt(np.median(area) / np.pi)) / cell) - 1)
    # a thick thumb pressed to the hand is hardly longer than broad: better hooked than lost
    straight = _without_hook(line, area)
    if len(straight[0]) >= 4:
        line, area = straight
    half_width = np.sqrt(area / np.pi)
    # near the end the slices are domes: their middle is the finger's, their size says nothing
    end = _end_of(graph, line, half_width)
    step = np.linalg.norm(np.diff(line, axis=0), axis=1)
    before = np.concatenate([[0.0], np.cumsum(step)])
    aim = end - line[-1]
    if np.dot(aim, line[-1] - line[-2]) <= 0.0:
        line, half_width, before = line[:-1], half_width[:-1], before[:-1]
    line = np.concatenate([line, end[None]])
    arc = np.append(before, before[-1] + np.linalg.norm(end - line[-2]))
    radius = float(np.median(half_width[:-1]))
    first = before <= max(ROOT_AIM * radius, float(before[min(3, len(before) - 1)]))
    _, _, axes = np.linalg.svd(line[: len(before)][first] - line[: len(before)][first].mean(axis=0))
    aim = axes[0] * np.sign(np.dot(axes[0], line[int(first.sum()) - 1] - line[0]))
    below = follow_down(graph.solid, line[0], aim, radius, _flesh_below(graph, line[0], radius))
    if len(below):
        line = np.concatenate([below, line])
        half_width = np.concatenate([np.full(len(below), half_width[0]), half_width])
        steps = np.linalg.norm(np.diff(line[: len(below) + 1], axis=0), axis=1)
        arc = np.concatenate([-np.cumsum(steps[::-1])[::-1], arc])
    tangents = np.gradient(line, arc, axis=0)
    tangents /= np.linalg.norm(tangents, axis=1, keepdims=True)
    return FingerLine(line, arc, tangents, np.append(half_width, 0.0), branch.root, branch.tip)


def _flesh_below(graph: CellGraph, start: FloatArray, radius: float) -> FloatArray:
    """Cells (k, 3) about the beginning of a line from which the way to the wrist is shorter."""
    gap = np.linalg.norm(graph.points - start, axis=1)
    here = float(graph.distance[np.argmin(gap)])
    return graph.points[(gap < BELOW * radius) & (graph.distance < here - 0.5 * radius)]


def _levels(graph: CellGraph, branch: Branch) -> FloatArray:
    """Means of cells of equal distance from the forearm; without the ones next to the end, which
    lie in the corner that happens to be farthest."""
    cell = graph.solid.cell
    inner = graph.points[branch.cells]
    away = graph.distance[branch.cells]
    length = max(branch.tip - branch.root, cell)
    radius = _radius(graph, branch)
    # all but the end of a finger may be grown to the hand: its stub is cut finer
    step = cell * float(np.clip(length / cell / STUB_LEVELS, 1.0, 2.0))
    edges = np.arange(branch.root, branch.tip + step, step)
    which = np.clip(np.digitize(away, edges) - 1, 0, len(edges) - 2)
    count = np.bincount(which, minlength=len(edges) - 1)
    sums = [np.bincount(which, inner[:, i], minlength=len(edges) - 1) for i in range(3)]
    kept = count > 0
    kept[4:] &= edges[4:-1] < branch.tip - min(radius, 0.4 * length)
    return np.stack(sums, axis=1)[kept] / count[kept, None]


def _radius(graph: CellGraph, branch: Branch) -> float:
    """Of a round rod of the branch's volume and length."""
    cell = graph.solid.cell
    length = max(branch.tip - branch.root, cell)
    return float(np.sqrt(len(branch.cells) * cell**3 / np.pi / length))


def _rounds(radius: float) -> int:
    """How often the middles of slices are smoothed: over `STIFF` of the radius, given in cells. The
    broader a finger is, the more a slight turn of its line moves cells from slice to slice."""
    return max(round(2.0 * (STIFF * radius / SLICE) ** 2), 2)


def _root_axis(line: FloatArray, radius: float) -> tuple[FloatArray, FloatArray, float] | None:
    """Axis of the finger's free part next to its root: start (3,), unit aim (3,), arc at start."""
    arc = arc_lengths(line)
    free = arc >= min(0.3 * arc[-1], 2.0 * radius)
    near = free & (arc <= arc[free][0] + max(0.35 * arc[-1], 4.0 * (arc[1] - arc[0])))
    if near.sum() < 3:
        return None
    middle = line[near].mean(axis=0)
    _, _, axes = np.linalg.svd(line[near] - middle)
    aim = axes[0] * np.sign(np.dot(axes[0], line[-1] - line[0]))
    first = int(np.argmax(free))
    return middle + aim * np.dot(line[first] - middle, aim), aim, float(arc[first])


def _own_cells(line: FloatArray, radius: float, points: FloatArray) -> NDArray[np.bool_]:
    """Cells that are no part of the web: near to the finger's axis, drawn straight to its root."""
    axis = _root_axis(line, radius)
    if axis is None:
        return np.ones(len(points), dtype=bool)
    start, aim, arc = axis
    along = (points - start) @ aim
    gap = np.linalg.norm(points - start - along[:, None] * aim, axis=1)
    # the end of a strongly bent finger may lie below its middle
    close = np.linalg.norm(points - start, axis=1) < arc + 2.0 * radius
    return (along >= 0.0) | (gap <= OWN * radius) | ~close


def _without_hook(line: FloatArray, area: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The line without first sections that a web has pulled to its side."""
    radius = float(np.sqrt(np.median(area) / np.pi))
    axis = _root_axis(line, radius)
    if axis is None:
        return line, area
    start, aim, _ = axis
    offset = line - start
    along = offset @ aim
    beside = np.linalg.norm(offset - along[:, None] * aim, axis=1)
    pulled = np.flatnonzero((along < 0.0) & (beside > HOOK * radius))
    first = int(pulled[-1]) + 1 if len(pulled) else 0
    return line[first:], area[first:]


def _slices(
    line: FloatArray, points: FloatArray, shares: FloatArray, cell: float
) -> tuple[FloatArray, FloatArray]:
    """Middles and areas of soft slices of cells along a line."""
    step = np.linalg.norm(np.diff(line, axis=0), axis=1)
    arc = np.concatenate([[0.0], np.cumsum(step)])
    place = _project(line, arc, points)
    width = SLICE * cell
    low, high = place.min(), place.max()
    number = max(int(np.ceil((high - low) / width)), 1)
    where = (place - low) / width
    base = np.clip(np.floor(where).astype(np.int64), 0, number - 1)
    part = where - base
    total = np.zeros(number + 1)
    sums = np.zeros((number + 1, 3))
    for offset, weight in ((0, shares * (1.0 - part)), (1, shares * part)):
        total += np.bincount(base + offset, weight, minlength=number + 1)
        for axis in range(3):
            sums[:, axis] += np.bincount(base + offset, weight * points[:, axis], number + 1)
    area = total * cell**3 / width
    good = total > 0.15 * np.median(total[total > 0])
    # the web is no flat cut: slices below it hold only a part of the section
    typical = np.median(total[good])
    first = int(np.argmax(total > 0.8 * typical)) if good.any() else 0
    good[:first] = False
    return _smooth(sums[good] / total[good, None], 1), area[good]


def _project(line: FloatArray, arc: FloatArray, points: FloatArray) -> FloatArray:
    """Length along the line of the point on it nearest to each point; straight on at the ends."""
    start, span = line[:-1], np.diff(line, axis=0)
    length2 = (span**2).sum(axis=1)
    offset = points[:, None, :] - start[None]
    share = (offset * span[None]).sum(axis=2) / length2
    low = np.zeros(len(span))
    high = np.ones(len(span))
    low[0], high[-1] = -np.inf, np.inf
    share = np.clip(share, low, high)
    gap = ((offset - share[..., None] * span[None]) ** 2).sum(axis=2)
    best = np.argmin(gap, axis=1)
    rows = np.arange(len(points))
    return arc[best] + share[rows, best] * np.sqrt(length2[best])


def _smooth(line: FloatArray, times: int) -> FloatArray:
    """The line with each inner point moved half way to the middle of its neighbours."""
    for _ in range(times):
        inner = 0.5 * line[1:-1] + 0.25 * (line[:-2] + line[2:])
        line = np.concatenate([line[:1], inner, line[-1:]])
    return line


def _end_of(graph: CellGraph, line: FloatArray, half_width: FloatArray) -> FloatArray:
    """(3,) where the finger ends, straight on from the last part of its line."""
    solid = graph.solid
    radius = float(np.median(half_width))
    arc = arc_lengths(line)
    last = (arc[-1] - arc) < 2.5 * radius
    last[-3:] = True
    middle = line[last].mean(axis=0)
    _, _, axes = np.linalg.svd(line[last] - middle)
    aim = axes[0] * np.sign(np.dot(axes[0], line[-1] - line[0]))
    base = middle + aim * np.dot(line[-1] - middle, aim)
    reach = np.arange(-radius, 2.0 * radius, 0.1 * solid.cell)
    values = solid.sample(base + reach[:, None] * aim)
    outside = values < 0.5
    start = int(np.argmax(~outside)) if not outside.all() else 0
    ends = np.flatnonzero(outside[start:])
    stop = start + int(ends[0]) if len(ends) else len(reach) - 1
    return np.asarray(base + reach[stop] * aim)
