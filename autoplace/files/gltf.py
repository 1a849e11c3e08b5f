"""The character and its skeleton as a glTF 2.0 file (ISO/IEC 12113), ready to pose.

The file holds one mesh for each part under its own name with its materials, textures and texture
coordinates, the joints as nodes whose rotations carry the joint's axes, and a skin with inverse
bind matrices and a first binding (`skeleton.binding`). Without a mesh it holds the joints and the
skin, which tells readers how they rest. A name that ends in .gltf gives text with the numbers and
textures embedded, any other the binary form.

glTF is in metres with +Y up and figures facing +Z. The character is turned from its own up and
forward axes. A mesh file seldom says what its unit is, so without `metres_per_unit` the unit is
taken to be the power of ten that makes the figure between 0.3 and 3 metres tall; a note says which.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import OutputError
from autoplace.files.atomic import write_whole
from autoplace.files.bound_mesh import BoundMesh, bind_character, normals_of
from autoplace.files.export_notes import lost_judgement, must_be_frames, names_or_own, unit_note
from autoplace.files.gltf_materials import GltfMaterials
from autoplace.files.gltf_patches import patches_of
from autoplace.files.gltf_tangents import tangents_of
from autoplace.files.looks import NO_MATERIALS, UNKNOWN, Looks, has_materials
from autoplace.files.marks import MARK
from autoplace.files.read_looks import read_looks
from autoplace.files.units import metres_per_unit_of
from autoplace.mesh.character import Character
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.orient import body_directions
from autoplace.skeleton.structure import parent_indices

__all__ = ["write_glb"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FLOAT, UBYTE, USHORT, UINT = 5126, 5121, 5123, 5125
ARRAY, ELEMENTS = 34962, 34963
COMPONENTS = {"f4": FLOAT, "u1": UBYTE, "u2": USHORT, "u4": UINT}


def write_glb(
    character: Character | None,
    skeleton: Skeleton,
    path: str | Path,
    *,
    metres_per_unit: float | None = None,
    names: Sequence[str] | None = None,
) -> tuple[str, ...]:
    """Writes the character with its skeleton to a .glb or .gltf file, whole or not at all.

    Without a character the joints stand alone. `names` are what the joints, in order, are called in
    the file; unsaid, as in the skeleton, whose own names tell how the mesh is bound.

    Returns notes, one sentence each: the unit that was taken and what glTF could not carry.

    Raises SkeletonError for a broken tree or axes that are no frame, OutputError when the mesh has
    no triangles, when its size does not fit single precision, or when the file cannot be written.
    """
    parents = parent_indices(skeleton)
    must_be_frames(skeleton)
    given = names_or_own(skeleton, names)
    scale = metres_per_unit or metres_per_unit_of(skeleton.source.height)
    turn = body_directions(skeleton) * scale  # rows: left, up, forward, in metres per unit
    mesh = None if character is None else bind_character(character, skeleton)
    looks = None if character is None else read_looks(character)

    file = _File()
    skin = file.add_skeleton(skeleton, given, parents, turn)
    if mesh is not None:
        _add_parts(file, mesh, looks, skin, turn, len(skeleton), path)
    embedded = Path(path).suffix.lower() == ".gltf"
    write_whole(path, file.text() if embedded else file.binary())
    notes = [unit_note(skeleton.source.height, scale, guessed=metres_per_unit is None)]
    notes += lost_judgement("glTF", skeleton)
    if mesh is not None:
        notes += _look_notes(looks)
        notes += mesh.notes
    return tuple(notes)


def _look_notes(looks: Looks | None) -> list[str]:
    """What was lost of the looks."""
    notes = [] if looks is None else list(looks.notes)
    if not has_materials(looks):
        notes.append(NO_MATERIALS)
    return notes


def _add_parts(
    file: _File,
    mesh: BoundMesh,
    looks: Looks | None,
    skin: int,
    turn: FloatArray,
    joints: int,
    path: str | Path,
) -> None:
    """Adds every part as a mesh that the skin moves."""
    binding = mesh.binding
    places = (mesh.vertices @ turn.T).astype(np.float32)
    if not np.all(np.isfinite(places)):
        raise OutputError(f"Cannot write '{path}': the mesh is too large for glTF's numbers.")
    normals = normals_of(places.astype(np.float64), mesh.faces, binding.place_of)
    normals = normals.astype(np.float32)
    narrow = np.uint8 if joints <= 256 else np.uint16
    for index, part in enumerate(mesh.parts):
        look = looks.parts[index] if looks is not None and looks.parts else None
        primitives = []
        for patch in patches_of(part, look, () if looks is None else looks.materials):
            mine = mesh.starts[index] + patch.vertices
            attributes = {
                "POSITION": file.accessor(places[mine], "VEC3", ARRAY, bounds=True),
                "NORMAL": file.accessor(normals[mine], "VEC3", ARRAY),
                "JOINTS_0": file.accessor(binding.joints[mine].astype(narrow), "VEC4", ARRAY),
                "WEIGHTS_0": file.accessor(_single(binding.weights[mine]), "VEC4", ARRAY),
            }
            for number, pairs in enumerate(patch.coordinates):
                attributes[f"TEXCOORD_{number}"] = file.accessor(pairs, "VEC2", ARRAY)
            if patch.normal_set is not None:
                pairs = patch.coordinates[patch.normal_set]
                tangents = tangents_of(places[mine], normals[mine], patch.faces, pairs)
                attributes["TANGENT"] = file.accessor(tangents, "VEC4", ARRAY)
            wide = len(mine) > 65535  # the largest index of a width is not allowed
            triangles = patch.faces.reshape(-1).astype(np.uint32 if wide else np.uint16)
            indices = file.accessor(triangles, "SCALAR", ELEMENTS)
            material = UNKNOWN
            if looks is not None and patch.material >= 0:
                material = looks.materials[patch.material]
            primitives.append((attributes, indices, file.materials.index(material, patch.sets)))
        file.add_mesh(part.name, primitives, skin)


@dataclass
class _Buffer:
    """The binary part of the file as it grows."""

    chunks: list[bytes]
    size: int = 0

    def add(self, data: bytes) -> int:
        """Appends at a multiple of four bytes; gives the offset."""
        offset = self.size
        padded = data + b"\0" * (-len(data) % 4)
        self.chunks.append(padded)
        self.size += len(padded)
        return offset


class _File:
    """A glTF file under construction."""

    def __init__(self) -> None:
        import pygltflib

        self._records = pygltflib
        self._buffer = _Buffer([])
        self._gltf = pygltflib.GLTF2(
            asset=pygltflib.Asset(version="2.0", generator=MARK),
            scene=0,
            scenes=[pygltflib.Scene(nodes=[])],
        )
        self.materials = GltfMaterials(self._gltf, self._view)

    def accessor(
        self, array: NDArray[Any], kind: str, target: int | None = None, *, bounds: bool = False
    ) -> int:
        """Adds an array (n,) or (n, k) of little-endian numbers; gives the accessor's index."""
        data = np.ascontiguousarray(array, dtype=array.dtype.newbyteorder("<"))
        rows = data if data.ndim == 2 else data[:, None]
        self._gltf.accessors.append(
            self._records.Accessor(
                bufferView=self._view(data.tobytes(), target),
                componentType=COMPONENTS[array.dtype.str[1:]],
                count=len(data),
                type=kind,
                min=[float(v) for v in rows.min(axis=0)] if bounds else None,
                max=[float(v) for v in rows.max(axis=0)] if bounds else None,
            )
        )
        return len(self._gltf.accessors) - 1

    def _view(self, data: bytes, target: int | None = None) -> int:
        """Adds bytes to the buffer; gives the index of their view."""
        view = self._records.BufferView(
            buffer=0, byteOffset=self._buffer.add(data), byteLength=len(data)
        )
        view.target = target
        self._gltf.bufferViews.append(view)
        return len(self._gltf.bufferViews) - 1

    def add_skeleton(
        self, skeleton: Skeleton, names: Sequence[str], parents: IntArray, turn: FloatArray
    ) -> int:
        """Adds the joints under `names` as nodes and a skin over them; gives the skin's index.

        `turn` (3, 3) takes the skeleton's frame to glTF's, in metres.
        """
        from scipy.spatial.transform import Rotation

        at = skeleton.positions() @ turn.T
        rotation = turn / np.linalg.norm(turn[0])
        # columns: where the joint's local axes point, in glTF's frame
        own = rotation @ np.array([np.asarray(j.axes).T for j in skeleton])
        own = Rotation.from_matrix(own)
        nodes, base = self._gltf.nodes, len(self._gltf.nodes)
        inverse = np.zeros((len(skeleton), 4, 4))
        for i, name in enumerate(names):
            above = int(parents[i])
            shift, local = at[i], own[i]
            if above >= 0:
                shift, local = own[above].inv().apply(at[i] - at[above]), own[above].inv() * own[i]
            nodes.append(
                self._records.Node(
                    name=name,
                    translation=[float(v) + 0.0 for v in shift],
                    rotation=[float(v) + 0.0 for v in local.as_quat(canonical=True)],
                )
            )
            if above >= 0:
                nodes[base + above].children.append(base + i)
            undo = own[i].inv().as_matrix()
            inverse[i, :3, :3] = undo
            inverse[i, :3, 3] = -undo @ at[i]
            inverse[i, 3, 3] = 1.0
        roots = [base + i for i in range(len(skeleton)) if parents[i] < 0]
        if len(roots) > 1:  # all joints of a skin need one node above them
            nodes.append(self._records.Node(name="skeleton", children=roots))
            roots = [len(nodes) - 1]
        self._gltf.scenes[0].nodes += roots
        columns = np.swapaxes(inverse, 1, 2).reshape(-1, 16).astype(np.float32)
        self._gltf.skins.append(
            self._records.Skin(
                name=skeleton.template or "skeleton",
                inverseBindMatrices=self.accessor(columns, "MAT4"),
                skeleton=roots[0],
                joints=[base + i for i in range(len(skeleton))],
            )
        )
        return len(self._gltf.skins) - 1

    def add_mesh(
        self, name: str, primitives: Sequence[tuple[dict[str, int], int, int]], skin: int
    ) -> None:
        """Adds a part as a mesh under its own name, moved by the skin.

        `primitives` are accessors of the attributes, accessor of the indices, material.
        """
        drawn = [
            self._records.Primitive(
                attributes=self._records.Attributes(**attributes),
                indices=indices,
                material=material,
            )
            for attributes, indices, material in primitives
        ]
        self._gltf.meshes.append(self._records.Mesh(name=name, primitives=drawn))
        node = self._records.Node(name=name, mesh=len(self._gltf.meshes) - 1, skin=skin)
        self._gltf.nodes.append(node)
        self._gltf.scenes[0].nodes.append(len(self._gltf.nodes) - 1)

    def binary(self) -> bytes:
        """The whole file as .glb."""
        blob = b"".join(self._buffer.chunks)
        self._gltf.buffers = [self._records.Buffer(byteLength=len(blob))]
        self._gltf.set_binary_blob(blob)
        return b"".join(self._gltf.save_to_bytes())

    def text(self) -> bytes:
        """The whole file as .gltf, with the numbers embedded, so that it stays one file."""
        blob = b"".join(self._buffer.chunks)
        uri = "data:application/octet-stream;base64," + base64.b64encode(blob).decode("ascii")
        self._gltf.buffers = [self._records.Buffer(byteLength=len(blob), uri=uri)]
        data = json.loads(self._gltf.to_json())
        # what was made it stands first, where it is found without reading the whole file
        return json.dumps({"asset": data.pop("asset"), **data}, ensure_ascii=False).encode("utf-8")


def _single(weights: FloatArray) -> NDArray[np.float32]:
    """Weights (n, 4) in single precision whose sum is as near to one as that allows."""
    single = weights.astype(np.float32)
    rest = single[:, 1:].astype(np.float64).sum(axis=1)
    single[:, 0] = (1.0 - rest).astype(np.float32)  # the largest takes up the rounding
    return single
