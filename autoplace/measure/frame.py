"""Find where a character stands: up axis, facing, floor, height and symmetry plane.

The plane of symmetry and the direction up are looked for together, first along the coordinate axes
and, when trunk and head do not mirror well about any of these, in every direction. Answers close to
an axis are put square to it, since modellers build on the axes. Facing is then read from feet and
head, floor and height from the levels that the surface's area ends at.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.errors import AutoplaceError
from autoplace.measure.facing import find_facing
from autoplace.measure.frame_record import Frame
from autoplace.measure.mirror_plane import (
    SNAP_DEGREES,
    Plane,
    axis_planes,
    cross,
    free_planes,
    settle,
)
from autoplace.measure.samples import Samples, area_level, face_normals, sample_surface
from autoplace.measure.upright import (
    AXES,
    Upright,
    core_of,
    figure_score,
    judge,
    judge_closer,
    lean,
    on_its_feet,
    up_candidates,
)

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
CLEAR_LEAD = 0.3
"""Lead in score beyond which a direction is clear."""
PITCHED = 14.0
"""An axis that a figure's trunk and the floor under its flat feet both deny by more degrees than
this is not up: the figure was turned as a whole."""
HOPELESS = 1.0
"""A direction that looks so much less like up than the best one is not judged any further."""
CLOSE_LOOKS = 8
"""Directions judged again in a free search."""
UP_SNAP = 4.0
"""Degrees within which a direction up that was found freely is taken for an axis: what feet that
stand flat on a floor leave open (measured on the demo character: under 2)."""
END_AREA = 0.0003
"""Share of the surface's area that lies beyond the level at which floor and top are read; a stray
vertex has less."""


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
    vertices = vertices - centre
    normals, area = face_normals(vertices, faces)
    told = [AXES[name] for name in (up, forward) if name]
    notes: list[str] = []
    if near is not None:
        surface = None
        plane = Plane(near.rotation[0], float(near.rotation[0] @ (near.origin - centre)), np.inf)
        best = Upright(plane, near.rotation[1], 0.0, 0.0)
        up_why = near.notes[0] if near.notes else ""
    else:
        surface = sample_surface(vertices, faces, SAMPLES, normals, area)
        best, up_why = _stand(surface, up, forward, told)
    plane, up_axis = _close(vertices, faces, normals, area, best, told)
    if not told:
        if surface is not None:
            up_axis = _from_floor(vertices, faces, area, surface, plane, up_axis)
        plane, up_axis = _snapped(plane, up_axis)
    elif up:
        up_axis = AXES[up]
    forward_axis, forward_why = _forward(
        vertices, faces, normals, area, plane, up_axis, forward, others, centre
    )
    notes += [up_why, forward_why]
    rotation = _rotation(up_axis, forward_axis, plane.normal)
    middle = plane.offset * float(np.sign(rotation[0] @ plane.normal))
    turned = vertices @ rotation.T
    floor, top = _floor_and_top(turned, faces, area, middle)
    height = max(top - floor, 1e-300)
    depth = _depth(turned, faces, area, middle, height)
    return Frame(
        rotation,
        np.array([middle, floor, depth]) @ rotation + centre,
        float(height),
        _axis_name(rotation[1]),
        _axis_name(rotation[2]),
        float(plane.misfit / height),
        tuple(notes),
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

    def judged(planes: list[Plane]) -> list[Upright]:
        tries = [
            (figure_score(surface.points, plane, direction), plane, direction)
            for plane in planes
            for direction in up_candidates(surface, plane, given)
            if forward is None or abs(direction @ AXES[forward]) < 0.5
        ]
        most = max((score for score, _, _ in tries), default=0.0)
        found = [
            judge(surface, tree, plane, direction, turn=free)
            for score, plane, direction in tries
            if score > most - HOPELESS
        ]
        return sorted(found, key=lambda one: -one.score)

    ranked = judged(axis_planes(surface, tree, told))
    if len(told) < 2 and (not ranked or ranked[0].core_misfit > GOOD_CORE):
        ranked += judged(free_planes(surface, tree, told))
        ranked.sort(key=lambda one: -one.score)
        closer = [judge_closer(surface, tree, one, turn=free) for one in ranked[:CLOSE_LOOKS]]
        ranked = sorted([*closer, *ranked[CLOSE_LOOKS:]], key=lambda one: -one.score)
    best = ranked[0]
    if up:
        return best, f"up is {up} as told"
    rest = [one.score for one in ranked if one.up @ best.up < 0.9]
    sure = "clearly" if not rest or best.score - rest[0] > CLEAR_LEAD else "probably"
    name = _axis_name(best.up)
    return best, f"up is {sure} {name}: the figure's length and the head on its middle plane"


def _close(
    vertices: FloatArray,
    faces: IntArray,
    normals: FloatArray,
    area: FloatArray,
    best: Upright,
    told: list[FloatArray],
) -> tuple[Plane, FloatArray]:
    """The plane registered closely on trunk and head, and up square to it."""
    core = core_of(vertices[faces].mean(axis=1), best.plane, best.up)
    surface = sample_surface(vertices, faces[core], CORE_SAMPLES, normals[core], area[core])
    plane = settle(surface, best.plane, turn=not told)
    up = best.up - (best.up @ plane.normal) * plane.normal
    return plane, up / np.linalg.norm(up)


def _from_floor(
    vertices: FloatArray,
    faces: IntArray,
    area: FloatArray,
    surface: Samples,
    plane: Plane,
    up: FloatArray,
) -> FloatArray:
    """Up from the floor under the feet or else the figure's lean, unless an axis will do."""
    leans = lean(surface, plane, up)
    middle = (leans[0] + leans[1]) / np.linalg.norm(leans[0] + leans[1])
    on_axis = float(np.abs(up).max()) > np.cos(np.radians(0.1))
    if on_axis and middle @ up > np.cos(np.radians(PITCHED)):
        return up
    centre = area @ vertices[faces].mean(axis=1) / max(float(area.sum()), 1e-300)
    by_feet = on_its_feet(vertices[np.unique(faces)], centre, plane, leans)
    if on_axis and (by_feet is None or by_feet @ up > np.cos(np.radians(PITCHED))):
        return up
    return middle if by_feet is None else by_feet


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
    vertices: FloatArray,
    faces: IntArray,
    normals: FloatArray,
    area: FloatArray,
    plane: Plane,
    up: FloatArray,
    forward: str | None,
    others: FloatArray | None,
    centre: FloatArray,
) -> tuple[FloatArray, str]:
    if forward:
        return AXES[forward], f"facing is {forward} as told"
    eyes = others - centre if others is not None else None
    facing = find_facing(vertices, faces, normals, area, (plane.normal, plane.offset, up), eyes)
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


