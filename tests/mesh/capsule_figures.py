"""Simple figures for the tests of roles: bodies of capsules, with clothes, eyes and props.

Working frame: +Y up, +Z where it faces, +X its left, floor y = 0, height about 1.
"""

from __future__ import annotations

import numpy as np
from skimage.measure import marching_cubes

from autoplace.mesh.character import Character
from autoplace.mesh.load import character_from_arrays

Mesh = tuple[np.ndarray, np.ndarray]

# bone ends and radii of an adult of ordinary proportions, A-pose arms at 40 degrees; by eye
LIMBS: dict[str, tuple[tuple[float, float, float], tuple[float, float, float], float, float]] = {
    "trunk": ((0, 0.52, 0), (0, 0.78, 0), 0.075, 0.085),
    "neck": ((0, 0.80, 0), (0, 0.87, 0.0), 0.032, 0.030),
    "head": ((0, 0.90, 0.01), (0, 0.945, 0.01), 0.050, 0.055),
    "left_upper_arm": ((0.10, 0.79, 0), (0.22, 0.66, 0), 0.032, 0.026),
    "left_forearm": ((0.22, 0.66, 0), (0.32, 0.54, 0.01), 0.025, 0.018),
    "left_hand": ((0.33, 0.53, 0.01), (0.37, 0.48, 0.01), 0.020, 0.014),
    "left_thigh": ((0.055, 0.50, 0), (0.065, 0.28, 0), 0.052, 0.036),
    "left_shank": ((0.065, 0.28, 0), (0.07, 0.06, -0.005), 0.035, 0.022),
    "left_foot": ((0.07, 0.025, -0.01), (0.075, 0.02, 0.09), 0.025, 0.020),
}
EYE_RADIUS = 0.012
EYE_PLACE = np.array([0.022, 0.928, 0.052])


def mirrored(name: str) -> tuple[np.ndarray, np.ndarray, float, float]:
    """A limb by name, 'right_...' from its left twin."""
    a, b, ra, rb = LIMBS[name.replace("right_", "left_")]
    flip = np.array([-1.0 if name.startswith("right_") else 1.0, 1.0, 1.0])
    return np.array(a) * flip, np.array(b) * flip, ra, rb


def limb_names() -> list[str]:
    """All limbs of a whole figure."""
    names = []
    for name in LIMBS:
        names.append(name)
        if name.startswith("left_"):
            names.append(name.replace("left_", "right_"))
    return names


def sphere(centre: np.ndarray, radius: float, rings: int = 12, cap: float = 180.0) -> Mesh:
    """A ball with its pole at +Z; `cap` degrees of half-angle are made, from the front."""
    angle = np.radians(np.linspace(0, cap, rings + 1))
    around = np.linspace(0, 2 * np.pi, 2 * rings, endpoint=False)
    a, t = np.meshgrid(angle, around, indexing="ij")
    points = np.stack([np.sin(a) * np.cos(t), np.sin(a) * np.sin(t), np.cos(a)], axis=-1)
    return grid_mesh(np.asarray(centre) + radius * points)


def grid_mesh(points: np.ndarray) -> Mesh:
    """A surface through a grid (rows, columns, 3) that closes along its columns."""
    rows, columns = points.shape[:2]
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns), indexing="ij")
    k = (j + 1) % columns
    quads = [i * columns + j, (i + 1) * columns + j, (i + 1) * columns + k, i * columns + k]
    a, b, c, d = (q.reshape(-1) for q in quads)
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    vertices = points.reshape(-1, 3)
    corners = vertices[faces]
    area = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    return vertices, faces[area > 1e-12]


def capsule(a: np.ndarray, b: np.ndarray, ra: float, rb: float, columns: int = 16) -> Mesh:
    """A round-ended cone from a to b."""
    axis = (b - a) / np.linalg.norm(b - a)
    side = np.cross(axis, [0.3, 0.5, 0.8])
    side /= np.linalg.norm(side)
    other = np.cross(side, axis)
    rows = []
    for angle in np.radians(np.linspace(0, 90, 6)):
        rows.append((a - axis * ra * np.cos(angle), ra * np.sin(angle)))
    for angle in np.radians(np.linspace(90, 180, 6)):
        rows.append((b - axis * rb * np.cos(angle), rb * np.sin(angle)))
    t = np.linspace(0, 2 * np.pi, columns, endpoint=False)
    ring = np.cos(t)[:, None] * side + np.sin(t)[:, None] * other
    return grid_mesh(np.array([c + r * ring for c, r in rows]))


def one_skin(names: list[str], cell: float = 1 / 110) -> Mesh:
    """The limbs as one smooth closed surface."""
    low, high = np.array([-0.42, -0.02, -0.14]), np.array([0.42, 1.03, 0.16])
    axes = [np.arange(lo, hi, cell) for lo, hi in zip(low, high, strict=True)]
    at = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    field = np.full(at.shape[:3], np.inf)
    for name in names:
        a, b, ra, rb = mirrored(name)
        t = np.clip(((at - a) @ (b - a)) / ((b - a) @ (b - a)), 0, 1)
        away = np.linalg.norm(at - a - t[..., None] * (b - a), axis=-1)
        field = np.minimum(field, away - (ra + (rb - ra) * t))
    vertices, faces, _, _ = marching_cubes(field, 0.0, spacing=(cell,) * 3)
    return vertices + low, faces.astype(np.int64)


def joined(*meshes: Mesh) -> Mesh:
    """Several meshes as one object; nothing is welded."""
    vertices, faces, start = [], [], 0
    for points, triangles in meshes:
        vertices.append(points)
        faces.append(triangles + start)
        start += len(points)
    return np.concatenate(vertices), np.concatenate(faces)


def eye(side: str, cap: float = 180.0, radius: float = EYE_RADIUS) -> Mesh:
    """An eyeball of the figure."""
    flip = np.array([1.0 if side == "left" else -1.0, 1.0, 1.0])
    return sphere(EYE_PLACE * flip, radius, cap=cap)


def tube(
    rings: list[tuple[float, float, float, float]], gap: float = 0.0, columns: int = 40
) -> Mesh:
    """An open shell about the Y axis: rings of (y, half-width x, half-depth z, z of the middle).

    `gap` degrees are left open at the front (a cloak).
    """
    t = np.radians(np.linspace(90 + gap / 2, 450 - gap / 2, columns, endpoint=gap > 0))
    points = np.array(
        [
            np.stack([rx * np.cos(t), np.full(len(t), y), rz * np.sin(t) + z], axis=1)
            for y, rx, rz, z in rings
        ]
    )
    vertices, faces = grid_mesh(points)
    if gap > 0:  # cut the strip that would close it
        last = np.isin(faces % columns, columns - 1).any(1) & np.isin(faces % columns, 0).any(1)
        faces = faces[~last]
    return vertices, faces


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Mesh:
    """An axis-aligned box."""
    corner = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
    vertices = np.array(low) + corner * (np.array(high) - np.array(low))
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    faces = [(a, b, c) for a, b, c, _ in quads] + [(a, c, d) for a, _, c, d in quads]
    return vertices, np.array(faces)


def figure(parts: dict[str, Mesh]) -> Character:
    """A character of these parts."""
    return character_from_arrays(parts, "figure")
