"""Which way is up: the long way of a figure, with its head near the plane of symmetry.

The candidates are the coordinate axes in the plane and, for a figure that was turned, the main
directions of what lies near the plane. Each is judged together with its plane by how well trunk and
head match their mirror image: they do so in any pose, and only about the true plane.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, cKDTree

from autoplace.measure.footprints import stance
from autoplace.measure.mirror_plane import Plane, Turn, cross, likeness, register, some
from autoplace.measure.samples import Samples

__all__ = [
    "AXES",
    "Upright",
    "core_of",
    "figure_score",
    "judge",
    "judge_closer",
    "lean",
    "mostly_trunk",
    "on_its_feet",
    "up_candidates",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

AXES = {
    sign + name: (1.0 if sign == "+" else -1.0) * np.eye(3)[i]
    for i, name in enumerate("XYZ")
    for sign in "+-"
}
"""Unit vector of each signed axis name."""

CORE_QUERIES = 250
"""Points of trunk and head that judge a direction."""
CLOSER = 4
"""Rounds in which the most likely directions are judged again, each with its core chosen anew."""
CORE_FROM = 0.45
"""Trunk and head lie above this share of the figure's height (crotch .47 S; references 1.2)..."""
CORE_WIDTH = 0.13
"""...and nearer to the plane than this share of it (shoulder half-breadth .129 S, same tables)."""
HEAD_FROM = 0.74
"""The head lies above this share of the height: a baby's chin is there, an adult's at .87 (heads of
a quarter and an eighth of the height, drawing practice)."""
HEAD_SHARE = 4
"""One of so many points of the head counts for the plane."""
CONVENTIONAL_UP = {"+Y": 1.0, "+Z": 0.8}
"""Head start of the two up axes in use (common practice, no source)."""
OFF_AXIS = 16.0
"""Degrees from every axis beyond which a long axis is a candidate where the plane is square to one:
bellies and big heads tilt it by less (own synthetic characters)."""
IN_PLANE = 5.0
"""Degrees from the plane within which an axis counts as lying in it."""
MISFIT_COUNTS = 150.0
MISFIT_MOST = 2.0
"""A misfit of trunk and head of one percent of the height counts as much as three quarters of the
figure's length, and at most as much as all of it: the wrong plane brings .6 to 2 percent (measured
on the demo character)."""
REVERSED = 0.6
REVERSED_MISFIT = 0.02
"""What a direction gains when the figure does not match itself upside down, and the misfit,
fraction of height, that gains all of it; the demo character has .03."""
WHOLE_COUNTS = 50.0
"""The misfit of the whole figure counts less, for a pose spoils it."""
UNMATCHED = 0.01
UNMATCHED_COUNTS = 2.0
"""What surface counts that has none opposite to it within so much of the height. Front and back of
a big-headed figure match but for feet and face, .1 to .25 of its surface, where left and right
leave at most .02 more, whatever is held in one hand (even members and further deals of the invented
families)."""
UNMATCHED_MOST = 0.25
"""More than front and back of a figure differ by is a pose, and tells nothing of the plane."""
CONVENTIONAL_ACROSS = 0.12
"""What a plane square to X gains: whichever axis is up, most characters are modelled facing along
another one than X. It decides only between planes that are alike (common practice, no source)."""
LEVELS = 32
"""Heights at which is looked whether the surface meets the plane: at each of them a trunk shows
about six of 2000 points within...
"""
NEAR_PLANE = 0.015
"""...this share of the figure's size from the plane; half the gap between the calves of a person
who stands with the feet apart is .03 (own synthetic characters)."""
FEET_COUNT = 2.0
"""What feet count that are longer along the plane than across it: .9 on people's bodies, .5 on
figures of boxes. A big head that is turned, or a trunk that leans, makes the wrong plane look
better by .2 to 1.2 (a further deal of the box family)."""
BESIDE_COUNTS = 0.5
"""What round feet count that stand beside each other: less than feet that are long ahead, which are
so in any pose (common practice, no source)."""
PARTED_COUNTS = 1.7
"""What surface parted by the plane below counts: legs are 30 percent of an adult's surface (own
synthetic characters), which gains half of what being tall gains."""
BASE_COUNTS = 2.0
WIDE_BASE = 0.2
"""What a base as wide as this share of the figure's size counts: between an adult's two feet lies
.2 (feet .15 long, .25 apart outside; references 1.2), a crown has .07 to stand on."""
ONE_BASE = 0.75
"""What a base loses that the plane does not part: two feet leave the middle free, the top of a hat
or of a head like a box, as wide as they, does not (further deals of the box family)."""
UPSIDE_DOWN = 0.3
"""What a direction loses that is a vertical axis in use the wrong way round: a figure that stands
on its head in its file is rarer than one whose ears look like legs (common practice, no source)."""
STRAIGHT = 1e-5
"""Corners nearer to a straight line than this share of the height are no corners."""
FLOOR_WITHIN = 6.5
"""Degrees from the trunk's or the whole figure's long axis within which a floor is believed; they
lean by 5 degrees on people's bodies (own synthetic characters), a head thrown back by more."""
SOLE = 0.06
"""Shortest stretch that a foot stands on, fraction of height: the heel's back to the ball of an
adult's foot is .11 S (references 1.2), of a child's .08 (own synthetic characters)."""
CONTACT = 0.012
"""What lies this near to the floor touches it, fraction of height."""
BOTH_ENDS = 0.6
"""Share of the stretch that a foot must touch to stand flat on it."""


