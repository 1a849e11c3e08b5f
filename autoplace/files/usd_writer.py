"""A skeleton, with its character if there is one, as an OpenUSD file: text, binary or package.

A `SkelRoot` holds one `Skeleton` (bind transforms in the world, rest transforms each in its
parent's frame, both from the joints' positions and axes) and, for each part, a mesh of its own with
the binding in primvars (UsdSkel schema), texture coordinates and materials. USD lets a stage say
what its unit is in metres and whether +Y or +Z is up, so numbers stay in the frame and units of the
skeleton; only a figure that stands along another axis is turned, to +Y up and +Z forward. Where a
figure faces USD does not say.

A package (.usdz) is a zip archive without compression in which every file begins at a multiple of
64 bytes (usdz specification), and holds the textures; beside other files these lie in a folder,
`files/texture_folder.py`. The library that writes these files is an optional one.
"""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import OutputError
from autoplace.files.bound_mesh import BoundMesh, bind_character, normals_of
from autoplace.files.export_notes import lost_judgement, must_be_frames, names_or_own, unit_note
from autoplace.files.looks import GREY, NO_MATERIALS, Looks, has_materials
from autoplace.files.marks import MARK
from autoplace.files.read_looks import read_looks
from autoplace.files.texture_folder import texture_folder, write_with_textures
from autoplace.files.units import metres_per_unit_of
from autoplace.files.usd_materials import UsdMaterials, free_name
from autoplace.mesh.character import Character
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.orient import body_directions
from autoplace.skeleton.structure import parent_indices

