from __future__ import annotations

import numpy as np
import pytest
import trimesh

from autoplace.show.raster import CUT, rasterise


def seen_from_z(mesh, scale, size, **options):
    """A mesh seen against +Z, its zero in the picture's middle."""
    screen = mesh.vertices[:, :2] * [scale, -scale] + size / 2
    faces = np.asarray(mesh.faces, dtype=np.int64)
    return rasterise(screen, -mesh.vertices[:, 2], faces, size, size, **options)


def test_a_sphere_covers_the_area_of_its_disc():
    """Covered pixels agree with pi r squared to the error of pixel and facet."""
    ball = trimesh.creation.icosphere(subdivisions=5)
    view = seen_from_z(ball, 180.3, 400)
    assert len(view.pixels) == pytest.approx(np.pi * 180.3**2, rel=2e-3)


def test_a_sphere_is_as_thick_as_its_chords():
    """The solid's depth behind a pixel is the chord of the ball there."""
    ball = trimesh.creation.icosphere(subdivisions=5)
    view = seen_from_z(ball, 180.0, 400)
    x = (view.columns + 0.5 - 200) / 180.0
    y = (view.rows + 0.5 - 200) / 180.0
    inside = np.hypot(x, y) < 0.95
    chord = 2 * np.sqrt(1 - x[inside] ** 2 - y[inside] ** 2)
    assert np.abs(view.thickness[inside] - chord).max() < 0.01
    assert np.abs(view.depth[inside] + chord / 2).max() < 0.005


def test_shared_edges_are_counted_once():
    """A fan of triangles covers each pixel of its square exactly once."""
    angle = np.linspace(0, 2 * np.pi, 8)[:-1]
    corners = np.array([[3.0, 3.0], [61.0, 3.0], [61.0, 61.0], [3.0, 61.0]])
    for middle in (
        corners.mean(axis=0),
        *(32 + 20 * np.column_stack([np.cos(angle), np.sin(angle)])),
    ):
        screen = np.vstack([corners, middle])
        faces = np.array([[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]])
        # one lid in front and one behind make every pixel one unit thick, none two
        both = np.vstack([screen, screen])
        depth = np.repeat([0.0, 1.0], 5)
        lids = np.vstack([faces[:, ::-1], faces + 5])
        view = rasterise(both, depth, lids, 64, 64)
        assert len(view.pixels) == 58 * 58
        assert np.allclose(view.thickness, 1.0, atol=1e-5)


def test_the_nearest_face_is_seen_whatever_the_order():
    """Of three layered triangles the front one is shown, in any order of the faces."""
    screen = np.tile([[0.0, 0.0], [40.0, 0.0], [0.0, 40.0]], (3, 1))
    depth = np.repeat([2.0, 1.0, 3.0], 3)
    faces = np.arange(9).reshape(3, 3)
    for order in ([0, 1, 2], [2, 1, 0], [1, 0, 2]):
        view = rasterise(screen, depth, faces[order], 40, 40)
        assert set(view.face) == {order.index(1)}
        assert np.allclose(view.depth, 1.0, atol=1e-6)


def test_what_lies_beside_the_picture_is_cut_off():
    """A sphere far larger than the picture fills it and raises nothing."""
    ball = trimesh.creation.icosphere(subdivisions=2)
    assert len(seen_from_z(ball, 5000.0, 32).pixels) == 32 * 32
    ball.apply_translation([10, 0, 0])
    assert len(seen_from_z(ball, 32.0, 32).pixels) == 0


def test_a_cut_box_shows_a_flat_face():
    """A box cut in its middle shows the cut at the cut's depth, and half its thickness."""
    box = trimesh.creation.box((1, 1, 2))
    box.apply_transform(trimesh.transformations.rotation_matrix(0.3, [0, 0, 1]))
    view = seen_from_z(box, 100.0, 200, cut=0.0)
    assert (view.face == CUT).all()
    assert np.allclose(view.depth, 0.0, atol=1e-6)
    assert np.allclose(view.thickness, 1.0, atol=1e-5)


def test_a_cut_leaves_what_is_behind_it_alone():
    """Where nothing is cut, the surface behind is seen as without the cut."""
    ball = trimesh.creation.icosphere(subdivisions=3)
    whole = seen_from_z(ball, 50.0, 120)
    cut = seen_from_z(ball, 50.0, 120, cut=-0.5)
    outside = cut.face != CUT
    assert 0.2 < outside.mean() < 0.3  # the ring between the cut's disc (3/4 of it) and the rim
    same = np.isin(whole.pixels, cut.pixels[outside])
    assert np.array_equal(whole.face[same], cut.face[outside])


def test_a_cut_needs_no_lid_before_it():
    """A box without its near side is cut like a whole one."""
    box = trimesh.creation.box((1, 1, 2))
    box.update_faces(box.face_normals[:, 2] < 0.5)
    view = seen_from_z(box, 100.0, 200, cut=0.0)
    assert len(view.pixels) == 100 * 100
    assert (view.face == CUT).all()
    assert np.allclose(view.thickness, 1.0, atol=1e-5)


def test_many_faces_go_through_in_pieces(monkeypatch):
    """The picture does not depend on how many faces and pixels are done at once."""
    ball = trimesh.creation.icosphere(subdivisions=3)
    whole = seen_from_z(ball, 50.0, 120)
    monkeypatch.setattr("autoplace.show.raster.FACES_AT_ONCE", 100)
    monkeypatch.setattr("autoplace.show.raster.PIXELS_AT_ONCE", 50)
    pieces = seen_from_z(ball, 50.0, 120)
    assert np.array_equal(whole.pixels, pieces.pixels)
    assert np.array_equal(whole.face, pieces.face)
    assert np.allclose(whole.thickness, pieces.thickness, atol=1e-5)
