"""What a character's surface looks like: texture coordinates, materials and textures, by part.

They are read when a mesh is exported, from the file that the character came from, and are plain
records of what every format of the trade has: a base colour, its texture, and opacity.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["GREY", "GREY_NOTE", "MOST_MATERIALS", "Looks", "Material", "PartLook", "Texture"]

GREY = (0.62, 0.60, 0.57, 1.0)
"""Colour of surfaces whose own is not known, linear red, green, blue, opacity: a warm grey."""
GREY_NOTE = "Materials and texture coordinates are not written; one grey surface stands for all."
MOST_MATERIALS = 1000
"""Materials of a mesh that are written; characters have some tens (common practice, no source)."""


@dataclass(frozen=True)
class Texture:
    """A picture as its file holds it."""

    name: str
    kind: str
    """Media type, 'image/png' or 'image/jpeg'."""
    data: bytes
    repeat: tuple[bool, bool] = (True, True)
    """Whether it repeats beyond its borders to the right and down, or its last pixels do."""


@dataclass(frozen=True)
class Material:
    """How light meets a surface, as far as it is carried."""

    name: str
    colour: tuple[float, float, float, float] = GREY
    """Linear red, green, blue and opacity, 0 to 1; multiplied with the texture."""
    texture: Texture | None = None
    double_sided: bool = True
    """Shells of characters are often open or inside out."""
    cutoff: float | None = None
    """Opacity below which nothing is seen and from which all is; None for smooth opacity."""
    blended: bool = False
    """Whether opacity shows; if not, the surface is solid whatever its colour says."""
    metallic: float = 0.0
    roughness: float = 0.8


@dataclass(frozen=True)
class PartLook:
    """The surface of one part."""

    coordinates: NDArray[np.float32] | None
    """(m, 3, 2) of every corner of every triangle: right and down from the texture's upper left."""
    material: NDArray[np.int64]
    """(m,) index into the materials of each triangle, -1 for none."""


@dataclass(frozen=True)
class Looks:
    """The surfaces of all parts of a character."""

    materials: tuple[Material, ...]
    parts: tuple[PartLook, ...]
    """Of the character's parts that have triangles, in order; none when nothing is known."""
    notes: tuple[str, ...]
    """What was passed over, one sentence each."""
