"""The looks of a character that came from a glTF file: its materials, textures, coordinates."""

from __future__ import annotations

import base64
import binascii
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np

from autoplace.errors import FileMissing, SkeletonError
from autoplace.files.gltf_document import GltfDocument
from autoplace.files.looks import Looks, Material, PartLook, Texture
from autoplace.files.texture_file import (
    LARGEST_TEXTURE,
    TextureError,
    TextureShelf,
    file_beside,
    start_of,
)
from autoplace.mesh.character import Character
from autoplace.mesh.load import gltf_nodes

__all__ = ["gltf_looks"]

DRAWN = (0, 1, 4, 5)
"""Modes of primitives that the mesh's reader takes: points, lines, triangles, strips."""
CLAMP = 33071
"""Wrapping by which a texture's last pixels go on (glTF 2.0, 5.26)."""


def gltf_looks(character: Character, path: Path) -> Looks:
    """The looks of a character whose parts came from that file.

    What cannot be read is said in the notes, and has no look.
    """
    notes: list[str] = []
    try:
        document = GltfDocument(path)
        drawn = [
            primitive
            for mesh in document.entries("meshes")
            for primitive in _objects(mesh.get("primitives"))
            if primitive.get("mode", 4) in DRAWN
        ]
        starts, read = [0], []
        for _, number, _, mesh in gltf_nodes(path):
            if number >= len(drawn):
                raise SkeletonError("its meshes cannot be told apart.")
            read.append((drawn[number], np.asarray(mesh.vertices, dtype=np.float64)))
            starts.append(starts[-1] + len(mesh.vertices))
        used: dict[int, int] = {}
        looks = []
        for part in [part for part in character.parts if len(part.faces)]:
            at = int(np.searchsorted(starts, part.source_vertices[0], side="right")) - 1
            if at >= len(read) or part.source_vertices.max() >= starts[at + 1]:
                raise SkeletonError("it has changed since the character was read.")
            local = part.source_vertices - starts[at]
            primitive, vertices = read[at]
            of_vertex = _coordinates(document, primitive, vertices, notes)
            coordinates = None
            if of_vertex is not None:
                coordinates = of_vertex[local[part.faces]].astype(np.float32)
            number = -1
            if "material" in primitive:
                document.entry("materials", primitive["material"], "a mesh")
                number = used.setdefault(primitive["material"], len(used))
            looks.append(PartLook(coordinates, np.full(len(part.faces), number)))
        shelf = TextureShelf()
        materials = tuple(_material(document, i, shelf, path.parent, notes) for i in used)
    except (SkeletonError, FileMissing) as reason:
        note = f"The materials of '{path.name}' are not written: {str(reason).rstrip('.')}."
        return Looks((), (), (note,))
    return Looks(materials, tuple(looks), tuple(dict.fromkeys(notes)))


def _coordinates(
    document: GltfDocument,
    primitive: dict[str, Any],
    vertices: np.ndarray[Any, Any],
    notes: list[str],
) -> np.ndarray[Any, Any] | None:
    """(n, 2) texture coordinates of a primitive's vertices: those that its texture goes by."""
    attributes = primitive.get("attributes")
    if not isinstance(attributes, dict):
        raise SkeletonError("a mesh has no attributes.")
    here = document.vectors(attributes.get("POSITION"), len(vertices), 3, "a mesh")
    if not np.array_equal(here, vertices, equal_nan=True):
        raise SkeletonError("its meshes cannot be told apart.")
    which = 0
    if "material" in primitive:
        record = document.entry("materials", primitive["material"], "a mesh")
        which = _object(_object(record, "pbrMetallicRoughness"), "baseColorTexture").get(
            "texCoord", 0
        )
    index = attributes.get(f"TEXCOORD_{which}")
    if index is None:
        return None
    found = document.vectors(index, len(vertices), 2, "a mesh")
    broken = ~np.isfinite(found).all(axis=1)
    if broken.any():
        notes.append(
            f"{int(broken.sum())} vertices of a mesh have texture coordinates that are no numbers; "
            "they are put at the corner of the texture."
        )
        found[broken] = 0.0
    return found


