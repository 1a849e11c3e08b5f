"""The sections of one finger: where their middles run, and how large they are.

Method: starting from the means of cells of equal distance from the forearm, every cell of the
finger is assigned to its place along the line, and the means of the covered share of the cells in
soft slices give the next line. Two rounds settle it; in the second, the web's cells are left out.
Because partly covered cells count by their share, a section's middle is good to a small part of a
cell.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.cell_graph import CellGraph
from autoplace.measure.finger_branches import Branch
from autoplace.measure.sections import arc_lengths

__all__ = ["finger_sections"]

FloatArray = NDArray[np.float64]

SLICE = 1.5
"""Distance of neighbouring slices, in cells."""
STUB_LEVELS = 5
"""Levels that a short finger's line is begun with, at least."""
STIFF = 0.5
"""Length over which a finger's line is smoothed, in its radii, one standard deviation: no finger
bends more sharply than about its radius."""
TOO_BROAD = 0.8
"""All that a hand shows beyond its palm has no levels to follow if it is shorter than this share of
its breadth (common practice, no source)."""
HOOK = 0.2
"""First sections whose middles lie farther than this beside the finger's axis, in its radii, are
left out."""
OWN = 1.3
"""Cells of the root farther than this from the finger's axis, in its radii, are the web's."""


def finger_sections(
    graph: CellGraph, branch: Branch, points: FloatArray, shares: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Middles and areas of a finger's sections from its web outward.

    Args:
        graph: the hand's cells.
        branch: the finger.
        points: (k, 3) its cells with the partly covered ones.
        shares: (k,) covered share of each.

    Returns:
        Middles (n, 3) in the frame of the solid and areas (n,) in its units squared; fewer than
        four where the finger is too short to have a direction.
    """
    alone = int((graph.distance >= branch.root).sum()) == len(branch.cells)
    if alone and branch.tip - branch.root < TOO_BROAD * 2.0 * _radius(graph, branch):
        return _straight(graph, branch, points, shares)
    return _in_rounds(graph, branch, points, shares)


def _in_rounds(
    graph: CellGraph, branch: Branch, points: FloatArray, shares: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Of a finger longer than broad: from its levels, in rounds."""
    cell = graph.solid.cell
    line = _levels(graph, branch)
    if len(line) < 4:
        return line, np.zeros(len(line))
    line = _smooth(line, _rounds(_radius(graph, branch) / cell))
    line, area = _slices(line, points, shares, cell)
    if len(line) < 4:
        return line, np.zeros(len(line))
    line = _smooth(line, _rounds(float(np.sqrt(np.median(area) / np.pi)) / cell) - 1)
    own = _own_cells(line, float(np.sqrt(np.median(area) / np.pi)), points)
    line, area = _slices(line, points[own], shares[own], cell)
    if len(line) < 4:
        return line, np.zeros(len(line))
    line = _smooth(line, _rounds(float(np.sqrt(np.median(area) / np.pi)) / cell) - 1)
    # a thick thumb pressed to the hand is hardly longer than broad: better hooked than lost
    straight = _without_hook(line, area)
    if len(straight[0]) >= 4:
        line, area = straight
    return line, area


def _straight(
    graph: CellGraph, branch: Branch, points: FloatArray, shares: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Of a hand's blunt end, broader than long: straight through its middle, away from what lies
    as far below it. It ends in a face, of which its farthest cells are but a corner."""
    cell = graph.solid.cell
    inner = graph.points[branch.cells]
    middle = inner.mean(axis=0)
    length = branch.tip - branch.root
    below = (graph.distance < branch.root) & (graph.distance >= branch.root - length)
    reach = length + 2.0 * _radius(graph, branch)
    below &= np.linalg.norm(graph.points - middle, axis=1) < reach
    if not below.any():
        return np.zeros((0, 3)), np.zeros(0)
    aim = middle - graph.points[below].mean(axis=0)
    aim /= max(float(np.linalg.norm(aim)), 1e-300)
    along = (inner - middle) @ aim
    rail = middle + np.array([[along.min()], [along.max()]]) * aim
    line, area = _slices(rail, points, shares, cell)
    return middle + ((line - middle) @ aim)[:, None] * aim, area


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
    """Middles and areas of soft slices of cells along a line; none of a line that is one point."""
    # levels of like cells on both sides of the finger have the same middle: a span of no length
    line = line[np.append(True, (np.diff(line, axis=0) != 0.0).any(axis=1))]
    if len(line) < 2:
        return np.zeros((0, 3)), np.zeros(0)
    place = _project(line, arc_lengths(line), points)
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