__all__ = ["write_usd"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ALIGNMENT = 64
"""Bytes, of files in a package."""
PACKED = "textures/"
"""Folder of the textures in a package."""
PADDING = 0x1986
"""Header of the extra field that pads a file in a package to where it must begin."""


def write_usd(
    skeleton: Skeleton,
    path: str | Path,
    character: Character | None = None,
    *,
    names: Sequence[str] | None = None,
    metres_per_unit: float | None = None,
) -> tuple[str, ...]:
    """Writes a .usda, .usdc, .usd or .usdz file with its textures, all or nothing.

    `names` are what the joints, in order, are called in the file; unsaid, as in the skeleton, whose
    own names tell how the mesh is bound. Gives notes: the unit that was taken, and what USD could
    not carry.

    Raises SkeletonError for a broken tree or axes that are no frame; OutputError for a name that
    USD forbids, when the mesh has no triangles, when a file of somebody else's lies in the folder
    for textures, and when the file cannot be written.
    """
    from pxr import Usd, UsdGeom, UsdSkel

    path = Path(path)
    parents = parent_indices(skeleton)
    must_be_frames(skeleton)
    given = names_or_own(skeleton, names)
    _refuse_names(given)
    scale = metres_per_unit or metres_per_unit_of(skeleton.source.height)
    up, turn = _frame(skeleton)
    mesh = None if character is None else bind_character(character, skeleton)
    looks = None if character is None else read_looks(character)

    stage = Usd.Stage.CreateInMemory()
    UsdGeom.SetStageUpAxis(stage, up[1])
    UsdGeom.SetStageMetersPerUnit(stage, scale)
    stage.GetRootLayer().customLayerData = {"creator": MARK}
    root = UsdSkel.Root.Define(stage, "/character")
    stage.SetDefaultPrim(root.GetPrim())
    bones = _add_skeleton(stage, skeleton, given, parents, turn)
    package = path.suffix.lower() == ".usdz"
    beside = PACKED if package else f"./{texture_folder(path).name}/"
    materials = UsdMaterials(stage, "/character/materials", beside)
    if mesh is not None:
        _add_parts(stage, bones, mesh, turn, looks, materials)
    if package:
        files = {PACKED + name: data for name, data in materials.files.items()}
        write_with_textures(path, _packed(_layer(stage, ".usdc"), files), {})
    else:
        write_with_textures(path, _layer(stage, path.suffix.lower()), materials.files)

    notes = [unit_note(skeleton.source.height, scale, guessed=metres_per_unit is None)]
    source = skeleton.source
    if np.array_equal(turn, np.eye(3)):
        notes.append(f"USD does not say where a figure faces: it is {source.forward}.")
    else:
        notes.append(
            f"In USD up is +Y or +Z, so the figure, whose up is {source.up}, is turned to +Y up "
            "and +Z forward."
        )
    notes += lost_judgement("USD", skeleton)
    if mesh is not None:
        notes += () if looks is None else looks.notes
        notes += materials.lost if has_materials(looks) else (NO_MATERIALS,)
        if materials.files and not package:
            notes.append(f"Textures are in the folder '{texture_folder(path).name}' beside it.")
        notes += mesh.notes
    return tuple(notes)


def _refuse_names(names: Sequence[str]) -> None:
    from pxr import Sdf

    for name in names:
        if not Sdf.Path.IsValidIdentifier(name):
            raise OutputError(
                f"The joint '{name}' cannot be written as USD, whose names are letters, digits and "
                "underscores and begin with no digit: give it another name, or rename it by a "
                "table (--names)."
            )


def _frame(skeleton: Skeleton) -> tuple[str, FloatArray]:
    """Which way is up in the file, and (3, 3) rows that take the skeleton's frame to the file's."""
    body = body_directions(skeleton)
    for up, along in (("+Y", 1), ("+Z", 2)):
        if np.array_equal(body[1], np.eye(3)[along]):
            return up, np.eye(3)
    return "+Y", body


def _add_skeleton(
    stage: Any, skeleton: Skeleton, names: Sequence[str], parents: IntArray, turn: FloatArray
) -> Any:
    """Adds the joints with bind and rest transforms."""
    from pxr import UsdSkel, Vt

    paths: list[str] = []
    for name, above in zip(names, parents, strict=True):
        paths.append(name if above < 0 else f"{paths[above]}/{name}")
    world = np.zeros((len(names), 4, 4))  # for row vectors: axes in rows, position last
    world[:, :3, :3] = [np.asarray(joint.axes, dtype=np.float64) @ turn.T for joint in skeleton]
    world[:, 3, :3] = skeleton.positions() @ turn.T
    world[:, 3, 3] = 1.0
    local = world.copy()
    for i, above in enumerate(parents):
        if above >= 0:
            back = world[above, :3, :3].T
            local[i, :3, :3] = world[i, :3, :3] @ back
            local[i, 3, :3] = (world[i, 3, :3] - world[above, 3, :3]) @ back
    bones = UsdSkel.Skeleton.Define(stage, "/character/skeleton")
    bones.CreateJointsAttr(paths)
    bones.CreateBindTransformsAttr(Vt.Matrix4dArray.FromNumpy(world + 0.0))
    bones.CreateRestTransformsAttr(Vt.Matrix4dArray.FromNumpy(local + 0.0))
    return bones


def _add_parts(
    stage: Any,
    bones: Any,
    mesh: BoundMesh,
    turn: FloatArray,
    looks: Looks | None,
    materials: UsdMaterials,
) -> None:
    """Adds every part as a mesh with its binding."""
    from pxr import Gf, Tf, UsdGeom, UsdSkel, Vt

    places = (mesh.vertices @ turn.T).astype(np.float32)
    if not np.all(np.isfinite(places)):
        raise OutputError("The mesh is too large for the numbers of USD's points.")
    normals = normals_of(places.astype(np.float64), mesh.faces, mesh.binding.place_of)
    taken = {"skeleton", "materials"}
    for index, part in enumerate(mesh.parts):
        mine = mesh.of_part(index)
        name = free_name(Tf.MakeValidIdentifier(part.name), taken)
        shape = UsdGeom.Mesh.Define(stage, f"/character/{name}")
        if name != part.name:
            shape.GetPrim().SetDisplayName(part.name)
        points = Vt.Vec3fArray.FromNumpy(np.ascontiguousarray(places[mine]))
        shape.CreatePointsAttr(points)
        shape.CreateExtentAttr(UsdGeom.PointBased.ComputeExtent(points))
        shape.CreateNormalsAttr(Vt.Vec3fArray.FromNumpy(normals[mine].astype(np.float32)))
        shape.SetNormalsInterpolation(UsdGeom.Tokens.vertex)
        counts = np.full(len(part.faces), 3, dtype=np.int32)
        shape.CreateFaceVertexCountsAttr(Vt.IntArray.FromNumpy(counts))
        corners = np.ascontiguousarray(part.faces.reshape(-1), dtype=np.int32)
        shape.CreateFaceVertexIndicesAttr(Vt.IntArray.FromNumpy(corners))
        shape.CreateSubdivisionSchemeAttr(UsdGeom.Tokens.none)
        shape.CreateDoubleSidedAttr(True)  # shells of characters are often open or inside out
        if looks is not None and looks.parts:
            materials.dress(shape, looks.parts[index], looks.materials)
        else:
            shape.CreateDisplayColorAttr([Gf.Vec3f(*GREY[:3])])

        binding = UsdSkel.BindingAPI.Apply(shape.GetPrim())
        binding.CreateSkeletonRel().SetTargets([bones.GetPath()])
        binding.CreateGeomBindTransformAttr(Gf.Matrix4d(1.0))
        width = mesh.binding.joints.shape[1]
        joints = np.ascontiguousarray(mesh.binding.joints[mine].reshape(-1), dtype=np.int32)
        weights = np.ascontiguousarray(mesh.binding.weights[mine].reshape(-1), dtype=np.float32)
        binding.CreateJointIndicesPrimvar(False, width).Set(Vt.IntArray.FromNumpy(joints))
        binding.CreateJointWeightsPrimvar(False, width).Set(Vt.FloatArray.FromNumpy(weights))


def _layer(stage: Any, ending: str) -> bytes:
    """The layer as a file with that ending."""
    with tempfile.TemporaryDirectory(prefix="autoplace-") as folder:
        layer = Path(folder) / f"layer{ending}"
        stage.GetRootLayer().Export(str(layer))
        return layer.read_bytes()


def _packed(layer: bytes, files: dict[str, bytes]) -> bytes:
    """A package with a layer and other files in it."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as package:
        for name, data in {"character.usdc": layer, **files}.items():
            entry = zipfile.ZipInfo(name)  # its date is always that of the format's beginning
            # the zip format's local header, and that of the padding
            begin = file.tell() + 30 + len(entry.filename) + 4
            gap = -begin % ALIGNMENT
            entry.extra = PADDING.to_bytes(2, "little") + gap.to_bytes(2, "little") + bytes(gap)
            package.writestr(entry, data)
    return file.getvalue()
