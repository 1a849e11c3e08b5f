"""`measure.samples`: points spread evenly over a surface, and levels by area."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.samples import area_level, sample_surface
from autoplace.mesh.triangles import face_normals, surface_area
from tests.measure.surfaces import area_of, cylinder
from tests.mesh.capsule_figures import box, sphere


def test_samples_lie_on_the_surface_and_are_spread_by_area():
    """Each face of a box gets its share of the points, to within two, and all lie on it."""
    vertices, faces = box((0, 0, 0), (1, 2, 4))
    points = sample_surface(vertices, faces, 1400).points
    sides = [(np.abs(points[:, a] - v) < 1e-12, a) for a, v in ((0, 0), (0, 1), (1, 0), (1, 2))]
    share = {0: 8.0 / 28.0, 1: 4.0 / 28.0}
    for on_it, axis in sides:
        assert on_it.sum() == pytest.approx(1400 * share[axis], abs=2)
    assert ((points >= -1e-12) & (points <= np.array([1, 2, 4]) + 1e-12)).all()


def test_samples_do_not_depend_on_how_the_surface_is_cut():
    """A box of 12 triangles and the same box with one face cut into many has, face by face, as
    many points."""
    vertices, faces = box((0, 0, 0), (1, 1, 1))
    middle = vertices[faces[0]].mean(axis=0)
    a, b, c = faces[0]
    cut = np.array([[a, b, 8], [b, c, 8], [c, a, 8]])
    finer = sample_surface(np.vstack([vertices, middle]), np.concatenate([cut, faces[1:]]), 600)
    coarse = sample_surface(vertices, faces, 600)
    for axis in range(3):
        for value in (0.0, 1.0):
            counts = [(np.abs(s.points[:, axis] - value) < 1e-12).sum() for s in (finer, coarse)]
            assert abs(counts[0] - counts[1]) <= 2


def test_normals_and_areas_of_a_ball():
    """The normals of a ball point away from its middle, and its area is that of the surface."""
    vertices, faces = sphere(np.zeros(3), 2.0, rings=60)
    normals, area = face_normals(vertices, faces)
    outward = vertices[faces].mean(axis=1)
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    assert (np.einsum("ij,ij->i", normals, outward) > 0.99).all()
    assert area.sum() == pytest.approx(area_of((vertices, faces)))
    assert surface_area(vertices, faces) == pytest.approx(16 * np.pi, rel=0.01)
    found = sample_surface(vertices, faces, 500)
    assert found.area == pytest.approx(16 * np.pi, rel=0.01)
    assert found.spacing == pytest.approx(np.sqrt(found.area / 500))


def test_triangles_without_area_get_no_point():
    """A collapsed triangle is skipped; a surface of nothing else gives its corners."""
    vertices, faces = box((0, 0, 0), (1, 1, 1))
    with_flat = np.concatenate([faces[:4], [[0, 0, 7]], faces[4:]])
    np.testing.assert_allclose(
        sample_surface(vertices, with_flat, 300).points, sample_surface(vertices, faces, 300).points
    )
    flat = sample_surface(vertices, np.array([[0, 0, 7]]), 10)
    assert np.array_equal(flat.points, vertices[[0, 0, 7]])
    assert flat.area == 0.0


@pytest.mark.parametrize("share", [0.1, 0.5, 0.77])
def test_a_level_by_area_is_the_closed_form(share):
    """On an open tube of height 2 the level under which a share of the area lies is that share of
    the height, whatever its triangles."""
    vertices, faces = cylinder(0.5, 2.0, capped=False)
    _, area = face_normals(vertices, faces)
    level = area_level(vertices[faces][:, :, 2], area, share * float(area.sum()))
    assert level == pytest.approx(2.0 * share, abs=1e-6)


def test_a_level_by_area_cuts_single_triangles():
    """Of one triangle with its tip up, a quarter of the area lies over half its height."""
    vertices = np.array([[0.0, 0, 0], [1.0, 0, 0], [0.3, 2.0, 0]])
    faces = np.array([[0, 1, 2]])
    _, area = face_normals(vertices, faces)
    assert area_level(vertices[faces][:, :, 1], area, 0.75 * area[0]) == pytest.approx(
        1.0, abs=1e-6
    )
    upside_down = -vertices[faces][:, :, 1]
    assert area_level(upside_down, area, 0.25 * area[0]) == pytest.approx(-1.0, abs=1e-6)


def test_same_surface_same_bytes():
    """Nothing is drawn at random."""
    mesh = sphere(np.zeros(3), 1.0)
    one, two = sample_surface(*mesh, 200), sample_surface(*mesh, 200)
    assert one.points.tobytes() == two.points.tobytes()
    assert one.normals.tobytes() == two.normals.tobytes()
