"""The mesh of a page: a layer for each part that can be shown or hidden, welded and light enough.

Lengths are percent of the character's height, in the working frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.frame_record import Frame
from autoplace.mesh.character import Character, Part
from autoplace.mesh.islands import find_islands
from autoplace.mesh.pieces import ROLES, Roles
from autoplace.mesh.reduce import reduce_character
from autoplace.mesh.triangles import face_normals

__all__ = ["MeshLayer", "PageMesh", "page_mesh"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_FACES = 150_000
"""A mesh of more triangles is shown as a lighter copy, for it must travel in the page."""
WANTED_FACES = 120_000
"""About as many has the copy at most."""
MOST_LAYERS = 16
"""A file of more parts gets one layer for each role: a longer list is not looked through (common
practice, no source)."""
WELD = 1e-3
"""Vertices are rounded to this, percent of the height, and those that meet become one: finer than
any picture shows, and seams of texture coordinates do not show in the shading."""
ROLE_WORDS = {
    "body": "body",
    "eyeball": "eye",
    "inner_mouth": "inside of the mouth",
    "hair": "hair",
    "garment": "garment",
    "accessory": "accessory",
    "left_out": "left out",
    "unknown": "not told",
}


@dataclass(frozen=True)
class MeshLayer:
    """One part, or what one part has of one role."""

    name: str
    """The part's name in the file; or how many parts there are together."""
    role: str
    """One of `mesh.pieces.ROLES`."""
    vertices: FloatArray
    """(n, 3)"""
    faces: IntArray
    """(m, 3)"""

    @property
    def kind(self) -> str:
        """What it is, in words."""
        return ROLE_WORDS[self.role]


@dataclass(frozen=True)
class PageMesh:
    """All layers: body first, then eyes, then what is worn."""

    layers: tuple[MeshLayer, ...]
    reduced: bool
    """Whether it is lighter than the character's own mesh."""

    @property
    def face_count(self) -> int:
        """Number of triangles shown."""
        return sum(len(layer.faces) for layer in self.layers)


def page_mesh(character: Character, roles: Roles, frame: Frame) -> PageMesh:
    """The layers of a character whose pieces have roles; a lighter copy of a very large mesh."""
    groups: dict[tuple[int, str], list[IntArray]] = {}
    for piece in roles.pieces:
        if len(piece.face_ids):
            groups.setdefault((piece.part_index, piece.role), []).append(piece.face_ids)
    layers = []
    for index, role in sorted(groups, key=lambda key: (ROLES.index(key[1]), key[0])):
        part = character.parts[index]
        faces = part.faces[np.sort(np.concatenate(groups[index, role]))]
        used, local = np.unique(faces, return_inverse=True)
        points = 100.0 * frame.to_working(part.vertices[used])
        layers.append(MeshLayer(part.name, role, points, local.reshape(-1, 3)))
    if len(layers) > MOST_LAYERS:
        layers = _by_role(layers)
    reduced = sum(len(layer.faces) for layer in layers) > MOST_FACES
    if reduced:
        layers = _lighter(layers)
    welded = [_welded(layer) for layer in layers]
    return PageMesh(tuple(layer for layer in welded if len(layer.faces)), reduced)


def _by_role(layers: Sequence[MeshLayer]) -> list[MeshLayer]:
    """The layers of each role put together."""
    together = []
    for role in ROLES:
        mine = [layer for layer in layers if layer.role == role]
        if not mine:
            continue
        starts = np.cumsum([0, *(len(layer.vertices) for layer in mine)])
        together.append(
            MeshLayer(
                mine[0].name if len(mine) == 1 else f"{len(mine)} parts",
                role,
                np.concatenate([layer.vertices for layer in mine]),
                np.concatenate(
                    [layer.faces + at for layer, at in zip(mine, starts[:-1], strict=True)]
                ),
            )
        )
    return together


def _lighter(layers: Sequence[MeshLayer]) -> list[MeshLayer]:
    """The layers with about `WANTED_FACES` triangles or fewer in all."""
    parts = tuple(
        Part(
            str(number),
            layer.vertices,
            layer.faces,
            np.arange(len(layer.vertices)),
            np.arange(len(layer.faces)),
        )
        for number, layer in enumerate(layers)
    )
    whole = Character("page", parts)
    area = float(face_normals(whole.vertices, whole.faces)[1].sum())
    light = reduce_character(whole, find_islands(whole), area, WANTED_FACES).character
    return [
        replace(layer, vertices=part.vertices, faces=part.faces)
        for layer, part in zip(layers, light.parts, strict=True)
    ]


def _welded(layer: MeshLayer) -> MeshLayer:
    """The layer with vertices rounded and joined, without triangles that lose their area so."""
    cells = np.round(layer.vertices / WELD).astype(np.int64)
    places, place = np.unique(cells, axis=0, return_inverse=True)
    faces = place.reshape(-1)[layer.faces]
    a, b, c = faces.T
    faces = faces[(a != b) & (b != c) & (c != a)]
    used, local = np.unique(faces, return_inverse=True)
    return replace(layer, vertices=places[used] * WELD, faces=local.reshape(-1, 3))
