"""One coarse invented figure with known joints, built once for all tests that need a whole one."""

from __future__ import annotations

from functools import cache

import numpy as np

from autoplace.mesh.character import Character
from autoplace.mesh.load import character_from_arrays
from meshes.params import FigureParams
from tests.family.built import built_figure

HEIGHT = 1.74
LIGHT = FigureParams(name="light", height=HEIGHT)


@cache
def light_figure() -> tuple[Character, dict[str, np.ndarray]]:
    """An adult in a T-pose with five fingers, both eyeballs in one part; its joints (3,) by name.

    +Y up, +Z ahead, floor y = 0, metres; about 6,700 triangles. The arrays cannot be written to.
    """
    character, joints = built_figure(LIGHT, "light")
    for part in character.parts:
        for array in (part.vertices, part.faces, part.source_vertices, part.source_faces):
            array.setflags(write=False)
    return character, joints


def changed(character: Character, change, flip: bool = False) -> Character:
    """The character with `change` applied to its vertices (n, 3); `flip` turns the faces over."""
    parts = {
        part.name: (change(part.vertices), part.faces[:, ::-1] if flip else part.faces)
        for part in character.parts
    }
    return character_from_arrays(parts, character.name)
