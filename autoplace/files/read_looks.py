"""Finds what a character's surface looks like in the file that it came from."""

from __future__ import annotations

import hashlib
from dataclasses import replace

import numpy as np

from autoplace.files.looks import MOST_MATERIALS, Looks
from autoplace.mesh.character import Character

__all__ = ["read_looks"]

MOST_NOTES = 20
"""Sentences on one mesh's looks; more are not read."""


def read_looks(character: Character) -> Looks | None:
    """Texture coordinates, materials and textures of a character's parts.

    None when there are none: the character was built in memory, or its file says nothing of them.
    A file that has changed since the character was read is passed over, with a note.
    """
    path = character.path
    if path is None or path.suffix.lower() not in (".obj", ".glb", ".gltf"):
        return None
    try:
        data = path.read_bytes()
    except OSError:
        data = b""
    if hashlib.sha256(data).hexdigest() != character.sha256:
        told = f"'{path.name}' has changed since it was read, so its materials are not written."
        return Looks((), (), (told,))
    if path.suffix.lower() == ".obj":
        from autoplace.files.obj_looks import obj_looks

        looks = obj_looks(character, data, path.parent)
    else:
        from autoplace.files.gltf_looks import gltf_looks

        looks = gltf_looks(character, path)
    if looks is None:
        return None
    if len(looks.materials) > MOST_MATERIALS:
        looks = _fewer(looks)
    looks = replace(looks, notes=(*looks.notes, *_unplaced(looks)))
    left = len(looks.notes) - MOST_NOTES
    if left > 0:
        told = f"{left} other notes on materials are left out."
        looks = replace(looks, notes=(*looks.notes[:MOST_NOTES], told))
    materials = tuple(replace(each, name=_whole(each.name)) for each in looks.materials)
    return replace(looks, materials=materials, notes=tuple(map(_whole, looks.notes)))


def _whole(text: str) -> str:
    """The text with a question mark for half of a character, which no file can keep."""
    return text.encode("utf-8", "replace").decode("utf-8")


def _unplaced(looks: Looks) -> list[str]:
    """A note on each material with textures that some part has no coordinates for."""
    lost: dict[str, None] = {}
    for part in looks.parts:
        for number in np.unique(part.material[part.material >= 0]).tolist():
            material = looks.materials[number]
            if any(t.coordinates not in part.sets() for t in material.textures().values()):
                lost[material.name] = None
    return [
        f"Textures of '{name}' are left out where the mesh has no texture coordinates for them."
        for name in lost
    ]


def _fewer(looks: Looks) -> Looks:
    """The first materials only."""
    parts = tuple(
        replace(part, material=np.where(part.material < MOST_MATERIALS, part.material, -1))
        for part in looks.parts
    )
    note = (
        f"The mesh has {len(looks.materials):,} materials, more than the {MOST_MATERIALS} that are "
        "written; what the others cover is grey."
    )
    return Looks(looks.materials[:MOST_MATERIALS], parts, (note, *looks.notes))
