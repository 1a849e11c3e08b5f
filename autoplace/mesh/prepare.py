"""Makes a character ready for measuring, whatever state its mesh is in.

Vertices and triangles come in one order, faces look outward, a mesh of very many triangles gets a
lighter copy, and flat scenery is told from the figure, as is what is too thin for it. The vertices
stay in the input frame; the original is left as it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.character import Character
from autoplace.mesh.islands import Islands, find_islands
from autoplace.mesh.order import in_order
from autoplace.mesh.outward import face_outward
from autoplace.mesh.pieces import Roles
from autoplace.mesh.reduce import MOST_FACES, Reduced, reduce_character
from autoplace.mesh.scenery import find_scenery
from autoplace.mesh.strays import find_strays
from autoplace.mesh.thin_pieces import find_thin_pieces
from autoplace.mesh.triangles import face_normals

__all__ = ["ROD", "SCENERY", "Prepared", "prepare"]

SCENERY = "a ground or backdrop, or far off the figure"
ROD = "a rod, thinner and longer than any limb"


@dataclass(frozen=True)
class Prepared:
    """A character to measure on."""

    character: Character
    islands: Islands
    aside: Mapping[int, str]
    """Islands that are no part of any figure, with the reason: ground planes and backdrops, what
    lies far off, and rods, thinner and longer than any limb."""
    plates: tuple[int, ...]
    """Islands that are large flat plates on one side, which may yet be clothes or shields."""
    order: tuple[NDArray[np.int64], ...]
    """Per part, which triangle each was before all were put in order: of the original, or of the
    lighter copy."""
    reduced: Reduced | None = None
    """How the character was made lighter; None when it was not."""

    @property
    def is_figure(self) -> NDArray[np.bool_]:
        """(m,) True for the triangles that tell where a figure stands: all but what is aside
        and plates."""
        return ~np.isin(self.islands.label, (*self.aside, *self.plates))

    def original_roles(self, roles: Roles) -> Roles:
        """Roles found on the prepared character, for the original's triangles."""
        pieces = (
            replace(piece, face_ids=np.sort(self.order[piece.part_index][piece.face_ids]))
            for piece in roles.pieces
        )
        roles = replace(roles, pieces=tuple(pieces))
        return roles if self.reduced is None else self.reduced.roles(roles)


def prepare(character: Character) -> Prepared:
    """The character in order, its faces looking outward, lighter if need be; the same for the same
    surface, in whatever order the file has its triangles."""
    reduced = None
    if character.face_count > MOST_FACES:
        islands = find_islands(character)
        area = face_normals(character.vertices, character.faces)[1]
        scenery = _not_the_figure(character, islands, area)
        figure = float(area[~np.isin(islands.label, scenery)].sum())
        reduced = reduce_character(character, islands, figure)
        character = reduced.character
    character, order = in_order(character)
    islands = find_islands(character)
    area = face_normals(character.vertices, character.faces)[1]
    scenery = _not_the_figure(character, islands, area)
    rods, plates = find_thin_pieces(character, islands, area, scenery)
    aside = dict.fromkeys(scenery, SCENERY) | dict.fromkeys(rods, ROD)
    outward = face_outward(character, islands.place)
    return Prepared(outward, islands, aside, plates, order, reduced)


def _not_the_figure(
    character: Character, islands: Islands, area: NDArray[np.float64]
) -> tuple[int, ...]:
    """Islands that are scenery or strays."""
    scenery = find_scenery(character, islands, area)
    return tuple(sorted((*scenery, *find_strays(character, islands, area, scenery))))
