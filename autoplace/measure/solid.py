"""The character as a volume: how much of each cell of a regular grid lies inside the surface.

Method: the surface is projected along each of the three axes; where a triangle covers the centre
of a column of cells, the column crosses the surface, in or out by the triangle's facing. The
running sum of the crossings along a column is the winding number of every cell in it. A column
whose crossings do not cancel runs through a hole of the surface and does not vote. Cells are the
union of all pieces (winding number of one or more), so overlapping parts need no repair, and a
crossing splits its cell by where it falls. Crossings on the three axes then place the surface in
its cell, so that the 0.5 level of the coverage is accurate to a small part of a cell.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["Solid", "faces_about", "fill_solid"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

OFF_ROUND = 1.0 + 1e-8 * np.array([1.1447, 1.7183, 2.3026])
"""Stretch of the surface along each axis, so that no column runs through vertices on round numbers
or along a diagonal between them; as good as none, and the same for a mirror image."""
PAIRS_AT_ONCE = 4_000_000
"""Triangle-column pairs handled in one go; bounds the memory on large meshes."""


UNSOUND = 0.25
"""Crossings that a column may fail to cancel by, through rounding."""
DISAGREE = 0.9
"""Difference of two axes' readings of a cell that no slanting surface makes."""
NO_DISTANCE = 1e-6
"""Added to the square of a distance from a cell's middle, lest it be none."""
NOT_SEEN = 1.5**-2
"""Inverse square of the farthest distance at which a crossing is seen: in the next cell."""
SETTLING_ROUNDS = 12
MOST_DOUBTFUL = 100_000
"""More doubtful cells than this are no holes in a surface but a surface that is not there."""
AROUND = np.array([step for step in np.ndindex(3, 3, 3) if step != (1, 1, 1)]) - 1
"""The 26 neighbours of a cell."""
NEARNESS = (1.0 / (AROUND**2).sum(axis=1)).astype(np.float32)
"""Weight of each neighbour."""


@dataclass(frozen=True)
class Solid:
    """Coverage of a regular grid by the inside of a surface."""

    coverage: NDArray[np.float32]
    """(nx, ny, nz) share of each cell that is inside, 0 to 1."""
    origin: FloatArray
    """(3,) centre of cell (0, 0, 0), in the frame of the vertices."""
    cell: float
    """Edge length of a cell, same units."""
    shells: bool = False
    """Whether what thin shells enclose was filled, see `hollow_shells`."""

    @cached_property
    def inside(self) -> NDArray[np.bool_]:
        """(nx, ny, nz) True where more than half of the cell is inside."""
        return np.asarray(self.coverage > 0.5)

    @cached_property
    def pieces(self) -> NDArray[np.int32]:
        """(nx, ny, nz) number of the piece that each cell inside belongs to, from 1; 0 outside.
        Cells hang together by face, edge or corner."""
        label, _ = ndimage.label(self.inside, np.ones((3, 3, 3)))
        return np.asarray(label, dtype=np.int32)

    @cached_property
    def depth(self) -> NDArray[np.float32]:
        """(nx, ny, nz) distance to the surface, positive inside, accurate to about half a cell."""
        inner = ndimage.distance_transform_edt(self.inside).astype(np.float32)
        outer = ndimage.distance_transform_edt(~self.inside).astype(np.float32)
        signed = np.where(self.inside, inner - 0.5, 0.5 - outer) * self.cell
        return np.asarray(signed, dtype=np.float32)

    def to_cells(self, points: FloatArray) -> FloatArray:
        """Points (..., 3) in cell coordinates (cell centres at whole numbers)."""
        return (np.asarray(points, dtype=np.float64) - self.origin) / self.cell

    def to_points(self, cells: NDArray[np.floating | np.integer]) -> FloatArray:
        """Cell coordinates (..., 3) as points."""
        return np.asarray(cells, dtype=np.float64) * self.cell + self.origin

    def index_of(self, points: FloatArray) -> tuple[IntArray, ...]:
        """The cells that points (n, 3) of the grid lie in, by axis, to index its arrays with."""
        return tuple(np.round(self.to_cells(points)).astype(np.int64).T)

    def sample(self, points: FloatArray) -> FloatArray:
        """Coverage at points (..., 3), linear between cell centres, 0 outside the grid."""
        return self._interpolate(self.coverage, points, 0.0)

    def depth_at(self, points: FloatArray) -> FloatArray:
        """Distance to the surface at points (..., 3), positive inside."""
        return self._interpolate(self.depth, points, float(self.depth.min()))

    def _interpolate(
        self, field: NDArray[np.float32], points: FloatArray, outside: float
    ) -> FloatArray:
        where = self.to_cells(points)
        flat = where.reshape(-1, 3).T
        values = ndimage.map_coordinates(field, flat, order=1, mode="constant", cval=outside)
        return np.asarray(values, dtype=np.float64).reshape(where.shape[:-1])