@dataclass(frozen=True)
class Upright:
    """A plane of symmetry and a direction up in it, with how much speaks for them."""

    plane: Plane
    up: FloatArray
    """(3,) unit, square to the plane's normal."""
    score: float
    """The higher the better; differences of .3 are clear."""
    core_misfit: float
    """Of trunk and head with their mirror image, fraction of height."""
    unmatched: float = 0.0
    """Share of the surface that has none opposite to it."""
    feet: float = 0.0
    """What its feet count: taken from the score where they are long across the plane."""
    beside: float = 0.0
    """What round feet count that stand on either side of the plane, less than nothing along it."""

    @property
    def pose_apart(self) -> float:
        """The score that the same figure would have if nothing were posed or held on one side, of
        its shape alone."""
        return self.score + UNMATCHED_COUNTS * self.unmatched - min(self.feet, 0.0)

    @property
    def likely(self) -> float:
        """The score among all planes and directions: no more surface counts as unmatched than
        front and back of a figure leave, since the rest is its pose."""
        return self.score + UNMATCHED_COUNTS * max(self.unmatched - UNMATCHED_MOST, 0.0)

    @property
    def with_feet(self) -> float:
        """The score among planes that are turned a little from each other about one direction up.
        Feet that are long ahead count with the same direction up alone: so are horns, ears and the
        folds of a hood when a figure is held upside down."""
        return self.score + max(self.feet, 0.0)

    @property
    def on_feet(self) -> float:
        """The likeliness among planes with the same direction up, where it also counts how round
        feet stand."""
        return self.likely + max(self.feet, 0.0) + self.beside


def up_candidates(surface: Samples, plane: Plane, up: FloatArray | None) -> list[FloatArray]:
    """Directions (3,) in a plane that may be up; only the given one where there is one."""
    normal = plane.normal
    if up is not None:
        return [_square(up, normal)]
    limit = np.sin(np.radians(IN_PLANE))
    found = [_square(axis, normal) for axis in AXES.values() if abs(axis @ normal) < limit]
    points = surface.points
    gap = np.abs(points @ normal - plane.offset)
    near = points[gap <= max(0.25 * float(gap.max()), float(np.percentile(gap, 20)))]
    flat = near - near.mean(axis=0)
    flat = flat - (flat @ normal)[:, None] * normal
    long = _square(np.linalg.eigh(flat.T @ flat)[1][:, 2], normal)
    wide = cross(normal, long)
    apart = np.cos(np.radians(OFF_AXIS if len(found) == 4 else 2.0 * IN_PLANE))
    for direction in (long, -long, wide, -wide):
        if all(direction @ other < apart for other in found):
            found.append(direction)
    return found


def core_of(points: FloatArray, plane: Plane, up: FloatArray) -> NDArray[np.bool_]:
    """(n,) True for points of trunk and head; for all where the figure has none there."""
    along = points @ up
    low, span = float(along.min()), float(np.ptp(along))
    core = along > low + CORE_FROM * span
    core &= np.abs(points @ plane.normal - plane.offset) < CORE_WIDTH * span
    return core if core.sum() >= 60 else np.ones(len(points), dtype=bool)


def mostly_trunk(core: Samples, up: FloatArray) -> Samples:
    """The points of a core with only some of those of the head: heads turn, and a baby's is as
    large as its trunk."""
    along = core.points @ up
    low, high = float(along.min()), float(along.max())
    kept = along < low + (HEAD_FROM - CORE_FROM) / (1.0 - CORE_FROM) * (high - low)
    kept[::HEAD_SHARE] = True
    return Samples(core.points[kept], core.normals[kept], core.area)


