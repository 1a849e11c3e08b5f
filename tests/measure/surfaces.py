"""Closed and open surfaces with closed forms, for the tests of the volume and its cuts."""

from __future__ import annotations

import numpy as np

from tests.mesh.capsule_figures import grid_mesh

Mesh = tuple[np.ndarray, np.ndarray]


def volume_of(mesh: Mesh) -> float:
    """Signed volume of a closed surface by the divergence theorem; positive when faced outward."""
    corners = mesh[0][mesh[1]]
    return float(np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6.0)


def area_of(mesh: Mesh) -> float:
    """Area of a surface."""
    a, b, c = np.moveaxis(mesh[0][mesh[1]], 1, 0)
    return float(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())


def rotation(axis: tuple[float, float, float], degrees: float) -> np.ndarray:
    """(3, 3) right-handed turn, to be used as `points @ rotation.T`."""
    x, y, z = np.asarray(axis, dtype=float) / np.linalg.norm(axis)
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    angle = np.radians(degrees)
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross


def turned(mesh: Mesh, turn: np.ndarray, shift: tuple[float, float, float] = (0, 0, 0)) -> Mesh:
    """The surface turned and then moved."""
    return mesh[0] @ turn.T + np.asarray(shift, dtype=float), mesh[1]


def elliptic_cone(
    low: tuple[float, float],
    high: tuple[float, float],
    length: float,
    columns: int = 96,
    rings: int = 24,
    capped: bool = True,
) -> Mesh:
    """A frustum about +Z from z = 0, with semi-axes (x, y) `low` at its foot and `high` on top."""
    t = np.linspace(0, 2 * np.pi, columns, endpoint=False)
    share = np.linspace(0, 1, rings + 1)
    a = low[0] + share * (high[0] - low[0])
    b = low[1] + share * (high[1] - low[1])
    ring = np.stack(
        [
            a[:, None] * np.cos(t),
            b[:, None] * np.sin(t),
            np.broadcast_to(share[:, None] * length, (rings + 1, columns)),
        ],
        axis=-1,
    )
    if capped:
        ends = np.zeros((1, columns, 3)), np.full((1, columns, 3), [0.0, 0.0, length])
        ring = np.concatenate([ends[0], ring, ends[1]])
    vertices, faces = grid_mesh(ring)
    return vertices, faces[:, ::-1] if volume_of((vertices, faces)) < 0 else faces


def cylinder(radius: float, length: float, capped: bool = True, columns: int = 96) -> Mesh:
    """A cylinder about +Z from z = 0."""
    return elliptic_cone((radius, radius), (radius, radius), length, columns, capped=capped)


def soup(mesh: Mesh) -> Mesh:
    """The same triangles, none sharing a vertex with another."""
    vertices, faces = mesh
    return vertices[faces].reshape(-1, 3), np.arange(3 * len(faces)).reshape(-1, 3)


def pipe(
    line: np.ndarray, radius: float | np.ndarray, columns: int = 48, flat: float = 1.0
) -> Mesh:
    """A closed tube about a line (n, 3), its ends cut square; `flat` squeezes it along its side."""
    step = np.gradient(line, axis=0)
    step /= np.linalg.norm(step, axis=1, keepdims=True)
    spare = np.eye(3)[int(np.argmin(np.abs(step[0])))]
    side = np.cross(step, spare)
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    other = np.cross(step, side)
    t = np.linspace(0, 2 * np.pi, columns, endpoint=False)
    r = np.broadcast_to(np.asarray(radius, dtype=float), (len(line),))[:, None, None]
    ring = line[:, None] + r * (
        flat * np.cos(t)[None, :, None] * side[:, None] + np.sin(t)[None, :, None] * other[:, None]
    )
    first, last = (np.broadcast_to(p, (1, columns, 3)) for p in (line[0], line[-1]))
    vertices, faces = grid_mesh(np.concatenate([first, ring, last]))
    return vertices, faces[:, ::-1] if volume_of((vertices, faces)) < 0 else faces
