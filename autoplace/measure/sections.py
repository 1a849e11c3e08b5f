"""Cross-sections of a limb: plane cuts through the solid, square to the limb's line.

Every section keeps only the region around the limb's own line, so a cut through the arm does not
count the trunk beside it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.solid import Solid

__all__ = [
    "ROUGH_GRID",
    "Sections",
    "arc_lengths",
    "cut_sections",
    "over_gaps",
    "resample_line",
    "smooth_line",
    "trace_limb",
]

FloatArray = NDArray[np.float64]

GRID = 33
"""Samples across a section; at 2.3 radii to each side this is 7 per radius."""
ROUGH_GRID = 19
"""Samples across a section that only serves to move a line to its middle."""
SMOOTHED_OVER = 0.125
"""The line of a limb is smoothed over this share of the cuts' half width, .3 of a radius: where
the cuts of a short thick limb stand much closer than that, each tilts by the noise of the last and
the line runs back and forth (own synthetic characters)."""
GAP_AREA, GAP_WIDE = 0.3, 0.16
"""A limb of rigid parts has a gap where a section has less than this share of the area on both
sides of it, within this share of the limb: a wrist is .8 as thick as a forearm and never half
(common practice, no source)."""
SMOOTHING_ROUNDS = (2, 60)
"""Rounds of smoothing at least and at most; the least does for slender limbs."""


@dataclass(frozen=True)
class Sections:
    """Sections at stations along a line, all in the solid's frame and units."""

    station: FloatArray
    """(n, 3) where the line was cut."""
    direction: FloatArray
    """(n, 3) unit normal of each cut, along the line."""
    side: FloatArray
    """(n, 3) unit first axis within each cut."""
    centre: FloatArray
    """(n, 3) centroid of each section."""
    area: FloatArray
    """(n,) area of each section."""
    width: FloatArray
    """(n, 2) full widths along `side` and along direction x side (as of an ellipse with the
    section's second moments)."""
    breadth: FloatArray
    """(n,) full width along the section's own longest axis, same measure."""
    open_edge: NDArray[np.bool_]
    """(n,) True where the region runs out of the cut's window (it has joined the trunk)."""

    @property
    def radius(self) -> FloatArray:
        """(n,) radius of the circle with the section's area."""
        return np.sqrt(np.maximum(self.area, 0.0) / np.pi)

    @property
    def arc(self) -> FloatArray:
        """(n,) distance along the line of centres from the first."""
        return arc_lengths(self.centre)


def arc_lengths(points: FloatArray) -> FloatArray:
    """(n,) distance along the polyline `points` (n, 3) from its first point to each."""
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return np.concatenate([[0.0], np.cumsum(steps)])


def resample_line(points: FloatArray, count: int) -> FloatArray:
    """(count, 3) points evenly spaced along the polyline `points` (n, 3)."""
    arc = arc_lengths(points)
    at = np.linspace(0.0, arc[-1], count)
    return np.stack([np.interp(at, arc, points[:, a]) for a in range(3)], axis=1)


def smooth_line(points: FloatArray, rounds: int = 1) -> FloatArray:
    """The polyline with each inner point moved to the 1-2-1 mean of its neighbours."""
    line = np.array(points, dtype=np.float64)
    for _ in range(rounds):
        line[1:-1] = 0.25 * line[:-2] + 0.5 * line[1:-1] + 0.25 * line[2:]
    return line


def directions_of(points: FloatArray) -> FloatArray:
    """(n, 3) unit directions along the polyline, central differences."""
    step = np.gradient(points, axis=0)
    return np.asarray(step / np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-300))