def _material(
    document: GltfDocument, index: int, shelf: TextureShelf, folder: Path, notes: list[str]
) -> Material:
    record = document.entry("materials", index, "a mesh")
    name = record.get("name")
    name = name if isinstance(name, str) and name else f"material {index}"
    surface = _object(record, "pbrMetallicRoughness")
    colour = [1.0, 1.0, 1.0, 1.0]
    given = surface.get("baseColorFactor")
    if isinstance(given, list) and len(given) == 4:
        colour = [_share(value, 1.0) for value in given]
    mode = record.get("alphaMode", "OPAQUE")
    texture = None
    reference = surface.get("baseColorTexture")
    if isinstance(reference, dict):
        if "KHR_texture_transform" in _object(reference, "extensions"):
            notes.append(f"The texture of '{name}' is scaled or shifted, which is passed over.")
        try:
            texture = _texture(document, reference.get("index"), shelf, folder)
        except (TextureError, SkeletonError) as reason:
            told = str(reason).rstrip(".")
            notes.append(f"The texture of '{name}' is not written: it {told}.")
    # a factor alone would make the whole surface what its texture says of some spots
    plain = "metallicRoughnessTexture" in surface
    return Material(
        name,
        (colour[0], colour[1], colour[2], colour[3]),
        texture,
        double_sided=record.get("doubleSided") is True,
        cutoff=_share(record.get("alphaCutoff"), 0.5) if mode == "MASK" else None,
        blended=mode == "BLEND",
        metallic=0.0 if plain else _share(surface.get("metallicFactor"), 1.0),
        roughness=0.8 if plain else _share(surface.get("roughnessFactor"), 1.0),
    )


def _texture(document: GltfDocument, index: Any, shelf: TextureShelf, folder: Path) -> Texture:
    record = document.entry("textures", index, "its material")
    if "source" not in record:
        raise TextureError("is of a kind that glTF itself does not have")
    image = document.entry("images", record["source"], "its texture")
    sampler: dict[str, Any] = {}
    if "sampler" in record:
        sampler = document.entry("samplers", record["sampler"], "its texture")
    repeat = (sampler.get("wrapS") != CLAMP, sampler.get("wrapT") != CLAMP)
    name = image.get("name")
    if not (isinstance(name, str) and name):
        uri = image.get("uri")
        named = isinstance(uri, str) and not uri.startswith("data:")
        name = Path(unquote(str(uri))).stem if named else "texture"
    return shelf.texture(record["source"], name, lambda: _picture(document, image, folder), repeat)


def _picture(document: GltfDocument, image: dict[str, Any], folder: Path) -> bytes:
    """The bytes of an image, wherever they are."""
    uri = image.get("uri")
    if "bufferView" in image:
        try:
            return document.view(image["bufferView"], LARGEST_TEXTURE, "its picture")
        except SkeletonError as reason:
            raise TextureError(f"cannot be read: {str(reason).rstrip('.')}") from reason
    if not isinstance(uri, str):
        raise TextureError("has no picture")
    if uri.startswith("data:"):
        try:
            return base64.b64decode(uri.partition(",")[2], validate=True)
        except (binascii.Error, ValueError) as mistake:
            raise TextureError("is not base64") from mistake
    return start_of(file_beside(folder, unquote(uri)), LARGEST_TEXTURE)


def _objects(value: Any) -> list[dict[str, Any]]:
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        raise SkeletonError("a mesh has no list of primitives.")
    return value


def _object(record: dict[str, Any], key: str) -> dict[str, Any]:
    """The object of that name, empty where there is none."""
    value = record.get(key)
    return value if isinstance(value, dict) else {}


def _share(value: Any, otherwise: float) -> float:
    """A number from 0 to 1, moved there; `otherwise` where it is none."""
    if isinstance(value, bool) or not isinstance(value, int | float) or value != value:
        return otherwise
    return float(min(max(value, 0.0), 1.0))