def judge(
    surface: Samples, tree: cKDTree, plane: Plane, up: FloatArray, turn: Turn = True
) -> Upright:
    """How much speaks for a plane and a direction up: length, head, and a core that mirrors.

    The plane is registered again on the core, and comes back so.
    """
    points = surface.points
    span = max(float(np.ptp(points @ up)), 1e-300)
    core = core_of(points, plane, up)
    trunk = mostly_trunk(Samples(points[core], surface.normals[core], surface.area), up)
    queries = some(trunk, CORE_QUERIES)
    plane = register(queries, surface, tree, plane, rounds=2, turn=turn)
    up = _square(up, plane.normal)
    misfit = plane.misfit / span
    few = some(surface, CORE_QUERIES)
    whole, unmatched = likeness(few, surface, tree, plane, UNMATCHED * span)
    # a figure upside down is another one, while arms spread to both sides are the same reversed
    level = Plane(up, float(points.mean(axis=0) @ up), np.inf)
    reversed_misfit = register(few, surface, tree, level, rounds=0).misfit / span
    score = figure_score(points, plane, up) + REVERSED * min(reversed_misfit / REVERSED_MISFIT, 1.0)
    score -= min(MISFIT_COUNTS * misfit, MISFIT_MOST) + WHOLE_COUNTS * whole / span
    along, aside = points @ up, points @ plane.normal
    ahead = points @ cross(plane.normal, up)
    size = max(span, float(np.ptp(aside)), float(np.ptp(ahead)))
    feet = stance(aside, ahead, along - along.min(), size)
    long_feet, beside = FEET_COUNT * feet.long_ahead, BESIDE_COUNTS * feet.beside
    score += min(long_feet, 0.0) - UNMATCHED_COUNTS * unmatched
    return Upright(plane, up, score, misfit, unmatched, long_feet, beside)


def judge_closer(surface: Samples, tree: cKDTree, one: Upright, turn: Turn = True) -> Upright:
    """The same judged again: a core that was chosen by a plane a little off puts it right, and
    then another core is chosen."""
    for _ in range(CLOSER):
        again = judge(surface, tree, one.plane, one.up, turn)
        if again.score <= one.score + 0.01:
            break
        one = again
    return one


def figure_score(points: FloatArray, plane: Plane, up: FloatArray) -> float:
    """How much a direction looks like up of a standing figure."""
    along = points @ up
    low, high = float(along.min()), float(along.max())
    span = max(high - low, 1e-300)
    across, ahead = points @ plane.normal, points @ cross(plane.normal, up)
    width, depth = float(np.ptp(across)), float(np.ptp(ahead))
    size = max(span, depth, width)
    gap = np.abs(across - plane.offset)
    parted = PARTED_COUNTS * _parted(gap / size, (along - low) / span)
    aside = across - plane.offset
    stands = _base(aside, ahead, along - low, size) - _base(aside, ahead, high - along, size)
    # chests and arms: more of the surface lies in the upper half of a standing figure
    heavy = float(np.mean(along > 0.5 * (low + high))) - 0.5
    # a figure is symmetric across its width; its front and back may look alike, being flat
    score = (
        2.0 * span / size
        + parted
        + BASE_COUNTS * stands
        + 0.4 * heavy
        + 0.2 * (width - depth) / size
    )
    name = max(AXES, key=lambda axis: float(AXES[axis] @ up))
    if AXES[name] @ up > np.cos(np.radians(1.0)):
        score += 0.15 * CONVENTIONAL_UP.get(name, 0.0)
        if name.replace("-", "+") in CONVENTIONAL_UP and name not in CONVENTIONAL_UP:
            score -= UPSIDE_DOWN
    if abs(plane.normal[0]) > np.cos(np.radians(1.0)):
        score += CONVENTIONAL_ACROSS
    return score


def _base(aside: FloatArray, ahead: FloatArray, above: FloatArray, size: float) -> float:
    """How wide the ground is that a figure would stand on, as a share of its size; less where it
    is not in two, as under two feet.

    Args:
        aside: (n,) of the points from the plane. ahead: (n,) along it.
        above: (n,) over the ground. size: of the figure.
    """
    touching = above < CONTACT * size
    width, near = float(np.ptp(aside[touching])), NEAR_PLANE * size
    area = width * float(np.ptp(ahead[touching]))
    # against what touches near the plane where all of the base is filled alike
    filled = float(np.mean(np.abs(aside[touching]) < near)) * max(width / (2.0 * near), 1.0)
    whole = min(np.sqrt(area) / size, WIDE_BASE)
    return whole * (1.0 - ONE_BASE * min(filled, 1.0))


