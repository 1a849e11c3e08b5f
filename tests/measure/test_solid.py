"""`measure.solid`: the filled grid against closed forms, and on surfaces that are no solids."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure import solid as module
from autoplace.measure.solid import Solid, fill_solid
from tests.measure.surfaces import (
    area_of,
    cylinder,
    elliptic_cone,
    rotation,
    soup,
    turned,
    volume_of,
)
from tests.mesh.capsule_figures import box, joined, sphere

TILT = rotation((0.3, 1.0, 0.5), 37.0)
CLOSED = {
    "ball": sphere(np.zeros(3), 1.0, rings=60),
    "box": box((-0.5, -1.0, -0.7), (0.6, 1.1, 0.4)),
    "tilted_box": turned(box((-0.5, -1.0, -0.7), (0.6, 1.1, 0.4)), TILT),
    "cylinder": cylinder(0.6, 2.0),
    "tilted_cylinder": turned(cylinder(0.6, 2.0), TILT),
    "tilted_cone": turned(elliptic_cone((0.9, 0.4), (0.3, 0.2), 2.0), TILT),
}


def filled(mesh, cell, **box_of):
    return fill_solid(*mesh, cell, **box_of)


def volume(solid: Solid) -> float:
    """Volume by coverage."""
    return float(solid.coverage.sum(dtype=np.float64)) * solid.cell**3


@pytest.mark.parametrize("name", [n for n in CLOSED if n not in ("box", "cylinder")])
@pytest.mark.parametrize("cell", [0.1, 0.05])
def test_volume_is_within_a_fiftieth_of_a_layer_of_cells(name, cell):
    """The volume misses that of the surface by less than 1/50 of a layer of cells over its skin.

    Taking each cell as in or out by its centre may be off by half a layer.
    """
    mesh = CLOSED[name]
    bound = area_of(mesh) * cell / 50.0
    assert abs(volume(filled(mesh, cell)) - volume_of(mesh)) < bound


@pytest.mark.parametrize("cell", [0.1, 0.05])
def test_volume_of_an_upright_cylinder(cell):
    """Flat ends square to the grid cost no more than skin at a slant."""
    bound = area_of(CLOSED["cylinder"]) * cell / 50.0
    missed = volume(filled(CLOSED["cylinder"], cell)) - volume_of(CLOSED["cylinder"])
    assert abs(missed) < bound


def test_a_box_on_the_axes_has_its_own_volume_wherever_its_sides_lie_in_their_cells():
    """Sides square to the axes lie where they are; only edges and corners are rounded."""
    low, high = np.array([-0.5, -1.0, -0.7]), np.array([0.6, 1.1, 0.4])
    vertices, faces = CLOSED["box"]
    exact = float(np.prod(high - low))
    for shift in np.linspace(0.0, 0.06, 7):
        solid = fill_solid(vertices, faces, 0.07, low - shift, high)
        assert volume(solid) == pytest.approx(exact, rel=0.005)


def test_a_level_surface_is_read_where_it_lies():
    """The skin of a box read between cells is off by less than a tenth of a cell, whatever share
    of its last cell the box takes."""
    vertices, faces = CLOSED["box"]
    cell = 0.07
    for shift in np.linspace(0.0, 1.0, 11):
        solid = fill_solid(vertices + shift * cell, faces, cell)
        line = shift * cell + np.linspace(0.0, 1.4, 1401)[:, None] * np.array([0.0, 1.0, 0.0])
        skin = line[np.argmin(solid.sample(line) >= 0.5), 1] - shift * cell
        assert skin == pytest.approx(1.1, abs=0.09 * cell + 0.001)


def test_half_covered_level_lies_on_the_surface():
    """Where the coverage falls through one half is the surface, within a third of a cell."""
    cell = 0.05
    solid = filled(CLOSED["ball"], cell)
    direction = np.random.default_rng(1).normal(size=(400, 3))
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    radius = np.linspace(1 - 2 * cell, 1 + 2 * cell, 401)
    cover = solid.sample(direction[:, None] * radius[None, :, None])
    off = (radius[np.argmax(cover < 0.5, axis=1)] - 1.0) / cell
    assert np.abs(off).max() < 1 / 3
    assert abs(off.mean()) < 0.03


@pytest.mark.parametrize("cell", [0.1, 0.05])
def test_depth_is_the_distance_to_the_surface(cell):
    """The depth in a ball is its radius less the distance to its middle: within half a cell for 95
    percent of places and half a cell's diagonal for all."""
    solid = filled(CLOSED["ball"], cell)
    points = np.random.default_rng(2).uniform(-1.0, 1.0, size=(4000, 3))
    away = np.linalg.norm(points, axis=1)
    points, away = points[away < 1.05], away[away < 1.05]
    error = np.abs(solid.depth_at(points) - (1.0 - away)) / cell
    assert np.percentile(error, 95) < 0.5
    assert error.max() < np.sqrt(3) / 2


