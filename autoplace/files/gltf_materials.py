"""Materials and textures as a glTF file holds them, each once, without extensions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from autoplace.files.looks import Material, Texture

__all__ = ["GltfMaterials"]

CLAMP, REPEAT = 33071, 10497


class GltfMaterials:
    """The materials of a glTF file under construction."""

    def __init__(self, gltf: Any, add_view: Callable[[bytes], int]) -> None:
        """Adds to a `pygltflib.GLTF2`; `add_view` adds bytes to its buffer and gives the view."""
        self._gltf = gltf
        self._add_view = add_view
        self._materials: dict[Material, int] = {}
        self._textures: dict[Texture, int] = {}
        self._images: dict[bytes, int] = {}
        self._samplers: dict[tuple[bool, bool], int] = {}

    def index(self, material: Material, *, textured: bool) -> int:
        """The index of a material in the file, without its texture where there are no coordinates
        to find the places in it."""
        if not textured:
            material = replace(material, texture=None)
        if material not in self._materials:
            self._materials[material] = len(self._gltf.materials)
            self._gltf.materials.append(self._record(material))
        return self._materials[material]

    def _record(self, material: Material) -> Any:
        import pygltflib

        surface = pygltflib.PbrMetallicRoughness(
            baseColorFactor=list(material.colour),
            metallicFactor=material.metallic,
            roughnessFactor=material.roughness,
        )
        if material.texture is not None:
            surface.baseColorTexture = pygltflib.TextureInfo(index=self._texture(material.texture))
        record = pygltflib.Material(
            name=_whole(material.name),
            pbrMetallicRoughness=surface,
            doubleSided=material.double_sided,
        )
        if material.cutoff is not None:
            record.alphaMode, record.alphaCutoff = pygltflib.MASK, material.cutoff
        elif material.blended:
            record.alphaMode = pygltflib.BLEND
        return record

    def _texture(self, texture: Texture) -> int:
        import pygltflib

        if texture not in self._textures:
            if texture.data not in self._images:
                self._images[texture.data] = len(self._gltf.images)
                view = self._add_view(texture.data)
                self._gltf.images.append(
                    pygltflib.Image(
                        name=_whole(texture.name), mimeType=texture.kind, bufferView=view
                    )
                )
            if texture.repeat not in self._samplers:
                self._samplers[texture.repeat] = len(self._gltf.samplers)
                right, down = (REPEAT if repeats else CLAMP for repeats in texture.repeat)
                self._gltf.samplers.append(pygltflib.Sampler(wrapS=right, wrapT=down))
            self._textures[texture] = len(self._gltf.textures)
            self._gltf.textures.append(
                pygltflib.Texture(
                    source=self._images[texture.data], sampler=self._samplers[texture.repeat]
                )
            )
        return self._textures[texture]


def _whole(name: str) -> str:
    """The name with a question mark for half of a character, which no file can keep."""
    return name.encode("utf-8", "replace").decode("utf-8")