def _parted(gap: FloatArray, level: FloatArray) -> float:
    """How much more of the surface is parted by the plane below than above, -1 to 1.

    Legs stand on both sides of the plane and leave it free between them, head and trunk lie across
    it at every height. Horns, ears and raised arms leave it free too, but there is less of them.

    Args:
        gap: (n,) of the points from the plane, as a share of the figure's size.
        level: (n,) their heights, 0 to 1.
    """
    row = np.minimum((level * LEVELS).astype(np.int64), LEVELS - 1)
    crossed = np.bincount(row[gap < NEAR_PLANE], minlength=LEVELS) > 0
    free = np.bincount(row, minlength=LEVELS) * ~crossed
    half = LEVELS // 2
    return float(free[:half].sum() - free[half:].sum()) / len(row)


def lean(surface: Samples, plane: Plane, up: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Long axes (3,) in the plane, both pointing up: of trunk and head, and of all near the plane.

    A trunk seen from the side is tall, and a pose leaves it upright or leans it; on a big-headed
    figure the head decides the first, and only the second is its long axis. What belongs to the
    trunk is chosen again by the first answer, for `up` may be far off.
    """
    points = surface.points
    gap = np.abs(points @ plane.normal - plane.offset)
    axes = [up, up]
    for _ in range(2):
        near = gap < CORE_WIDTH * float(np.ptp(points @ up))
        core = core_of(points, plane, up)
        for index, chosen in enumerate((core, near if near.sum() >= 60 else core)):
            flat = points[chosen] - points[chosen].mean(axis=0)
            flat = flat - (flat @ plane.normal)[:, None] * plane.normal
            axis = _square(np.linalg.eigh(flat.T @ flat)[1][:, 2], plane.normal)
            axes[index] = axis if axis @ up >= 0.0 else -axis
        up = _square(axes[0] + axes[1], plane.normal)
    return axes[0], axes[1]


def on_its_feet(
    points: FloatArray, centre: FloatArray, plane: Plane, leans: tuple[FloatArray, ...]
) -> FloatArray | None:
    """Up, square to the floor that the feet stand on flat; None where they do not.

    Seen from the side, the floor is the stretch of the figure's convex outline below its centre.

    Args:
        points: (n, 3) vertices of the figure. centre: (3,) middle of its surface.
        plane: of symmetry. leans: rough directions (3,) of up, see `lean`.
    """
    up = _square(np.sum(leans, axis=0), plane.normal)
    ahead = cross(plane.normal, up)
    flat = np.stack([points @ ahead, points @ up], axis=1)
    span = float(np.ptp(flat[:, 1]))
    low = flat[:, 1] < flat[:, 1].min() + 0.25 * span
    flat, side = flat[low], (points[low] @ plane.normal) > plane.offset
    if len(flat) < 8 or np.ptp(flat[:, 0]) < 1e-6 * span:
        return None
    outline = _corners(flat[ConvexHull(flat).vertices], STRAIGHT * span)  # counter-clockwise
    begin, end = outline, np.roll(outline, -1, axis=0)
    step = end - begin
    length = np.maximum(np.linalg.norm(step, axis=1), 1e-300)
    step = step / length[:, None]
    square = np.outer(step[:, 0], up) - np.outer(step[:, 1], ahead)
    below = np.max([square @ axis for axis in leans], axis=0) > np.cos(np.radians(FLOOR_WITHIN))
    stands = ((np.array([centre @ ahead, centre @ up]) - begin) * step).sum(axis=1) / length
    below &= (stands > -0.5) & (stands < 1.5) & (length > SOLE * span)
    for edge in np.flatnonzero(below)[np.argsort(-length[below], kind="stable")]:
        out = np.array([step[edge, 1], -step[edge, 0]])
        near = (begin[edge] - flat) @ out < CONTACT * span
        place = (flat - begin[edge]) @ step[edge]
        touched = [np.ptp(place[near & of]) for of in (side, ~side) if (near & of).sum() > 1]
        if touched and min(touched) > BOTH_ENDS * length[edge]:
            return np.asarray(square[edge] / np.linalg.norm(square[edge]))
    return None


def _corners(outline: FloatArray, tolerance: float) -> FloatArray:
    """A convex outline without the corners that rounding alone makes of a straight line."""
    kept = list(outline)
    index = 0
    while index < len(kept) and len(kept) > 3:
        before, here, after = kept[index - 1], kept[index], kept[(index + 1) % len(kept)]
        way = after - before
        off = abs(way[0] * (here - before)[1] - way[1] * (here - before)[0])
        if off < tolerance * float(np.hypot(*way)):
            del kept[index]
        else:
            index += 1
    return np.array(kept)


def _square(direction: FloatArray, normal: FloatArray) -> FloatArray:
    """A direction made square to a unit normal."""
    square = direction - (direction @ normal) * normal
    return np.asarray(square / max(float(np.linalg.norm(square)), 1e-300))
