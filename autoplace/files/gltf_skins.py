"""The joints that the skins of a glTF file name, and how they stood when the meshes were bound.

A character of several meshes may have a skin for each, which names only the joints that its mesh
needs: skins whose joints hang together make one skeleton.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.files.gltf_document import GltfDocument, whole_number
from autoplace.files.joint_record import refuse_too_many

__all__ = ["Skin", "read_skin"]

FloatArray = NDArray[np.float64]

MOST_SKINS = 128
"""Skins of a file that are looked through; common practice."""


@dataclass(frozen=True)
class Skin:
    """Joints of one skin, or of several that hang together."""

    joints: list[int]
    """Nodes, in the file's order."""
    rest: dict[int, FloatArray] | None
    """Node -> (4, 4) its frame when the mesh was bound, in one frame for all; None if not said."""
    notes: tuple[str, ...]


def read_skin(document: GltfDocument, parents: Sequence[int]) -> Skin | None:
    """The skin with the most joints, with those of others that hang together with it.

    `parents` are those of all nodes, -1 for none. None for a file without skins; raises
    SkeletonError for skins that are broken.
    """
    skins = document.entries("skins")
    if not skins:
        return None
    if len(skins) > MOST_SKINS:
        raise SkeletonError(
            f"it has {len(skins)} skins, more than the {MOST_SKINS} that are read; export only "
            "the character."
        )
    lists = [
        _joints(skin.get("joints"), f"skins[{i}]", len(parents)) for i, skin in enumerate(skins)
    ]
    order = sorted(range(len(skins)), key=lambda i: (-len(lists[i]), i))
    joints = list(lists[order[0]])
    rest = _rest(document, order[0], lists[order[0]])
    notes = []
    if rest is None:
        notes.append(
            "The skin has no inverse bind matrices, so how the joints stand is their rest."
        )
    passed_over = 0
    for index in order[1:]:
        known = set(joints)
        new = [joint for joint in lists[index] if joint not in known]
        if not new:
            continue
        theirs = _rest(document, index, lists[index]) if rest is not None else None
        if (rest is None) != (theirs is None) or not _hang_together(joints, lists[index], parents):
            passed_over += 1
            continue
        if rest is not None and theirs is not None:
            shared = next((joint for joint in lists[index] if joint in rest), None)
            carry = np.eye(4)  # meshes may be bound in frames of their own
            if shared is not None:
                carry = rest[shared] @ np.linalg.inv(theirs[shared])
            rest |= {joint: carry @ theirs[joint] for joint in new}
        joints += new
        refuse_too_many(len(joints))
    if passed_over:
        notes.append(
            f"The file has {len(skins)} skins; that with the most joints, {len(lists[order[0]])}, "
            f"and what hangs together with it is taken, and {passed_over} passed over."
        )
    return Skin(joints, rest, tuple(notes))


def _joints(given: object, place: str, nodes: int) -> list[int]:
    if not isinstance(given, list) or not given:
        raise SkeletonError(f"{place} names no joints; export the file again.")
    numbers = [whole_number(joint, f"{place}.joints") for joint in given]
    if max(numbers) >= nodes or len(set(numbers)) < len(numbers):
        raise SkeletonError(
            f"{place}.joints names a node twice, or one that is not there; export the file again."
        )
    refuse_too_many(len(numbers))
    return numbers


def _rest(
    document: GltfDocument, index: int, joints: Sequence[int]
) -> dict[int, FloatArray] | None:
    """Frames of the joints when they were bound, from the inverse bind matrices."""
    place = f"skins[{index}].inverseBindMatrices"
    accessor = document.entries("skins")[index].get("inverseBindMatrices")
    if accessor is None:
        return None
    matrices = document.matrices(accessor, len(joints), place)
    determinants = np.linalg.det(matrices)
    flat = ~(np.abs(determinants) > 0) | ~np.isfinite(determinants)
    if flat.any():
        node = joints[int(np.flatnonzero(flat)[0])]
        raise SkeletonError(f"{place} is flat for node {node}; bind the mesh again.")
    inverse = np.linalg.inv(matrices)
    if not np.all(np.isfinite(inverse)):
        raise SkeletonError(f"{place} holds values out of range; bind the mesh again.")
    return dict(zip(joints, inverse, strict=True))


def _hang_together(ours: Sequence[int], theirs: Sequence[int], parents: Sequence[int]) -> bool:
    """Whether a joint of one list is, or hangs from, a joint of the other."""
    for one, other in ((set(ours), theirs), (set(theirs), ours)):
        seen: set[int] = set()
        for joint in other:
            node = joint
            while node >= 0 and node not in seen:
                if node in one:
                    return True
                seen.add(node)
                node = parents[node]
    return False
