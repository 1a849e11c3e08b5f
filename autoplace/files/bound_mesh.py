"""The mesh of a character bound to its skeleton, part by part, as exporters need it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import OutputError
from autoplace.mesh.character import Character, Part
from autoplace.mesh.vertex_roles import vertex_roles
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.skin.binding import Binding, bind_mesh

if TYPE_CHECKING:
    from autoplace.mesh.pieces import Roles

__all__ = ["BoundMesh", "bind_character", "normals_of"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class BoundMesh:
    """The parts that have triangles, and what moves their vertices."""

    parts: tuple[Part, ...]
    starts: IntArray
    """(parts + 1,) where each part's vertices begin among all."""
    vertices: FloatArray
    """(n, 3) of all parts one after another, in the mesh's frame and units."""
    faces: IntArray
    """(m, 3) triangles of all parts, indices into `vertices`."""
    binding: Binding
    notes: tuple[str, ...]
    """What is left out or taken for granted, one sentence each."""

    def of_part(self, index: int) -> slice:
        """Where the vertices of a part stand among all."""
        return slice(int(self.starts[index]), int(self.starts[index + 1]))


def bind_character(
    character: Character, skeleton: Skeleton, roles: Roles | None = None
) -> BoundMesh:
    """Binds all parts with triangles to a skeleton in the same frame and units.

    The joints' names are read off the skeleton, so it must be under our own names.

    Args:
        character: the mesh.
        skeleton: what it is bound to.
        roles: of the pieces of this mesh, where they were found; they tell what is rigid and what
            is worn. Without them the parts count as the skeleton records them.

    Raises SkeletonError for a broken tree, OutputError when there are no triangles.
    """
    parts = tuple(part for part in character.parts if len(part.faces))
    if not parts:
        raise OutputError(f"There is nothing to bind: '{character.name}' has no triangles.")
    counts = [len(part.vertices) for part in parts]
    starts = np.cumsum([0, *counts])
    vertices = np.concatenate([part.vertices for part in parts])
    faces = np.concatenate([p.faces + s for p, s in zip(parts, starts, strict=False)])
    kinds = vertex_roles(character, {part.name: part.role for part in skeleton.parts}, roles)
    drawn = [kind for kind, part in zip(kinds, character.parts, strict=True) if len(part.faces)]
    binding = bind_mesh(vertices, faces, skeleton, roles=np.concatenate(drawn))
    notes = [
        "The binding is a first one: skin by distance to the bones through the flesh, clothes by "
        "the skin beneath them, rigid pieces by one joint.",
    ]
    if any(len(np.unique(p.source_faces)) < len(p.source_faces) for p in parts):
        notes.append("Polygons are written as the triangles that they were cut into.")
    empty = [part.name for part in character.parts if not len(part.faces)]
    if empty:
        notes.append(f"Parts without triangles are left out: {', '.join(empty)}.")
    # half of a character, which no file can keep, becomes a question mark
    parts = tuple(
        replace(part, name=part.name.encode("utf-8", "replace").decode("utf-8")) for part in parts
    )
    return BoundMesh(parts, starts, vertices, faces, binding, tuple(notes))


def normals_of(places: FloatArray, faces: IntArray, place_of: IntArray) -> FloatArray:
    """(n, 3) unit normals, averaged by area over the triangles that meet at a place.

    A place without area gets +Y.
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