def fill_solid(
    vertices: FloatArray,
    faces: IntArray,
    cell: float,
    lower: FloatArray | None = None,
    upper: FloatArray | None = None,
) -> Solid:
    """Fill a grid of cells with the inside of a surface.

    Args:
        vertices: (n, 3) positions, any frame and units.
        faces: (m, 3) triangles, facing outward; the surface may be open, overlapping, unwelded.
        cell: edge length of a cell, same units.
        lower, upper: (3,) corners of the box to fill; the bounds of the vertices when None.
            The surface outside the box still counts for what is inside it.

    Returns:
        The solid; its grid covers the box with two cells to spare on every side. The frame's zero
        lies on a corner of cells; without a box, the middle of the surface does along x and z.

    Degenerate input: an empty surface gives an empty solid; a column through a hole takes no part
    in the vote, and a cell that only such columns reach, or that the axes contradict each other
    about, is decided by its neighbours.
    """
    vertices = np.asarray(vertices, dtype=np.float64)
    used = vertices[faces].reshape(-1, 3) if len(faces) else np.zeros((1, 3))
    whole = lower is None and upper is None
    lower = used.min(axis=0) if lower is None else np.asarray(lower)
    upper = used.max(axis=0) if upper is None else np.asarray(upper)
    # cells are counted from the frame's zero and not from where the surface happens to end, so that
    # noise leaves them where they are; level, across a whole figure, from its middle, so that they
    # neither follow a plane of symmetry found a little elsewhere nor differ in a mirror image
    zero = np.zeros(3)
    if whole:
        zero[[0, 2]] = 0.5 * (lower + upper)[[0, 2]]
    origin = zero + (np.floor((lower - zero) / cell + 1e-9) - 2.5) * cell
    shape = tuple(int(n) for n in np.ceil((upper - origin) / cell + 2.0))
    corners = ((zero + (vertices - zero) * OFF_ROUND - origin) / cell)[faces]
    votes = np.zeros(shape, dtype=np.float32)
    weight = np.zeros(shape, dtype=np.float32)
    lowest, highest = np.ones(shape, dtype=np.float32), np.zeros(shape, dtype=np.float32)
    readings = []
    for axis in range(3):
        rising, total = _winding(corners, shape, axis)
        reading = np.clip(rising, 0.0, 1.0)
        sound = np.abs(total) < UNSOUND
        readings.append((reading, sound))
        if sound.all():
            votes += reading
            weight += 1.0
            np.minimum(lowest, reading, out=lowest)
            np.maximum(highest, reading, out=highest)
        else:
            votes += reading * sound
            weight += sound
            np.minimum(lowest, np.where(sound, reading, 1.0), out=lowest)
            np.maximum(highest, np.where(sound, reading, 0.0), out=highest)
    coverage = (votes / np.maximum(weight, 1.0)).astype(np.float32)
    _place_surface(coverage, readings, highest > lowest)
    # columns through two holes cancel and are wrong all the same: of three readings the middle
    # one is right then, of two it is open which
    split = highest - lowest > DISAGREE
    outvoted = split & (weight == 3)
    if outvoted.any():
        coverage[outvoted] = (votes - lowest - highest)[outvoted]
    doubtful = (weight == 0) | (split & (weight == 2))
    if 0 < np.count_nonzero(doubtful) < MOST_DOUBTFUL:
        _settle_doubt(coverage, weight, doubtful)
    return Solid(coverage, origin, float(cell))