def test_depth_between_the_faces_of_a_slab():
    """In a slab the depth is the distance to the nearer face; outside it is negative."""
    solid = filled(box((-2, -0.5, -2), (2, 0.5, 2)), 0.05)
    y = np.array([-0.6, -0.4, 0.0, 0.3, 0.55])
    points = np.stack([np.full(5, 0.1), y, np.full(5, -0.2)], axis=1)
    np.testing.assert_allclose(solid.depth_at(points), 0.5 - np.abs(y), atol=0.03)


def test_far_outside_there_is_nothing():
    """Beyond the grid the coverage is 0 and the depth the least that the grid holds."""
    solid = filled(CLOSED["ball"], 0.1)
    far = np.array([[9.0, 0.0, 0.0]])
    assert solid.sample(far) == 0.0
    assert solid.depth_at(far) == solid.depth.min() < 0.0


def test_overlapping_pieces_are_their_union():
    """Two boxes that overlap hold the volume of both less what they share, in the same cells."""
    one, two = box((0, 0, 0), (1, 1, 1)), box((0.6, 0.3, 0.2), (1.5, 1.2, 0.8))
    shared = box((0.6, 0.3, 0.2), (1.0, 1.0, 0.8))
    cell, low, high = 0.04, np.zeros(3), np.array([1.5, 1.2, 1.0])

    def held(mesh) -> float:
        return volume(filled(mesh, cell, lower=low, upper=high))

    bound = (area_of(one) + area_of(two)) * cell / 50.0
    union = held(one) + held(two) - held(shared)
    assert held(joined(one, two)) == pytest.approx(union, abs=bound)
    exact = 1.0 + 0.9 * 0.9 * 0.6 - 0.4 * 0.7 * 0.6
    assert held(joined(one, two)) == pytest.approx(exact, abs=bound)


def test_a_piece_within_another_changes_nothing():
    """A ball inside a ball adds no cell."""
    alone = filled(CLOSED["ball"], 0.1).coverage
    inner = sphere(np.array([0.1, 0.2, 0.0]), 0.4)
    both = filled(joined(CLOSED["ball"], inner), 0.1).coverage
    np.testing.assert_allclose(both, alone, atol=1e-6)


def test_a_surface_given_twice_grows_by_less_than_half_a_cell():
    """Two equal surfaces cover no more cells wholly, and move the skin out by under half a cell."""
    cell = 0.05
    once = filled(CLOSED["ball"], cell)
    twice = filled(joined(CLOSED["ball"], CLOSED["ball"]), cell)
    assert not (twice.coverage[once.coverage == 0.0] > 0.5).any()
    assert (twice.coverage[once.coverage == 1.0] > 0.999).all()
    grown = (volume(twice) - volume(once)) / area_of(CLOSED["ball"])
    assert 0.0 <= grown < 0.5 * cell


def test_unwelded_triangles_fill_the_same_cells():
    """Triangles that share no vertex give the same bytes as a welded surface."""
    mesh = CLOSED["tilted_cone"]
    one, other = filled(mesh, 0.07), filled(soup(mesh), 0.07)
    assert one.coverage.tobytes() == other.coverage.tobytes()


