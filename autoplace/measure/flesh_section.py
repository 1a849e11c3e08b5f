"""The cross-section of the flesh about one point, square to a direction, and its middle.

The plane is filled at a resolution of its own, so that a finger's section is as fine as a thigh's.
Of what it cuts only the piece at the point counts. Where two pieces touch (an arm that lies on
the trunk, one finger on the next) they are parted at the neck between them: the distance to the
section's outline has a peak in each, and a saddle between that is clearly lower than both.

Where a section runs on with no neck, as one through a knuckle does in the palm, its middle is no
place for the joint; then the middle of the flesh's thickness there is meant.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.not_found import NotFound
from autoplace.measure.solid import faces_about, fill_solid

__all__ = ["SectionMiddle", "section_middle"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

HALF_CELLS = 32
"""Cells from the middle of the window to its rim."""
GROWTH = 2.0
"""A window that the section runs out of is this much larger the next time."""
NECK = 1.2
"""The inscribed radius of either piece over that of the neck between them, from which two pieces
are told apart; the waist of a thigh and calf, or of a folded sleeve, is less (common practice, no
source)."""
LEVELS = 32
"""Steps in which the distance to the outline is followed down from its greatest."""
SLAB = 2.2
"""Breadth over thickness from which a section has a thickness and no middle: a palm's is 3, a
foot's at the ball 1.8, a chest's 1.6 (common practice, no source)."""
FAR_OFF = 1.6
"""A section whose middle is farther from the point than this many radii of the largest disc in it
that holds the point is more than the limb that is meant (common practice, no source)."""


@dataclass(frozen=True)
class SectionMiddle:
    """The middle of the flesh about a point."""

    position: FloatArray
    """(3,) in the plane through the point."""
    whole: bool
    """True for the centroid of the section; False for the middle of its thickness at the point,
    where it runs on to the sides."""
    radius: float
    """Of the largest disc in the section that holds the point."""


@dataclass(frozen=True)
class _Cut:
    """A filled window of the plane."""

    cover: FloatArray
    """(n, n) share of each cell that is flesh."""
    cell: float
    axes: FloatArray
    """(2, 3) unit directions of the window's rows and columns."""
    point: FloatArray
    """(3,) the middle of the window, between its four middle cells."""

    @property
    def ticks(self) -> FloatArray:
        """(n,) place of the cells along each direction."""
        middle = 0.5 * (len(self.cover) - 1)
        return np.asarray((np.arange(len(self.cover)) - middle) * self.cell, dtype=np.float64)

    def at(self, place: FloatArray) -> FloatArray:
        """(3,) point of the plane at (2,) lengths along the directions."""
        return np.asarray(self.point + place @ self.axes)


def section_middle(
    vertices: FloatArray,
    faces: IntArray,
    point: FloatArray,
    direction: FloatArray,
    window: float,
    most: float,
    bounds: Sequence[tuple[FloatArray, float]] = (),
    slab: float = SLAB,
) -> SectionMiddle | NotFound:
    """The middle of the section through a point, in the piece that holds it or is nearest to it.

    Args:
        vertices: (n, 3). faces: (m, 3) triangles, facing outward; may be open and overlap.
        point: (3,). direction: (3,) what the plane is square to.
        window: half the side of the window that is looked at first: a few radii of the limb.
        most: the same of the largest window that is looked at.
        bounds: unit normals (3,) and offsets; flesh with normal @ x < offset does not count.
        slab: breadth over thickness from which the middle of the thickness is meant.

    Returns:
        The middle, or NotFound where the plane meets no flesh within the largest window.
    """
    length = float(np.linalg.norm(direction))
    if length == 0.0:
        return NotFound("section", "the bone has no direction to cut square to")
    half, cuts = window, []
    while True:
        cut = _filled(vertices, faces, point, direction / length, half)
        for bound in bounds:
            _clear_beyond(cut, *bound)
        region = _piece(cut.cover)
        if region is not None:
            cuts.append((cut, region))
        if half >= most or (region is not None and not _on_rim(region)):
            break
        half = min(half * GROWTH, most)
    if not cuts:
        return NotFound("section", "no flesh lies about the joint at right angles to its bone")
    return _middle_of(cuts, slab)


