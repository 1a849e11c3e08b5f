"""Characters that many tests need placed as they come, each placed once in a run.

What placing gives is records that no stage writes to, so that tests may share them.
"""

from __future__ import annotations

from functools import cache

from autoplace import load, place
from autoplace.data import data_folder
from autoplace.mesh.character import Character
from autoplace.result import PlaceResult
from tests.light_figure import light_figure


@cache
def demo_character(name: str = "keeper") -> Character:
    """A demo character, read from its file."""
    return load(data_folder("meshes") / f"{name}.obj")


@cache
def placed_demo(name: str = "keeper") -> PlaceResult:
    """A demo character, placed without any setting."""
    return place(demo_character(name))


@cache
def placed_light() -> PlaceResult:
    """The coarse invented figure, placed without any setting."""
    return place(light_figure()[0])
