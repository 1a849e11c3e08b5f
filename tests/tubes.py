"""Invented characters made of tubes along the bones of an invented skeleton."""

from __future__ import annotations

import numpy as np

from autoplace.mesh.character import Character, Part
from autoplace.skeleton.model import Skeleton
from tests.figures import X, Y, Z


def tube(start, end, radius, rings=6, sides=8) -> tuple[np.ndarray, np.ndarray]:
    """A closed tube from start to end: vertices (n, 3), outward triangles (m, 3)."""
    along = (end - start) / np.linalg.norm(end - start)
    a = np.cross(along, Y if abs(along @ Y) < 0.9 else X)
    a /= np.linalg.norm(a)
    b = np.cross(along, a)
    turn = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    circle = radius * (np.cos(turn)[:, None] * a + np.sin(turn)[:, None] * b)
    points = [start[None], *(start + t * (end - start) + circle for t in np.linspace(0, 1, rings))]
    vertices = np.concatenate([*points, end[None]])
    faces, last = [], len(vertices) - 1
    for k in range(sides):
        n = (k + 1) % sides
        end_ring = last - sides
        faces += [(0, 1 + n, 1 + k), (last, end_ring + k, end_ring + n)]
        for r in range(rings - 1):
            p, q = 1 + r * sides, 1 + (r + 1) * sides
            faces += [(p + k, p + n, q + n), (p + k, q + n, q + k)]
    return vertices, np.array(faces)


def part(name, tubes) -> Part:
    """Several tubes as one part."""
    vertices, faces, start = [], [], 0
    for v, f in tubes:
        vertices.append(v)
        faces.append(f + start)
        start += len(v)
    faces = np.concatenate(faces)
    return Part(name, np.concatenate(vertices), faces, np.arange(start), np.arange(len(faces)))


def figure_of_tubes(skeleton: Skeleton) -> Character:
    """A character whose body has a tube along every bone, and two eyeballs in one part."""
    tubes = []
    for joint in skeleton:
        if joint.parent is None or joint.name.endswith("_eye"):
            continue
        above = skeleton[joint.parent].position
        length = np.linalg.norm(joint.position - above)
        tubes.append(tube(above, joint.position, 0.2 * length))
    eyes = [
        tube(skeleton[f"{s}_eye"].position - 0.005 * Z, skeleton[f"{s}_eye"].position, 0.005)
        for s in ("left", "right")
    ]
    empty = Part(
        "cape", np.zeros((0, 3)), np.zeros((0, 3), int), np.zeros(0, int), np.zeros(0, int)
    )
    return Character("tubes", (part("körper & hände", tubes), part("eyes", eyes), empty))
