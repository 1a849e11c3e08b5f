"""The plane of symmetry of a figure that may stand in any direction.

The mirrored surface is registered with the surface itself. A pair is a mirrored point and the
nearest point of the surface; its misfit is counted along the surface's normal, so that the result
does not depend on where exactly the points lie. Pairs that fit badly count little, so that a prop
on one side or a limb that is posed differently does not pull the plane.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.measure.samples import Samples

__all__ = [
    "Plane",
    "Turn",
    "all_planes",
    "axis_planes",
    "cross",
    "free_planes",
    "likeness",
    "mirror_middle",
    "register",
    "settle",
    "some",
]

FloatArray = NDArray[np.float64]
Turn: TypeAlias = bool | FloatArray
"""How a plane that is moved may turn: anyhow, not at all, or about one direction (3,) in it."""

QUERIES = 700
"""Points that are mirrored to judge and move a plane."""
MIRROR_BOXES = (64, 12)
"""Boxes across a figure along the axis that is mirrored, and along the others: a hand is two boxes
wide (common practice, no source)."""
FEW_QUERIES = 250
"""Points that are mirrored for a first judgement of many directions."""
ROUNDS = 16
"""Registration rounds at most."""
SCALE = 1.5
"""Misfit at which a pair counts a quarter, over the typical one."""
STILL = 3e-5
"""A plane that moves by less than this share of the figure's size has arrived."""
KEPT_SHARE = 0.6
"""Share of best-fitting pairs that judge a plane: two arms and a leg that are posed differently
are less than 40 percent of a figure's surface (segment areas: common practice, no source)."""
SNAP_DEGREES = 3.0
"""A symmetry plane within this angle of an axis plane is taken to be that axis plane unless the
tilted one fits much better, since modellers build on the axes and a turned head tilts a fit."""
TILT_GAIN = 0.7
"""A tilted plane must bring the misfit below this share of the upright one's."""
DIRECTIONS, MANY = 60, 240
"""Directions tried on the half sphere when no axis plane fits, 20 degrees apart; and when that
finds nothing either, 10 degrees apart."""
LOOKED_AT = 14
"""Planes in free directions that are moved to where they fit best."""
KEPT_PLANES = 6
"""How many of them are judged with every direction that may be up."""
APART = 0.96
"""Cosine of the angle (16 degrees) within which two planes count as one."""
ALIKE = 0.6
"""Cosine of the angle between two normals that may belong to a pair."""
FARTHEST_TURN = 30.0
"""A registration that turns its plane by more degrees has left the one it was started for."""


@dataclass(frozen=True)
class Plane:
    """Points x with normal . x = offset."""

    normal: FloatArray
    """(3,) unit."""
    offset: float
    misfit: float
    """Typical misfit of the pairs that fit best; units of the points."""


def axis_planes(surface: Samples, tree: cKDTree, forbidden: list[FloatArray]) -> list[Plane]:
    """The best plane of symmetry near each coordinate plane.

    Args:
        surface: at least some hundred points of the figure. tree: of its points.
        forbidden: directions that lie in the plane (up, forward, where the user knows them).
    """
    few = some(surface, FEW_QUERIES)
    planes = []
    for axis in range(3):
        if any(abs(direction[axis]) > 0.5 for direction in forbidden):
            continue
        normal = np.eye(3)[axis]
        # a figure's middle is its surface's, or where most of it lies opposite to its like
        middles = (float(np.median(surface.points[:, axis])), mirror_middle(surface.points, axis))
        starts = [
            register(few, surface, tree, Plane(normal, middle, np.inf), rounds=0)
            for middle in middles
        ]
        start = min(starts, key=lambda plane: plane.misfit)
        planes.append(register(few, surface, tree, start, rounds=3, turn=not forbidden))
    return planes


def mirror_middle(points: FloatArray, axis: int) -> float:
    """Where a plane square to a coordinate axis has most points opposite to points.

    The points are counted in boxes, and the boxes laid over their mirror image at every shift: what
    has nothing opposite to it, as a shield in one hand, pulls the plane nowhere.

    Args:
        points: (n, 3) on a surface, evenly spread. axis: 0, 1 or 2.

    Returns:
        Its coordinate on that axis, to half a box (a 128th of the points' reach).
    """
    low, reach = points.min(axis=0), np.maximum(np.ptp(points, axis=0), 1e-300)
    fine = np.minimum((points - low) / reach * MIRROR_BOXES[0], MIRROR_BOXES[0] - 1)
    coarse = np.minimum((points - low) / reach * MIRROR_BOXES[1], MIRROR_BOXES[1] - 1)
    one, other = (other for other in range(3) if other != axis)
    shape = (MIRROR_BOXES[1], MIRROR_BOXES[1], MIRROR_BOXES[0])
    box = np.stack([coarse[:, one], coarse[:, other], fine[:, axis]]).astype(np.int64)
    count = np.bincount(np.ravel_multi_index(tuple(box), shape), minlength=np.prod(shape))
    # roots: their products count points that have others opposite, however dense they lie
    rows = np.sqrt(count.reshape(-1, shape[2]))
    # by sums of two boxes' numbers: those that lie opposite about one plane have the same
    wave = np.fft.rfft(rows, 2 * shape[2], axis=1)
    opposite = np.fft.irfft((wave**2).sum(axis=0), 2 * shape[2])
    peak = int(np.argmax(opposite))
    return float(low[axis] + 0.5 * (peak + 1) / shape[2] * reach[axis])


