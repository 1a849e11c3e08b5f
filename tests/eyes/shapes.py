"""Eyeballs in every way they are modelled, with known centre and look."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.mesh.capsule_figures import grid_mesh

Mesh = tuple[np.ndarray, np.ndarray]


def axes_of(look: np.ndarray) -> np.ndarray:
    """(3, 3) rows right-handed, the third along `look`."""
    side = np.cross([0.0, 1.0, 0.0], look)
    side = side / np.linalg.norm(side)
    return np.array([side, np.cross(look, side), look])


def looking(yaw: float, pitch: float) -> np.ndarray:
    """(3,) unit direction: degrees to the left of ahead, and up."""
    y, p = np.radians([yaw, pitch])
    return np.array([np.sin(y) * np.cos(p), np.sin(p), np.cos(y) * np.cos(p)])


def globe(
    centre: np.ndarray,
    radius: float,
    look: np.ndarray,
    rings: int = 14,
    cap: float = 180.0,
    lift: Callable[[np.ndarray], np.ndarray] | None = None,
    noise: float = 0.0,
    rng: np.random.Generator | None = None,
    squash: tuple[float, float, float] = (1.0, 1.0, 1.0),
    start: float = 0.0,
) -> Mesh:
    """A ball with its pole along `look`, from `start` to `cap` degrees off it.

    `lift` gives by degrees how far, in radii, the surface stands off; `noise` is a share of the
    radius; `squash` stretches along the ball's side, top and look.
    """
    angle = np.linspace(start, cap, rings + 1)
    around = np.linspace(0, 2 * np.pi, 2 * rings, endpoint=False)
    a, t = np.meshgrid(np.radians(angle), around, indexing="ij")
    unit = np.stack([np.sin(a) * np.cos(t), np.sin(a) * np.sin(t), np.cos(a)], axis=-1)
    length = np.ones(a.shape) if lift is None else 1.0 + lift(np.degrees(a))
    vertices, faces = grid_mesh(unit * length[..., None])
    used, faces = np.unique(_welded(vertices, faces), return_inverse=True)
    vertices, faces = vertices[used], faces.reshape(-1, 3)
    if noise and rng is not None:
        vertices = vertices * (1.0 + noise * rng.normal(size=(len(vertices), 1)))
    return centre + radius * (vertices * np.array(squash)) @ axes_of(look), faces


def _welded(vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Faces with the vertices of a pole made one."""
    _, first, place = np.unique(
        np.round(vertices, 9), axis=0, return_index=True, return_inverse=True
    )
    return first[place.reshape(-1)][faces]


def cornea(angle: np.ndarray) -> np.ndarray:
    """A bulge of a tenth of the radius over 29 degrees, as a human eye has (references)."""
    return np.where(angle < 29, 0.1 * (1 - (angle / 29) ** 2), 0.0)


def dished(angle: np.ndarray) -> np.ndarray:
    """An iris cut in by a tenth of the radius."""
    return np.where(angle < 28, -0.10 + 0.04 * (angle / 28) ** 2, 0.0)


def icosphere(
    centre: np.ndarray, radius: float, turn: np.ndarray, level: int = 2, squash=(1.0, 1.0, 1.0)
) -> Mesh:
    """A ball of even triangles, turned by (3, 3)."""
    import trimesh

    ball = trimesh.creation.icosphere(level)
    return centre + radius * (np.asarray(ball.vertices) @ turn) * squash, np.asarray(ball.faces)


def turned(rng: np.random.Generator) -> np.ndarray:
    """(3, 3) a rotation drawn at random."""
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    return q * np.sign(np.linalg.det(q))


def slab(low: np.ndarray, high: np.ndarray, cuts: int = 3) -> Mesh:
    """A closed box of some triangles."""
    import trimesh

    made = trimesh.creation.box(bounds=np.array([low, high]))
    for _ in range(cuts - 2):
        made = made.subdivide()
    return np.asarray(made.vertices), np.asarray(made.faces)


def lashes(ball: Mesh, centre: np.ndarray, look: np.ndarray, radius: float) -> Mesh:
    """A ball with a row of lashes that hang on its own vertices: one connected piece."""
    vertices, faces = ball
    frame = axes_of(look)
    local = (vertices - centre) @ frame.T / radius
    # a row over the front, about 35 degrees up
    level = np.degrees(np.arcsin(np.clip(local[:, 1], -1, 1)))
    row = np.flatnonzero((np.abs(level - 35) < 9) & (local[:, 2] > 0.2))
    row = row[np.argsort(local[row, 0])]
    tips = vertices[row] + radius * (0.45 * frame[1] + 0.5 * frame[2])
    start = len(vertices)
    strip = []
    for k in range(len(row) - 1):
        strip += [(row[k], row[k + 1], start + k), (row[k + 1], start + k + 1, start + k)]
    return np.concatenate([vertices, tips]), np.concatenate([faces, np.array(strip)])


def bridged(first: Mesh, second: Mesh) -> Mesh:
    """Two meshes made one connected piece by a thin pair of triangles between nearest vertices."""
    (va, fa), (vb, fb) = first, second
    apart = np.linalg.norm(va[:, None] - vb[None], axis=2)
    i, j = np.unravel_index(np.argmin(apart), apart.shape)
    face = fa[(fa == i).any(axis=1)][0]
    other = int(face[face != i][0])
    face = fb[(fb == j).any(axis=1)][0]
    far = int(face[face != j][0])
    start = len(va)
    link = np.array([(i, other, j + start), (other, far + start, j + start)])
    return np.concatenate([va, vb]), np.concatenate([fa, fb + start, link])
