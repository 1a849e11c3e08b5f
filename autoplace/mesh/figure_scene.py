"""The figure as a whole, asked about one of its pieces: does it cover, sit on, hang on, hold up?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from autoplace.mesh.eyeballs import Eyeball
from autoplace.mesh.layers import LayerGrid, columns
from autoplace.mesh.skull import skull_is_whole
from autoplace.mesh.slices import HeadBox
from autoplace.mesh.spheres import IslandMeasures
from autoplace.mesh.twins import find_twin

__all__ = ["FigureScene", "make_scene"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FEET_LOSS = 0.03
ARM_LOSS = 0.05
"""How much shorter the figure may get at the feet or at a hand without a worn thing, fraction of
height: the thickness of a sole, a glove's overhang (common practice, no source)."""
APART_LOSS = 0.02
"""Share of the rest's surface that may lose its hold on the main part."""
TIGHT = 0.025
"""Cloth this close outside the skin counts as lying on it, fraction of height."""
OUTLINE_LOSS = 0.15
"""Share of cloth's outline that skin may leave empty: its hems (common practice, no source)."""
LEAST_SEEN = 0.3
"""Share of a piece counted as seen at least, however much of it is sunk in others."""
ALONG = 0.3
"""Cosine between the faces of cloth and skin, either way, at least, so that an end that merely
sticks out of a limb does not count as lying on it (common practice, no source)."""
STANDS_OFF = 0.12
"""Head heights from the head beyond which most of a horn or a hanging ear lies; people's ears stand
off by .09 (20 mm of 228, from memory)."""
PIN_AREA = 0.35
"""Surface of a ball or an axle over that of its shell, at most (own synthetic robots: .2 to .3)."""
PIN_ASPECT = 2.0
"""Its longest side over its shortest, at most: a leg under a cloak is no ball."""
PIN_INSIDE = 0.8
"""Share of it that the shell hides, at least (own synthetic robots: .93 and more)."""
PACK_SHARE, PACK_NEAR = 0.7, 4
"""Share of a pack's outline on a back, and within how many cells (common practice, no source)."""
ROOF_TALL = 0.5
"""Height of a plate over both shoulders over its breadth at most: one that reaches down to the
breast is armour (common practice, no source)."""
LOWEST_ROOF = 0.8
"""It lies above this share of the height at which the head begins (own synthetic figures: .9)."""
ROOF_OVER, ROOF_UNDER = 0.5, 0.25
"""Share of it that lies over others at least, and under others below the head at most."""
FACE_OUTLINE = 0.6
"""Outline of what carries the face, as a share of the largest outline of what is at the head: not
a crest on it nor a block of hair behind it (common practice, no source)."""
WHOLE_FIGURE = 0.7
"""A piece this tall, fraction of height, is a figure in one skin and not a trunk."""


