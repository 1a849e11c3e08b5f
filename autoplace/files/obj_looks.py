"""The looks of a character that came from an OBJ file, with its MTL files and textures."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import AutoplaceError
from autoplace.files.looks import Looks, Material, PartLook, Texture
from autoplace.files.mtl import MtlEntry, MtlMap, read_mtl
from autoplace.files.texture_file import (
    LARGEST_TEXTURE,
    TextureError,
    TextureShelf,
    file_beside,
    start_of,
)
from autoplace.files.texture_pixels import TexturePixels
from autoplace.mesh.character import Character, Part
from autoplace.mesh.obj import ObjContent, read_obj
from autoplace.mesh.obj_surface import ObjSurface, read_obj_surface

__all__ = ["obj_looks"]

IntArray = NDArray[np.int64]

LARGEST_MTL = 4 * 2**20
"""Bytes of an MTL file that is read; a thousand materials need some hundred kilobytes."""
MOST_LIBRARIES = 100
"""MTL files of one mesh that are looked for."""
FAR = 1e6
"""Texture coordinates farther from the picture than this many of its sizes count as broken: single
precision leaves them no place within it."""


def obj_looks(character: Character, data: bytes, folder: Path) -> Looks | None:
    """The looks of a character whose parts came from the bytes of an OBJ file in that folder.

    None when the file names no materials and no texture coordinates, or is another than that of the
    character.
    """
    try:
        content = read_obj(data, character.name)
    except AutoplaceError:
        return None
    surface = read_obj_surface(data, len(content.corners))
    kept = [part for part in character.parts if len(part.faces)]
    corners = _corners(kept, content)
    if corners is None:
        return None
    coordinates = np.where(np.abs(surface.coordinates) <= FAR, surface.coordinates, np.nan)
    has = np.asarray(~np.isnan(coordinates).any(axis=1))
    if not has.any() and not surface.material_names:
        return None
    notes = []
    broken = surface.broken + int(np.count_nonzero(~has & ~np.isnan(surface.coordinates[:, 0])))
    if broken:
        notes.append(
            f"{broken} corners of faces name texture coordinates that are not there or are no "
            "numbers; they are put at the corner of the texture."
        )
    parts = []
    for part, mine in zip(kept, corners, strict=True):
        uv = None
        if has[mine].any():
            uv = np.where(has[mine][..., None], coordinates[mine], 0.0)
            uv[..., 1] = 1.0 - uv[..., 1]  # from the lower left to the upper left
            uv = uv.astype(np.float32)
        parts.append(PartLook((uv,), surface.material_of_face[part.source_faces]))
    materials = _materials(surface, folder, notes)
    return Looks(materials, tuple(parts), tuple(dict.fromkeys(notes)))


def _corners(parts: list[Part], content: ObjContent) -> list[IntArray] | None:
    """(m, 3) for each part: which of the file's corners each corner of a triangle is.

    None when one of them is none of the file's.
    """
    count = len(content.vertices)
    polygon = np.repeat(np.arange(len(content.sizes)), content.sizes)
    keys = polygon * count + content.corners
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    found = []
    for part in parts:
        wanted = part.source_faces[:, None] * count + part.source_vertices[part.faces]
        at = np.searchsorted(keys, wanted)
        if at.max() >= len(keys) or not np.array_equal(keys[at], wanted):
            return None
        found.append(order[at])
    return found


def _materials(surface: ObjSurface, folder: Path, notes: list[str]) -> tuple[Material, ...]:
    """The materials that polygons use, with their textures."""
    entries = _entries(surface, folder, notes) if surface.material_names else {}
    missing = [name for name in surface.material_names if name not in entries]
    if missing:
        notes.append(f"No MTL file tells of the materials {_listed(missing)}; they are grey.")
    shelf, pixels = TextureShelf(), TexturePixels()
    named = [(name, entries.get(name, MtlEntry())) for name in surface.material_names]
    materials = tuple(_material(name, entry, shelf, pixels, folder, notes) for name, entry in named)
    lost: dict[str, list[str]] = {}
    for name, entry in named:
        for word in entry.told():
            lost.setdefault(word, []).append(name)
    for word, names in lost.items():
        notes.append(f"'{_short(word)}' is not carried, which the MTL gives {_listed(names)}.")
    if any(entry.roughness is None and entry.exponent and entry.specular for _, entry in named):
        notes.append("Roughness is reckoned from the exponent of the MTL's highlights (Ns).")
    return materials


def _material(
    name: str,
    entry: MtlEntry,
    shelf: TextureShelf,
    pixels: TexturePixels,
    folder: Path,
    notes: list[str],
) -> Material:
    """One material with its textures."""
    textures: dict[str, Texture] = {}
    for of, named in entry.maps.items():
        try:
            textures[of] = _texture(named, shelf, folder)
        except TextureError as reason:
            notes.append(f"The texture '{_short(named.file)}' {reason}; it is not written.")
            continue
        if named.moved:
            notes.append(f"The texture of '{name}' is scaled or shifted, which is passed over.")
    metal_rough = None
    rough, metal = textures.get("roughness"), textures.get("metallic")
    if rough is not None or metal is not None:
        try:
            metal_rough = pixels.joined_metal_rough(rough, metal)
        except TextureError as reason:
            rough = metal = None
            notes.append(f"A texture of roughness or metal of '{name}' {reason}.")
    return Material(
        name,
        entry.base_colour("colour" in textures),
        textures.get("colour"),
        blended=entry.opacity < 1.0,
        # what a texture is multiplied with; nothing, which would hide it, counts as all
        metallic=(entry.metallic or 0.0) if metal is None else (entry.metallic or 1.0),
        roughness=entry.rough(Material.roughness) if rough is None else (entry.roughness or 1.0),
        metal_rough=metal_rough,
        normal=textures.get("normal"),
        normal_scale=entry.maps["normal"].strength if "normal" in textures else 1.0,
        emission=entry.light("emission" in textures),
        emission_texture=textures.get("emission"),
    )


def _texture(named: MtlMap, shelf: TextureShelf, folder: Path) -> Texture:
    path = file_beside(folder, named.file)
    texture = shelf.texture(path, path.stem, lambda: start_of(path, LARGEST_TEXTURE))
    return replace(texture, wrap=("clamp", "clamp")) if named.clamped else texture


def _entries(surface: ObjSurface, folder: Path, notes: list[str]) -> dict[str, MtlEntry]:
    """Materials of all MTL files that the mesh names; of two with one name the first."""
    entries: dict[str, MtlEntry] = {}
    tried: set[str] = set()
    for line in surface.libraries[:MOST_LIBRARIES]:
        # a name with blanks, or several names
        names = [line]
        if len(line.split()) > 1 and not _is_there(folder, line):
            names = line.split()
        for name in names:
            if name in tried or len(tried) == MOST_LIBRARIES:
                continue
            tried.add(name)
            try:
                data = start_of(file_beside(folder, name), LARGEST_MTL)
                if len(data) > LARGEST_MTL:
                    raise TextureError(
                        f"is larger than the {LARGEST_MTL // 2**20} MB that are read"
                    )
            except TextureError as reason:
                notes.append(f"The MTL file '{_short(name)}' {reason}; its materials are not read.")
                continue
            entries = {**read_mtl(data), **entries}
    return entries


def _is_there(folder: Path, name: str) -> bool:
    try:
        file_beside(folder, name)
    except TextureError:
        return False
    return True


def _short(name: str) -> str:
    return name if len(name) <= 60 else name[:57] + "..."


def _listed(names: list[str]) -> str:
    shown = ", ".join(f"'{_short(name)}'" for name in names[:5])
    return shown if len(names) <= 5 else f"{shown} and {len(names) - 5} more"
