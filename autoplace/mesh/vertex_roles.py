"""The role of every vertex of a character: of the piece, or else the part, that it belongs to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.mesh.pieces import Roles

__all__ = ["vertex_roles"]


def vertex_roles(
    character: Character, of_parts: Mapping[str, str], roles: Roles | None = None
) -> tuple[NDArray[np.str_], ...]:
    """(n,) names of `pieces.ROLES` for the vertices of each part.

    Args:
        character: the mesh.
        of_parts: part name -> role, as a skeleton records it; a part without one is body.
        roles: of the pieces of this same mesh, where they were found; they tell more than parts.
    """
    found = [
        np.full(len(part.vertices), of_parts.get(part.name, "body"), dtype="<U12")
        for part in character.parts
    ]
    for piece in () if roles is None else roles.pieces:
        faces = character.parts[piece.part_index].faces[piece.face_ids]
        found[piece.part_index][np.unique(faces)] = piece.role
    return tuple(found)
