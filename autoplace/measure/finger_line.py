"""The centreline of one finger: its sections' middles, drawn to its end and down into the palm."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.cell_graph import CellGraph
from autoplace.measure.finger_branches import Branch
from autoplace.measure.finger_root import follow_down
from autoplace.measure.finger_sections import finger_sections
from autoplace.measure.sections import arc_lengths

__all__ = ["FingerLine", "finger_cells", "trace_finger"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ROOT_SHARE = 0.35
"""Share of the free finger that its direction at the root is taken from: within its first bone."""
ROOT_FADE = 0.15
"""Over this share on either side sections count less and less for it."""
BELOW = 2.5
"""How far about its beginning the flesh below a line is looked for, in radii."""
ROOT_AIM = 2.0
"""Length of the first part of a line from which it is followed down into the palm, in radii."""


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
    if not len(branch.cells):
        return None
    line, area = finger_sections(graph, branch, points, shares)
    if len(line) < 4:
        return None
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
