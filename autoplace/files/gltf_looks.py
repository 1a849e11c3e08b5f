"""The looks of a character that came from a glTF file: its materials, textures, coordinates."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np

from autoplace.errors import FileMissing, SkeletonError
from autoplace.files.gltf_document import GltfDocument, whole_number
from autoplace.files.gltf_materials import FILTERS, WRAPS
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
TEXTURES = {
    "texture": ("pbrMetallicRoughness", "baseColorTexture", "texture"),
    "metal_rough": ("pbrMetallicRoughness", "metallicRoughnessTexture", "texture of metal"),
    "normal": (None, "normalTexture", "texture of normals"),
    "occlusion": (None, "occlusionTexture", "texture of occlusion"),
    "emission_texture": (None, "emissiveTexture", "texture of emission"),
}
"""For the fields of our material that hold a texture: the object and the name that glTF has for it,
and what it is called in notes."""
MOVED = "KHR_texture_transform"
WAYS = {number: way for way, number in WRAPS.items()}


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
        reader = _Materials(document, path.parent, notes)
        looks = []
        for part in [part for part in character.parts if len(part.faces)]:
            at = int(np.searchsorted(starts, part.source_vertices[0], side="right")) - 1
            if at >= len(read) or part.source_vertices.max() >= starts[at + 1]:
                raise SkeletonError("it has changed since the character was read.")
            primitive, vertices = read[at]
            corners = (part.source_vertices - starts[at])[part.faces]
            number, sets = reader.of(primitive.get("material"))
            coordinates = tuple(
                None if of_vertex is None else of_vertex[corners].astype(np.float32)
                for of_vertex in _coordinates(document, primitive, vertices, sets, notes)
            )
            looks.append(PartLook(coordinates, np.full(len(part.faces), number)))
        materials = tuple(reader.taken)
    except (SkeletonError, FileMissing) as reason:
        note = f"The materials of '{path.name}' are not written: {str(reason).rstrip('.')}."
        return Looks((), (), (note,))
    return Looks(materials, tuple(looks), tuple(dict.fromkeys(notes)))


def _coordinates(
    document: GltfDocument,
    primitive: dict[str, Any],
    vertices: np.ndarray[Any, Any],
    sets: tuple[int, ...],
    notes: list[str],
) -> list[np.ndarray[Any, Any] | None]:
    """(n, 2) texture coordinates of a primitive's vertices, of each of these sets."""
    attributes = primitive.get("attributes")
    if not isinstance(attributes, dict):
        raise SkeletonError("a mesh has no attributes.")
    here = document.vectors(attributes.get("POSITION"), len(vertices), 3, "a mesh")
    if not np.array_equal(here, vertices, equal_nan=True):
        raise SkeletonError("its meshes cannot be told apart.")
    coordinates: list[np.ndarray[Any, Any] | None] = []
    for number in sets:
        index = attributes.get(f"TEXCOORD_{number}")
        if index is None:
            coordinates.append(None)
            continue
        found = document.vectors(index, len(vertices), 2, "a mesh")
        broken = ~np.isfinite(found).all(axis=1)
        if broken.any():
            notes.append(
                f"{int(broken.sum())} vertices of a mesh have texture coordinates that are no "
                "numbers; they are put at the corner of the texture."
            )
            found[broken] = 0.0
        coordinates.append(found)
    return coordinates


@dataclass
class _Reading:
    """One material while it is read."""

    record: dict[str, Any]
    name: str
    beyond: list[str]
    """Extensions that are passed over."""


