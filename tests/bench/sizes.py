"""One body of the open dataset at many sizes of mesh: made coarser, as it is, and divided finer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from autoplace.mesh.character import Character, Part
from tests.dataset.bodies import build, report_list

SIZES = {"7k": -1, "27k": 0, "110k": 1, "440k": 2, "1.75M": 3}
"""How often every triangle is cut into four; below none, four become one."""
EYES = "eyes"
"""The part of both eyeballs, which has few triangles already and is never made coarser."""


def sized_body(size: str) -> Character:
    """The body at one of `SIZES`, in its own two parts, the skin and the eyeballs.

    Finer ones are smoothed as they are divided (Loop subdivision), so that they are what a dense
    mesh of that body would be and not a coarse one with more triangles on its flats.
    """
    spec = next(s for s in report_list() if s.pose == "a_pose" and s.joined_eyes)
    character = build(spec).character
    level = SIZES[size]
    parts = []
    for part in character.parts:
        if level < 0:
            parts.append(part if part.name == EYES else _coarser(part, 4**-level))
        else:
            parts.append(_finer(part, level) if level else part)
    return replace(character, parts=tuple(parts))


def _finer(part: Part, times: int) -> Part:
    import trimesh

    vertices, faces = trimesh.remesh.subdivide_loop(part.vertices, part.faces, iterations=times)
    return _part(part.name, vertices, faces)


def _coarser(part: Part, by: int) -> Part:
    import fast_simplification

    vertices, faces = fast_simplification.simplify(
        part.vertices.astype(np.float32),
        part.faces.astype(np.int32),
        target_count=len(part.faces) // by,
    )
    return _part(part.name, vertices, faces)


def _part(name: str, vertices: np.ndarray, faces: np.ndarray) -> Part:
    return Part(
        name,
        np.asarray(vertices, dtype=np.float64),
        np.asarray(faces, dtype=np.int64),
        np.arange(len(vertices)),
        np.arange(len(faces)),
    )