@dataclass(frozen=True)
class FigureScene:
    """All islands of a figure with what is known of them. Working frame."""

    measures: IslandMeasures
    grid: LayerGrid
    normals: FloatArray
    """(s, 3) unit normals of the grid's samples, outward as well as can be told."""
    hints: Sequence[str | None]
    home: Sequence[int]
    head: HeadBox
    eye_height: float
    """Of the eyes, or half the head's height where there are none."""
    eyes_seen: bool
    face: frozenset[int]
    """The islands that must stay: the one that carries the face, and body by the user's word."""

    def points(self, islands: Sequence[int]) -> FloatArray:
        """(n, 3) samples of these islands."""
        return self.grid.points[self.grid.of(islands)]

    def units(self, islands: list[int], rest: list[int]) -> list[tuple[int, ...]]:
        """Islands to judge as one: those without a twin that touch each other (a sword and its
        hilt, an arm in three pieces) together, any other alone."""
        lone = [i for i in islands if self.is_lone(i, rest)]
        grouped = self.clusters(lone, by_part=False)
        return [(i,) for i in islands if i not in lone] + grouped

    def clusters(self, islands: list[int], by_part: bool = True) -> list[tuple[int, ...]]:
        """Islands (of one part) in groups that touch, to a cell."""
        found: list[tuple[int, ...]] = []
        for part in sorted({self.home[i] for i in islands}) if by_part else [-1]:
            mine = [i for i in islands if not by_part or self.home[i] == part]
            if len(mine) < 2:
                found += [(i,) for i in mine]
                continue
            thick = ndimage.binary_dilation(self.grid.occupied(mine), np.ones((3, 3, 3)))
            label, _ = ndimage.label(thick, np.ones((3, 3, 3)))
            groups: dict[int, list[int]] = {}
            for island in mine:
                cell = self.grid.cells[self.grid.of([island])[0]]
                groups.setdefault(int(label[tuple(cell)]), []).append(island)
            found += [tuple(group) for group in groups.values()]
        return found

    def is_aside(self, island: int) -> bool:
        """Off the middle."""
        size = self.measures.high[island] - self.measures.low[island]
        return bool(abs(self.measures.centroid[island, 0]) >= 0.15 * max(float(size[0]), 0.02))

    def has_twin(self, island: int, islands: list[int]) -> bool:
        """Off the middle, with a piece of the same size elsewhere: an arm behind the back has."""
        return self.is_aside(island) and not self.is_lone(island, islands)

    def is_lone(self, island: int, islands: list[int]) -> bool:
        """Off the middle, and without a piece of the same size elsewhere."""
        if not self.is_aside(island):
            return False
        return find_twin(self.measures, island, islands) is None

    def cover(self, unit: Sequence[int], others: list[int]) -> tuple[float, float, float]:
        """How much a unit lies over others: close, all around, from behind; shares of itself."""
        grid = self.grid
        others = self.without_pins(unit, others)
        mine, theirs = grid.of(unit), grid.of(others)
        if len(mine) == 0 or len(theirs) == 0:
            return 0.0, 0.0, 0.0
        # only what is near the unit's box can lie close under it
        low, high = grid.points[mine].min(axis=0) - TIGHT, grid.points[mine].max(axis=0) + TIGHT
        near = theirs[np.all((grid.points[theirs] >= low) & (grid.points[theirs] <= high), axis=1)]
        tight = 0.0
        if len(near):
            distance, nearest = cKDTree(grid.points[near]).query(
                grid.points[mine], distance_upper_bound=TIGHT
            )
            found = np.isfinite(distance)
            at, here = near[nearest[found]], mine[found]
            step = grid.points[here] - grid.points[at]
            out = np.einsum("ij,ij->i", step, self.normals[at])
            aside = np.linalg.norm(step - out[:, None] * self.normals[at], axis=1)
            # cloth with two walls has one that faces the skin
            along = np.abs(np.einsum("ij,ij->i", self.normals[here], self.normals[at]))
            lying = (out > 0) & (along > ALONG) & (aside < np.maximum(out, grid.cell))
            # what is sunk under the skin can neither lie on it nor stand off it
            seen = max(len(mine) - int((out < 0).sum()), LEAST_SEEN * len(mine))
            tight = float(lying.sum() / seen)
        if tight > 0 and self.outline_lost(unit, others) > OUTLINE_LOSS:
            tight = 0.0  # it lies on some limbs and replaces others, as shorts over no hips do
        shell = grid.occupied(unit)
        cells = max(int(shell.sum()), 1)
        hidden = grid.covered(others, shell)
        inner = grid.covered(unit, grid.occupied(others))
        around = int((hidden[:, [0, 1, 4, 5]].sum(axis=1) >= 3).sum())
        around -= int((inner[:, [0, 1, 4, 5]].sum(axis=1) >= 3).sum())
        behind = int((hidden[:, 4] & ~hidden[:, 5]).sum())
        back = behind / cells * float((~inner[:, 4]).mean())
        return tight, max(0.0, around / cells), back

    def on_back(self, unit: Sequence[int], others: list[int]) -> bool:
        """Does a unit lie behind a back that is whole without it, and nothing behind the unit, as
        with a pack? The skin before it faces backward."""
        grid = self.grid
        mine, theirs = grid.of(unit), grid.of(others)
        rear = np.full((grid.shape[0], grid.shape[1]), grid.shape[2], dtype=np.int64)
        np.minimum.at(rear, tuple(grid.cells[theirs][:, :2].T), grid.cells[theirs][:, 2])
        theirs = theirs[self.normals[theirs, 2] < -ALONG]
        if not len(mine) or not len(theirs):
            return False
        skin = np.full((grid.shape[0], grid.shape[1]), -1, dtype=np.int64)
        np.maximum.at(skin, tuple(grid.cells[theirs][:, :2].T), grid.cells[theirs][:, 2])
        column = grid.cells[mine][:, :2]
        low = np.full(skin.shape, grid.shape[2], dtype=np.int64)
        high = np.full(skin.shape, -1, dtype=np.int64)
        np.minimum.at(low, tuple(column.T), grid.cells[mine][:, 2])
        np.maximum.at(high, tuple(column.T), grid.cells[mine][:, 2])
        outline = high >= 0
        behind = outline & (skin >= 0) & (low + high < 2 * skin) & (high > skin - PACK_NEAR)
        behind &= rear > low
        return bool(behind.sum() > PACK_SHARE * outline.sum())

    def without_pins(self, unit: Sequence[int], others: list[int]) -> list[int]:
        """The others without what turns in a unit as a ball does in its socket: small, and inside
        it. A shell of a robot or a doll holds such, and is not worn over them."""
        area, sides = self.measures.area, (self.measures.high - self.measures.low)[others]
        small = sides.max(axis=1) < PIN_ASPECT * sides.min(axis=1)
        small &= area[others] < PIN_AREA * area[list(unit)].sum()
        if not small.any():
            return others
        shell, pins = columns(self.grid.occupied(unit)), set()
        for island in np.array(others)[small].tolist():
            hidden = self.grid.covered([island], shell)[:, [0, 1, 4, 5]].sum(axis=1) >= 3
            if len(hidden) and hidden.mean() > PIN_INSIDE:
                pins.add(island)
        return [i for i in others if i not in pins]

    def outline_lost(self, unit: Sequence[int], others: list[int]) -> float:
        """Share of a unit's outline from the front that nothing else would fill."""
        mine = self.grid.occupied(unit).any(axis=2)
        theirs = ndimage.binary_dilation(
            self.grid.occupied(others).any(axis=2), np.ones((3, 3), dtype=bool)
        )
        return float((mine & ~theirs).sum() / max(int(mine.sum()), 1))

    def share_at_head(self, unit: Sequence[int]) -> float:
        """Share of a unit's surface that is at the height of the head."""
        points = self.points(unit)
        return float((points[:, 1] > self.head.low[1]).mean()) if len(points) else 0.0

    def over_the_eyes(self, unit: Sequence[int]) -> bool:
        """Mostly above the eyes, or behind the middle of the head."""
        points = self.points(unit)
        middle = 0.5 * (self.head.low[2] + self.head.high[2])
        return bool(((points[:, 1] > self.eye_height) | (points[:, 2] < middle)).mean() > 0.6)

    def on_head(self, unit: Sequence[int]) -> bool:
        """Does a unit sit on the upper or back part of the head (hair, a hat), not beside it, or
        stand off it (a horn, an ear that hangs)?"""
        if self.share_at_head(unit) < 0.6:
            return False
        if self.stands_off_head(unit):
            return True
        if not self.over_the_eyes(unit):
            return False
        low = self.measures.low[list(unit)].min(axis=0)
        high = self.measures.high[list(unit)].max(axis=0)
        if high[1] < self.eye_height + 0.25 * (self.head.high[1] - self.eye_height):
            return False
        # an ear or a horn has its twin on the other side
        aside = abs(0.5 * (low[0] + high[0])) > 0.5 * (high[0] - low[0])
        return not aside or self.is_lone(unit[0], np.unique(self.grid.island).tolist())

    def stands_off_head(self, unit: Sequence[int]) -> bool:
        """Does a unit touch the island with the face, and most of it reach far from it?"""
        mine, theirs = self.points(unit), self.points(sorted(self.face - set(unit)))
        if not len(mine) or not len(theirs):
            return False
        distance = cKDTree(theirs).query(mine)[0]
        far = STANDS_OFF * float(self.head.high[1] - self.head.low[1])
        touches = float(distance.min()) < TIGHT
        root = mine[int(np.argmin(distance)), 1] > self.eye_height
        return bool(touches and root and (distance > far).mean() > 0.5)

    def is_roof(self, unit: Sequence[int], others: list[int]) -> bool:
        """Is a unit a flat plate over both shoulders, with the trunk and arms beneath it?"""
        low, high = (side[list(unit)] for side in (self.measures.low, self.measures.high))
        size = high.max(axis=0) - low.min(axis=0)
        aside = abs(float(high[:, 0].max() + low[:, 0].min()))
        lowest = LOWEST_ROOF * float(self.head.low[1])
        if size[1] > ROOF_TALL * size[0] or aside > 0.1 * size[0] or low[:, 1].min() < lowest:
            return False
        body = self.grid.occupied(others)
        mine = self.grid.of(others)
        body[tuple(self.grid.cells[mine[self.grid.points[mine, 1] > self.head.low[1]]].T)] = False
        _, _, under, over, _, _ = self.grid.covered(unit, body).mean(axis=0)
        return bool(under > ROOF_OVER and over < ROOF_UNDER)

    def is_carried(self, unit: Sequence[int], others: list[int], rest: list[int]) -> bool:
        """Is a unit without a twin joined to a limb (or to a figure in one skin)? On a trunk with
        limbs in pieces it may be the one arm of a figure that lacks the other."""
        if not all(self.is_lone(i, rest) for i in unit) or not others:
            return False
        neighbour, gap = self._nearest(unit, others)
        if self.is_aside(neighbour) or self.is_whole(neighbour):
            return True
        # a shield may hang as near to a cape as to the hand that holds it
        whole = [i for i in others if self.is_whole(i)]
        return bool(whole) and self._nearest(unit, whole)[1] < gap + self.grid.cell

    def is_whole(self, island: int) -> bool:
        """Is an island a figure in one skin?"""
        return float(self.measures.high[island, 1] - self.measures.low[island, 1]) > WHOLE_FIGURE

    def neighbour(self, unit: Sequence[int], others: list[int]) -> int:
        """The island of `others` that a unit is nearest to."""
        return self._nearest(unit, others)[0]

    def _nearest(self, unit: Sequence[int], others: list[int]) -> tuple[int, float]:
        """The island of `others` that a unit is nearest to, and how far it is."""
        theirs = self.grid.of(others)
        distance, nearest = cKDTree(self.grid.points[theirs]).query(self.points(unit))
        first = int(np.argmin(distance))
        return int(self.grid.island[theirs[nearest[first]]]), float(distance[first])

    def whole_without(self, unit: Sequence[int], others: list[int], roof: bool = False) -> bool:
        """Would the figure keep feet, hands (which no roof has) and skull, and hang together?"""
        if not others:
            return False
        grid = self.grid
        everything = [*others, *unit]
        low, high = grid.reach(everything)
        low_left, high_left = grid.reach(others)
        if low_left[1] - low[1] > FEET_LOSS:
            return False
        # a prop may reach beyond its hand, but not so that one arm ends shorter than the other,
        # unless the other hand has its twin on the shorter side: then that arm is bent
        right_loss, left_loss = low_left[0] - low[0], high[0] - high_left[0]
        uneven = high_left[0] + low_left[0]
        for loss, shorter in ((left_loss, -uneven), (right_loss, uneven)):
            if loss > ARM_LOSS and shorter > ARM_LOSS:
                end = self._farthest(others, 1.0 if uneven > 0 else -1.0)
                if not self.is_aside(end) or find_twin(self.measures, end, others) is None:
                    return False
        if min(left_loss, right_loss) > ARM_LOSS and not (roof or self.on_head(unit)):
            return False
        if self.share_at_head(unit) > 0.2:
            eyes = self.eye_height if self.eyes_seen else None
            face = self.points(sorted(self.face.intersection(others)))
            if not skull_is_whole(self.points(others), face, self.head, eyes):
                return False
        # what turns inside a shell does not hold together what the shell does
        held = grid.main_share(self.without_pins(unit, others))
        return held >= grid.main_share(everything) - APART_LOSS

    def _farthest(self, islands: Sequence[int], side: float) -> int:
        """The island that reaches farthest to the left (1) or the right (-1)."""
        mine = self.grid.of(islands)
        return int(self.grid.island[mine[int(np.argmax(side * self.grid.points[mine, 0]))]])