class _Materials:
    """The materials of a file, each read when a part first asks for it."""

    def __init__(self, document: GltfDocument, folder: Path, notes: list[str]) -> None:
        self._document = document
        self._folder = folder
        self._notes = notes
        self._shelf = TextureShelf()
        self._known: dict[int, tuple[int, tuple[int, ...]]] = {}
        self.taken: list[Material] = []

    def of(self, index: Any) -> tuple[int, tuple[int, ...]]:
        """The number of a material among those that are taken, and the sets of texture coordinates
        that its textures go by, in the order in which these count them; -1 and the first set for
        none."""
        if index is None:
            return -1, (0,)
        record = self._document.entry("materials", index, "a mesh")
        if index not in self._known:
            material = self._material(record, index)
            used = {texture.coordinates for texture in material.textures().values()}
            sets = tuple(sorted(used)) or (0,)
            self._known[index] = (len(self.taken), sets)
            self.taken.append(material.on(sets))
        return self._known[index]

    def _material(self, record: dict[str, Any], index: int) -> Material:
        name = record.get("name")
        name = name if isinstance(name, str) and name else f"material {index}"
        reading = _Reading(record, name, list(_object(record, "extensions")))
        surface = _object(record, "pbrMetallicRoughness")
        textures = {field: self._texture_of(reading, field) for field in TEXTURES}
        reading.beyond += _object(surface, "extensions")
        if reading.beyond:
            listed = ", ".join(f"'{e[:60]}'" for e in dict.fromkeys(reading.beyond))
            self._notes.append(f"Extensions of the material '{name}' are not carried: {listed}.")
        red, green, blue, opacity = _shares(surface.get("baseColorFactor"), (1.0, 1.0, 1.0, 1.0))
        mode = record.get("alphaMode", "OPAQUE")
        metallic = _share(surface.get("metallicFactor"), 1.0)
        roughness = _share(surface.get("roughnessFactor"), 1.0)
        emission = _shares(record.get("emissiveFactor"), (0.0, 0.0, 0.0))
        # a number alone would make the whole surface what its texture says of some spots
        if "metallicRoughnessTexture" in surface and textures["metal_rough"] is None:
            metallic, roughness = 0.0, Material.roughness
        if "emissiveTexture" in record and textures["emission_texture"] is None:
            emission = (0.0, 0.0, 0.0)
        return Material(
            name,
            (red, green, blue, opacity),
            double_sided=record.get("doubleSided") is True,
            cutoff=_share(record.get("alphaCutoff"), 0.5) if mode == "MASK" else None,
            blended=mode == "BLEND",
            metallic=metallic,
            roughness=roughness,
            normal_scale=_number(_object(record, "normalTexture").get("scale"), 1.0),
            occlusion_strength=_share(_object(record, "occlusionTexture").get("strength"), 1.0),
            emission=(emission[0], emission[1], emission[2]),
            texture=textures["texture"],
            metal_rough=textures["metal_rough"],
            normal=textures["normal"],
            occlusion=textures["occlusion"],
            emission_texture=textures["emission_texture"],
        )

    def _texture_of(self, reading: _Reading, field: str) -> Texture | None:
        """The texture in one field of a material, by the set of coordinates that the file says."""
        group, key, called = TEXTURES[field]
        holder = reading.record if group is None else _object(reading.record, group)
        reference = holder.get(key)
        if not isinstance(reference, dict):
            return None
        extensions = list(_object(reference, "extensions"))
        if MOVED in extensions:
            self._notes.append(
                f"The {called} of '{reading.name}' is scaled or shifted, which is passed over."
            )
        reading.beyond += [extension for extension in extensions if extension != MOVED]
        try:
            texture = self._texture(reference.get("index"))
            coordinates = whole_number(reference.get("texCoord", 0), f"its {key}")
        except (TextureError, SkeletonError) as reason:
            told = str(reason).rstrip(".")
            self._notes.append(f"The {called} of '{reading.name}' is not written: it {told}.")
            return None
        return replace(texture, coordinates=coordinates)

    def _texture(self, index: Any) -> Texture:
        document = self._document
        record = document.entry("textures", index, "its material")
        if "source" not in record:
            raise TextureError("is of a kind that glTF itself does not have")
        image = document.entry("images", record["source"], "its texture")
        sampler: Mapping[str, Any] = {}
        if "sampler" in record:
            sampler = document.entry("samplers", record["sampler"], "its texture")
        name = image.get("name")
        if not (isinstance(name, str) and name):
            uri = image.get("uri")
            named = isinstance(uri, str) and not uri.startswith("data:")
            name = Path(unquote(str(uri))).stem if named else "texture"
        texture = self._shelf.texture(
            record["source"], name, lambda: _picture(document, image, self._folder)
        )
        right, down = (_listed(sampler.get(key), WAYS) or "repeat" for key in ("wrapS", "wrapT"))
        magnify, minify = (
            _listed(sampler.get(key), {number: number for number in known})
            for key, known in zip(("magFilter", "minFilter"), FILTERS, strict=True)
        )
        return replace(texture, wrap=(right, down), filters=(magnify, minify))


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


def _listed(value: Any, known: Mapping[int, Any]) -> Any:
    """What a table has for a number; None for any other value."""
    return known.get(value) if isinstance(value, int) else None


def _number(value: Any, otherwise: float) -> float:
    """A finite number; `otherwise` where it is none."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e30:
        return otherwise
    return float(value)


def _share(value: Any, otherwise: float) -> float:
    """A number from 0 to 1, moved there; `otherwise` where it is none."""
    return min(max(_number(value, otherwise), 0.0), 1.0)


def _shares(value: Any, otherwise: tuple[float, ...]) -> tuple[float, ...]:
    """As many numbers from 0 to 1; `otherwise` where the list is none or of another length."""
    if not isinstance(value, list) or len(value) != len(otherwise):
        return otherwise
    return tuple(_share(item, usual) for item, usual in zip(value, otherwise, strict=True))