def faces_about(
    local: FloatArray, faces: IntArray, lower: FloatArray, upper: FloatArray
) -> tuple[IntArray, IntArray]:
    """The triangles that tell what is inside of a box: those that columns through it can cross.

    Args:
        local: (n, 3) vertices in the box's frame. faces: (m, 3) triangles.
        lower, upper: (3,) corners of the box.

    Returns:
        (k, 3) these triangles, and (k,) on how many axes each meets the box, two or three.
    """
    count = np.zeros(len(faces), dtype=np.int64)
    for axis in range(3):
        a, b, c = (local[:, axis][faces[:, corner]] for corner in range(3))
        low = np.minimum(np.minimum(a, b), c)
        high = np.maximum(np.maximum(a, b), c)
        count += (high >= lower[axis]) & (low <= upper[axis])
    keep = count >= 2
    return faces[keep], count[keep]


def _place_surface(
    coverage: NDArray[np.float32],
    readings: list[tuple[NDArray[np.float32], NDArray[np.bool_]]],
    cut: NDArray[np.bool_],
) -> None:
    """Set the coverage of cells about the surface by how far from their middle it lies.

    A column that crosses the surface tells where; one that runs along it says all or nothing, and
    a mean of both would move a surface square to an axis by up to a third of a cell. Crossings on
    several axes are intercepts of a plane: the inverse squares of their distances from the middle
    of the cell add up to that of the plane's own.

    Args:
        coverage: (nx, ny, nz), changed in place; cells at the end of the grid stay as they are.
        readings: of each axis, the share of each cell and which columns are sound.
        cut: (nx, ny, nz) cells whose readings differ.
    """
    about = cut.copy()
    for axis in range(3):
        grown, own = np.moveaxis(about, axis, 0), np.moveaxis(cut, axis, 0)
        grown[1:] |= own[:-1]
        grown[:-1] |= own[1:]
    for axis in range(3):
        np.moveaxis(about, axis, 0)[[0, -1]] = False
    where = np.flatnonzero(about)
    nearness = np.zeros(len(where), dtype=np.float32)
    inward = np.zeros(len(where), dtype=np.float32)
    for axis, (reading, sound) in enumerate(readings):
        flat = np.ascontiguousarray(reading).reshape(-1)
        stride = int(np.prod(cut.shape[axis + 1 :]))
        here, before, after = flat[where], flat[where - stride], flat[where + stride]
        # where the crossing is in the next cell, it is as much farther as that one is covered
        off = here - 0.5
        off += (here == 1.0) * np.minimum(before, after)
        off -= (here == 0.0) * (1.0 - np.maximum(before, after))
        known = np.broadcast_to(sound, cut.shape).reshape(-1)[where]
        weight = known * np.maximum(1.0 / (off**2 + NO_DISTANCE) - NOT_SEEN, 0.0)
        nearness += weight
        inward += weight * np.sign(off)
    crossed = nearness > 0.0
    distance = inward[crossed] / nearness[crossed] ** 1.5
    coverage.reshape(-1)[where[crossed]] = np.clip(0.5 + distance, 0.0, 1.0)


def _settle_doubt(
    coverage: NDArray[np.float32], weight: NDArray[np.float32], doubtful: NDArray[np.bool_]
) -> None:
    """Give doubtful cells the mean of what is known about them and their neighbours, in place.

    Cells with the most certain neighbours come first, and count as certain from then on.
    """
    known = np.where(doubtful, 0.0, weight)
    for _ in range(SETTLING_ROUNDS):
        cells = np.argwhere(doubtful)
        around = cells[:, None, :] + AROUND[None]
        inside = ((around >= 0) & (around < coverage.shape)).all(axis=2)
        index = tuple(np.where(inside[..., None], around, 0).transpose(2, 0, 1))
        counts = known[index] * inside * NEARNESS
        total = counts.sum(axis=1)
        ready = total >= np.quantile(total, 0.5)
        ready &= total > 0
        if not ready.any():
            break
        own = 0.5 * weight[tuple(cells.T)]
        mean = (counts * coverage[index]).sum(axis=1) + own * coverage[tuple(cells.T)]
        here = tuple(cells[ready].T)
        coverage[here] = mean[ready] / (total + own)[ready]
        known[here] = 1.0
        doubtful[here] = False
        if not doubtful.any():
            return
    coverage[doubtful & (weight == 0)] = 0.0


