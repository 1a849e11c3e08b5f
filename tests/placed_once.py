"""Characters that many tests need placed as they come, each placed once in a run.

What placing gives is records that no stage writes to, so that tests may share them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

from autoplace import load, place
from autoplace.data import data_folder
from autoplace.mesh.character import Character
from autoplace.result import PlaceResult, Settings
from tests.light_figure import light_figure

USERS = ("autoplace.pipeline", "autoplace.keep.locked_joints", "autoplace.keep.edited")
"""Modules by whose name `place` the commands and what keeps decisions place a character."""


@cache
def demo_character(name: str = "keeper") -> Character:
    """A demo character, read from its file."""
    return load(data_folder("meshes") / f"{name}.obj")


@cache
def placed_demo(name: str = "keeper") -> PlaceResult:
    """A demo character, placed without any setting."""
    return place_once(demo_character(name))


@cache
def placed_light() -> PlaceResult:
    """The coarse invented figure, placed without any setting."""
    return place_once(light_figure()[0])


def place_once(
    character: Character,
    settings: Settings | None = None,
    *,
    progress: Callable[[str], None] | None = None,
    **changes: Any,
) -> PlaceResult:
    """What `place` gives; an equal character with equal settings is placed once in a run.

    For tests of what is done with a placing: where two placings are compared, `forget_placings`
    between them, and tests of placing itself call `place`.
    """
    settings = replace(settings or Settings(), **changes)
    key = _digest(character), repr(settings)
    if key not in _placings:
        _placings[key] = place(character, settings, progress=progress)
    elif progress is not None:
        for stage in _placings[key].timings:
            progress(stage)
    return _placings[key]


def forget_placings() -> None:
    """The next placing of any character is a new one."""
    _placings.clear()


_placings: dict[tuple[str, str], PlaceResult] = {}


def _digest(character: Character) -> str:
    """Of all that a placing is made of: names, where it was read from, and the mesh."""
    found = hashlib.sha256()
    path = character.path and character.path.name
    for words in (character.name, path, character.sha256, character.notes):
        found.update(repr(words).encode())
    for part in character.parts:
        found.update(repr((part.name, part.vertices.dtype, part.faces.dtype)).encode())
        for array in (part.vertices, part.faces, part.source_vertices, part.source_faces):
            found.update(repr(array.shape).encode() + array.tobytes())
    return found.hexdigest()