def make_scene(
    islands: list[int],
    fixed: list[int],
    measures: IslandMeasures,
    grid: LayerGrid,
    corners: FloatArray,
    label: IntArray,
    hints: Sequence[str | None],
    home: Sequence[int],
    head: HeadBox,
    eyes: Sequence[Eyeball],
) -> FigureScene:
    """Gather what is asked of the pieces; arguments as in `worn.find_worn`."""
    sign = _outward(measures, corners, label)
    normals = measures.normals[grid.face] * sign[grid.island][:, None]
    # eyes at half the head height (references section 6)
    height = 0.5 * (head.low[1] + head.high[1])
    if eyes:
        height = float(np.mean([eye.centre[1] for eye in eyes]))
    face = _face_islands(islands, measures, grid, head, eyes)
    return FigureScene(measures, grid, normals, hints, home, head, float(height), bool(eyes), face)


def _outward(measures: IslandMeasures, corners: FloatArray, label: IntArray) -> FloatArray:
    """(k,) 1 or -1 per island: which way its faces are wound, by the sign of its volume."""
    away = measures.face_centre - measures.centroid[label]
    volume = np.einsum("ij,ij->i", away, measures.normals) * measures.face_area
    total = np.bincount(label, volume, len(measures.area))
    return np.where(total < 0, -1.0, 1.0)