def _winding(
    corners: FloatArray, shape: tuple[int, ...], axis: int
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Running winding number along `axis`, (nx, ny, nz), and what each column fails to cancel.

    `corners` are (m, 3, 3) triangle corners in cell coordinates. The second result has length one
    along `axis`.
    """
    u, v = [a for a in range(3) if a != axis]
    nu, nv, nw = shape[u], shape[v], shape[axis]
    flips = -1.0 if axis == 1 else 1.0  # (u, v, axis) is a left-handed order for the middle axis
    low, high = _bounds(corners, u, v)
    np.clip(low, 0, None, out=low)
    np.minimum(high, [nu - 1, nv - 1], out=high)
    spans = high - low + 1
    # triangles beyond the far end stay in: without them a column would not cancel
    keep = np.flatnonzero((spans > 0).all(axis=1))
    counts = spans[keep, 0] * spans[keep, 1]
    deltas = np.zeros((nu * nv, nw + 2))
    ends = np.cumsum(counts)
    first = 0
    while first < len(keep):
        done = ends[first - 1] if first else 0
        last = max(int(np.searchsorted(ends, done + PAIRS_AT_ONCE, side="right")), first + 1)
        batch = keep[first:last]
        owner = np.repeat(np.arange(len(batch)), counts[first:last])
        starts = np.cumsum(counts[first:last]) - counts[first:last]
        rank = np.arange(len(owner)) - starts[owner]
        width = spans[batch, 1][owner]
        pu = low[batch, 0][owner] + rank // width
        pv = low[batch, 1][owner] + rank % width
        _cross(corners[batch], owner, pu, pv, (u, v, axis), flips, nv, deltas)
        first = last
    running = np.cumsum(deltas, axis=1)
    total = running[:, -1].astype(np.float32).reshape(nu, nv)
    rising = running[:, :nw].astype(np.float32).reshape(nu, nv, nw)
    return np.moveaxis(rising, 2, axis), np.expand_dims(total, axis)


def _bounds(corners: FloatArray, u: int, v: int) -> tuple[IntArray, IntArray]:
    """First and last column, along both axes, whose centre a triangle's box covers: (m, 2) each.

    By columns, since reducing over the short middle axis is several times slower.
    """
    low = np.empty((len(corners), 2))
    high = np.empty((len(corners), 2))
    for place, axis in enumerate((u, v)):
        a, b, c = corners[:, 0, axis], corners[:, 1, axis], corners[:, 2, axis]
        low[:, place] = np.ceil(np.minimum(np.minimum(a, b), c))
        high[:, place] = np.floor(np.maximum(np.maximum(a, b), c))
    return low.astype(np.int64), high.astype(np.int64)


def _cross(
    corners: FloatArray,
    owner: IntArray,
    pu: IntArray,
    pv: IntArray,
    axes: tuple[int, int, int],
    flips: float,
    nv: int,
    deltas: FloatArray,
) -> None:
    """Add to `deltas` the crossings of columns (pu, pv) with the triangles `corners[owner]`."""
    u, v, w = axes
    a, b, c = (corners[:, i] for i in range(3))
    area = (b[:, u] - a[:, u]) * (c[:, v] - a[:, v]) - (b[:, v] - a[:, v]) * (c[:, u] - a[:, u])

    def edge(p: FloatArray, q: FloatArray) -> FloatArray:
        pu0, pv0 = p[owner, u], p[owner, v]
        return np.asarray((q[owner, u] - pu0) * (pv - pv0) - (q[owner, v] - pv0) * (pu - pu0))

    wa, wb, wc = edge(b, c), edge(c, a), edge(a, b)
    hit = ((wa > 0) & (wb > 0) & (wc > 0)) | ((wa < 0) & (wb < 0) & (wc < 0))
    wa, wb, wc, owner = wa[hit], wb[hit], wc[hit], owner[hit]
    depth = (wa * a[owner, w] + wb * b[owner, w] + wc * c[owner, w]) / (wa + wb + wc)
    # an outward face that looks back along the axis (negative area) is where a column enters
    enters = -np.sign(area[owner]) * flips
    columns = pu[hit] * nv + pv[hit]
    length = deltas.shape[1]
    depth = np.clip(depth, -0.5, length - 1.5 - 1e-9)
    index = np.floor(depth + 0.5).astype(np.int64)
    share = index + 0.5 - depth
    flat = columns * length + index
    size = deltas.size
    np.add(deltas, np.bincount(flat, enters * share, size).reshape(deltas.shape), out=deltas)
    rest = np.bincount(flat + 1, enters * (1.0 - share), size + 1)[:size]
    np.add(deltas, rest.reshape(deltas.shape), out=deltas)
