"""Rods and plates: pieces of their own that are far too thin for a limb, told without a frame.

A spear, a pike and a tall shield can be longer than the figure and have a third of the surface.
They say nothing of which way is up, where the plane of symmetry lies, or how tall the figure is.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.character import Character
from autoplace.mesh.islands import Islands, island_boxes
from autoplace.mesh.triangles import nearest_on_triangles
from autoplace.mesh.twins import MADE_ALIKE, MADE_AREA, TWIN_AREA, TWIN_BOX, fill_one_place

__all__ = ["find_thin_pieces"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ROD_LONG = 0.35
"""A rod's length over the size of all the rest, at least: an arm to the wrist has .332 of the
height (Drillis & Contini in Winter 2009); legs are longer, and two."""
ROD_THIN, ROD_ENDS = 0.05, 0.2
"""A shaft's breadth over a rod's length at most, but for so much of it at either end: a spear has a
fiftieth, a hand that is of one piece with a staff a fifteenth (common practice, no source)."""
JOINED = 0.05
"""What is so near to a rod's end, over the size of all the rest, is joined to it: limbs are sunk
into what they join by half a thigh's breadth at most (common practice, no source)."""
TIP_THIN = 0.1
"""Breadth over length of a rod with its head and its butt, which may be broader than its shaft
(common practice, no source)."""
TIP_LONG = 2.0
"""Such a piece is so many times longer along the rod than it is broad; a fist is not (common
practice, no source)."""
PLATE_THIN = 0.06
"""A plate's thickness over its length at most; a hand has a fifth, a foot a quarter (common
practice, no source)."""
PLATE_AREA = 0.05
"""Share of the surface that a plate has at least to tell on the plane of the whole (common
practice, no source)."""
MOST_PLATES = 0.7
"""A figure with more than this share of its surface in plates, with twins or without, is cut out of
paper (common practice, no source)."""