def _face_islands(
    islands: list[int],
    measures: IslandMeasures,
    grid: LayerGrid,
    head: HeadBox,
    eyes: Sequence[Eyeball],
) -> frozenset[int]:
    """The island that carries the face: beside the eyes, or the innermost big one of the head."""
    open_island = np.isin(grid.island, islands)
    if eyes:
        near = np.zeros(len(grid.points), dtype=bool)
        for eye in eyes:
            near |= np.linalg.norm(grid.points - eye.centre, axis=1) < 2.0 * eye.radius + grid.cell
        count = np.bincount(grid.island[near & open_island], minlength=len(measures.area))
        if count.max(initial=0) > 0:
            return frozenset([int(np.argmax(count))])
    inside = open_island & np.all((grid.points >= head.low) & (grid.points <= head.high), axis=1)
    count = np.bincount(grid.island[inside], minlength=len(measures.area))
    big = [i for i in islands if count[i] >= 0.3 * count.max() and count[i] > 0]
    # what carries the face is seen from the front, and reaches into the front half
    middle = 0.5 * (head.low[2] + head.high[2])
    outline = {i: int(grid.occupied([i]).any(axis=2).sum()) for i in big}
    large = [
        i
        for i in big
        if outline[i] >= FACE_OUTLINE * max(outline.values())
        and grid.points[inside & (grid.island == i), 2].max() > middle
    ]
    big = large or big
    if not big:
        return frozenset()

    def covers(island: int) -> float:
        others = [i for i in big if i != island]
        if not others:
            return 0.0
        hidden = grid.covered(others, grid.occupied([island]))
        return float((hidden[:, [0, 1, 3, 4, 5]].sum(axis=1) >= 4).mean())

    return frozenset([min(big, key=lambda i: (round(covers(i), 2), -count[i]))])
