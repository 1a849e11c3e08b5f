"""What an old and a new model have in common: vertices that correspond, or bones."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.local_map import moves_as_one

if TYPE_CHECKING:
    from autoplace.mesh.character import Character, Part
    from autoplace.mesh.pieces import Roles
    from autoplace.result import PlaceResult

__all__ = ["same_vertices", "shared_bones"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FLESH = ("body", "eyeball")
"""Roles of the pieces that a joint lies in."""


def same_vertices(
    old: Character, new: Character, roles: Roles
) -> tuple[FloatArray, FloatArray, IntArray] | None:
    """Vertices (n, 3) of the old and of the new model's flesh, and the triangles (m, 3) of both;
    None where they do not correspond.

    `roles` are those of the new model. Parts correspond when they have as many vertices and the
    same triangles, under the same name or else as the only such part; every part with flesh must.
    Each model stays in its own frame and units.
    """
    first, second, faces, start = [], [], [], 0
    for index, part in enumerate(new.parts):
        chosen = [
            piece.face_ids
            for piece in roles.pieces
            if piece.part_index == index and piece.role in FLESH
        ]
        if not chosen:
            continue
        match = _match(part, old)
        if match is None:
            return None
        first.append(match.vertices)
        second.append(part.vertices)
        faces.append(part.faces[np.sort(np.concatenate(chosen))] + start)
        start += len(part.vertices)
    if not first:
        return None
    before, after = np.concatenate(first), np.concatenate(second)
    return (before, after, np.concatenate(faces)) if moves_as_one(before, after) else None


def _match(part: Part, old: Character) -> Part | None:
    """The part of the old model with the same triangles."""
    alike = [
        other
        for other in old.parts
        if len(other.vertices) == len(part.vertices) and np.array_equal(other.faces, part.faces)
    ]
    named = [other for other in alike if other.name == part.name]
    if named:
        return named[0]
    return alike[0] if len(alike) == 1 else None


def shared_bones(old: PlaceResult, new: PlaceResult) -> tuple[FloatArray, FloatArray]:
    """Both ends (b, 2, 3) of the bones that two placed skeletons share, each in its working frame.

    A bone runs from a joint to one of its children.
    """
    before = _working(old)
    after = _working(new)
    names = [
        (joint.parent, joint.name)
        for joint in old.skeleton
        if joint.parent is not None
        and joint.name in after
        and joint.parent in after
        and new.skeleton[joint.name].parent == joint.parent
    ]
    ends = [np.array([[where[a], where[b]] for a, b in names]) for where in (before, after)]
    return ends[0].reshape(-1, 2, 3), ends[1].reshape(-1, 2, 3)


def _working(placed: PlaceResult) -> Mapping[str, FloatArray]:
    return {joint.name: placed.frame.to_working(joint.position) for joint in placed.skeleton}