def find_thin_pieces(
    character: Character, islands: Islands, area: FloatArray, aside: Collection[int] = ()
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Islands that are rods, and islands that are plates.

    Rods are straight and longer than any limb, with the points at their ends. What has a twin may
    be a leg of a figure on stilts, and what joins pieces at one end to others at the other end the
    trunk of a stick figure; neither is one. Plates are large and flat without a twin, as a shield
    is; wings have one. There are none where most of the surface is plates.

    Args:
        character: the mesh, any frame. islands: its pieces. area: (m,) of its triangles.
        aside: islands that are set aside already.

    Returns:
        The numbers of both, ascending.
    """
    if islands.count < 2:
        return (), ()
    pieces = _Pieces.of(character, islands, area, aside)
    rods = _rods(pieces)
    return rods, _plates(pieces, [i for i in pieces.kept if i not in rods])


def _rods(pieces: _Pieces) -> tuple[int, ...]:
    found: list[int] = []
    reach = np.linalg.norm(pieces.high - pieces.low, axis=1)
    for one in sorted(pieces.kept, key=lambda i: (-float(reach[i]), i)):
        rest = [i for i in pieces.kept if i != one and i not in found]
        if one in found or not rest:
            continue
        size = np.ptp([pieces.low[rest].min(axis=0), pieces.high[rest].max(axis=0)], axis=0).max()
        if reach[one] < ROD_LONG * size:
            break
        points = pieces.points(one)
        if _is_rod(points, ROD_LONG * float(size)) and not pieces.has_twin(one, rest):
            rod = [one, *_tips(pieces, one, rest)]
            rest = [i for i in rest if i not in rod]
            if rest and not _holds_together(pieces, rod, rest, JOINED * float(size)):
                found += rod
    return tuple(sorted(found))


def _plates(pieces: _Pieces, kept: list[int]) -> tuple[int, ...]:
    total = float(pieces.area[kept].sum())
    large = [i for i in kept if pieces.area[i] > PLATE_AREA * total]
    flat = []
    for one in large:
        sides = _sides(pieces.points(one))
        if sides[2] <= PLATE_THIN * sides[0]:
            flat.append(one)
    if pieces.area[flat].sum() > MOST_PLATES * total:
        return ()
    return tuple(one for one in flat if not pieces.has_twin(one, large))


@dataclass(frozen=True)
class _Pieces:
    """The islands with what is asked of them."""

    kept: list[int]
    """Those that are not set aside."""
    area: FloatArray
    count: IntArray
    """Triangles of each."""
    low: FloatArray
    high: FloatArray
    """(k, 3) corners of their boxes."""
    vertices: FloatArray
    faces: IntArray
    label: IntArray

    @staticmethod
    def of(
        character: Character, islands: Islands, area: FloatArray, aside: Collection[int]
    ) -> _Pieces:
        vertices, faces = character.vertices, character.faces
        low, high = island_boxes(islands.label, islands.count, vertices[faces])
        kept = [i for i in range(islands.count) if i not in aside and not islands.grouped[i]]
        of_island = np.bincount(islands.label, area, islands.count).astype(np.float64)
        count = np.bincount(islands.label, minlength=islands.count)
        return _Pieces(kept, of_island, count, low, high, vertices, faces, islands.label)

    def points(self, island: int) -> FloatArray:
        """(n, 3) corners of an island."""
        return self.vertices[np.unique(self.faces[self.label == island])]

    def has_twin(self, island: int, others: Collection[int]) -> bool:
        """Is there a piece as large and as long and broad, or made alike, in another place?"""
        mine = self.area[island]
        for other in others:
            differs = abs(self.area[other] - mine) / max(float(mine), 1e-300)
            if other == island or differs > MADE_AREA:
                continue
            made = self.count[other] == self.count[island] >= MADE_ALIKE
            if not made:
                sides, theirs = _sides(self.points(island)), _sides(self.points(other))
                if differs > TWIN_AREA or np.abs(theirs - sides).max() > TWIN_BOX * sides[0]:
                    continue
            if not fill_one_place(self.low, self.high, island, other):
                return True
        return False


def _is_rod(points: FloatArray, least: float) -> bool:
    """Are some points (n, 3) as long as this, and thin along all of it but at the ends?"""
    if len(points) < 3:
        return False
    place = points @ _axes(points).T
    level = place[:, 0] - place[:, 0].min()
    length = float(level.max())
    shaft = place[(level > ROD_ENDS * length) & (level < (1.0 - ROD_ENDS) * length)]
    thin = not len(shaft) or float(np.ptp(shaft[:, 1:], axis=0).max()) <= ROD_THIN * length
    broad = float(np.ptp(place[:, 1:], axis=0).max())
    return thin and length >= least and broad <= TIP_THIN * length


def _tips(pieces: _Pieces, rod: int, rest: list[int]) -> list[int]:
    """Pieces that carry a rod on beyond its ends: a spear's point, its butt."""
    line = pieces.points(rod)
    middle, along = line.mean(axis=0), _axes(line)[0]
    level = (line - middle) @ along
    low, high = float(level.min()), float(level.max())
    box = pieces.high - pieces.low
    # nothing broader than a tip is one
    near = [i for i in rest if box[i].min() < TIP_THIN * 2.0 * (high - low)]
    found: list[int] = []
    while True:
        for other in near:
            points = pieces.points(other) - middle
            level = points @ along
            begin, end = float(level.min()), float(level.max())
            beyond = not low < float(np.median(level)) < high and begin < high and end > low
            broad = 2.0 * float(np.linalg.norm(points - level[:, None] * along, axis=1).max())
            thin = broad < min(
                TIP_THIN * (max(high, end) - min(low, begin)), (end - begin) / TIP_LONG
            )
            if beyond and thin and not pieces.has_twin(other, rest):
                low, high = min(low, begin), max(high, end)
                found.append(other)
                break
        else:
            return found
        near.remove(found[-1])


def _holds_together(pieces: _Pieces, rod: list[int], rest: list[int], far: float) -> bool:
    """Does a rod join pieces, nearer than this, at either end, and others at the one than at the
    other? Both ends of a string are at the same bow."""
    points = np.concatenate([pieces.points(i) for i in rod])
    level = (points - points.mean(axis=0)) @ _axes(points)[0]
    mine = np.flatnonzero(np.isin(pieces.label, rest))
    corners = pieces.vertices[pieces.faces[mine]]
    low, high = corners.min(axis=1) - far, corners.max(axis=1) + far
    joined: list[set[int]] = []
    for end in (points[np.argmin(level)], points[np.argmax(level)]):
        near = np.flatnonzero(np.all((low < end) & (high > end), axis=1))
        if not len(near):
            return False
        closest = nearest_on_triangles(end, corners[near])
        touched = near[np.linalg.norm(closest - end, axis=1) <= far]
        joined.append(set(pieces.label[mine[touched]].tolist()))
    return all(joined) and not joined[0] & joined[1]


def _axes(points: FloatArray) -> FloatArray:
    """(3, 3) rows: main directions of some points, the longest first."""
    return np.asarray(np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2])


def _sides(points: FloatArray) -> FloatArray:
    """(3,) sides of the box about some points along their main directions, longest first."""
    if len(points) < 3:
        return np.zeros(3)
    return np.asarray(np.sort(np.ptp(points @ _axes(points).T, axis=0))[::-1])
