"""Spheres by normals, level cuts and layers of surface cells."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from autoplace.mesh.islands import find_islands
from autoplace.mesh.layers import layer_grid
from autoplace.mesh.slices import HeadBox, _is_airy, find_head, span_at
from autoplace.mesh.spheres import measure_islands
from tests.mesh.capsule_figures import (
    box,
    capsule,
    figure,
    joined,
    limb_names,
    one_skin,
    sphere,
    tube,
)

CENTRE = np.array([0.1, 0.9, 0.05])


def measured(mesh):
    character = figure({"thing": mesh})
    return measure_islands(find_islands(character), character.vertices, character.faces)


@pytest.mark.parametrize("cap", [40.0, 90.0, 180.0])
@pytest.mark.parametrize("inward", [False, True])
def test_sphere_by_normals(cap, inward):
    """Centre and radius of balls and caps, wound either way (the radius' sign tells which)."""
    vertices, faces = sphere(CENTRE, 0.03, rings=24, cap=cap)
    found = measured((vertices, faces[:, ::-1] if inward else faces))
    np.testing.assert_allclose(found.ball_centre[0], CENTRE, atol=0.02 * 0.03)
    assert found.ball_radius[0] == pytest.approx(-0.03 if inward else 0.03, rel=0.02)
    assert found.ball_misfit[0] < 0.05
    expected = (1 - np.cos(np.radians(cap))) / 2
    assert found.ball_share[0] == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize(
    "mesh",
    [box((0, 0, 0), (1, 1, 1)), capsule(np.zeros(3), np.array([0, 1.0, 0]), 0.1, 0.1)],
    ids=["cube", "capsule"],
)
def test_what_is_no_sphere_has_a_large_misfit(mesh):
    """A cube and a capsule are far from round."""
    assert measured(mesh).ball_misfit[0] > 0.4


def test_an_oval_is_round_once_its_box_is_a_cube():
    """A ball drawn to 1.6 and squashed to 0.5 is an oval; a box and a capsule are none."""
    vertices, faces = sphere(CENTRE, 0.03, rings=16)
    oval = ((vertices - CENTRE) * [1.0, 1.6, 0.5] + CENTRE, faces)
    found = measured(joined(oval, box((0, 0, 0), (0.02, 0.04, 0.01))))
    assert found.ball_misfit[0] > 0.3
    assert found.oval_misfit[0] < 0.1
    assert found.oval_misfit[1] > 0.4
    assert measured(capsule(np.zeros(3), np.array([0, 0.09, 0]), 0.02, 0.02)).oval_misfit[0] > 0.2


def test_area_and_box_of_each_island():
    """Area, box and centroid of two boxes, by hand."""
    found = measured(joined(box((0, 0, 0), (1, 1, 1)), box((3, 0, 0), (4, 2, 1))))
    np.testing.assert_allclose(found.area, [6.0, 10.0])
    np.testing.assert_allclose(found.low, [[0, 0, 0], [3, 0, 0]])
    np.testing.assert_allclose(found.high, [[1, 1, 1], [4, 2, 1]])
    np.testing.assert_allclose(found.centroid, [[0.5, 0.5, 0.5], [3.5, 1.0, 0.5]])


def test_span_is_the_stretch_around_a_place():
    """Of an arm, a trunk and an arm beside each other the cut gives the one that is asked for."""
    vertices, faces = joined(
        box((-0.5, 0, -0.02), (-0.4, 1, 0.02)),
        box((-0.2, 0, -0.1), (0.0, 1, 0.1)),
        box((0.0, 0, -0.15), (0.2, 1, 0.05)),
    )
    corners = vertices[faces]
    trunk = span_at(corners, 0.503, 0.05)
    assert (trunk.x_low, trunk.x_high) == (-0.2, 0.2)
    assert (trunk.z_low, trunk.z_high) == (-0.15, 0.1)
    assert trunk.half_breadth == pytest.approx(0.2)
    assert span_at(corners, 0.503, -0.45).x_high == -0.4
    assert span_at(corners, 1.5, 0.0) is None


def test_head_box_of_a_figure():
    """The head ends at the neck, is as wide as the head, and the top is the top."""
    vertices, faces = one_skin(limb_names())
    box_found = find_head(vertices[faces])
    assert box_found.certain
    # neck from 0.80 to 0.87, head from there to 1.0 with a radius of 0.055
    assert 0.82 < box_found.low[1] < 0.88
    assert box_found.high[1] == pytest.approx(1.0, abs=0.01)
    assert box_found.high[0] == pytest.approx(0.055, abs=0.01)
    assert box_found.low[0] == pytest.approx(-0.055, abs=0.01)


def test_head_box_under_horns():
    """Two horns on a head are above it: the head still ends at the neck below it."""
    horns = [
        capsule(np.array([x * 0.05, 0.97, 0]), np.array([x * 0.10, 1.20, 0]), 0.02, 0.008)
        for x in (-1.0, 1.0)
    ]
    vertices, faces = joined(one_skin(limb_names()), *horns)
    assert 0.82 < find_head(vertices[faces]).low[1] < 0.88


def test_head_box_of_a_big_head():
    """A head of half the height straight on the shoulders, arms level."""
    arms = capsule(np.array([-0.45, 0.45, 0]), np.array([0.45, 0.45, 0]), 0.05, 0.05)
    head = sphere(np.array([0, 0.75, 0]), 0.25, rings=24)
    vertices, faces = joined(box((-0.15, 0, -0.1), (0.15, 0.52, 0.1)), arms, head)
    found = find_head(vertices[faces])
    assert 0.48 < found.low[1] < 0.56
    assert found.high[0] == pytest.approx(0.25, abs=0.01)


def test_head_box_of_a_head_that_hovers():
    """A head over its trunk with nothing between ends in the gap, as at any neck."""
    head = sphere(np.array([0, 0.88, 0]), 0.12, rings=20)
    vertices, faces = joined(head, box((-0.1, 0.2, -0.08), (0.1, 0.74, 0.08)))
    found = find_head(vertices[faces])
    assert found.certain
    assert 0.74 < found.low[1] < 0.76


@pytest.mark.parametrize("tip", [0.004, 0.03], ids=["pointed", "blunt"])
def test_head_box_under_a_broad_hat(tip):
    """The brim of a hat is no pair of shoulders, nor is the hat below its tip."""
    crown = capsule(np.array([0, 0.98, 0.01]), np.array([0, 1.15, 0.01]), 0.055, tip)
    brim = tube([(0.965, 0.17, 0.17, 0), (0.995, 0.17, 0.17, 0)])
    vertices, faces = joined(one_skin(limb_names()), crown, brim)
    found = find_head(vertices[faces])
    assert found.certain
    assert 0.82 < found.low[1] < 0.88


def test_head_box_under_tufts():
    """Between tufts of hair that stand up there is no neck."""
    tufts = [
        capsule(np.array([0.02 * x, 0.96, 0.01]), np.array([0.05 * x, 1.08, 0.01]), 0.02, 0.004)
        for x in (-1.5, -0.5, 0.5, 1.5)
    ]
    vertices, faces = joined(one_skin(limb_names()), *tufts)
    assert 0.82 < find_head(vertices[faces]).low[1] < 0.88


def test_head_box_beside_a_raised_hand():
    """A hand that is raised above the head does not become the head."""
    vertices, faces = one_skin([n for n in limb_names() if "arm" not in n and "hand" not in n])
    arm = capsule(np.array([0.12, 0.78, 0]), np.array([0.25, 1.15, 0]), 0.03, 0.03)
    all_vertices, all_faces = joined((vertices, faces), arm)
    found = find_head(all_vertices[all_faces])
    assert found.high[1] == pytest.approx(1.0, abs=0.01)
    assert found.high[0] < 0.08


def nested():
    inner, outer = box((0.4, 0.4, 0.4), (0.6, 0.6, 0.6)), box((0.2, 0.2, 0.2), (0.8, 0.8, 0.8))
    vertices, faces = joined(inner, outer)
    label = np.repeat([0, 1], 12)
    corners = vertices[faces]
    area = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    return layer_grid(corners, area / 2, label)


def test_inner_box_is_covered_on_all_sides():
    """Every cell of a box in a box is covered six times, and none of the outer one's more than
    the inner box stands behind it."""
    grid = nested()
    assert grid.covered([0], grid.occupied([1])).all()
    outer = grid.covered([1], grid.occupied([0]))
    assert not outer.all(axis=1).any()
    assert outer.sum(axis=1).max() == 1


def test_samples_fill_the_surface():
    """The cells of a unit-free box surface are all met, and the reach is the box."""
    grid = nested()
    low, high = grid.reach([1])
    np.testing.assert_allclose(low, 0.2, atol=grid.cell)
    np.testing.assert_allclose(high, 0.8, atol=grid.cell)
    # a cube's surface of side n cells meets about 6 n^2 of them
    cells = grid.occupied([1]).sum()
    assert cells == pytest.approx(6 * (0.6 / grid.cell) ** 2, rel=0.1)


def test_main_share():
    """Two things apart share the surface by area; touching ones hang together."""
    far = joined(box((0, 0, 0), (0.3, 0.3, 0.3)), box((0.6, 0, 0), (0.9, 0.3, 0.3)))
    corners = far[0][far[1]]
    area = np.full(24, 0.045)
    grid = layer_grid(corners, area, np.repeat([0, 1], 12))
    assert grid.main_share([0, 1]) == pytest.approx(0.5, abs=0.02)
    assert grid.main_share([0]) == 1.0


def test_spikes_are_mostly_air():
    """Rods fill little of their box and are no head; a ball fills half, also where only its wall is
    modelled, with an inner side; rods about a space are no such wall; a mask is not judged."""
    rods = []
    for x in (-0.04, 0.0, 0.04):
        for z in (-0.06, 0.0, 0.06):
            ends = np.linspace([x, 0.95, z], [2 * x, 1.2, 2 * z], 9)
            rods += [capsule(a, b, 0.006, 0.006, 8) for a, b in pairwise(ends)]
    ball = sphere(np.array([0, 0.9, 0.0]), 0.1, rings=16)
    mask = sphere(np.array([0, 0.9, 0.0]), 0.1, rings=16, cap=60)
    inner = sphere(np.array([0, 0.9, 0.0]), 0.096, rings=16)
    walled = joined(ball, (inner[0], inner[1][:, ::-1]))
    cage = []
    for at in np.linspace(-0.09, 0.09, 5):
        ends = [([side, 0.75, at], [side, 0.97, at]) for side in (-0.1, 0.1)]
        ends += [([at, 0.75, side], [at, 0.97, side]) for side in (-0.1, 0.1)]
        ends.append(([at, 0.98, -0.1], [at, 0.98, 0.1]))
        cage += [capsule(np.array(a), np.array(b), 0.01, 0.01, 8) for a, b in ends]

    def airy(mesh):
        corners = mesh[0][mesh[1]]
        return _is_airy(corners, HeadBox(mesh[0].min(axis=0), mesh[0].max(axis=0), True))

    assert airy(joined(*rods))
    assert not airy(ball)
    assert not airy(walled)
    assert airy(joined(*cage))
    assert not airy(mask)


def test_head_box_under_a_crest():
    """A crest as thin as no head stands on the head and is not taken for it."""
    crest = box((-0.012, 0.98, -0.05), (0.012, 1.15, 0.05))
    vertices, faces = joined(one_skin(limb_names()), crest)
    found = find_head(vertices[faces])
    assert 0.82 < found.low[1] < 0.88
    assert found.high[1] < 1.02


def test_head_box_of_a_big_head_whose_hair_hides_the_neck():
    """Where nothing shows the neck, a head is taken for as tall as it is broad at least."""
    vertices, faces = joined(
        sphere(np.array([0, 0.75, 0]), 0.25, rings=24), box((-0.25, 0, -0.1), (0.25, 0.75, 0.1))
    )
    found = find_head(vertices[faces])
    assert not found.certain
    assert 0.4 < found.low[1] < 0.6
