"""What is drawn of a character: its parts with their colours, lighter where the mesh is large."""

from __future__ import annotations

from typing import TYPE_CHECKING

from autoplace.mesh.islands import find_islands
from autoplace.mesh.reduce import reduce_character
from autoplace.mesh.triangles import surface_area
from autoplace.review.surface import SurfacePart
from autoplace.show.palette import EYE, Colour, lighter

if TYPE_CHECKING:
    from autoplace.measure.frame_record import Frame
    from autoplace.mesh.character import Character
    from autoplace.skeleton.model import Skeleton

__all__ = ["MOST_FACES", "drawn_character", "surface_parts"]

MOST_FACES = 300_000
"""Triangles that are drawn as they are: twice as many travel to the browser for the two layers of
a solid part, in about 4 MB each (own measurement)."""
BODY: Colour = (172, 163, 188)
WORN: Colour = (206, 184, 138)
COLOURS = {"body": BODY, "inner_mouth": BODY, "eyeball": lighter(EYE, 0.3)}
"""By role; the rest is worn. Deeper than in the pictures, so that a joint behind a clear wall keeps
its colour (judged by eye)."""


def drawn_character(character: Character) -> Character:
    """The character, or a lighter copy of about `MOST_FACES` triangles where it has more."""
    if character.face_count <= MOST_FACES:
        return character
    area = surface_area(character.vertices, character.faces)
    return reduce_character(character, find_islands(character), area, MOST_FACES).character


def surface_parts(
    character: Character, skeleton: Skeleton, frame: Frame
) -> tuple[SurfacePart, ...]:
    """The parts that have triangles, in the working frame, coloured by the roles that the skeleton
    records."""
    roles = {part.name: part.role for part in skeleton.parts}
    return tuple(
        SurfacePart(
            part.name,
            frame.to_working(part.vertices),
            part.faces,
            COLOURS.get(roles.get(part.name, "body"), WORN),
        )
        for part in character.parts
        if len(part.faces)
    )