def test_flat_triangles_count_for_nothing():
    """Triangles without area, such as collapsed edges, change no cell."""
    vertices, faces = CLOSED["tilted_box"]
    flat = np.array([[0, 0, 1], [2, 2, 2], [3, 5, 3]])
    assert np.array_equal(
        filled((vertices, np.concatenate([faces, flat])), 0.1).coverage,
        filled((vertices, faces), 0.1).coverage,
    )


@pytest.mark.parametrize("turn", [np.eye(3), rotation((1, 0, 0), 90), TILT], ids=["z", "y", "any"])
def test_a_ball_with_a_hole_is_filled_up_to_the_hole(turn):
    """A ball open within 40 degrees of its pole is solid away from the hole and empty outside."""
    open_ball = turned(sphere(np.zeros(3), 1.0, rings=60, cap=140.0), turn)
    solid = filled(open_ball, 0.05)
    hole = turn @ [0.0, 0.0, -1.0]
    points = np.random.default_rng(3).uniform(-1.1, 1.1, size=(5000, 3))
    away = np.linalg.norm(points, axis=1)
    # the rim lies at this height over the middle, seen from the hole
    below = points @ hole < np.cos(np.radians(40.0)) - 0.1
    cover = solid.sample(points)
    assert (cover[(away < 0.9) & below] > 0.5).mean() > 0.99
    assert (cover[away > 1.1] < 0.5).all()


@pytest.mark.parametrize("way", [(0, 0), (1, 90), (2, 90)], ids=["z", "y", "x"])
def test_an_open_tube_is_filled_from_end_to_end(way):
    """A cylinder without its two ends holds the cells of one with them, save some on its skin."""
    turn = rotation(((1, 0, 0), (1, 0, 0), (0, 1, 0))[way[0]], way[1])
    whole = filled(turned(cylinder(0.5, 2.0), turn), 0.05)
    pipe = filled(turned(cylinder(0.5, 2.0, capped=False), turn), 0.05)
    other = whole.to_points(np.argwhere(whole.inside ^ pipe.inside)) @ turn
    aside = np.abs(np.hypot(other[:, 0], other[:, 1]) - 0.5)
    ends = np.minimum(np.abs(other[:, 2]), np.abs(other[:, 2] - 2.0))
    assert (np.minimum(aside, ends) < 0.05 / 2).all()


def test_an_open_sheet_holds_nothing():
    """A single sheet encloses no volume."""
    corners = np.array([[0, 0, 0], [1, 0, 0.1], [1, 1, 0], [0, 1, 0.1]], dtype=float)
    assert not filled((corners, np.array([[0, 1, 2], [0, 2, 3]])), 0.05).inside.any()


def test_inside_out_holds_nothing():
    """The triangles must face outward: a ball turned inside out has no inside."""
    vertices, faces = CLOSED["ball"]
    assert not filled((vertices, faces[:, ::-1]), 0.1).inside.any()


def test_order_of_the_corners_and_triangles_is_free():
    """Starting a triangle at another corner, or the list at another triangle, changes nothing."""
    vertices, faces = CLOSED["tilted_box"]
    other = np.roll(faces[::-1], 1, axis=1)
    np.testing.assert_allclose(
        filled((vertices, other), 0.1).coverage, filled((vertices, faces), 0.1).coverage, atol=1e-6
    )


def test_a_smaller_box_holds_the_same_cells():
    """Filling a part of the space gives there what filling all of it gives, but for the last of
    the cells to spare, which has no neighbour on one side."""
    cell = 0.05
    vertices = CLOSED["tilted_cone"][0]
    bounds = {"lower": vertices.min(axis=0), "upper": vertices.max(axis=0)}
    whole = filled(CLOSED["tilted_cone"], cell, **bounds)
    lower = whole.origin + np.array([11.8, 9.3, 10.0]) * cell
    part = filled(CLOSED["tilted_cone"], cell, lower=lower, upper=lower + 8 * cell)
    offset = (part.origin - whole.origin) / cell
    start = np.round(offset).astype(int)
    np.testing.assert_allclose(offset, start, atol=1e-9)
    end = start + part.coverage.shape
    inner = whole.coverage[start[0] : end[0], start[1] : end[1], start[2] : end[2]]
    own = part.coverage[tuple(map(slice, inner.shape))]
    within = (slice(1, -1),) * 3
    np.testing.assert_allclose(own[within], inner[within], atol=1e-5)


