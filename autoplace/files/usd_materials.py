"""Materials on an OpenUSD stage: a UsdPreviewSurface for each, with its textures.

Colours, opacity, metal, roughness, normals, occlusion and emission mean there what they mean in
`looks.Material` (UsdPreviewSurface specification 2.6, from memory). Texture coordinates are
primvars `st`, `st1`, ... of every corner of every face, with v up.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.files.looks import GREY, Material, PartLook, Texture, pairs_once
from autoplace.files.texture_folder import texture_file_name
from autoplace.files.texture_pixels import TexturePixels

__all__ = ["UsdMaterials", "free_name"]

LINEAR, SCREEN = "raw", "sRGB"
"""How the numbers of a picture are stored."""


class UsdMaterials:
    """The materials of a stage under construction, below one scope, each once."""

    def __init__(self, stage: Any, scope: str, place: str) -> None:
        """`scope` is the path of the prim above them; `place` stands before the name of a texture's
        file, such as './a.textures/'."""
        self.stage = stage
        self._scope = scope
        self._place = place
        self._made: dict[Material, Any] = {}
        self._pixels = TexturePixels()
        self._names: set[str] = set()
        self.files: dict[str, bytes] = {}
        """Bytes of the textures' files, by name."""
        self.lost: dict[str, None] = {}
        """What is not carried, one sentence each."""

    def dress(self, mesh: Any, look: PartLook, materials: tuple[Material, ...]) -> None:
        """Gives a mesh, a `UsdGeom.Mesh` with all its faces, its texture coordinates, materials
        and colours."""
        from pxr import Tf, UsdGeom, UsdShade, Vt

        sets = look.sets()
        for at, number in enumerate(sets):
            self._add_coordinates(mesh, at, look.coordinates[number])
        numbers = np.unique(look.material).tolist()
        worn = {n: materials[n].on(sets) for n in numbers if n >= 0}
        self._colour(mesh, look, worn)
        if worn:
            both = any(material.double_sided for material in worn.values())
            mesh.CreateDoubleSidedAttr(both or -1 in numbers)
        if len(numbers) == 1 and worn:
            (only,) = worn.values()
            UsdShade.MaterialBindingAPI.Apply(mesh.GetPrim()).Bind(self._material(only))
            return
        taken: set[str] = set()
        for number, material in worn.items():
            name = free_name(Tf.MakeValidIdentifier(material.name), taken)
            faces = np.flatnonzero(look.material == number).astype(np.int32)
            subset = UsdGeom.Subset.CreateGeomSubset(
                mesh,
                name,
                UsdGeom.Tokens.face,
                Vt.IntArray.FromNumpy(faces),
                UsdShade.Tokens.materialBind,
                UsdGeom.Tokens.nonOverlapping,
            )
            UsdShade.MaterialBindingAPI.Apply(subset.GetPrim()).Bind(self._material(material))

    def _add_coordinates(self, mesh: Any, at: int, corners: NDArray[np.float32] | None) -> None:
        """Adds a set of texture coordinates (m, 3, 2), each pair once."""
        from pxr import Sdf, UsdGeom, Vt

        assert corners is not None
        values, place = pairs_once(corners)
        primvar = UsdGeom.PrimvarsAPI(mesh).CreatePrimvar(
            _primvar(at), Sdf.ValueTypeNames.TexCoord2fArray, UsdGeom.Tokens.faceVarying
        )
        primvar.Set(Vt.Vec2fArray.FromNumpy(values))
        primvar.SetIndices(Vt.IntArray.FromNumpy(place.reshape(-1).astype(np.int32)))

    def _colour(self, mesh: Any, look: PartLook, worn: dict[int, Material]) -> None:
        """Colours for viewers without materials: one for the mesh, or one for each face."""
        from pxr import UsdGeom, Vt

        shown = {number: self._shown(material) for number, material in worn.items()}
        if (look.material < 0).any():
            shown[-1] = GREY
        numbers = np.array(sorted(shown))
        rows = np.array([shown[n] for n in numbers.tolist()], dtype=np.float32)
        how = UsdGeom.Tokens.constant
        if len(rows) > 1:
            how = UsdGeom.Tokens.uniform
            rows = rows[np.searchsorted(numbers, look.material)]
        colours = mesh.CreateDisplayColorPrimvar(how)
        colours.Set(Vt.Vec3fArray.FromNumpy(np.ascontiguousarray(rows[:, :3])))
        if (rows[:, 3] < 1.0).any():
            opacity = np.ascontiguousarray(rows[:, 3])
            mesh.CreateDisplayOpacityPrimvar(how).Set(Vt.FloatArray.FromNumpy(opacity))

    def _shown(self, material: Material) -> tuple[float, float, float, float]:
        """The mean colour of a material."""
        red, green, blue, opacity = material.colour
        if material.texture is not None:
            mean = self._pixels.mean_colour(material.texture)
            red, green, blue = red * mean[0], green * mean[1], blue * mean[2]
        return (red, green, blue, opacity if material.blended else 1.0)

    def _material(self, material: Material) -> Any:
        """The material on the stage."""
        from pxr import Tf, UsdShade

        if material in self._made:
            return self._made[material]
        if not self._made:
            self.stage.DefinePrim(self._scope, "Scope")
        name = free_name(Tf.MakeValidIdentifier(material.name), self._names)
        path = f"{self._scope}/{name}"
        made = UsdShade.Material.Define(self.stage, path)
        if name != material.name:
            shown = material.name.encode("utf-8", "replace").decode("utf-8")
            made.GetPrim().SetDisplayName(shown)
        surface = UsdShade.Shader.Define(self.stage, f"{path}/surface")
        surface.CreateIdAttr("UsdPreviewSurface")
        _Surface(self, material, path, surface).fill()
        made.CreateSurfaceOutput().ConnectToSource(surface.ConnectableAPI(), "surface")
        self._made[material] = made
        return made

    def file_of(self, texture: Texture) -> str:
        """Takes a texture's file along; what it is called in the layer."""
        name = texture_file_name(texture)
        self.files[name] = texture.data
        if texture.filters != (None, None):
            self.lost["USD's preview materials do not say how textures are filtered."] = None
        return self._place + name


