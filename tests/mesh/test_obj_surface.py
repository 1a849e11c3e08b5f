"""Texture coordinates and materials in OBJ text."""

from __future__ import annotations

import numpy as np

from autoplace.mesh.obj_surface import read_obj_surface


def test_corners_get_the_coordinates_that_they_name():
    """Counted from the file's beginning, or back from the line; with and without normals."""
    text = b"""v 0 0 0
vt 0.1 0.2
vt 0.3
vt 0.5 0.6 0.7 # deep
f 1/1/1 1/2 1/-1 1
vt 7e-1 8e-1
f 1//1 1/-1/2 1/ 1/4
"""
    nothing = [np.nan, np.nan]
    surface = read_obj_surface(text, 8)
    expected = [[0.1, 0.2], [0.3, 0], [0.5, 0.6], nothing, nothing, [0.7, 0.8], nothing, [0.7, 0.8]]
    np.testing.assert_allclose(surface.coordinates, expected)
    assert surface.broken == 0


def test_polygons_stand_under_the_last_material_named():
    """Across objects and groups; none before the first name, and none after an empty one."""
    text = b"""mtllib a.mtl
mtllib b c.mtl
mtllib a.mtl
f 1 1 1
usemtl skin
f 1 1 1
o body
f 1 1 1
usemtl unused
usemtl my  cloth
g hem
f 1 1 1
usemtl skin
f 1 1 1
usemtl
f 1 1 1
"""
    surface = read_obj_surface(text.replace(b"\n", b"\r\n"), 18)
    assert surface.material_names == ("skin", "my cloth")
    np.testing.assert_array_equal(surface.material_of_face, [-1, 0, 0, 1, 0, -1])
    assert surface.libraries == ("a.mtl", "b c.mtl")
    assert np.isnan(surface.coordinates).all()


def test_coordinates_that_are_not_there_are_counted():
    """Too large, zero, words, too far back, not a number; each is one corner."""
    text = b"vt 0 0\nvt nan 0\nf 1/3 1/0 1/x 1/-3 1/2 1/1"
    surface = read_obj_surface(text, 6)
    assert surface.broken == 5
    np.testing.assert_array_equal(surface.coordinates[5], [0, 0])


def test_many_lines_are_read_as_few_are():
    """Blocks of lines that other lines interrupt give what Python reads one by one."""
    rng = np.random.default_rng(3)
    pairs = rng.normal(size=(40_000, 2)).round(6)
    numbers = rng.integers(1, 40_001, size=(20_000, 3))
    lines = [f"vt {u} {v}" for u, v in pairs]
    lines[::7] = [f"{line}\nvn 0 0 1" for line in lines[::7]]
    lines += [f"f 1/{a}/1 2/{b}/1 3/{c}/1" for a, b, c in numbers]
    surface = read_obj_surface("\n".join(lines).encode(), 60_000)
    np.testing.assert_array_equal(surface.coordinates, pairs[numbers.reshape(-1) - 1])
