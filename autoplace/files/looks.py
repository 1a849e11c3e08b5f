"""What a character's surface looks like: texture coordinates, materials and textures, by part.

They are read when a mesh is exported, from the file that the character came from, and are plain
records of what glTF's own materials have (ISO/IEC 12113:2022, 3.9); other formats carry less.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "GREY",
    "MAPS",
    "MOST_MATERIALS",
    "NO_MATERIALS",
    "UNKNOWN",
    "Looks",
    "Material",
    "PartLook",
    "Texture",
    "has_materials",
    "pairs_once",
]

GREY = (0.62, 0.60, 0.57, 1.0)
"""Colour of surfaces whose own is not known, linear red, green, blue, opacity: a warm grey."""
NO_MATERIALS = "Materials are not known: one grey surface stands for all."
MOST_MATERIALS = 1000
"""Materials of a mesh that are written; characters have some tens (common practice, no source)."""
MAPS = ("texture", "metal_rough", "normal", "occlusion", "emission_texture")
"""Fields of a material that hold a texture."""


@dataclass(frozen=True)
class Texture:
    """A picture as its file holds it, and how it is laid on a surface."""

    name: str
    kind: str
    """Media type, 'image/png' or 'image/jpeg'."""
    data: bytes
    wrap: tuple[str, str] = ("repeat", "repeat")
    """What is beyond its borders, to the right and down: it 'repeat's, in 'mirror' image, or its
    last pixels go on ('clamp')."""
    filters: tuple[int | None, int | None] = (None, None)
    """How it is magnified and minified, by the numbers of glTF; None leaves it to the viewer."""
    coordinates: int = 0
    """Which of the part's sets of texture coordinates it goes by."""


@dataclass(frozen=True)
class Material:
    """How light meets a surface, as far as it is carried; numbers are multiplied with textures."""

    name: str
    colour: tuple[float, float, float, float] = GREY
    """Linear red, green, blue and opacity, 0 to 1."""
    texture: Texture | None = None
    """Of the colour, as a screen shows it, and of the opacity."""
    double_sided: bool = True
    """Shells of characters are often open or inside out."""
    cutoff: float | None = None
    """Opacity below which nothing is seen and from which all is; None for smooth opacity."""
    blended: bool = False
    """Whether opacity shows; if not, the surface is solid whatever its colour says."""
    metallic: float = 0.0
    roughness: float = 0.8
    metal_rough: Texture | None = None
    """Roughness in green and metal in blue, linear."""
    normal: Texture | None = None
    """Normals in the surface's own space: right, up, out, from -1 as black to 1."""
    normal_scale: float = 1.0
    """What the normals' lean is multiplied with."""
    occlusion: Texture | None = None
    """In red, how much of the light from around reaches the place."""
    occlusion_strength: float = 1.0
    """0 to 1, how much of the occlusion is seen."""
    emission: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Linear red, green, blue of the light that the surface sends out by itself, 0 to 1."""
    emission_texture: Texture | None = None

    def textures(self) -> dict[str, Texture]:
        """Those that it has, by the field that holds each."""
        held = {field: getattr(self, field) for field in MAPS}
        return {field: texture for field, texture in held.items() if texture is not None}

    def on(self, sets: Sequence[int]) -> Material:
        """The material where only these sets of texture coordinates are known, numbered anew in
        that order; textures that go by others are left out."""
        changed: dict[str, Texture | None] = {}
        for field, texture in self.textures().items():
            number = texture.coordinates
            at = list(sets).index(number) if number in sets else None
            changed[field] = None if at is None else replace(texture, coordinates=at)
        material = replace(self, **changed)  # type: ignore[arg-type]
        if self.emission_texture is not None and material.emission_texture is None:
            # the number alone would make all of it shine that shines in some spots
            material = replace(material, emission=(0.0, 0.0, 0.0))
        if self.metal_rough is not None and material.metal_rough is None:
            material = replace(material, metallic=0.0, roughness=Material.roughness)
        return material


UNKNOWN = Material("surface")
"""Of triangles whose file says nothing of their material."""


@dataclass(frozen=True)
class PartLook:
    """The surface of one part."""

    coordinates: tuple[NDArray[np.float32] | None, ...]
    """Sets of (m, 3, 2) of every corner of every triangle: right and down from the texture's upper
    left. None for a set that a texture wants and the part lacks."""
    material: NDArray[np.int64]
    """(m,) index into the materials of each triangle, -1 for none."""

    def sets(self) -> tuple[int, ...]:
        """Numbers of the sets that there are."""
        return tuple(i for i, found in enumerate(self.coordinates) if found is not None)


@dataclass(frozen=True)
class Looks:
    """The surfaces of all parts of a character."""

    materials: tuple[Material, ...]
    parts: tuple[PartLook, ...]
    """Of the character's parts that have triangles, in order; none when nothing is known."""
    notes: tuple[str, ...]
    """What was passed over, one sentence each."""


def has_materials(looks: Looks | None) -> bool:
    """Whether any material is known."""
    return looks is not None and bool(looks.materials)


def pairs_once(corners: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """(k, 2) the pairs of texture coordinates (m, 3, 2), each once and with v up instead of down,
    and (m, 3) which of them each corner has."""
    pairs = np.ascontiguousarray(corners.reshape(-1, 2), dtype=np.float32)
    pairs = pairs + np.float32(0.0)  # no zeros with a minus
    _, first, place = np.unique(
        pairs.view(np.uint64).reshape(-1), return_index=True, return_inverse=True
    )
    values = pairs[first]
    values[:, 1] = 1.0 - values[:, 1]
    return values, place.reshape(-1, 3)
