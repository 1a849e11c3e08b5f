"""A lighter copy of a mesh of very many triangles, for measuring.

Vertices of one piece that lie in one cell of a fine grid become one, at their mean; triangles that
lose their area go. No vertex moves by more than a cell, most by far less, and pieces stay apart.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.character import Character, Part
from autoplace.mesh.islands import Islands
from autoplace.mesh.pieces import Piece, Roles

__all__ = ["MOST_FACES", "Reduced", "reduce_character"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_FACES = 300_000
"""Meshes of more triangles are measured on a lighter copy."""
WANTED_FACES = 250_000
"""About as many has the copy at most. On an adult its edges are then .002 of the height long, a
fifth of a finger's breadth, and a finger of that breadth loses 5 percent of its radius at most
between two vertices (sagitta of a chord)."""


@dataclass(frozen=True)
class Reduced:
    """The lighter copy and how its triangles came from the original's."""

    character: Character
    original: Character
    islands: Islands
    """Of the original."""
    island_of_face: tuple[IntArray, ...]
    """Per part: the original's island of each of the copy's triangles."""

    def roles(self, roles: Roles) -> Roles:
        """Roles found on the copy, for the original's triangles."""
        chosen: dict[tuple[int, int], tuple[int, Piece]] = {}
        for piece in roles.pieces:
            islands = self.island_of_face[piece.part_index][piece.face_ids]
            for island, count in zip(*np.unique(islands, return_counts=True), strict=True):
                key = (piece.part_index, int(island))
                if key not in chosen or count > chosen[key][0]:
                    chosen[key] = (int(count), piece)
        pieces = []
        for index, part in enumerate(self.original.parts):
            start = int(self.islands.face_start[index])
            label = self.islands.label[start : start + len(part.faces)]
            order = np.argsort(label, kind="stable")
            for faces in np.split(order, np.flatnonzero(np.diff(label[order])) + 1):
                key = (index, int(label[faces[0]]))
                if key in chosen:
                    pieces.append(replace(chosen[key][1], part=part.name, face_ids=faces))
                else:
                    why = "too small to be judged"
                    pieces.append(Piece(part.name, index, faces, "unknown", None, why, 0.0))
        return Roles(tuple(pieces), roles.notes)


def reduce_character(
    character: Character, islands: Islands, area: float, wanted: int = WANTED_FACES
) -> Reduced:
    """A copy with about `wanted` triangles or fewer; parts and islands stay what they are.

    Args:
        character: the mesh. islands: its pieces.
        area: of the surface that decides how fine the copy is (all but a ground plane).
    """
    vertices, faces = character.vertices, character.faces
    cell = np.sqrt(2.0 * max(area, 1e-300) / wanted)
    island_of_vertex = np.full(len(vertices), -1, dtype=np.int64)
    island_of_vertex[faces] = islands.label[:, None]
    parts, labels = [], []
    first = 0
    for index, part in enumerate(character.parts):
        start = int(islands.face_start[index])
        label = islands.label[start : start + len(part.faces)]
        own = island_of_vertex[first : first + len(part.vertices)]
        first += len(part.vertices)
        lighter, kept = _clustered(part, own, cell)
        parts.append(lighter)
        labels.append(label[kept])
    copy = replace(character, parts=tuple(parts))
    return Reduced(copy, character, islands, tuple(labels))


def _clustered(part: Part, island: IntArray, cell: float) -> tuple[Part, NDArray[np.bool_]]:
    """A part with the vertices of each island and cell made one, and (m,) which triangles stay."""
    points = part.vertices
    used = island >= 0
    low = points[used].min(axis=0) if used.any() else np.zeros(3)
    cells = np.floor((np.where(used[:, None], points, low) - low) / cell).astype(np.int64)
    _, island = np.unique(island, return_inverse=True)
    sizes = cells.max(axis=0) + 1
    key = ((island.reshape(-1) * sizes[0] + cells[:, 0]) * sizes[1] + cells[:, 1]) * sizes[2]
    key += cells[:, 2]
    _, source, place = np.unique(key, return_index=True, return_inverse=True)
    place = place.reshape(-1)
    count = np.bincount(place)
    middle = np.stack([np.bincount(place, points[:, i]) / count for i in range(3)], axis=1)
    faces = place[part.faces]
    kept = (
        (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    )
    copy = Part(
        part.name,
        middle,
        np.ascontiguousarray(faces[kept]),
        part.source_vertices[source],
        part.source_faces[kept],
    )
    return copy, kept
