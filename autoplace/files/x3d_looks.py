"""Shapes of an X3D file with their materials, textures and texture coordinates.

A material is X3D's `Material`: colour, transparency, emission, and the textures that this node and
`Appearance` have, with one set of texture coordinates, v up. Its numbers stand for what those of
`looks.Material` do (ISO/IEC 19775-1:2023, clauses 12 and 18, from memory); metal and roughness are
of another node, which older viewers lack, and are not written.
"""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import quote
from xml.sax.saxutils import quoteattr

import numpy as np
from numpy.typing import NDArray

from autoplace.files.looks import UNKNOWN, Looks, Material, PartLook, Texture
from autoplace.files.texture_folder import texture_file_name
from autoplace.files.x3d_text import numbers, quoted, rows

__all__ = ["X3dShapes"]

IntArray = NDArray[np.int64]

WRAPS = {"repeat": "REPEAT", "clamp": "CLAMP_TO_EDGE", "mirror": "MIRRORED_REPEAT"}
MATERIAL_MAPS = {
    "emission_texture": "emissiveTexture",
    "normal": "normalTexture",
    "occlusion": "occlusionTexture",
}
"""Textures that `Material` has beside the colour's, which `Appearance` has."""
METAL = "X3D's Material has no place for metal and roughness."
SETS = (
    "X3D is written with one set of texture coordinates; textures that go by others are left out."
)
FILTERS = "How textures are filtered is not written in X3D."


class X3dShapes:
    """The shapes of a humanoid's skin, with each material once."""

    def __init__(self, prefix: str, skin: str, folder: str) -> None:
        """`prefix` stands before ids, `skin` is the id of all points, and `folder` the name of that
        for textures."""
        self._prefix = prefix
        self._skin = skin
        self._folder = folder
        self._known: dict[Material, str] = {}
        self.files: dict[str, bytes] = {}
        """Bytes of the textures' files, by name."""
        self.lost: dict[str, None] = {}
        """What is not carried, one sentence each."""

    def part(self, name: str, faces: IntArray, looks: Looks | None, index: int) -> list[str]:
        """The lines of a part, a shape for each of its materials.

        `faces` (m, 3) are triangles among all points of the skin; `index` is the part's among those
        of `looks`.
        """
        if looks is None or not looks.parts:
            return self._shape(name, faces, self._appearance(UNKNOWN), UNKNOWN, None)
        look, lines = looks.parts[index], []
        for number in np.unique(look.material).tolist():
            mine = look.material == number
            material = UNKNOWN if number < 0 else looks.materials[number]
            chosen = _set_of(material, look)
            worn = material.on(() if chosen is None else (chosen,))
            if set(material.on(look.sets()).textures()) - set(worn.textures()):
                self.lost[SETS] = None
            coordinates = None if chosen is None else look.coordinates[chosen]
            pairs = None if coordinates is None else coordinates[mine]
            lines += self._shape(name, faces[mine], self._appearance(worn), worn, pairs)
        return lines

    def _shape(
        self,
        name: str,
        faces: IntArray,
        appearance: Sequence[str],
        material: Material,
        pairs: NDArray[np.float32] | None,
    ) -> list[str]:
        solid = "false" if material.double_sided else "true"
        index = points = ""
        if pairs is not None:
            flat = pairs.reshape(-1, 2).astype(np.float64)
            flat[:, 1] = 1.0 - flat[:, 1]
            values, place = np.unique(flat + 0.0, axis=0, return_inverse=True)
            told = " ".join(f"{a} {b} {c} -1" for a, b, c in place.reshape(-1, 3).tolist())
            index, points = (
                f' texCoordIndex="{told}"',
                f'<TextureCoordinate point="{rows(values)}"/>',
            )
        return [
            '   <Shape containerField="skin">',
            '    <MetadataString containerField="metadata" name="part" '
            f"value={quoteattr(quoted(name))}/>",
            *appearance,
            f'    <IndexedFaceSet solid="{solid}" creaseAngle="3.1416" '
            f'coordIndex="{_corners(faces)}"{index}>'
            f'<Coordinate USE="{self._skin}"/>{points}</IndexedFaceSet>',
            "   </Shape>",
        ]

    def _appearance(self, material: Material) -> list[str]:
        """The lines of a material, or its id where it has been written."""
        if material in self._known:
            return [f'    <Appearance USE="{self._known[material]}"/>']
        name = f"{self._prefix}_appearance_{len(self._known) + 1}"
        self._known[material] = name
        plain = material.metallic == 0 and material.roughness == UNKNOWN.roughness
        if material.metal_rough is not None or not plain:
            self.lost[METAL] = None
        seen = f' transparency="{1.0 - material.colour[3]:.9g}"' if material.blended else ""
        if any(material.emission):
            seen += f' emissiveColor="{numbers(material.emission)}"'
        if material.normal is not None and material.normal_scale != 1.0:
            seen += f' normalScale="{material.normal_scale:.9g}"'
        if material.occlusion is not None and material.occlusion_strength != 1.0:
            seen += f' occlusionStrength="{material.occlusion_strength:.9g}"'
        held = material.textures()
        maps = [
            line
            for field, where in MATERIAL_MAPS.items()
            if field in held
            for line in self._image(held[field], f' containerField="{where}"', "      ")
        ]
        head = f'     <Material diffuseColor="{numbers(material.colour[:3])}"{seen}'
        body = [f"{head}/>"] if not maps else [f"{head}>", *maps, "     </Material>"]
        if material.texture is not None:
            body += self._image(material.texture, "", "     ")
        label = quoteattr(quoted(material.name))
        told = f'     <MetadataString containerField="metadata" name="material" value={label}/>'
        return [
            f'    <Appearance DEF="{name}"{_opacity(material)}>',
            told,
            *body,
            "    </Appearance>",
        ]

    def _image(self, texture: Texture, where: str, pad: str) -> list[str]:
        """The lines of a texture."""
        name = texture_file_name(texture)
        self.files[name] = texture.data
        if texture.filters != (None, None):
            self.lost[FILTERS] = None
        url = quoteattr(quoted(quote(f"{self._folder}/{name}")))
        flags = "".join(
            f' {field}="false"'
            for field, way in zip(("repeatS", "repeatT"), texture.wrap, strict=True)
            if way == "clamp"
        )
        head = f"{pad}<ImageTexture{where} url={url}{flags}"
        if "mirror" not in texture.wrap:
            return [f"{head}/>"]
        right, down = (WRAPS[way] for way in texture.wrap)
        modes = f'boundaryModeS="{right}" boundaryModeT="{down}"'
        usual = 'magnificationFilter="DEFAULT" minificationFilter="DEFAULT"'
        return [f"{head}>", f"{pad} <TextureProperties {modes} {usual}/>", f"{pad}</ImageTexture>"]


def _corners(faces: IntArray) -> str:
    """Triangles (m, 3) as X3D lists faces."""
    return " ".join(f"{a} {b} {c} -1" for a, b, c in faces.tolist())


def _set_of(material: Material, look: PartLook) -> int | None:
    """The set of texture coordinates to write: that of the colour, else of another texture, else
    the first."""
    sets = look.sets()
    for texture in material.textures().values():
        if texture.coordinates in sets:
            return texture.coordinates
    return sets[0] if sets else None


def _opacity(material: Material) -> str:
    """How the opacity of a texture is seen, where there is one."""
    if material.cutoff is not None:
        return f' alphaMode="MASK" alphaCutoff="{material.cutoff:.9g}"'
    if material.texture is None:
        return ""
    return ' alphaMode="BLEND"' if material.blended else ' alphaMode="OPAQUE"'