def test_a_mirror_image_has_mirrored_cells():
    """The mirror image about x = 0 fills the mirrored cells, to the last digits."""
    vertices, faces = CLOSED["tilted_cone"]
    flip = np.array([-1.0, 1.0, 1.0])
    one, other = filled((vertices, faces), 0.07), filled((vertices * flip, faces[:, ::-1]), 0.07)
    points = np.random.default_rng(4).uniform(-1.2, 1.2, size=(500, 3))
    np.testing.assert_allclose(other.sample(points * flip), one.sample(points), atol=1e-6)


def test_vertices_in_the_middle_of_cells_do_no_harm():
    """A box whose corners, edges and diagonals run through the middles of cells is full."""
    solid = filled(box((-0.35, -0.35, -0.35), (0.35, 0.35, 0.35)), 0.1)
    assert solid.sample(np.zeros((1, 3))) == pytest.approx(1.0)
    ticks = np.arange(-0.25, 0.3, 0.1)
    assert solid.sample(np.stack(np.meshgrid(ticks, ticks, ticks), axis=-1)).min() > 0.999


def test_surface_outside_the_box_still_counts():
    """A box wholly inside a large ball is full, though no triangle touches it."""
    low = np.full(3, -0.2)
    assert (filled(CLOSED["ball"], 0.05, lower=low, upper=-low).coverage > 0.999).all()


@pytest.mark.parametrize("scale", [1e-6, 1e6])
def test_units_do_not_matter(scale):
    """A millionth or a million times the size fills the same cells."""
    mesh = CLOSED["tilted_cone"]
    one, other = filled(mesh, 0.07), filled((mesh[0] * scale, mesh[1]), 0.07 * scale)
    assert one.coverage.shape == other.coverage.shape
    np.testing.assert_allclose(other.coverage, one.coverage, atol=1e-5)
    np.testing.assert_allclose(other.origin, one.origin * scale, rtol=1e-9)


def test_many_triangles_go_in_batches(monkeypatch):
    """Handling the triangles in small batches changes no cell."""
    whole = filled(CLOSED["ball"], 0.1).coverage
    monkeypatch.setattr(module, "PAIRS_AT_ONCE", 100)
    np.testing.assert_allclose(filled(CLOSED["ball"], 0.1).coverage, whole, atol=1e-6)


def test_nothing_gives_an_empty_solid():
    """No triangles, with or without a box to fill, give a solid without inside."""
    nothing = np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)
    assert not filled(nothing, 0.1).inside.any()
    assert not filled(nothing, 0.1, lower=np.zeros(3), upper=np.ones(3)).inside.any()


def test_cells_and_points_are_each_other_s_inverse():
    """Going to cell coordinates and back gives the points again."""
    solid = filled(CLOSED["ball"], 0.1)
    points = np.random.default_rng(4).normal(size=(2, 5, 3))
    np.testing.assert_allclose(solid.to_points(solid.to_cells(points)), points, atol=1e-12)
    assert np.array_equal(solid.to_cells(solid.origin), np.zeros(3))


def test_filling_leaves_its_input_alone_and_repeats():
    """The arrays handed in are not written to, and a second filling has the same bytes."""
    vertices, faces = CLOSED["tilted_cone"][0].copy(), CLOSED["tilted_cone"][1].copy()
    vertices.setflags(write=False)
    faces.setflags(write=False)
    one, two = filled((vertices, faces), 0.08), filled((vertices, faces), 0.08)
    assert one.coverage.tobytes() == two.coverage.tobytes()