def all_planes(surface: Samples, forbidden: list[FloatArray]) -> list[Plane]:
    """Planes through the middle of a surface, square to directions all over half a sphere."""
    centre = surface.points.mean(axis=0)
    return [Plane(n, float(centre @ n), np.inf) for n in _half_sphere(MANY, forbidden)]


def free_planes(surface: Samples, tree: cKDTree, forbidden: list[FloatArray]) -> list[Plane]:
    """Planes of symmetry in any direction, those that fit best, no two alike."""
    few = some(surface, FEW_QUERIES)
    centre = surface.points.mean(axis=0)
    turn = not forbidden

    def doubt(plane: Plane) -> float:
        # a figure is symmetric across its width; its flat front and back match by thinness alone
        reach = float(np.ptp(surface.points @ plane.normal))
        return plane.misfit / float(np.sqrt(max(reach, 1e-300)))

    starts = [Plane(n, float(centre @ n), np.inf) for n in _half_sphere(DIRECTIONS, forbidden)]
    coarse = [register(few, surface, tree, plane, rounds=3, turn=turn) for plane in starts]
    near = _apart(sorted(coarse, key=doubt), LOOKED_AT)
    close = [register(few, surface, tree, plane, rounds=ROUNDS, turn=turn) for plane in near]
    return _apart(sorted(close, key=doubt), KEPT_PLANES)


def _apart(planes: list[Plane], most: int) -> list[Plane]:
    """The first of some planes, without those that are nearly the same as one before."""
    found: list[Plane] = []
    for plane in planes:
        if all(abs(plane.normal @ other.normal) < APART for other in found):
            found.append(plane)
        if len(found) == most:
            break
    return found


