"""Find where a character stands: up axis, facing, floor, height and symmetry plane.

The plane of symmetry and the direction up are looked for together, first along the coordinate axes
and, when trunk and head do not mirror well about any of these, in every direction. Answers close to
an axis are put square to it, since modellers build on the axes. Facing is then read from feet and
head, floor and height from the levels that the surface's area ends at.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.errors import AutoplaceError
from autoplace.measure.facing import find_facing
from autoplace.measure.frame_record import Frame
from autoplace.measure.mirror_plane import (
    SNAP_DEGREES,
    Plane,
    Turn,
    all_planes,
    axis_planes,
    cross,
    free_planes,
    settle,
)
from autoplace.measure.samples import Samples, area_level, sample_surface
from autoplace.measure.upright import (
    AXES,
    Upright,
    core_of,
    figure_score,
    judge,
    judge_closer,
    lean,
    mostly_trunk,
    on_its_feet,
    up_candidates,
)
from autoplace.mesh.triangles import face_normals

__all__ = ["AXES", "find_frame"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SAMPLES = 2000
"""Surface points used to choose plane and direction."""
CORE_SAMPLES = 3000
"""Surface points of trunk and head used to place the chosen plane."""
GOOD_CORE = 0.004
"""Misfit of trunk and head, fraction of height, below which an axis plane is not doubted; half of
what a wrong plane brings (measured on the demo character)."""
GOOD_SCORE = 2.1
"""Score above which it is not doubted either: a figure as tall as it is wide that parts at the feet
has 2.9 at most; a wrong direction stays below 1.9 (measured on the demo character)."""
CLEAR_LEAD = 0.3
"""Lead in score beyond which a direction is clear."""
EXACT_CORE = 8e-4
"""An axis plane may also fit a round head and trunk that were turned by 10 to 30 degrees, and is
then off by more than so much of the height there: .0009 to .004, where the true planes of figures
that are alike on both sides are off by .0006 at most (further deals of the box family)."""
SAME_UP = 0.9
"""Cosine of the angle within which two directions up count as one."""
SAME_PLANE = 0.7
"""Cosine of the angle within which two planes are one, a little turned; half way to the next axis
plane."""
TURNS = (-40.0, -30.0, -20.0, -10.0, 10.0, 20.0, 30.0, 40.0)
"""Degrees by which the plane is turned about up then: half of what separates the directions of a
free search, and no further than half way to the next axis plane."""
BETTER_MATCHED = 0.7
"""Less than this share of what had none opposite to it has none then: .2 to .66 on figures that
stand turned, .84 where only a big head is (further deals of the box family)."""
HOPELESS = 1.0
"""A direction that looks so much less like up than the best one is not judged any further."""
FEW_TRIES, MANY_TRIES = 16, 150
"""Directions judged in a free search, and when that has not found a figure either."""
CLOSE_LOOKS = 10
"""Directions judged again in a free search."""
UP_SNAP = 4.0
"""Degrees within which a direction up that was found freely is taken for an axis: what feet that
stand flat on a floor leave open (measured on the demo character: under 2)."""
SAMPLED = 2e-4
"""Share of a figure's width that a registered plane may be off by its sampling (measured on the
demo character: under 1e-4)."""
ZERO = 4e-4
"""The same for the plane through the file's zero, which modellers mirror about."""
END_AREA = 0.0003
"""Share of the surface's area that lies beyond the level at which floor and top are read; a stray
vertex has less."""


@dataclass(frozen=True)
class _Surface:
    """A surface with what all steps need of its triangles."""

    vertices: FloatArray
    faces: IntArray
    normals: FloatArray
    area: FloatArray
    centres: FloatArray
    """(m, 3) middles of the triangles."""

    @staticmethod
    def of(vertices: FloatArray, faces: IntArray) -> _Surface:
        normals, area = face_normals(vertices, faces)
        a, b, c = (vertices[faces[:, corner]] for corner in range(3))
        return _Surface(vertices, faces, normals, area, (a + b + c) / 3.0)

    def samples(self, count: int, chosen: NDArray[np.bool_] | None = None) -> Samples:
        """Points on all, or on the chosen triangles (m,)."""
        if chosen is None:
            return sample_surface(self.vertices, self.faces, count, self.normals, self.area)
        return sample_surface(
            self.vertices, self.faces[chosen], count, self.normals[chosen], self.area[chosen]
        )