def _filled(
    vertices: FloatArray, faces: IntArray, point: FloatArray, normal: FloatArray, half: float
) -> _Cut:
    """The plane's window filled, as a slab a few cells thick."""
    other = np.eye(3)[int(np.argmin(np.abs(normal)))]
    first = np.cross(other, normal)
    first /= np.linalg.norm(first)
    turn = np.array([first, np.cross(normal, first), normal])
    cell = half / HALF_CELLS
    local = (vertices - point) @ turn.T
    upper = np.array([half, half, 1.5 * cell])
    near = faces_about(local, faces, -upper - 3.0 * cell, upper + 3.0 * cell)[0]
    cells = 2 * HALF_CELLS
    if not len(near):
        return _Cut(np.zeros((cells, cells)), cell, turn[:2], point)
    solid = fill_solid(local, near, cell, -upper, upper)
    # zero is a corner of cells: the window begins `HALF_CELLS` of them before it, and the plane
    # lies between two layers
    start = np.round(-solid.origin / cell + 0.5).astype(np.int64)
    across, along, through = start
    rows = slice(across - HALF_CELLS, across + HALF_CELLS)
    columns = slice(along - HALF_CELLS, along + HALF_CELLS)
    layers = solid.coverage[rows, columns, through - 1 : through + 1]
    return _Cut(layers.mean(axis=2, dtype=np.float64), cell, turn[:2], point)


def _clear_beyond(cut: _Cut, normal: FloatArray, offset: float) -> None:
    """Empties the cells on the other side of a plane, and those on it by half, in place."""
    slope = cut.axes @ normal
    level = cut.ticks[:, None] * slope[0] + cut.ticks[None, :] * slope[1]
    within = level - (offset - float(cut.point @ normal))
    cut.cover[:] *= np.clip(0.5 + within / cut.cell, 0.0, 1.0)


def _piece(cover: FloatArray) -> BoolArray | None:
    """(n, n) the cells of the piece at the middle of the window; None where there are none."""
    labels, count = ndimage.label(cover > 0.5)
    if not count:
        return None
    start = _nearest(labels > 0)
    own = np.asarray(labels == labels[start])
    return _parted(own, start)


def _nearest(mask: BoolArray) -> tuple[int, int]:
    """The cell of a mask (n, n) that is nearest to the middle of the window."""
    middle = 0.5 * (len(mask) - 1)
    rows, columns = np.nonzero(mask)
    # rounded, so that of equals the first counts whatever the rounding noise
    away = np.round((rows - middle) ** 2 + (columns - middle) ** 2, 6)
    index = int(np.argmin(away))
    return int(rows[index]), int(columns[index])


def _parted(region: BoolArray, start: tuple[int, int]) -> BoolArray:
    """The part of a region that holds a cell, cut off at its necks."""
    # beyond the rim the flesh goes on
    padded = np.pad(region, 1, mode="edge")
    depth = ndimage.distance_transform_edt(padded)[1:-1, 1:-1]
    markers = _peaks(depth)
    if markers.max() < 2:
        return region
    basins = _flooded(depth, markers)
    return np.asarray((basins == basins[start]) & region)


def _peaks(depth: FloatArray) -> IntArray:
    """(n, n) a number on the top of each piece that a neck parts from the others, else 0."""
    tops: dict[int, tuple[float, int]] = {}
    apart: set[frozenset[int]] = set()
    number = 0
    for level in np.linspace(depth.max(), 0.0, LEVELS, endpoint=False)[1:]:
        labels, count = ndimage.label(depth > level)
        holds: dict[int, list[int]] = {}
        for key, (_, place) in tops.items():
            holds.setdefault(int(labels.flat[place]), []).append(key)
        for piece in range(1, count + 1):
            if piece not in holds:
                place = int(np.argmax(np.where(labels == piece, depth, -1.0)))
                number += 1
                tops[number] = (float(depth.flat[place]), place)
                continue
            mine = sorted(holds[piece], key=lambda key: (-tops[key][0], key))
            for index, low in enumerate(mine):
                above = [high for high in mine[:index] if high in tops]
                met = [high for high in above if frozenset((high, low)) not in apart]
                if met and tops[low][0] < NECK * level:
                    del tops[low]
                else:
                    apart |= {frozenset((high, low)) for high in met}
    markers = np.zeros(depth.shape, dtype=np.int64)
    for index, (_, place) in enumerate(tops.values()):
        markers.flat[place] = index + 1
    return markers