def _half_sphere(count: int, forbidden: list[FloatArray]) -> FloatArray:
    """(k, 3) directions spread over half a sphere, or over a half circle when one is forbidden."""
    if forbidden:
        up = forbidden[0]
        side = cross(up, np.eye(3)[int(np.argmin(np.abs(up)))])
        side /= np.linalg.norm(side)
        angle = np.arange(count // 3) * (np.pi / (count // 3))
        return np.outer(np.cos(angle), side) + np.outer(np.sin(angle), cross(up, side))
    # golden-angle spiral
    k = np.arange(count) + 0.5
    z = k / count
    turn = np.pi * (1.0 + np.sqrt(5.0)) * k
    ring = np.sqrt(1.0 - z**2)
    return np.stack([ring * np.cos(turn), ring * np.sin(turn), z], axis=1)


def settle(
    surface: Samples, plane: Plane, turn: Turn = True, queries: Samples | None = None
) -> Plane:
    """The plane registered closely, and put square to an axis when it is nearly so.

    Args:
        surface: points of a part of the figure that no pose breaks, trunk and head.
        plane: where to start. turn: how it may turn.
        queries: those of them that are mirrored; all when None.
    """
    tree = cKDTree(surface.points)
    queries = some(queries or surface, QUERIES)
    nearest = int(np.argmax(np.abs(plane.normal)))
    upright = np.eye(3)[nearest] * np.sign(plane.normal[nearest])
    near = abs(plane.normal[nearest]) > np.cos(np.radians(2.0 * SNAP_DEGREES))
    straight = None
    if near:
        middle = surface.points.mean(axis=0)
        start = float(middle @ upright + plane.offset - plane.normal @ middle)
        straight = register(queries, surface, tree, Plane(upright, start, np.inf), turn=False)
    if turn is False:
        return straight or register(queries, surface, tree, plane, turn=False)
    tilted = register(queries, surface, tree, straight or plane, turn=turn)
    if straight is None:
        nearest = int(np.argmax(np.abs(tilted.normal)))
    near = abs(tilted.normal[nearest]) > np.cos(np.radians(SNAP_DEGREES))
    if straight is not None and near and tilted.misfit > TILT_GAIN * straight.misfit:
        return straight
    return tilted


@dataclass(frozen=True)
class _Pairs:
    mirrored: FloatArray
    found: FloatArray
    normals: FloatArray
    """Of the surface at `found`, turned to the side of the mirrored point's own."""
    misfit: FloatArray
    """(n,)"""

    def kept(self) -> float:
        """Typical misfit of the pairs that fit best."""
        number = max(int(KEPT_SHARE * len(self.misfit)), 1)
        return float(np.mean(np.partition(self.misfit, number - 1)[:number]))


def cross(a: FloatArray, b: FloatArray) -> FloatArray:
    """(3,) the cross product of two vectors, without the cost of doing it for many."""
    x, y, z = a.tolist()
    u, v, w = b.tolist()
    return np.array([y * w - z * v, z * u - x * w, x * v - y * u])


def some(surface: Samples, count: int) -> Samples:
    """Every so-maniest point, about `count` in all."""
    step = max(len(surface.points) // count, 1)
    return Samples(surface.points[::step], surface.normals[::step], surface.area)


def _pairs(queries: Samples, target: Samples, tree: cKDTree, plane: Plane) -> _Pairs:
    normal = plane.normal
    mirrored = queries.points - 2.0 * (queries.points @ normal - plane.offset)[:, None] * normal
    facing = queries.normals - 2.0 * (queries.normals @ normal)[:, None] * normal
    gap, match = tree.query(mirrored)
    found, normals = target.points[match], target.normals[match]
    # faces may be flipped, so only the line of a normal is trusted
    agree = np.abs(np.einsum("ij,ij->i", facing, normals)) > ALIKE
    across = np.einsum("ij,ij->i", mirrored - found, normals)
    spacing = target.spacing
    beyond = np.maximum(gap - spacing, 0.0)
    misfit = np.where(agree, np.hypot(across, beyond), np.maximum(gap, spacing))
    return _Pairs(mirrored, found, normals, misfit)


def likeness(
    queries: Samples, target: Samples, tree: cKDTree, plane: Plane, far: float
) -> tuple[float, float]:
    """How well a surface matches its mirror image: the misfit of the pairs that fit best, and the
    share of pairs that are farther apart than `far`; arguments as in `register`."""
    pairs = _pairs(queries, target, tree, plane)
    return pairs.kept(), float(np.mean(pairs.misfit > far))


def register(
    queries: Samples,
    target: Samples,
    tree: cKDTree,
    plane: Plane,
    rounds: int = ROUNDS,
    turn: Turn = True,
) -> Plane:
    """Move a plane to where the mirrored surface fits the surface best.

    Args:
        queries: the points that are mirrored. target: the points they are paired with.
        tree: of the target's points.
        plane: where to start. turn: how it may turn.
        rounds: most rounds of pairing and moving; 0 only judges the plane.

    Returns:
        The best plane met on the way, with its misfit.
    """
    centre = queries.points.mean(axis=0)
    size = float(np.ptp(target.points, axis=0).max())
    now, best = plane, plane
    for step in range(rounds + 1):
        pairs = _pairs(queries, target, tree, now)
        misfit = pairs.kept()
        if step == 0 or misfit < best.misfit:
            best = Plane(now.normal, now.offset, misfit)
        if step == rounds:
            break
        refined = _moved(queries.points, pairs, now, centre, turn)
        if refined.normal @ plane.normal < np.cos(np.radians(FARTHEST_TURN)):
            break
        change = size * float(np.linalg.norm(refined.normal - now.normal))
        change += abs(float(centre @ (refined.normal - now.normal)) - refined.offset + now.offset)
        now = refined
        if change < STILL * size:
            break
    return best


def _moved(
    points: FloatArray, pairs: _Pairs, plane: Plane, centre: FloatArray, turn: Turn
) -> Plane:
    """One least-squares step: the plane for which the pairs' misfits across the surface shrink.

    Turning is about a centre, so that it does not mix with moving.
    """
    normal, offset = plane.normal, plane.offset - float(centre @ plane.normal)
    points = points - centre
    # pairs that all fit to the last digits leave nothing to weigh
    typical = max(SCALE * pairs.kept(), 1e-12 * float(np.abs(points).max()), 1e-300)
    weight = 1.0 / (1.0 + (pairs.misfit / typical) ** 2) ** 2
    facing = pairs.normals @ normal
    along = points @ normal - offset
    across = np.einsum("ij,ij->i", pairs.mirrored - pairs.found, pairs.normals)
    columns = [2.0 * facing]
    ways = _ways(normal, turn)
    for way in ways:
        columns.append(-2.0 * (points @ way) * facing - 2.0 * along * (pairs.normals @ way))
    matrix = np.stack(columns, axis=1)
    scaled = matrix * weight[:, None]
    # a ball has no preferred plane: hold still what the pairs do not decide
    square = scaled.T @ matrix
    square += 1e-9 * max(float(np.trace(square)), 1e-300) * np.eye(len(columns))
    change = np.linalg.solve(square, -scaled.T @ across)
    if ways:
        normal = normal + sum(far * way for far, way in zip(change[1:], ways, strict=True))
        normal = normal / np.linalg.norm(normal)
    offset = offset + float(change[0])
    return Plane(normal, offset + float(centre @ normal), np.inf)


def _ways(normal: FloatArray, turn: Turn) -> list[FloatArray]:
    """Directions (3,), square to a unit normal and to each other, that it may lean to."""
    if turn is False:
        return []
    if turn is not True:
        return [cross(np.asarray(turn), normal)]
    first = cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    first /= np.linalg.norm(first)
    return [first, cross(normal, first)]
