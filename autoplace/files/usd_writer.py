"""A skeleton, with its character if there is one, as an OpenUSD file: text, binary or package.

A `SkelRoot` holds one `Skeleton` (bind transforms in the world, rest transforms each in its
parent's frame, both from the joints' positions and axes) and, for each part, a mesh of its own with
the binding in primvars (UsdSkel schema). USD lets a stage say what its unit is in metres and
whether +Y or +Z is up, so numbers stay in the frame and units of the skeleton; only a figure that
stands along another axis is turned, to +Y up and +Z forward. Where a figure faces USD does not say.

A package (.usdz) is a zip archive without compression in which every file begins at a multiple of
64 bytes (usdz specification). The library that writes these files is an optional one.
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
from autoplace.files.atomic import write_whole
from autoplace.files.bound_mesh import BoundMesh, bind_character, normals_of
from autoplace.files.export_notes import lost_judgement, must_be_frames, names_or_own, unit_note
from autoplace.files.looks import GREY_NOTE
from autoplace.files.marks import MARK
from autoplace.files.units import metres_per_unit_of
from autoplace.mesh.character import Character
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.orient import body_directions
from autoplace.skeleton.structure import parent_indices

__all__ = ["write_usd"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

GREY = (0.62, 0.60, 0.57)
"""Colour of the surface, linear: the grey of the other formats."""
ALIGNMENT = 64
"""Bytes, of files in a package."""
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
    """Writes a .usda, .usdc, .usd or .usdz file, whole or not at all.

    `names` are what the joints, in order, are called in the file; unsaid, as in the skeleton, whose
    own names tell how the mesh is bound. Gives notes: the unit that was taken, and what USD could
    not carry.

    Raises SkeletonError for a broken tree or axes that are no frame; OutputError for a name that
    USD forbids, when the mesh has no triangles, and when the file cannot be written.
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

    stage = Usd.Stage.CreateInMemory()
    UsdGeom.SetStageUpAxis(stage, up[1])
    UsdGeom.SetStageMetersPerUnit(stage, scale)
    stage.GetRootLayer().customLayerData = {"creator": MARK}
    root = UsdSkel.Root.Define(stage, "/character")
    stage.SetDefaultPrim(root.GetPrim())
    bones = _add_skeleton(stage, skeleton, given, parents, turn)
    if mesh is not None:
        _add_parts(stage, bones, mesh, turn)
    write_whole(path, _bytes(stage, path))

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
    return (*notes, *(() if mesh is None else (GREY_NOTE, *mesh.notes)))


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


def _add_parts(stage: Any, bones: Any, mesh: BoundMesh, turn: FloatArray) -> None:
    """Adds every part as a mesh with its binding."""
    from pxr import Gf, Tf, UsdGeom, UsdSkel, Vt

    places = (mesh.vertices @ turn.T).astype(np.float32)
    if not np.all(np.isfinite(places)):
        raise OutputError("The mesh is too large for the numbers of USD's points.")
    normals = normals_of(places.astype(np.float64), mesh.faces, mesh.binding.place_of)
    taken = {"skeleton"}
    for index, part in enumerate(mesh.parts):
        mine = mesh.of_part(index)
        name = _unlike(Tf.MakeValidIdentifier(part.name), taken)
        taken.add(name)
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
        shape.CreateDisplayColorAttr([Gf.Vec3f(*GREY)])

        binding = UsdSkel.BindingAPI.Apply(shape.GetPrim())
        binding.CreateSkeletonRel().SetTargets([bones.GetPath()])
        binding.CreateGeomBindTransformAttr(Gf.Matrix4d(1.0))
        width = mesh.binding.joints.shape[1]
        joints = np.ascontiguousarray(mesh.binding.joints[mine].reshape(-1), dtype=np.int32)
        weights = np.ascontiguousarray(mesh.binding.weights[mine].reshape(-1), dtype=np.float32)
        binding.CreateJointIndicesPrimvar(False, width).Set(Vt.IntArray.FromNumpy(joints))
        binding.CreateJointWeightsPrimvar(False, width).Set(Vt.FloatArray.FromNumpy(weights))


def _unlike(name: str, taken: set[str]) -> str:
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name}_{number}"
    return free


def _bytes(stage: Any, path: Path) -> bytes:
    """The whole file, of the kind that its ending says."""
    package = path.suffix.lower() == ".usdz"
    with tempfile.TemporaryDirectory(prefix="autoplace-") as folder:
        layer = Path(folder) / ("layer.usdc" if package else f"layer{path.suffix.lower()}")
        stage.GetRootLayer().Export(str(layer))
        content = layer.read_bytes()
    return _packed(content) if package else content


def _packed(layer: bytes) -> bytes:
    """A package with one layer in it."""
    entry = zipfile.ZipInfo("character.usdc")  # its date is always that of the format's beginning
    begin = 30 + len(entry.filename) + 4  # the zip format's local header, and that of the padding
    gap = -begin % ALIGNMENT
    entry.extra = PADDING.to_bytes(2, "little") + gap.to_bytes(2, "little") + bytes(gap)
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as package:
        package.writestr(entry, layer)
    return file.getvalue()
