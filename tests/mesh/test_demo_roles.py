"""The roles of the demo characters' parts, with their names and without."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from autoplace.measure.frame import find_frame
from autoplace.mesh.load import load
from autoplace.mesh.parts import assign_roles

MESHES = sorted((Path(__file__).parents[2] / "meshes").glob("*.obj"))
BODY = ("body", "head", "left_arm", "right_arm", "left_leg", "right_leg", "shirt", "shorts")
EXPECTED = {
    **{name: {"body"} for name in BODY},
    "hair": {"hair"},
    "beard": {"hair"},
    "cloak": {"garment"},
    "waistcoat": {"garment"},
    "scarf": {"garment", "accessory"},
    "belt": {"garment", "accessory"},
    **{name: {"eyeball"} for name in ("eyes", "eye_left", "eye_right")},
}
"""Roles that are right for a part; a belt may be either of two."""
UNNAMED = {"beard": {"hair", "accessory"}}
"""More that will do when the names tell nothing."""


def test_demo_characters_are_there():
    """The tests below look at something."""
    assert MESHES


@pytest.mark.parametrize("path", MESHES, ids=lambda p: p.stem)
@pytest.mark.parametrize("named", [True, False], ids=["named", "unnamed"])
def test_roles(path, named):
    """Every part of a demo character gets a right role, also when it is called Object001."""
    character = load(path)
    names = [part.name for part in character.parts]
    if not named:
        parts = tuple(replace(p, name=f"Object{i:03}") for i, p in enumerate(character.parts))
        character = replace(character, parts=parts)
    frame = find_frame(character.vertices, character.faces)
    working = [frame.to_working(part.vertices) for part in character.parts]
    roles = assign_roles(character, working)
    for name, (_, role, confidence, reason) in zip(names, roles.part_roles(character), strict=True):
        allowed = EXPECTED[name] | (set() if named else UNNAMED.get(name, set()))
        assert role in allowed, f"{name} became {role} ({confidence:.2f}): {reason}"
    assert {p.side for p in roles.of("eyeball")} == {"left", "right"}
