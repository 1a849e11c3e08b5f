"""The joints of a glTF file (ISO/IEC 12113:2022): those of its skin, or its nodes without a mesh.

What the nodes above the joints do (turn, scale) is units and frame, and is applied. The inverse
bind matrices say how the joints stood when the mesh was bound to them, up to one frame that all
share; a joint whose frame in its parent's differs from that has been turned since.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.files.gltf_document import GltfDocument, finite_row, whole_number
from autoplace.files.gltf_skins import read_skin
from autoplace.files.joint_record import (
    JointRecord,
    from_frames,
    parents_first,
    refuse_too_many,
)

__all__ = ["read_gltf_joints"]

FloatArray = NDArray[np.float64]

MOST_NODES = 200_000
"""Nodes of a whole scene that are looked through; common practice."""
NOT_JOINTS = ("mesh", "camera", "skin")
"""What a node has that shows something and is no joint."""


@dataclass(frozen=True)
class _Nodes:
    """All nodes of the file: parents, names, and local transforms as they are asked for."""

    entries: list[dict[str, Any]]
    parents: list[int]
    """-1 for none; no cycles."""

    def name(self, index: int) -> str:
        name = self.entries[index].get("name")
        return name if isinstance(name, str) and name else f"node_{index}"

    def above(self, index: int) -> list[int]:
        """The node and all above it, from the root down."""
        chain = [index]
        while self.parents[chain[-1]] >= 0:
            chain.append(self.parents[chain[-1]])
        return chain[::-1]


def read_gltf_joints(path: Path) -> JointRecord:
    """Reads the joints of a .glb or .gltf file, in the frame of its scene (+Y up, facing +Z).

    Raises FileMissing when the file cannot be opened, SkeletonError when it is broken or holds
    no joints, in words that go on after a colon.
    """
    document = GltfDocument(path)
    nodes = _nodes(document)
    skin = read_skin(document, nodes.parents)
    if skin is None:
        joints, rest_of = _loose_joints(nodes), None
        notes = [
            "The file has no skin, so its nodes without a mesh are taken for joints, and how "
            "they are turned for a pose."
        ]
    else:
        joints, rest_of, notes = skin.joints, skin.rest, list(skin.notes)
    if document.entries("animations"):
        notes.append("The animations were passed over; the joints stand as their nodes say.")
    parents = _joint_parents(joints, nodes)
    order = parents_first(parents)
    place_of = {old: new for new, old in enumerate(order)}
    sorted_parents = np.array([place_of.get(parents[i], -1) for i in order], dtype=np.int64)
    joints = [joints[i] for i in order]
    names = [nodes.name(j) for j in joints]
    world, own = _worlds(nodes, joints)
    rest = world if skin is not None else None
    if rest_of is not None:
        rest = np.array([rest_of[joint] for joint in joints])
    record = from_frames(
        "glTF",
        names,
        sorted_parents,
        world,
        rest=rest,
        local_factors=np.linalg.norm(own[:, :3, :3], axis=1),
    )
    return replace(
        record,
        up="+Y",
        forward="+Z",
        metres_per_unit=1.0,
        notes=(*notes, *record.notes),
    )


def _nodes(document: GltfDocument) -> _Nodes:
    entries = document.entries("nodes")
    if len(entries) > MOST_NODES:
        raise SkeletonError(
            f"it has {len(entries)} nodes, more than the {MOST_NODES} that are read; export only "
            "the character."
        )
    parents = [-1] * len(entries)
    for index, entry in enumerate(entries):
        children = entry.get("children", [])
        if not isinstance(children, list):
            raise SkeletonError(f"nodes[{index}].children is no list.")
        for child in children:
            number = whole_number(child, f"nodes[{index}].children")
            if number >= len(entries):
                raise SkeletonError(f"nodes[{index}] has the child {number}, which is not there.")
            if parents[number] >= 0:
                raise SkeletonError(f"nodes[{number}] hangs from two nodes; export the file again.")
            parents[number] = index
    parents_first(parents)
    return _Nodes(entries, parents)


def _loose_joints(nodes: _Nodes) -> list[int]:
    """The largest tree of nodes that show nothing; SkeletonError if none has two of them."""
    plain = [
        not any(key in entry for key in NOT_JOINTS) and "KHR_lights_punctual" not in _extras(entry)
        for entry in nodes.entries
    ]
    trees: dict[int, list[int]] = {}
    root_of: dict[int, int] = {}
    for index in parents_first(nodes.parents):
        if plain[index]:
            root_of[index] = root_of.get(nodes.parents[index], index)
            trees.setdefault(root_of[index], []).append(index)
    best = max(trees.values(), key=len, default=[])
    if len(best) < 2:
        raise SkeletonError("it holds no skin and no chain of nodes that could be joints.")
    refuse_too_many(len(best))
    return best


def _extras(entry: dict[str, Any]) -> dict[str, Any]:
    extensions = entry.get("extensions")
    return extensions if isinstance(extensions, dict) else {}


def _joint_parents(joints: Sequence[int], nodes: _Nodes) -> list[int]:
    """For each joint the place in `joints` of the nearest joint above it, or -1."""
    place_of = {joint: place for place, joint in enumerate(joints)}
    parents = []
    for joint in joints:
        above = nodes.parents[joint]
        while above >= 0 and above not in place_of:
            above = nodes.parents[above]
        parents.append(place_of.get(above, -1))
    return parents


def _worlds(nodes: _Nodes, joints: Sequence[int]) -> tuple[FloatArray, FloatArray]:
    """Frames (n, 4, 4) of the joints in the scene, and in their own nodes' parents."""
    local: dict[int, FloatArray] = {}
    world: dict[int, FloatArray] = {}
    for joint in joints:
        for index in nodes.above(joint):
            if index not in world:
                local[index] = _local(nodes.entries[index], f"nodes[{index}]")
                above = nodes.parents[index]
                world[index] = world[above] @ local[index] if above >= 0 else local[index]
    frames = np.array([world[j] for j in joints])
    if not np.all(np.isfinite(frames)):
        raise SkeletonError("its nodes scale one another beyond all numbers; export it again.")
    return frames, np.array([local[j] for j in joints])


def _local(entry: dict[str, Any], place: str) -> FloatArray:
    """(4, 4) the node's own transform, for column vectors."""
    if "matrix" in entry:
        matrix = finite_row(entry["matrix"], 16, f"{place}.matrix").reshape(4, 4).T
        if np.abs(matrix[3] - (0, 0, 0, 1)).max() > 1e-6:
            raise SkeletonError(f"{place}.matrix does not end in the row 0 0 0 1.")
        return matrix
    x, y, z, w = finite_row(entry.get("rotation", [0, 0, 0, 1]), 4, f"{place}.rotation")
    length = float(np.sqrt(x * x + y * y + z * z + w * w))
    if not abs(length - 1.0) < 0.1:
        raise SkeletonError(f"{place}.rotation is no unit quaternion; export the file again.")
    x, y, z, w = x / length, y / length, z / length, w / length
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    matrix = np.eye(4)
    matrix[:3, :3] = turn * finite_row(entry.get("scale", [1, 1, 1]), 3, f"{place}.scale")
    matrix[:3, 3] = finite_row(entry.get("translation", [0, 0, 0]), 3, f"{place}.translation")
    return matrix
