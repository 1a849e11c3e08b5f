"""Find where a character stands: up axis, facing, floor, height and symmetry plane.

The symmetry plane comes from registering the mirrored surface with the surface itself, trimming
the pairs that fit worst, so that a prop on one side or a limb that is posed differently does not
pull it. Up and facing are then read from what lies at the ends of the two axes left: a head near
the plane above, feet with toes ahead of the shin below.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.errors import AutoplaceError
from autoplace.measure.frame_record import Frame

__all__ = ["AXES", "find_frame", "sample_surface"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

AXES = {
    sign + name: (1.0 if sign == "+" else -1.0) * np.eye(3)[i]
    for i, name in enumerate("XYZ")
    for sign in "+-"
}
"""Unit vector of each signed axis name."""

SAMPLES = 1600
"""Surface points used to choose between planes."""
CORE_SAMPLES = 2400
"""Surface points of trunk and head used to place the chosen plane."""
ROUNDS = 10
"""Registration rounds at most."""
KEPT_SHARE = 0.6
"""Share of best-fitting pairs that decide the plane: two arms and a leg that are posed differently
are less than 40 percent of a figure's surface (segment areas: common practice, no source)."""
SNAP_DEGREES = 3.0
"""A symmetry plane within this angle of an axis plane is taken to be that axis plane unless the
tilted one fits much better, since modellers build on the axes and a turned head tilts a fit."""
TILT_GAIN = 0.7
"""A tilted plane must bring the residual below this share of the upright one's."""
CONVENTIONAL_UP = {"+Y": 1.0, "+Z": 0.8}
"""Head start of the two up axes in use (common practice, no source)."""


def sample_surface(vertices: FloatArray, faces: IntArray, count: int) -> FloatArray:
    """Points spread evenly by area over a surface, the same for the same input.

    Args:
        vertices: (n, 3) positions. faces: (m, 3) triangles. count: number of points.

    Returns:
        (count, 3) points; each lies at the middle of its stretch of accumulated area, inside its
        triangle by a low-discrepancy sequence.
    """
    corners = vertices[faces]
    area = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    ends = np.cumsum(area)
    at = (np.arange(count) + 0.5) / count * ends[-1]
    face = np.minimum(np.searchsorted(ends, at), len(faces) - 1)
    # additive recurrence with the plastic number fills the unit square evenly
    k = np.arange(1, count + 1)
    s, t = (k * 0.7548776662466927) % 1.0, (k * 0.5698402909980532) % 1.0
    over = s + t > 1.0
    s, t = np.where(over, 1 - s, s), np.where(over, 1 - t, t)
    a, b, c = corners[face, 0], corners[face, 1], corners[face, 2]
    return np.asarray(a + s[:, None] * (b - a) + t[:, None] * (c - a))