def find_frame(
    vertices: FloatArray,
    faces: IntArray,
    up: str | None = None,
    forward: str | None = None,
    others: FloatArray | None = None,
    near: Frame | None = None,
) -> Frame:
    """Find the working frame of a character.

    Args:
        vertices: (n, 3) surface of the body, input frame. faces: (m, 3) triangles.
        up, forward: signed axis names such as '+Y' where the user knows them.
        others: (k, 3) points known to lie at the front of the head (eyeball centres), or None.
        near: a frame of much the same surface, to start from instead of searching.

    Returns:
        The frame; its `notes` say what was guessed and how sure.

    Raises:
        AutoplaceError: `up` or `forward` is not an axis name, or both lie on one axis.
    """
    _check_axes(up, forward)
    # far from the origin, differences of coordinates keep their digits only about a near point
    centre = vertices[faces[0, 0]] if near is None else near.origin
    surface = _Surface.of(vertices - centre, faces)
    told = [AXES[name] for name in (up, forward) if name]
    samples = None
    if near is not None:
        plane = Plane(near.rotation[0], float(near.rotation[0] @ (near.origin - centre)), np.inf)
        best = Upright(plane, near.rotation[1], 0.0, 0.0)
        up_why = near.notes[0] if near.notes else ""
    else:
        samples = surface.samples(SAMPLES)
        best, up_why = _stand(samples, up, forward, told)
    core = surface.samples(CORE_SAMPLES, core_of(surface.centres, best.plane, best.up))
    trunk = mostly_trunk(core, best.up)
    turn = _freedom(up, forward, best.plane)
    plane = _centred(settle(core, best.plane, turn, trunk), surface.centres, centre)
    up_axis = best.up - (best.up @ plane.normal) * plane.normal
    up_axis = up_axis / np.linalg.norm(up_axis)
    if not told:
        if samples is not None:
            up_axis = _from_floor(surface, samples, plane, up_axis)
        plane, up_axis = _snapped(plane, up_axis)
    elif up:
        up_axis = AXES[up]
    forward_axis, forward_why = _forward(surface, plane, up_axis, forward, others, centre)
    rotation = _rotation(up_axis, forward_axis, plane.normal)
    middle = plane.offset * float(np.sign(rotation[0] @ plane.normal))
    floor, top = _floor_and_top(surface, rotation, middle)
    height = max(top - floor, 1e-300)
    # a mean over triangles, for samples lie elsewhere when the mesh is mirrored or shuffled
    trunk_area = surface.area * core_of(surface.centres, plane, up_axis)
    depth = float(trunk_area @ (surface.centres @ rotation[2]) / max(trunk_area.sum(), 1e-300))
    return Frame(
        rotation,
        np.array([middle, floor, depth]) @ rotation + centre,
        float(height),
        _axis_name(rotation[1]),
        _axis_name(rotation[2]),
        float(plane.misfit / height),
        (up_why, forward_why),
    )


def _check_axes(up: str | None, forward: str | None) -> None:
    for option, value in (("--up", up), ("--forward", forward)):
        if value is not None and value not in AXES:
            raise AutoplaceError(f"{option} {value}: not an axis; use one of {', '.join(AXES)}.")
    if up and forward and up[1] == forward[1]:
        raise AutoplaceError(
            f"--up {up} and --forward {forward} lie on one axis; choose two different axes."
        )


def _axis_name(direction: FloatArray) -> str:
    return max(AXES, key=lambda name: float(AXES[name] @ direction))