def _flooded(depth: FloatArray, markers: IntArray) -> IntArray:
    """(n, n) the numbers of the markers spread downhill from the tops, until they meet."""
    basins = markers.copy()
    for level in np.linspace(depth.max(), 0.0, LEVELS, endpoint=False)[1:]:
        above = depth > level
        labels, _ = ndimage.label(above)
        reached = np.unique(labels[(basins > 0) & above])
        fresh = (basins == 0) & above & np.isin(labels, reached)
        if fresh.any():
            nearest = ndimage.distance_transform_edt(
                basins == 0, return_distances=False, return_indices=True
            )
            basins[fresh] = basins[tuple(nearest)][fresh]
    return basins


def _on_rim(region: BoolArray) -> bool:
    return bool(region[[0, -1]].any() or region[:, [0, -1]].any())


def _middle_of(cuts: list[tuple[_Cut, BoolArray]], slab: float) -> SectionMiddle:
    """The centroid of the region in the widest window, or the middle of its thickness."""
    cut, region = cuts[-1]
    edge = ndimage.binary_dilation(region) & (cut.cover <= 0.5)
    weight = np.where(region | edge, cut.cover, 0.0)
    total, ticks = float(weight.sum()), cut.ticks
    places = [weight.sum(axis=1), weight.sum(axis=0)]
    middle = np.array([float(ticks @ row) / total for row in places])
    a, b = ticks - middle[0], ticks - middle[1]
    cross = float(a @ weight @ b)
    spread = np.array([[a**2 @ places[0], cross], [cross, b**2 @ places[1]]]) / total
    values, vectors = np.linalg.eigh(spread)
    start = ticks[list(_nearest(region))]
    radius = _disc_about(cut, region, start)
    broad = values[1] > slab**2 * max(values[0], 1e-300)
    off = float(np.linalg.norm(middle - start))
    if not broad and off <= FAR_OFF * radius and not _on_rim(region):
        return SectionMiddle(cut.at(middle), True, radius)
    for finer, part in cuts:
        place = _thickness_middle(finer, part, vectors[:, 0])
        if place is not None:
            return SectionMiddle(finer.at(place), False, radius)
    return SectionMiddle(cut.at(start), False, radius)


def _disc_about(cut: _Cut, region: BoolArray, place: FloatArray) -> float:
    """Radius of the largest disc in a region that holds a place (2,)."""
    depth = ndimage.distance_transform_edt(np.pad(region, 1))[1:-1, 1:-1] * cut.cell
    away = np.hypot(cut.ticks[:, None] - place[0], cut.ticks[None, :] - place[1])
    return float(np.where(away <= depth, depth, 0.0).max())


def _thickness_middle(cut: _Cut, region: BoolArray, way: FloatArray) -> FloatArray | None:
    """(2,) middle of the stretch of flesh about the point along a direction (2,) of the window;
    None where it runs out of the window."""
    row, column = _nearest(region)
    start = np.array([cut.ticks[row], cut.ticks[column]])
    start = np.zeros(2) if np.abs(start).max() <= cut.cell else start
    rim = float(cut.ticks[-1])
    steps = np.arange(-3.0 * rim, 3.0 * rim, 0.125 * cut.cell)
    places = start + steps[:, None] * way
    steps, places = (some[np.abs(places).max(axis=1) <= rim] for some in (steps, places))
    kept = np.where(ndimage.binary_dilation(region), cut.cover, 0.0)
    index = (places - cut.ticks[0]) / cut.cell
    flesh = ndimage.map_coordinates(kept, index.T, order=1, mode="nearest") > 0.5
    if not flesh.any():
        return None
    labels, _ = ndimage.label(flesh)
    own = labels == labels[np.argmin(np.where(flesh, np.abs(steps), np.inf))]
    if own[0] or own[-1]:
        return None
    stretch = steps[own]
    return np.asarray(start + 0.5 * (stretch[0] + stretch[-1]) * way)