class _Surface:
    """One material's shaders while they are made."""

    def __init__(self, every: UsdMaterials, material: Material, path: str, surface: Any) -> None:
        self._all = every
        self._material = material
        self._path = path
        self._surface = surface

    def fill(self) -> None:
        """Sets every input of the surface that is not its default."""
        from pxr import Gf, Sdf

        kinds, given = Sdf.ValueTypeNames, self._material
        red, green, blue, opacity = given.colour
        seen = given.blended or bool(given.cutoff)
        if given.texture is None:
            self._set("diffuseColor", kinds.Color3f, Gf.Vec3f(red, green, blue))
            if seen:
                self._set("opacity", kinds.Float, opacity)
        else:
            shader = self._texture("colour", given.texture, SCREEN, given.colour)
            self._connect("diffuseColor", kinds.Color3f, shader, "rgb", kinds.Float3)
            if seen:
                self._connect("opacity", kinds.Float, shader, "a", kinds.Float)
        if given.cutoff:  # 0 shows everything, as if there were none
            self._set("opacityThreshold", kinds.Float, given.cutoff)
        if given.metal_rough is None:
            self._set("metallic", kinds.Float, given.metallic)
            self._set("roughness", kinds.Float, given.roughness)
        else:
            scale = (1.0, given.roughness, given.metallic, 1.0)
            shader = self._texture("metal_rough", given.metal_rough, LINEAR, scale)
            self._connect("roughness", kinds.Float, shader, "g", kinds.Float)
            self._connect("metallic", kinds.Float, shader, "b", kinds.Float)
        if given.normal is not None:
            if given.normal_scale != 1.0:
                # another scale than 2 is against the rules for textures of normals
                self._all.lost["USD takes textures of normals at their full strength."] = None
            shader = self._texture(
                "normal", given.normal, LINEAR, (2.0, 2.0, 2.0, 1.0), (-1.0, -1.0, -1.0, 0.0)
            )
            self._connect("normal", kinds.Normal3f, shader, "rgb", kinds.Float3)
        if given.occlusion is not None:
            part = given.occlusion_strength
            scale, bias = (part, part, part, 1.0), (1.0 - part, 1.0 - part, 1.0 - part, 0.0)
            shader = self._texture("occlusion", given.occlusion, LINEAR, scale, bias)
            self._connect("occlusion", kinds.Float, shader, "r", kinds.Float)
        if given.emission_texture is not None:
            shader = self._texture(
                "emission", given.emission_texture, SCREEN, (*given.emission, 1.0)
            )
            self._connect("emissiveColor", kinds.Color3f, shader, "rgb", kinds.Float3)
        elif any(given.emission):
            self._set("emissiveColor", kinds.Color3f, Gf.Vec3f(*given.emission))

    def _set(self, name: str, kind: Any, value: Any) -> None:
        self._surface.CreateInput(name, kind).Set(value)

    def _connect(self, name: str, kind: Any, shader: Any, output: str, gives: Any) -> None:
        source = shader.CreateOutput(output, gives)
        self._surface.CreateInput(name, kind).ConnectToSource(source)

    def _texture(
        self,
        name: str,
        texture: Texture,
        space: str,
        scale: tuple[float, float, float, float],
        bias: tuple[float, float, float, float] | None = None,
    ) -> Any:
        """A shader that gives a texture's numbers, times `scale` and then more by `bias`."""
        from pxr import Gf, Sdf

        kinds = Sdf.ValueTypeNames
        shader = self._shader(name, "UsdUVTexture")
        shader.CreateInput("file", kinds.Asset).Set(Sdf.AssetPath(self._all.file_of(texture)))
        shader.CreateInput("sourceColorSpace", kinds.Token).Set(space)
        for field, way in zip(("wrapS", "wrapT"), texture.wrap, strict=True):
            shader.CreateInput(field, kinds.Token).Set(way)
        if scale != (1.0, 1.0, 1.0, 1.0):
            shader.CreateInput("scale", kinds.Float4).Set(Gf.Vec4f(*scale))
        if bias is not None and any(bias):
            shader.CreateInput("bias", kinds.Float4).Set(Gf.Vec4f(*bias))
        variable = _primvar(texture.coordinates)
        reader = self._shader(f"{variable}_reader", "UsdPrimvarReader_float2")
        reader.CreateInput("varname", kinds.String).Set(variable)
        pairs = reader.CreateOutput("result", kinds.Float2)
        shader.CreateInput("st", kinds.Float2).ConnectToSource(pairs)
        return shader

    def _shader(self, name: str, identity: str) -> Any:
        from pxr import UsdShade

        shader = UsdShade.Shader.Define(self._all.stage, f"{self._path}/{name}")
        shader.CreateIdAttr(identity)
        return shader


def free_name(name: str, taken: set[str]) -> str:
    """The name, with a number where it is taken; it is taken from there on."""
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name}_{number}"
    taken.add(free)
    return free


def _primvar(at: int) -> str:
    """Name of a set of texture coordinates."""
    return "st" if at == 0 else f"st{at}"
