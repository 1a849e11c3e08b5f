"""Tangents against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.files.gltf_patches import patches_of
from autoplace.files.gltf_tangents import tangents_of, texture_turns
from autoplace.files.looks import Material, PartLook, Texture
from autoplace.mesh.character import Part

SQUARE = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], dtype=np.float32)
FACES = np.array([[0, 1, 2], [0, 2, 3]])
OUT = np.tile(np.array([0, 0, 1], dtype=np.float32), (4, 1))


@pytest.mark.parametrize(
    ("pairs", "right", "up"),
    [
        ([[0, 1], [1, 1], [1, 0], [0, 0]], (1, 0, 0), (0, 1, 0)),  # v is down
        ([[1, 1], [0, 1], [0, 0], [1, 0]], (-1, 0, 0), (0, 1, 0)),  # mirrored
        ([[0, 0], [0, 1], [1, 1], [1, 0]], (0, 1, 0), (-1, 0, 0)),  # a quarter turn
        ([[0, 0], [2, 0], [2, 3], [0, 3]], (1, 0, 0), (0, -1, 0)),  # upside down
    ],
)
def test_a_square_has_the_textures_right_and_up(pairs, right, up):
    """By hand: the tangent is where u grows, and normal x tangent x side where v falls."""
    pairs = np.array(pairs, dtype=np.float32)
    found = tangents_of(SQUARE, OUT, FACES, pairs)
    assert found[:, :3] == pytest.approx(np.tile(right, (4, 1)), abs=1e-6)
    assert np.cross(OUT, found[:, :3]) * found[:, 3:] == pytest.approx(np.tile(up, (4, 1)))
    assert set(found[:, 3]) == set(texture_turns(pairs[FACES]))


def test_a_globe_has_tangents_to_the_east():
    """On a sphere under its map the tangent is d place / d longitude, within the coarseness of
    the net."""
    lon, lat = np.meshgrid(np.linspace(0, 3, 61), np.linspace(-1, 1, 41))
    lon, lat = lon.ravel(), lat.ravel()
    places = np.column_stack([np.cos(lat) * np.sin(lon), np.sin(lat), np.cos(lat) * np.cos(lon)])
    i = (np.arange(40)[:, None] * 61 + np.arange(60)).ravel()
    faces = np.concatenate(
        [np.column_stack([i, i + 1, i + 62]), np.column_stack([i, i + 62, i + 61])]
    )
    pairs = np.column_stack([lon / 3, (1 - lat) / 2]).astype(np.float32)
    east = np.column_stack([np.cos(lon), 0 * lon, -np.sin(lon)])
    single = places.astype(np.float32)
    found = tangents_of(single, single, faces, pairs)
    assert np.abs(found[:, :3] - east).max() < 0.05  # half a cell of the net
    assert set(found[:, 3]) == {1.0}


def test_without_area_any_tangent_at_right_angles_is_given():
    """Unit length, and no warning."""
    found = tangents_of(SQUARE, OUT, FACES, np.zeros((4, 2), dtype=np.float32))
    assert np.linalg.norm(found[:, :3], axis=1) == pytest.approx(1.0)
    assert found[:, 2] == pytest.approx(0.0)
    thin = np.zeros((4, 3), dtype=np.float32)
    assert np.isfinite(tangents_of(thin, OUT, FACES, SQUARE[:, :2])).all()


@pytest.mark.parametrize(("normal", "vertices"), [(True, 6), (False, 4)])
def test_mirrored_halves_share_no_vertices_under_a_texture_of_normals(normal, vertices):
    """Two triangles side by side whose texture is folded along the common edge."""
    part = Part("a", SQUARE.astype(float), FACES, np.arange(4), np.arange(2))
    pairs = np.array([[0, 1], [1, 1], [1, 0], [1, 1]], dtype=np.float32)[FACES]
    look = PartLook((pairs,), np.zeros(2, dtype=np.int64))
    texture = Texture("n", "image/png", b"")
    material = Material("m", texture=texture, normal=texture if normal else None)
    (patch,) = patches_of(part, look, (material,))
    assert len(patch.vertices) == vertices
    assert np.array_equal(patch.vertices[patch.faces], FACES)