def _stand(
    surface: Samples, up: str | None, forward: str | None, told: list[FloatArray]
) -> tuple[Upright, str]:
    """The plane and the direction up for which most speaks, and why in words."""
    tree = cKDTree(surface.points)
    given = AXES[up] if up else None
    free = not told

    def judged(planes: list[Plane], most: int) -> list[Upright]:
        tries = [
            (figure_score(surface.points, plane, direction), plane, direction)
            for plane in planes
            for direction in up_candidates(surface, plane, given)
            if forward is None or abs(direction @ AXES[forward]) < 0.5
        ]
        tries.sort(key=lambda one: -one[0])
        return [
            judge(surface, tree, plane, direction, turn=free)
            for score, plane, direction in tries[:most]
            if score > tries[0][0] - HOPELESS
        ]

    ranked = judged(axis_planes(surface, tree, told), FEW_TRIES)
    ranked.sort(key=lambda one: -one.likely)
    for widely in (False, True):
        if (ranked and _is_good(ranked[0])) or len(told) > 1:
            break
        planes = all_planes(surface, told) if widely else free_planes(surface, tree, told)
        ranked = [*ranked, *judged(planes, MANY_TRIES if widely else FEW_TRIES)]
        ranked.sort(key=lambda one: -one.likely)
        closer = [judge_closer(surface, tree, one, turn=free) for one in ranked[:CLOSE_LOOKS]]
        ranked = sorted([*closer, *ranked[CLOSE_LOOKS:]], key=lambda one: -one.likely)
    alike = [one for one in ranked if one.up @ ranked[0].up > SAME_UP]
    best = max(alike, key=lambda one: one.on_feet)
    across = best.plane.normal
    near = [one for one in alike if abs(one.plane.normal @ across) > SAME_PLANE]
    best = max(near, key=lambda one: one.with_feet)
    if forward is None and best.core_misfit > EXACT_CORE:
        best = _turned_about_up(surface, tree, best, True if given is None else given)
    if up:
        return best, f"up is {up} as told"
    rest = [one.likely for one in ranked if one.up @ best.up < SAME_UP]
    word = "clearly" if not rest or best.likely - rest[0] > CLEAR_LEAD else "probably"
    name = _axis_name(best.up)
    return best, f"up is {word} {name}: the figure's length and the head on its middle plane"


def _freedom(up: str | None, forward: str | None, plane: Plane) -> Turn:
    """How a plane that was found may turn when it is put right: where up is told, about that and
    only when the plane is square to no axis; not at all where facing is told."""
    if forward is not None:
        return False
    if up is None:
        return True
    square = float(np.abs(plane.normal).max()) > np.cos(np.radians(SNAP_DEGREES))
    return False if square else AXES[up]


def _turned_about_up(surface: Samples, tree: cKDTree, one: Upright, turn: Turn) -> Upright:
    """The plane through the same direction up for which most speaks; the given one unless another
    is clearly better, by head, trunk and limbs: what is posed fits no plane closely and is mostly
    square to the axes, and a big head that is turned fits its own."""
    centre = surface.points.mean(axis=0)
    centre = centre - (centre @ one.plane.normal - one.plane.offset) * one.plane.normal
    across, ahead = one.plane.normal, cross(one.up, one.plane.normal)
    best, least = one, one.with_feet + CLEAR_LEAD
    for angle in np.radians(TURNS):
        normal = np.cos(angle) * across + np.sin(angle) * ahead
        plane = Plane(normal, float(centre @ normal), np.inf)
        found = judge(surface, tree, plane, one.up, turn)
        found = judge_closer(surface, tree, found, turn)
        matched = found.unmatched < BETTER_MATCHED * one.unmatched
        if matched and found.with_feet > max(best.with_feet, least):
            best = found
    return best


def _is_good(one: Upright) -> bool:
    """Whether a direction is so much like a figure's that no other is looked for."""
    return one.core_misfit < GOOD_CORE and one.pose_apart > GOOD_SCORE


def _centred(plane: Plane, centres: FloatArray, centre: FloatArray) -> Plane:
    """A plane square to an axis, put where the modeller most likely had it, if it is there already
    but for what sampling leaves open: on the file's own zero, or on the middle of the triangles."""
    axis = int(np.argmax(np.abs(plane.normal)))
    sign = float(plane.normal[axis])
    if abs(sign) < 1.0:
        return plane
    low, high = float(centres[:, axis].min()), float(centres[:, axis].max())
    for middle, allowed in ((-float(centre[axis]), ZERO), (0.5 * (low + high), SAMPLED)):
        if abs(middle * sign - plane.offset) < allowed * (high - low):
            return replace(plane, offset=middle * sign)
    return plane