def cut_sections(
    solid: Solid,
    line: FloatArray,
    reach: FloatArray | float,
    side_hint: FloatArray,
    grid: int = GRID,
) -> Sections:
    """Cut the solid square to a line at each of its points.

    Args:
        solid: the body.
        line: (n, 3) points from one end of the limb to the other.
        reach: half width of the window around the line, per station or one for all.
        side_hint: (3,) direction that the first axis of each cut should be nearest to.
        grid: samples across a cut, odd.

    Returns:
        The sections. A station that lies outside the solid takes the region nearest to it; where
        the window holds nothing, the area is 0 and the centre is the station.
    """
    n = len(line)
    direction = directions_of(line)
    side = side_hint - (direction @ side_hint)[:, None] * direction
    weak = np.linalg.norm(side, axis=1) < 0.2
    if weak.any():
        spare = np.cross(direction[weak], np.eye(3)[int(np.argmin(np.abs(side_hint)))])
        side[weak] = spare
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    other = np.cross(direction, side)
    reach_of = np.broadcast_to(np.asarray(reach, dtype=np.float64), (n,))
    ticks = np.linspace(-1.0, 1.0, grid)
    a = reach_of[:, None, None] * ticks[None, :, None]
    b = reach_of[:, None, None] * ticks[None, None, :]
    points = (
        line[:, None, None, :]
        + a[..., None] * side[:, None, None, :]
        + b[..., None] * other[:, None, None, :]
    )
    cover = solid.sample(points)
    labels = ndimage.label(cover > 0.5, structure=_within_slice())[0]
    own = _own_label(labels, cover)
    keep = (labels == own[:, None, None]) & (own > 0)[:, None, None]
    grown = ndimage.binary_dilation(keep, structure=_within_slice()) & ((labels == 0) | keep)
    weight = np.where(grown, cover, 0.0)
    total = weight.sum(axis=(1, 2))
    safe = np.maximum(total, 1e-12)
    step = 2.0 * reach_of / (grid - 1)
    ma = (weight * a).sum(axis=(1, 2)) / safe
    mb = (weight * b).sum(axis=(1, 2)) / safe
    va = (weight * (a - ma[:, None, None]) ** 2).sum(axis=(1, 2)) / safe
    vb = (weight * (b - mb[:, None, None]) ** 2).sum(axis=(1, 2)) / safe
    vab = (weight * (a - ma[:, None, None]) * (b - mb[:, None, None])).sum(axis=(1, 2)) / safe
    longest = 0.5 * (va + vb) + np.hypot(0.5 * (va - vb), vab)
    rim = keep[:, [0, -1], :].any(axis=(1, 2)) | keep[:, :, [0, -1]].any(axis=(1, 2))
    centre = line + ma[:, None] * side + mb[:, None] * other
    return Sections(
        station=line,
        direction=direction,
        side=side,
        centre=centre,
        area=total * step**2,
        width=4.0 * np.sqrt(np.stack([va, vb], axis=1)),
        breadth=4.0 * np.sqrt(longest),
        open_edge=rim,
    )


def over_gaps(sections: Sections, share: float = 1.0) -> Sections:
    """The sections with those in a gap between rigid parts set between their neighbours: a slanted
    cut through a gap takes in a corner of either part, which is neither narrow nor aside.

    Args:
        sections: of one limb. share: of the limb that is looked at, from its first section on.
    """
    count = len(sections.area)
    size = 2 * round(0.5 * GAP_WIDE * count) + 1
    gap = sections.area < GAP_AREA * ndimage.grey_closing(sections.area, size)
    gap[int(share * count) :] = False
    if not gap.any():
        return sections
    gap = ndimage.binary_dilation(gap, iterations=2)
    gap[[0, -1]] = False
    rows = np.arange(count)
    known = rows[~gap]

    def between(values: FloatArray) -> FloatArray:
        flat = values.reshape(count, -1)
        found = [np.interp(rows, known, column) for column in flat[known].T]
        return np.stack(found, axis=1).reshape(values.shape)

    return replace(
        sections,
        centre=between(sections.centre),
        area=between(sections.area),
        width=between(sections.width),
        breadth=between(sections.breadth),
    )


def _within_slice() -> NDArray[np.bool_]:
    """Connectivity of a stack of images: four neighbours within a slice, none between slices."""
    structure = np.zeros((3, 3, 3), dtype=bool)
    structure[1] = ndimage.generate_binary_structure(2, 1)
    return structure


def _own_label(labels: NDArray[np.int32], cover: FloatArray) -> NDArray[np.int32]:
    """The region at, or else nearest to, the middle of each window; 0 where there is none."""
    grid = labels.shape[1]
    middle = grid // 2
    own = labels[:, middle, middle].copy()
    ticks = np.arange(grid) - middle
    near = ticks[:, None] ** 2 + ticks[None, :] ** 2
    for index in np.flatnonzero(own == 0):
        where = labels[index] > 0
        if where.any():
            flat = int(np.argmin(np.where(where, near, np.iinfo(np.int64).max)))
            own[index] = labels[index].flat[flat]
    return own


def trace_limb(
    solid: Solid,
    line: FloatArray,
    reach: float,
    side_hint: FloatArray,
    count: int = 32,
    rounds: int = 2,
) -> Sections:
    """Sections along a limb whose line is only roughly known.

    The line is cut, moved to the centres of its sections, smoothed and cut again, `rounds` times.
    The ends of the line stay where they are along the limb.
    """
    current = resample_line(line, count)
    apart = float(np.linalg.norm(np.diff(current, axis=0), axis=1).mean())
    # smoothing n times spreads by the root of n / 2 stations
    smoothing = 2.0 * (SMOOTHED_OVER * reach / max(apart, 1e-9)) ** 2
    smoothing_rounds = int(np.clip(round(smoothing), *SMOOTHING_ROUNDS))
    for _ in range(rounds):
        sections = cut_sections(solid, current, reach, side_hint, ROUGH_GRID)
        moved = np.where(
            (sections.area > 0)[:, None] & ~sections.open_edge[:, None], sections.centre, current
        )
        current = resample_line(smooth_line(moved, smoothing_rounds), count)
    return cut_sections(solid, current, reach, side_hint)
