"""The character and its skeleton as a glTF 2.0 binary file (ISO/IEC 12113), ready to pose.

The file holds one mesh for each part under its own name, the joints as nodes whose rotations carry
the joint's axes, and a skin with inverse bind matrices and a first binding (`skeleton.binding`).

glTF is in metres with +Y up and figures facing +Z. The character is turned from its own up and
forward axes. A mesh file seldom says what its unit is, so without `metres_per_unit` the unit is
taken to be the power of ten that makes the figure between 0.3 and 3 metres tall; a note says which.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import OutputError, SkeletonError
from autoplace.files.atomic import write_whole
from autoplace.mesh.character import Character
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.orient import body_directions
from autoplace.skeleton.structure import parent_indices

__all__ = ["metres_per_unit_of", "write_glb"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SMALLEST, TALLEST = 0.3, 3.0
"""Metres; a factor of ten apart, so that exactly one power of ten fits. People are 0.5 (newborn) to
2.5 m tall, drawn figures a little less; common practice, no source."""
SURFACE = (0.62, 0.60, 0.57, 1.0)
"""Colour of the surface, linear red, green, blue, opacity: a warm grey; materials of the source are
not read."""

FLOAT, UBYTE, USHORT, UINT = 5126, 5121, 5123, 5125
ARRAY, ELEMENTS = 34962, 34963
COMPONENTS = {"f4": FLOAT, "u1": UBYTE, "u2": USHORT, "u4": UINT}


def write_glb(
    character: Character,
    skeleton: Skeleton,
    path: str | Path,
    *,
    metres_per_unit: float | None = None,
) -> tuple[str, ...]:
    """Writes the character with its skeleton to a .glb file, whole or not at all.

    Returns notes, one sentence each: the unit that was taken and what glTF could not carry.

    Raises SkeletonError for a broken tree, OutputError when the mesh has no triangles, when its
    size does not fit single precision, or when the file cannot be written.
    """
    from autoplace.skeleton.binding import bind_mesh

    parents = parent_indices(skeleton)
    scale = metres_per_unit or metres_per_unit_of(skeleton.source.height)
    turn = body_directions(skeleton) * scale  # rows: left, up, forward, in metres per unit
    parts = [part for part in character.parts if len(part.faces)]
    if not parts:
        raise OutputError(f"Cannot write '{path}': the character has no triangles.")
    eyeballs = {p.name for p in skeleton.parts if p.role == "eyeball"}
    counts = [len(part.vertices) for part in parts]
    starts = np.cumsum([0, *counts])
    vertices = np.concatenate([part.vertices for part in parts])
    faces = np.concatenate([p.faces + s for p, s in zip(parts, starts, strict=False)])
    eyeball = np.repeat([part.name in eyeballs for part in parts], counts)
    binding = bind_mesh(vertices, faces, skeleton, eyeball=eyeball)
    places = (vertices @ turn.T).astype(np.float32)
    if not np.all(np.isfinite(places)):
        raise OutputError(f"Cannot write '{path}': the mesh is too large for glTF's numbers.")
    normals = _normals(places.astype(np.float64), faces, binding.place_of).astype(np.float32)

    file = _File()
    skin = file.add_skeleton(skeleton, parents, turn)
    for index, part in enumerate(parts):
        mine = slice(starts[index], starts[index + 1])
        narrow = len(skeleton) <= 256
        attributes = {
            "POSITION": file.accessor(places[mine], "VEC3", ARRAY, bounds=True),
            "NORMAL": file.accessor(normals[mine], "VEC3", ARRAY),
            "JOINTS_0": file.accessor(
                binding.joints[mine].astype(np.uint8 if narrow else np.uint16), "VEC4", ARRAY
            ),
            "WEIGHTS_0": file.accessor(_single(binding.weights[mine]), "VEC4", ARRAY),
        }
        wide = len(part.vertices) > 65535  # the largest index of a width is not allowed
        triangles = part.faces.reshape(-1).astype(np.uint32 if wide else np.uint16)
        indices = file.accessor(triangles, "SCALAR", ELEMENTS)
        file.add_mesh(part.name, attributes, indices, skin)
    write_whole(path, file.bytes())
    return tuple(_notes(character, skeleton, scale, metres_per_unit is None))


def metres_per_unit_of(height: float) -> float:
    """The power of ten that takes a height in the file's units to between 0.3 and 3 metres.

    Raises SkeletonError for a height that is no positive number.
    """
    if not (np.isfinite(height) and height > 0):
        raise SkeletonError(
            f"The skeleton says that the character is {height} tall: give its height, or how many "
            "metres one unit of the mesh is."
        )
    exponent = int(np.floor(np.log10(TALLEST / height)))
    while height * 10.0**exponent >= TALLEST:
        exponent -= 1
    while height * 10.0**exponent < SMALLEST:
        exponent += 1
    return float(10.0**exponent)


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
            asset=pygltflib.Asset(version="2.0", generator="autoplace"),
            scene=0,
            scenes=[pygltflib.Scene(nodes=[])],
            materials=[
                pygltflib.Material(
                    name="surface",
                    pbrMetallicRoughness=pygltflib.PbrMetallicRoughness(
                        baseColorFactor=list(SURFACE), metallicFactor=0.0, roughnessFactor=0.8
                    ),
                    doubleSided=True,  # shells of characters are often open or turned inside out
                )
            ],
        )

    def accessor(
        self, array: NDArray[Any], kind: str, target: int | None = None, *, bounds: bool = False
    ) -> int:
        """Adds an array (n,) or (n, k) of little-endian numbers; gives the accessor's index."""
        data = np.ascontiguousarray(array, dtype=array.dtype.newbyteorder("<"))
        rows = data if data.ndim == 2 else data[:, None]
        view = self._records.BufferView(
            buffer=0, byteOffset=self._buffer.add(data.tobytes()), byteLength=data.nbytes
        )
        view.target = target
        self._gltf.bufferViews.append(view)
        self._gltf.accessors.append(
            self._records.Accessor(
                bufferView=len(self._gltf.bufferViews) - 1,
                componentType=COMPONENTS[array.dtype.str[1:]],
                count=len(data),
                type=kind,
                min=[float(v) for v in rows.min(axis=0)] if bounds else None,
                max=[float(v) for v in rows.max(axis=0)] if bounds else None,
            )
        )
        return len(self._gltf.accessors) - 1

    def add_skeleton(self, skeleton: Skeleton, parents: IntArray, turn: FloatArray) -> int:
        """Adds the joints as nodes and a skin over them; gives the skin's index.

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
        for i, joint in enumerate(skeleton):
            above = int(parents[i])
            shift, local = at[i], own[i]
            if above >= 0:
                shift, local = own[above].inv().apply(at[i] - at[above]), own[above].inv() * own[i]
            nodes.append(
                self._records.Node(
                    name=joint.name,
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

    def add_mesh(self, name: str, attributes: dict[str, int], indices: int, skin: int) -> None:
        """Adds a part as a mesh under its own name, moved by the skin."""
        primitive = self._records.Primitive(
            attributes=self._records.Attributes(**attributes), indices=indices, material=0
        )
        self._gltf.meshes.append(self._records.Mesh(name=name, primitives=[primitive]))
        node = self._records.Node(name=name, mesh=len(self._gltf.meshes) - 1, skin=skin)
        self._gltf.nodes.append(node)
        self._gltf.scenes[0].nodes.append(len(self._gltf.nodes) - 1)

    def bytes(self) -> bytes:
        """The whole file."""
        blob = b"".join(self._buffer.chunks)
        self._gltf.buffers = [self._records.Buffer(byteLength=len(blob))]
        self._gltf.set_binary_blob(blob)
        return b"".join(self._gltf.save_to_bytes())


def _single(weights: FloatArray) -> NDArray[np.float32]:
    """Weights (n, 4) in single precision whose sum is as near to one as that allows."""
    single = weights.astype(np.float32)
    rest = single[:, 1:].astype(np.float64).sum(axis=1)
    single[:, 0] = (1.0 - rest).astype(np.float32)  # the largest takes up the rounding
    return single


def _normals(places: FloatArray, faces: IntArray, place_of: IntArray) -> FloatArray:
    """(n, 3) unit normals, averaged by area over the triangles that meet at a place.

    A place without area gets the up direction.
    """
    corners = places[faces]
    areas = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    total = np.zeros((place_of.max() + 1, 3))
    for axis in range(3):
        spread = np.repeat(areas[:, axis], 3)
        total[:, axis] = np.bincount(place_of[faces.reshape(-1)], spread, minlength=len(total))
    length = np.linalg.norm(total, axis=1)
    flat = length <= 1e-12 * max(float(length.max()), 1e-300)
    total[flat], length[flat] = (0.0, 1.0, 0.0), 1.0
    return np.asarray((total / length[:, None])[place_of], dtype=np.float64)


def _notes(character: Character, skeleton: Skeleton, scale: float, guessed: bool) -> list[str]:
    tall = float(skeleton.source.height) * scale
    how = "taken as" if guessed else "set to"
    notes = [
        f"One unit of the mesh file was {how} {scale:g} m, which makes the character {tall:.3g} m "
        "tall."
    ]
    if any(j.spread or j.evidence or j.locked for j in skeleton) or skeleton.findings:
        notes.append(
            "glTF has no place for spreads, evidence, locks and findings; they are in the JSON."
        )
    notes.append(
        "Materials and texture coordinates are not written; one grey surface stands for all."
    )
    notes.append("The binding is a first one, by straight distance to the bones.")
    empty = [part.name for part in character.parts if not len(part.faces)]
    if empty:
        notes.append(f"Parts without triangles are left out: {', '.join(empty)}.")
    return notes
