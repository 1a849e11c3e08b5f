"""Materials and textures as a glTF file holds them, each once, without extensions."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from autoplace.files.looks import Material, Texture

__all__ = ["FILTERS", "WRAPS", "GltfMaterials"]

WRAPS = {"clamp": 33071, "mirror": 33648, "repeat": 10497}
"""Numbers of a sampler's ways to wrap (ISO/IEC 12113:2022, 5.26)."""
FILTERS = ((9728, 9729), (9728, 9729, 9984, 9985, 9986, 9987))
"""Numbers of a sampler's filters, for magnifying and for minifying."""


class GltfMaterials:
    """The materials of a glTF file under construction."""

    def __init__(self, gltf: Any, add_view: Callable[[bytes], int]) -> None:
        """Adds to a `pygltflib.GLTF2`; `add_view` adds bytes to its buffer and gives the view."""
        self._gltf = gltf
        self._add_view = add_view
        self._materials: dict[Material, int] = {}
        self._textures: dict[tuple[int, int], int] = {}
        self._images: dict[bytes, int] = {}
        self._samplers: dict[tuple[Any, Any], int] = {}

    def index(self, material: Material, sets: Sequence[int]) -> int:
        """The index of a material in the file, without the textures that go by other sets of
        texture coordinates than these, which are written in that order."""
        material = material.on(sets)
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
            baseColorTexture=self._info(pygltflib.TextureInfo, material.texture),
            metallicRoughnessTexture=self._info(pygltflib.TextureInfo, material.metal_rough),
        )
        record = pygltflib.Material(
            name=_whole(material.name),
            pbrMetallicRoughness=surface,
            doubleSided=material.double_sided,
            normalTexture=self._info(
                pygltflib.NormalMaterialTexture, material.normal, scale=material.normal_scale
            ),
            occlusionTexture=self._info(
                pygltflib.OcclusionTextureInfo,
                material.occlusion,
                strength=material.occlusion_strength,
            ),
            emissiveFactor=list(material.emission),
            emissiveTexture=self._info(pygltflib.TextureInfo, material.emission_texture),
        )
        if material.cutoff is not None:
            record.alphaMode, record.alphaCutoff = pygltflib.MASK, material.cutoff
        elif material.blended:
            record.alphaMode = pygltflib.BLEND
        return record

    def _info(self, kind: Any, texture: Texture | None, **more: float) -> Any:
        """How a material names a texture of its own; None for none."""
        if texture is None:
            return None
        return kind(index=self._texture(texture), texCoord=texture.coordinates, **more)

    def _texture(self, texture: Texture) -> int:
        import pygltflib

        if texture.data not in self._images:
            self._images[texture.data] = len(self._gltf.images)
            view = self._add_view(texture.data)
            self._gltf.images.append(
                pygltflib.Image(name=_whole(texture.name), mimeType=texture.kind, bufferView=view)
            )
        wanted = (texture.wrap, texture.filters)
        if wanted not in self._samplers:
            self._samplers[wanted] = len(self._gltf.samplers)
            right, down = (WRAPS[way] for way in texture.wrap)
            magnify, minify = texture.filters
            self._gltf.samplers.append(
                pygltflib.Sampler(wrapS=right, wrapT=down, magFilter=magnify, minFilter=minify)
            )
        both = (self._images[texture.data], self._samplers[wanted])
        if both not in self._textures:
            self._textures[both] = len(self._gltf.textures)
            self._gltf.textures.append(pygltflib.Texture(source=both[0], sampler=both[1]))
        return self._textures[both]


def _whole(name: str) -> str:
    """The name with a question mark for half of a character, which no file can keep."""
    return name.encode("utf-8", "replace").decode("utf-8")
