"""Pieces far off the figure are told, and do not change how it is placed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace import place
from autoplace.mesh.character import Character, Part
from autoplace.mesh.islands import find_islands
from autoplace.mesh.strays import FAR, find_strays
from autoplace.mesh.triangles import face_normals
from tests.mesh.capsule_figures import box, capsule, figure, limb_names, mirrored
from tests.placed_once import demo_character, placed_demo

TRIANGLE = (np.array([[0.0, 0, 0], [0.01, 0, 0], [0, 0.01, 0.01]]), np.array([[0, 1, 2]]))


def strays(parts) -> set[str]:
    """The parts whose islands are strays."""
    character = figure(parts)
    islands = find_islands(character)
    area = face_normals(character.vertices, character.faces)[1]
    found = find_strays(character, islands, area)
    names = [part.name for part in character.parts]
    return {names[i] for i in islands.part_of_face[np.isin(islands.label, found)]}


def a_figure():
    return {name: capsule(*mirrored(name)) for name in limb_names()}


def moved(mesh, by):
    return mesh[0] + np.asarray(by, dtype=float), mesh[1]


def test_what_lies_near_is_no_stray():
    """A figure in pieces, and a shield half a length beside it, are all kept."""
    shield = moved(box((-0.1, -0.1, -0.01), (0.1, 0.1, 0.01)), (0.9, 0.5, 0.0))
    assert strays({**a_figure(), "shield": shield}) == set()


@pytest.mark.parametrize("way", [(1, 0, 0), (0, -1, 0), (0.6, 0, -0.8)])
def test_what_lies_far_off_is_a_stray(way):
    """A triangle less than a length off the middle is kept; one that lies farther off than a
    length of the figure from all of it is a stray, whichever way."""
    middle = np.array([0.0, 0.5, 0.0])
    for off, wanted in ((0.9 * FAR, set()), (1.6 * FAR, {"lost"}), (300.0, {"lost"})):
        there = moved(TRIANGLE, middle + off * np.array(way, dtype=float))
        assert strays({**a_figure(), "lost": there}) == wanted


def test_of_two_figures_far_apart_none_is_a_stray():
    """Half of what there is cannot be a stray."""
    other = {f"other_{name}": moved(mesh, (9.0, 0, 0)) for name, mesh in a_figure().items()}
    assert strays({**a_figure(), **other}) == set()


def test_a_lost_triangle_leaves_the_joints_where_they_are():
    """With a triangle fifty heights away a demo character is placed as without it, to a thousandth
    of its height, and the triangle's part is told to be far off."""
    alone = demo_character("bell_child")
    height = float(np.ptp(alone.vertices[:, 1]))
    lost = Part("lost", *moved(TRIANGLE, (50.0 * height, 0, 0)), np.arange(3), np.arange(1))
    both: Character = replace(alone, parts=(*alone.parts, lost))
    one, two = placed_demo("bell_child"), place(both)
    for joint in one.skeleton:
        there = two.skeleton[joint.name].position
        assert np.linalg.norm(joint.position - there) < 0.001 * height, joint.name
    roles = {name: reason for name, _, _, reason in two.roles.part_roles(both)}
    assert "far off" in roles["lost"]
