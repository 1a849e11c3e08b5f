"""A character of tubes and its skeleton as files, for what reads both."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import trimesh

from autoplace import write_skeleton
from autoplace.mesh.character import Character, Part
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.orient import orient
from tests.figures import standard_skeleton
from tests.tubes import figure_of_tubes


def tube_character(pose: str = "A", **changes) -> tuple[Character, Skeleton]:
    """A symmetric figure with a tube along every bone, eyeballs, and its oriented skeleton."""
    skeleton = orient(standard_skeleton(pose, **changes))
    body = figure_of_tubes(skeleton).parts[0]
    ball = trimesh.creation.icosphere(subdivisions=2, radius=0.0069)
    faces = np.asarray(ball.faces, dtype=np.int64)
    eyes = [
        Part(
            name,
            ball.vertices + skeleton[name].position,
            faces,
            np.arange(len(ball.vertices)),
            np.arange(len(faces)),
        )
        for name in ("left_eye", "right_eye")
    ]
    return Character("tubes", (body, *eyes)), skeleton


def write_character(folder: Path, skeleton: Skeleton | None = None) -> tuple[Path, Path]:
    """`tubes.obj` and `tubes.skeleton.json` in a folder."""
    character, own = tube_character()
    lines, start = [], 1
    for part in character.parts:
        lines.append(f"o {part.name.split()[0]}")
        lines += [f"v {x:.9g} {y:.9g} {z:.9g}" for x, y, z in part.vertices]
        lines += ["f " + " ".join(str(i + start) for i in face) for face in part.faces]
        start += len(part.vertices)
    mesh = folder / "tubes.obj"
    mesh.write_text("\n".join(lines) + "\n", encoding="utf-8")
    chosen = skeleton or own
    chosen = replace(chosen, source=replace(chosen.source, mesh=mesh.name))
    return mesh, write_skeleton(chosen, folder / "tubes.skeleton.json")
