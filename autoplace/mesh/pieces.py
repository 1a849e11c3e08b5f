"""Records for what each connected piece of a character is; the roles are found in `mesh.parts`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.character import Character

__all__ = ["ROLES", "Piece", "Roles"]

ROLES = ("body", "eyeball", "inner_mouth", "hair", "garment", "accessory", "left_out", "unknown")
"""What a piece can be. `body` is every surface that the limbs are measured from (skin, and
clothes that replace it, such as trousers over no legs); a `garment` is worn over the body and
left out of the measurement; `left_out` is what the user asked to leave out."""
BODY_SHARE = 0.2
"""Share of a part's triangles from which body decides for the part; strands of hair have many
triangles for their size (common practice, no source)."""


@dataclass(frozen=True)
class Piece:
    """Triangles of one part that are connected to one another (seams joined by position)."""

    part: str
    """Name of the part."""
    part_index: int
    """Index into `Character.parts`."""
    face_ids: NDArray[np.int64]
    """(k,) triangle indices into that part's `faces`."""
    role: str
    """One of `ROLES`."""
    side: str | None
    """'left' or 'right' (the character's own) for an eyeball, else None."""
    reason: str
    """Why, in a few plain words."""
    confidence: float
    """0 to 1, from how far the measures lay from the deciding limits."""


@dataclass(frozen=True)
class Roles:
    """The pieces of a character with their roles."""

    pieces: tuple[Piece, ...]
    notes: tuple[str, ...] = ()

    def surface(
        self, character: Character, roles: Sequence[str]
    ) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        """Vertices (n, 3), input frame and units, and triangles (m, 3) of all pieces in `roles`.

        Vertices that no chosen triangle uses are dropped; nothing is merged.
        """
        vertices: list[NDArray[np.float64]] = []
        faces: list[NDArray[np.int64]] = []
        start = 0
        for index, part in enumerate(character.parts):
            chosen = [p.face_ids for p in self.pieces if p.part_index == index and p.role in roles]
            if not chosen:
                continue
            part_faces = part.faces[np.sort(np.concatenate(chosen))]
            used, local = np.unique(part_faces, return_inverse=True)
            vertices.append(part.vertices[used])
            faces.append(local.reshape(-1, 3) + start)
            start += len(used)
        if not vertices:
            return np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)
        return np.concatenate(vertices), np.concatenate(faces)

    def corners(
        self, character: Character, working: Sequence[NDArray[np.float64]], role: str
    ) -> list[NDArray[np.float64]]:
        """Corners (k, 3, 3) of each piece of one role, from the parts' vertices in any frame."""
        return [
            working[piece.part_index][character.parts[piece.part_index].faces[piece.face_ids]]
            for piece in self.of(role)
        ]

    def of(self, role: str, side: str | None = None) -> tuple[Piece, ...]:
        """Pieces of one role (and side, if given)."""
        return tuple(p for p in self.pieces if p.role == role and (side is None or p.side == side))

    def part_roles(self, character: Character) -> list[tuple[str, str, float, str]]:
        """(part name, role, confidence, reason) per part: the role of most of its triangles.

        A part with a good share of body counts as body: a head stays one under its hair.
        """
        rows = []
        for index, part in enumerate(character.parts):
            mine = [p for p in self.pieces if p.part_index == index]
            if not mine:
                continue
            share: dict[str, int] = {}
            for piece in mine:
                share[piece.role] = share.get(piece.role, 0) + len(piece.face_ids)
            role = max(share, key=lambda r: (share[r], r))
            if share.get("body", 0) >= BODY_SHARE * sum(share.values()):
                role = "body"
            best = max((p for p in mine if p.role == role), key=lambda p: len(p.face_ids))
            rows.append((part.name, role, best.confidence, best.reason))
        return rows