def _from_floor(surface: _Surface, samples: Samples, plane: Plane, up: FloatArray) -> FloatArray:
    """Up from the floor under the feet or else the figure's lean, unless an axis will do."""
    if float(np.abs(up).max()) > np.cos(np.radians(0.1)):
        return up
    leans = lean(samples, plane, up)
    used = surface.vertices[np.unique(surface.faces)]
    by_feet = on_its_feet(used, samples.points.mean(axis=0), plane, leans)
    if by_feet is not None:
        return by_feet
    if float(np.abs(plane.normal).max()) == 1.0:
        # only feet flat on a floor tell a figure that was turned from one that bends or bows
        return AXES[_axis_name(up)]
    return (leans[0] + leans[1]) / float(np.linalg.norm(leans[0] + leans[1]))


def _snapped(plane: Plane, up: FloatArray) -> tuple[Plane, FloatArray]:
    """Up put on an axis when it is nearly one and the plane allows it."""
    axis = AXES[_axis_name(up)]
    level = abs(axis @ plane.normal) < np.sin(np.radians(SNAP_DEGREES))
    if axis @ up < np.cos(np.radians(UP_SNAP)) or not level:
        return plane, up
    normal = plane.normal - (plane.normal @ axis) * axis
    normal = normal / np.linalg.norm(normal)
    return replace(plane, normal=normal), axis


def _forward(
    surface: _Surface,
    plane: Plane,
    up: FloatArray,
    forward: str | None,
    others: FloatArray | None,
    centre: FloatArray,
) -> tuple[FloatArray, str]:
    if forward:
        return AXES[forward], f"facing is {forward} as told"
    eyes = others - centre if others is not None else None
    facing = find_facing(
        surface.vertices,
        surface.faces,
        surface.normals,
        surface.area,
        (plane.normal, plane.offset, up),
        eyes,
    )
    sure = "clearly" if facing.clear else "probably"
    return facing.forward, f"facing is {sure} {_axis_name(facing.forward)}: {facing.why}"


def _rotation(up: FloatArray, forward: FloatArray, normal: FloatArray) -> FloatArray:
    """Rows X (left), Y (up), Z (forward); the symmetry normal fixes X, `up` the rest."""
    left = cross(up, forward)
    left = normal * np.sign(normal @ left)
    left = left - (left @ up) * up if abs(left @ up) < 0.2 else left
    left /= np.linalg.norm(left)
    ahead = cross(left, up)
    ahead /= np.linalg.norm(ahead)
    return np.array([left, cross(ahead, left), ahead])


def _floor_and_top(surface: _Surface, rotation: FloatArray, middle: float) -> tuple[float, float]:
    """Height of the floor and of the head's top: a raised hand is higher but off the middle."""
    height = surface.vertices @ rotation[1]
    aside = surface.vertices @ rotation[0] - middle
    heights = np.stack([height[surface.faces[:, corner]] for corner in range(3)], axis=1)
    total = float(surface.area.sum())
    floor = _end(heights, surface.area, total)
    reach = float(heights.max()) - floor
    upper = np.flatnonzero(surface.centres @ rotation[1] > floor + 0.5 * reach)
    a, b, c = (aside[surface.faces[upper, corner]] for corner in range(3))
    # a large face may cross the middle with all its corners far from it
    left, right = np.maximum(np.maximum(a, b), c), np.minimum(np.minimum(a, b), c)
    for width in (0.04, 0.1, np.inf):
        near = upper[(left > -width * reach) & (right < width * reach)]
        if len(near):
            break
    return floor, -_end(-heights[near], surface.area[near], total)


def _end(heights: FloatArray, area: FloatArray, total: float) -> float:
    """The lowest level of a surface, without what has hardly any area.

    The level with a small area below it lies a little inside; twice as small an area gives the
    way to the end itself. It never lies beyond the lowest corner.
    """
    lowest = float(heights.min())
    wanted = END_AREA * total
    lowest_of = np.minimum(np.minimum(heights[:, 0], heights[:, 1]), heights[:, 2])
    low = lowest_of < lowest + 0.1 * (float(heights.max()) - lowest)
    if float(area[low].sum()) < 2.0 * wanted:
        return lowest
    first = area_level(heights[low], area[low], wanted)
    second = area_level(heights[low], area[low], 2.0 * wanted)
    return max(first - (second - first), lowest)
