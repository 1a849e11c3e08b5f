"""`autoplace.show.page_mesh`: the layers of a page's mesh."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from autoplace.measure.frame_record import Frame
from autoplace.mesh.character import Character, Part
from autoplace.mesh.pieces import Piece, Roles
from autoplace.show.page_mesh import MOST_FACES, MOST_LAYERS, page_mesh

FRAME = Frame(np.eye(3), np.zeros(3), 2.0, "+Y", "+Z", 0.0)


def made(*meshes: tuple[str, str, trimesh.Trimesh]) -> tuple[Character, Roles]:
    """A character of parts with names and roles."""
    parts, pieces = [], []
    for index, (name, role, mesh) in enumerate(meshes):
        vertices = np.array(mesh.vertices, dtype=float)
        faces = np.array(mesh.faces, dtype=np.int64)
        parts.append(Part(name, vertices, faces, np.arange(len(vertices)), np.arange(len(faces))))
        pieces.append(Piece(name, index, np.arange(len(faces)), role, None, "so said", 1.0))
    return Character("made", tuple(parts)), Roles(tuple(pieces))


def box() -> trimesh.Trimesh:
    return trimesh.creation.box(extents=(1.0, 2.0, 0.5))


def test_layers_are_in_percent_of_the_height_and_body_comes_first():
    """A box as tall as the character is a hundred percent tall; what is worn comes after."""
    mesh = page_mesh(*made(("hat", "accessory", box()), ("skin", "body", box())), FRAME)
    assert [(layer.name, layer.kind) for layer in mesh.layers] == [
        ("skin", "body"),
        ("hat", "accessory"),
    ]
    assert np.ptp(mesh.layers[0].vertices, axis=0) == pytest.approx([50.0, 100.0, 25.0])
    assert not mesh.reduced


def test_a_part_of_two_roles_is_two_layers():
    """Eyeballs that share an object with the body are shown and hidden by themselves."""
    character, _ = made(("all", "body", box()))
    roles = Roles(
        (
            Piece("all", 0, np.arange(8), "body", None, "", 1.0),
            Piece("all", 0, np.arange(8, 12), "eyeball", "left", "", 1.0),
        )
    )
    mesh = page_mesh(character, roles, FRAME)
    assert [(layer.role, len(layer.faces)) for layer in mesh.layers] == [
        ("body", 8),
        ("eyeball", 4),
    ]


def test_seams_are_joined():
    """A box whose triangles share no vertices comes to have its eight corners."""
    loose = box()
    loose.unmerge_vertices()
    assert len(loose.vertices) == 36
    (layer,) = page_mesh(*made(("skin", "body", loose)), FRAME).layers
    assert len(layer.vertices) == 8
    assert len(layer.faces) == 12


def test_very_many_parts_are_one_layer_for_each_role():
    """Forty buttons are one switch, and none of their triangles is lost."""
    buttons = [(f"button_{n}", "accessory", box()) for n in range(MOST_LAYERS + 24)]
    mesh = page_mesh(*made(("skin", "body", box()), *buttons), FRAME)
    assert [layer.name for layer in mesh.layers] == ["skin", "40 parts"]
    assert mesh.face_count == 41 * 12


def test_a_large_mesh_is_made_lighter():
    """A sphere of more triangles than a page takes keeps its shape with fewer."""
    ball = trimesh.creation.uv_sphere(radius=1.0, count=(320, 320))
    assert len(ball.faces) > MOST_FACES
    mesh = page_mesh(*made(("skin", "body", ball)), FRAME)
    assert mesh.reduced
    assert 20_000 < mesh.face_count < MOST_FACES
    radius = np.linalg.norm(mesh.layers[0].vertices, axis=1)
    assert radius == pytest.approx(50.0, abs=0.25)


def test_scenery_without_triangles_is_passed_over():
    """A part that no piece belongs to makes no layer."""
    character, roles = made(("skin", "body", box()), ("floor", "left_out", box()))
    bare = replace(roles, pieces=roles.pieces[:1])
    assert [layer.name for layer in page_mesh(character, bare, FRAME).layers] == ["skin"]