def find_frame(
    vertices: FloatArray,
    faces: IntArray,
    up: str | None = None,
    forward: str | None = None,
    others: FloatArray | None = None,
) -> Frame:
    """Find the working frame of a character.

    Args:
        vertices: (n, 3) surface of the body, input frame. faces: (m, 3) triangles.
        up, forward: signed axis names such as '+Y' where the user knows them.
        others: (k, 3) points known to lie at the front of the head (eyeball centres), or None.

    Returns:
        The frame; its `notes` say what was guessed and how sure.

    Raises:
        AutoplaceError: `up` or `forward` is not an axis name, or both lie on one axis.
    """
    _check_axes(up, forward)
    points = sample_surface(vertices, faces, SAMPLES)
    low, high = points.min(axis=0), points.max(axis=0)
    scale = float((high - low).max())
    notes: list[str] = []
    planes = _symmetry_planes(points, up, forward, scale)
    lateral_axis, normal, offset, residual = planes[0]
    if len(planes) > 1 and planes[1][3] < 1.5 * residual:
        notes.append("the mesh is nearly as symmetric about a second plane; check its facing")
    up_axis, up_why = _find_up(points, lateral_axis, normal, offset, up, forward)
    normal, offset, residual = _settle(vertices, faces, up_axis, normal, offset, lateral_axis)
    forward_axis, forward_why = _find_forward(points, up_axis, normal, offset, forward, others)
    notes += [up_why, forward_why]
    rotation = _rotation(up_axis, forward_axis, normal)
    left = rotation[0]
    middle = offset * float(np.sign(left @ normal))
    turned = vertices @ rotation.T
    used = turned[np.unique(faces)]
    floor, top = _floor_and_top(used, middle, rotation, points)
    height = top - floor
    trunk = used[np.abs(used[:, 0] - middle) < 0.15 * height]
    if not len(trunk):  # a mesh of a few large faces has no corner near its middle
        trunk = used
    depth = 0.5 * (np.percentile(trunk[:, 2], 5) + np.percentile(trunk[:, 2], 95))
    origin = np.array([middle, floor, depth]) @ rotation
    return Frame(
        rotation,
        origin,
        float(height),
        _axis_name(rotation[1]),
        _axis_name(rotation[2]),
        float(residual / height),
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


def _symmetry_planes(
    points: FloatArray, up: str | None, forward: str | None, scale: float
) -> list[tuple[int, FloatArray, float, float]]:
    """(lateral axis, unit normal, offset, residual) per axis that may be lateral, best first.

    The residual is the median distance of the kept pairs, input units.
    """
    tree = cKDTree(points)
    taken = {"XYZ".index(a[1]) for a in (up, forward) if a}
    found = []
    for axis in range(3):
        if axis in taken:
            continue
        best = None
        centres = {
            float(np.median(points[:, axis])),
            float(0.5 * (points[:, axis].min() + points[:, axis].max())),
        }
        for start in sorted(centres):
            plane = _register(points, tree, np.eye(3)[axis], start, scale)
            if best is None or plane[2] < best[2]:
                best = plane
        assert best is not None
        found.append((axis, *best))
    # a figure is symmetric across its width; its flat front and back match by thinness alone,
    # so the misfit counts against how far the figure reaches along the axis
    reach = np.sqrt(np.maximum(np.ptp(points, axis=0), 1e-6 * scale) / scale)
    found.sort(key=lambda plane: plane[3] / reach[plane[0]])
    return found


def _settle(
    vertices: FloatArray,
    faces: IntArray,
    up_axis: FloatArray,
    normal: FloatArray,
    offset: float,
    lateral_axis: int,
) -> tuple[FloatArray, float, float]:
    """The plane registered again on trunk and head alone, whose symmetry no pose breaks."""
    centres = vertices[faces].mean(axis=1)
    along = centres @ up_axis
    low, span = float(along.min()), float(np.ptp(along))
    core = (along > low + 0.45 * span) & (np.abs(centres @ normal - offset) < 0.13 * span)
    if core.sum() < 100:
        core = np.ones(len(faces), dtype=bool)
    points = sample_surface(vertices, faces[core], CORE_SAMPLES)
    tree = cKDTree(points)
    upright = np.eye(3)[lateral_axis]
    tilted = _register(points, tree, normal, offset, span)
    straight = _register(points, tree, upright, offset, span, turn=False)
    near = abs(tilted[0] @ upright) > np.cos(np.radians(SNAP_DEGREES))
    if near and tilted[2] > TILT_GAIN * straight[2]:
        return straight
    return tilted


def _register(
    points: FloatArray,
    tree: cKDTree,
    normal: FloatArray,
    offset: float,
    scale: float,
    turn: bool = True,
) -> tuple[FloatArray, float, float]:
    """Refine a symmetry plane by matching mirrored points with the surface.

    Minimises the squared distance over the best `KEPT_SHARE` of pairs; for given pairs the normal
    is the eigenvector of the least eigenvalue of their symmetric cross-covariance.
    """
    start = normal
    residual = np.inf
    kept = int(KEPT_SHARE * len(points))
    for _ in range(ROUNDS):
        mirrored = points - 2.0 * (points @ normal - offset)[:, None] * normal
        distance, match = tree.query(mirrored)
        order = np.argpartition(distance, kept)[:kept]
        p, q = points[order], points[match[order]]
        pc, qc = p.mean(axis=0), q.mean(axis=0)
        refined = normal
        if turn:
            cross = (p - pc).T @ (q - qc)
            vectors = np.linalg.eigh(cross + cross.T)[1]
            refined = vectors[:, 0] * np.sign(vectors[:, 0] @ normal)
            if refined @ start < np.cos(np.radians(30.0)):
                refined = normal  # not this axis any more; keep the last sound one
        new_offset = float(refined @ (pc + qc) / 2.0)
        moved = abs(new_offset - offset) + scale * np.linalg.norm(refined - normal)
        normal, offset = refined, new_offset
        residual = float(np.median(distance[order]))
        if moved < 1e-5 * scale:
            break
    return normal, offset, residual


def _off_plane(points: FloatArray, normal: FloatArray, offset: float) -> float:
    """Share of points far from the symmetry plane, against their own spread."""
    return float(np.median(np.abs(points @ normal - offset)))


def _find_up(
    points: FloatArray,
    lateral_axis: int,
    normal: FloatArray,
    offset: float,
    up: str | None,
    forward: str | None,
) -> tuple[FloatArray, str]:
    """Up axis (unit, signed) and why: the figure is long, its head is near the plane."""
    if up:
        return AXES[up], f"up is {up} as told"
    scores: dict[str, float] = {}
    extents = np.ptp(points, axis=0)
    for name, axis in AXES.items():
        index = "XYZ".index(name[1])
        if index == lateral_axis or (forward and forward[1] == name[1]):
            continue
        along = points @ axis
        low, high = along.min(), along.max()
        span = max(high - low, 1e-300)
        top = points[along > high - 0.08 * span]
        bottom = points[along < low + 0.08 * span]
        # a head (or one raised arm) is on the plane, two feet are beside it
        gap = (_off_plane(bottom, normal, offset) - _off_plane(top, normal, offset)) / extents.max()
        # chests and arms: more of the surface lies in the upper half of a standing figure
        heavy = float(np.mean(along > 0.5 * (low + high))) - 0.5
        long = span / extents.max()
        scores[name] = 2.0 * long + 6.0 * np.clip(gap, -0.05, 0.05) + 0.4 * heavy
        scores[name] += 0.15 * CONVENTIONAL_UP.get(name, 0.0)
    best = max(scores, key=lambda name: scores[name])
    rest = sorted(scores.values())[-2] if len(scores) > 1 else 0.0
    sure = "clearly" if scores[best] - rest > 0.3 else "probably"
    return AXES[best], f"up is {sure} {best}: the figure's length and the head on its middle plane"


def _find_forward(
    points: FloatArray,
    up_axis: FloatArray,
    normal: FloatArray,
    offset: float,
    forward: str | None,
    others: FloatArray | None,
) -> tuple[FloatArray, str]:
    """Facing (unit, perpendicular to up and to the plane's normal) and why."""
    if forward:
        return AXES[forward], f"facing is {forward} as told"
    facing = np.cross(normal, up_axis)
    facing /= np.linalg.norm(facing)
    along, depth = points @ up_axis, points @ facing
    low, span = along.min(), np.ptp(along)
    if others is not None and len(others):
        near = np.abs(along - float(np.median(others @ up_axis))) < 0.06 * span
        ahead = float(np.median(others @ facing) - np.median(depth[near]))
        sign = 1.0 if ahead >= 0 else -1.0
        return sign * facing, f"facing is {_axis_name(sign * facing)}: that is where the eyes are"
    share = (along - low) / span
    across = points @ normal
    feet = share < 0.04
    vote = 0.0
    for side in (across < offset, across >= offset):
        foot = feet & side
        if foot.sum() < 8:
            continue
        # only the shin that stands over this foot: the other leg may be raised behind
        over = np.abs(across - np.median(across[foot])) < 0.05 * span
        shin = depth[(share > 0.06) & (share < 0.14) & side & over]
        if len(shin) > 4:
            # toes reach further ahead of the shin than the heel reaches behind it
            low_end, high_end = np.percentile(depth[foot], [2, 98])
            vote += high_end + low_end - 2.0 * np.median(shin)
    middle_plane = np.abs(points @ normal - offset) < 0.1 * span
    head = depth[(share > 0.9) & middle_plane]
    neck = depth[(share > 0.8) & (share < 0.87) & middle_plane]
    if len(head) > 10 and len(neck) > 10:
        vote += 0.5 * (np.median(head) - np.median(neck))
    sign = 1.0 if vote >= 0 else -1.0
    sure = "clearly" if abs(vote) > 0.03 * span else "probably"
    chosen = sign * facing
    return chosen, f"facing is {sure} {_axis_name(chosen)}: toes ahead of the shins, face ahead"


def _rotation(up: FloatArray, forward: FloatArray, normal: FloatArray) -> FloatArray:
    """Rows X (left), Y (up), Z (forward); the symmetry normal fixes X, `up` the rest."""
    left = np.cross(up, forward)
    left = normal * np.sign(normal @ left)
    left = left - (left @ up) * up if abs(left @ up) < 0.2 else left
    left /= np.linalg.norm(left)
    ahead = np.cross(left, up)
    ahead /= np.linalg.norm(ahead)
    return np.array([left, np.cross(ahead, left), ahead])


def _floor_and_top(
    used: FloatArray, middle: float, rotation: FloatArray, points: FloatArray
) -> tuple[float, float]:
    """Height of the floor and of the head's top: a raised hand is higher but off the middle."""
    floor = float(used[:, 1].min())
    samples = points @ rotation.T
    reach = float(used[:, 1].max()) - floor
    near = np.abs(used[:, 0] - middle) < 0.04 * reach
    if not near.any():
        near = np.abs(samples[:, 0] - middle) < 0.1 * reach
        return floor, float(samples[near, 1].max()) if near.any() else floor + reach
    return floor, float(used[near, 1].max())