def _floor_and_top(
    turned: FloatArray, faces: IntArray, area: FloatArray, middle: float
) -> tuple[float, float]:
    """Height of the floor and of the head's top: a raised hand is higher but off the middle."""
    heights = turned[:, 1][faces]
    floor = _end(heights, area, float(area.sum()))
    reach = float(heights.max()) - floor
    aside = np.abs(turned[:, 0][faces] - middle).min(axis=1)
    for width in (0.04, 0.1, np.inf):
        near = aside < width * reach
        if near.any():
            break
    return floor, -_end(-heights[near], area[near], float(area.sum()))


def _end(heights: FloatArray, area: FloatArray, total: float) -> float:
    """The lowest level of a surface, without what has hardly any area.

    The level with a small area below it lies a little inside; twice as small an area gives the
    way to the end itself. It never lies beyond the lowest corner.
    """
    lowest = float(heights.min())
    wanted = END_AREA * total
    low = heights.min(axis=1) < lowest + 0.1 * (float(heights.max()) - lowest)
    if float(area[low].sum()) < 2.0 * wanted:
        return lowest
    first = area_level(heights[low], area[low], wanted)
    second = area_level(heights[low], area[low], 2.0 * wanted)
    return max(first - (second - first), lowest)


def _depth(
    turned: FloatArray, faces: IntArray, area: FloatArray, middle: float, height: float
) -> float:
    """Middle of the trunk from back to front."""
    centres = turned[faces].mean(axis=1)
    trunk = np.abs(centres[:, 0] - middle) < 0.15 * height
    if not trunk.any():  # a mesh of a few large faces has no middle near its own
        trunk = np.ones(len(faces), dtype=bool)
    depth, weight = centres[trunk, 2], area[trunk]
    order = np.argsort(depth, kind="stable")
    share = np.cumsum(weight[order])
    ends = np.searchsorted(share, [0.05 * share[-1], 0.95 * share[-1]])
    return 0.5 * float(depth[order[ends[0]]] + depth[order[min(ends[1], len(order) - 1)]])
