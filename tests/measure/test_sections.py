"""`measure.sections`: plane cuts against the formulae of elliptic cones, and lines of a limb."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.sections import (
    GRID,
    cut_sections,
    over_gaps,
    resample_line,
    smooth_line,
    trace_limb,
)
from autoplace.measure.solid import fill_solid
from tests.measure.surfaces import cylinder, elliptic_cone, pipe, rotation, turned
from tests.mesh.capsule_figures import joined

CELL = 0.03
"""The cone below is about 25 cells across, as a thigh is in a figure's own grid."""
SLOPES = 0.30, 0.20
"""Half-widths of the elliptic cone along x and y over the distance from its apex."""
START, LENGTH = 1.0, 2.0
"""Distance of the frustum's foot from the apex, and its length along the axis."""
TURNS = {
    "upright": np.eye(3),
    "lying": rotation((1, 0, 0), 90),
    "any": rotation((0.4, -1.0, 0.7), 73.0),
}


def cone(turn):
    """The frustum of an elliptic cone with its apex at the origin, about the turned Z axis."""
    p, q = SLOPES
    end = START + LENGTH
    mesh = elliptic_cone((p * START, q * START), (p * end, q * end), LENGTH)
    return fill_solid(*turned((mesh[0] + [0, 0, START], mesh[1]), turn), CELL)


def cut_once(solid, point, normal, reach, hint):
    """A single cut: three stations, whose middle one is square to `normal`."""
    line = point + np.outer([-0.01, 0.0, 0.01], normal)
    return cut_sections(solid, line, reach, hint)


def oblique(distance, tilt, about):
    """Semi-axes (in the tilted direction, across) and the shift of the middle of the ellipse that a
    plane through the axis at `distance` from the apex cuts, its normal tilted by `tilt` radians.

    With x = +-p z and the plane z = d + x tan(t), the two ends lie at x = +-p d / (1 -+ p tan t).
    """
    p, q = SLOPES if about == "x" else SLOPES[::-1]
    t = np.tan(tilt)
    rest = 1.0 - (p * t) ** 2
    along = distance * p / (rest * np.cos(tilt))
    across = distance * q / np.sqrt(rest)
    return along, across, distance * p**2 * t / (rest * np.cos(tilt))


@pytest.mark.parametrize("about", ["x", "y"])
@pytest.mark.parametrize("degrees", [0, 15, 30])
@pytest.mark.parametrize("turn", TURNS.values(), ids=TURNS)
def test_a_cut_of_an_elliptic_cone_is_the_ellipse_of_the_formula(turn, degrees, about):
    """Cut at any tilt, an elliptic cone in any position gives the closed form's area, widths and
    middle: area within 2 percent, lengths within half a cell."""
    solid = cone(turn)
    tilt = np.radians(degrees)
    first = np.array([1.0, 0, 0]) if about == "x" else np.array([0, 1.0, 0])
    axis = np.array([0, 0, 1.0])
    normal = np.cos(tilt) * axis - np.sin(tilt) * first
    inplane = np.cos(tilt) * first + np.sin(tilt) * axis
    cut = cut_once(solid, turn @ (2.0 * axis), turn @ normal, 0.95, turn @ inplane)
    along, across, shift = oblique(2.0, tilt, about)
    assert cut.area[1] == pytest.approx(np.pi * along * across, rel=0.02)
    np.testing.assert_allclose(cut.width[1], [2 * along, 2 * across], atol=0.5 * CELL)
    assert cut.breadth[1] == pytest.approx(2 * max(along, across), abs=0.5 * CELL)
    middle = turn @ (2.0 * axis + shift * inplane)
    np.testing.assert_allclose(cut.centre[1], middle, atol=0.5 * CELL)
    assert not cut.open_edge[1]


def test_breadth_is_the_longest_width_whatever_the_hint():
    """The breadth does not depend on how the axes of the cut lie; the widths do."""
    solid = cone(np.eye(3))
    point, normal = np.array([0, 0, 2.0]), np.array([0, 0, 1.0])
    for degrees in (0, 30, 45, 90):
        hint = rotation((0, 0, 1), degrees) @ [1.0, 0, 0]
        cut = cut_once(solid, point, normal, 0.8, hint)
        assert cut.breadth[1] == pytest.approx(4 * SLOPES[0], abs=0.5 * CELL)
    assert cut.width[1, 0] == pytest.approx(4 * SLOPES[1], abs=0.5 * CELL)


def test_axes_of_a_cut_are_square_to_the_line_and_near_the_hint():
    """Every cut has unit axes, square to the line; a hint along the line is replaced."""
    line = np.stack([0.05 * np.sin(np.linspace(0, 3, 9)), np.zeros(9), np.linspace(1.2, 2.8, 9)], 1)
    for hint in ([1.0, 0, 0], [0, 0, 1.0]):
        cut = cut_sections(cone(np.eye(3)), line, 0.8, np.array(hint))
        assert np.abs((cut.side * cut.direction).sum(axis=1)).max() < 1e-12
        np.testing.assert_allclose(np.linalg.norm(cut.side, axis=1), 1.0)
    assert (cut_sections(cone(np.eye(3)), line, 0.8, np.array([1.0, 0, 0])).side[:, 0] > 0.9).all()


def test_only_the_limb_s_own_region_counts():
    """A second cylinder beside the first, within the window, adds nothing to its sections."""
    one = cylinder(0.3, 2.0)
    two = cylinder(0.5, 2.0)[0] + [1.0, 0, 0], cylinder(0.5, 2.0)[1]
    solid = fill_solid(*joined(one, two), CELL)
    line = np.stack([np.zeros(5), np.zeros(5), np.linspace(0.6, 1.4, 5)], axis=1)
    cut = cut_sections(solid, line, 0.9, np.array([1.0, 0, 0]))
    np.testing.assert_allclose(cut.area, np.pi * 0.3**2, rtol=0.03)
    np.testing.assert_allclose(cut.centre, line, atol=0.5 * CELL)
    np.testing.assert_allclose(cut.radius, 0.3, rtol=0.015)


def test_a_section_that_leaves_the_window_says_so():
    """A window narrower than the limb, on any side, is marked as open."""
    solid = fill_solid(*cylinder(0.4, 2.0), CELL)
    line = np.stack([np.zeros(3), np.zeros(3), np.linspace(0.8, 1.2, 3)], axis=1)
    assert cut_sections(solid, line, 0.3, np.array([1.0, 0, 0])).open_edge.all()
    assert not cut_sections(solid, line, 0.6, np.array([1.0, 0, 0])).open_edge.any()
    aside = line + np.array([0.35, 0, 0])
    assert cut_sections(solid, aside, 0.6, np.array([1.0, 0, 0])).open_edge.all()


def test_a_station_beside_the_limb_takes_the_nearest_region():
    """A line that runs just outside still measures the limb beside it."""
    solid = fill_solid(*cylinder(0.3, 2.0), CELL)
    line = np.stack([np.full(3, 0.36), np.zeros(3), np.linspace(0.8, 1.2, 3)], axis=1)
    cut = cut_sections(solid, line, 0.9, np.array([1.0, 0, 0]))
    np.testing.assert_allclose(cut.centre[:, :2], 0.0, atol=0.5 * CELL)
    np.testing.assert_allclose(cut.area, np.pi * 0.3**2, rtol=0.03)


def test_nothing_in_the_window_is_an_area_of_zero():
    """Where there is no flesh the area is 0 and the centre stays on the line."""
    solid = fill_solid(*cylinder(0.3, 2.0), CELL)
    line = np.array([[3.0, 0, 0.9], [3.0, 0, 1.0], [3.0, 0, 1.1]])
    cut = cut_sections(solid, line, 0.5, np.array([1.0, 0, 0]))
    assert not cut.area.any()
    assert not cut.open_edge.any()
    assert np.array_equal(cut.centre, line)
    assert not cut.radius.any()


def test_the_window_may_differ_from_station_to_station():
    """One half-width for each station gives what each would give alone."""
    solid = cone(np.eye(3))
    line = np.stack([np.zeros(3), np.zeros(3), np.array([1.8, 2.0, 2.2])], axis=1)
    hint = np.array([1.0, 0, 0])
    reach = np.array([0.7, 0.8, 0.9])
    together = cut_sections(solid, line, reach, hint)
    for row, one in enumerate(reach):
        assert cut_sections(solid, line, one, hint).area[row] == together.area[row]
    assert GRID % 2 == 1  # one sample lies on the line itself


def test_scale_changes_lengths_and_nothing_else():
    """A limb a million times as large has a million times the widths."""
    small = cut_once(
        fill_solid(*cylinder(0.3, 2.0), CELL),
        np.array([0, 0, 1.0]),
        np.eye(3)[2],
        0.6,
        np.eye(3)[0],
    )
    mesh = cylinder(0.3, 2.0)
    line = 1e6 * (np.array([0, 0, 1.0]) + np.outer([-0.01, 0, 0.01], np.eye(3)[2]))
    large = cut_sections(fill_solid(mesh[0] * 1e6, mesh[1], CELL * 1e6), line, 6e5, np.eye(3)[0])
    np.testing.assert_allclose(large.width, small.width * 1e6, rtol=1e-5)


def test_resampling_spaces_points_evenly_and_keeps_the_ends():
    """A zigzag becomes points at equal distances along it, from its first to its last."""
    zigzag = np.array([[0, 0, 0], [3, 0, 0], [3, 4, 0], [3, 4, 5.0]])
    even = resample_line(zigzag, 25)
    assert np.array_equal(even[[0, -1]], zigzag[[0, -1]])
    np.testing.assert_allclose(np.linalg.norm(np.diff(even, axis=0), axis=1), 0.5)


def test_smoothing_keeps_ends_and_straight_lines():
    """An evenly spaced straight line stays; a single kink of one becomes a half, ends unmoved."""
    line = np.stack([np.arange(7.0), np.zeros(7), np.ones(7)], axis=1)
    np.testing.assert_allclose(smooth_line(line, 5), line, atol=1e-12)
    kinked = line.copy()
    kinked[3, 1] = 1.0
    np.testing.assert_allclose(smooth_line(kinked)[:, 1], [0, 0, 0.25, 0.5, 0.25, 0, 0])
    assert kinked[3, 1] == 1.0


@pytest.mark.parametrize("seed", [0, 1])
def test_tracing_finds_the_middle_of_a_bent_limb(seed):
    """From a line that strays by a third of the radius, the middle of an arc-shaped limb is found
    within half a cell, and its arc length within one percent."""
    angle = np.linspace(0, np.pi / 3, 40)
    arc = np.stack([3 * np.sin(angle), np.zeros(40), 3 * np.cos(angle)], axis=1)
    solid = fill_solid(*pipe(arc, 0.3), CELL)
    rng = np.random.default_rng(seed)
    rough = resample_line(arc, 14)[2:-2]
    rough[1:-1] += rng.uniform(-0.1, 0.1, size=rough[1:-1].shape)
    found = trace_limb(solid, rough, 0.7, np.array([0, 1.0, 0]), count=24)
    inner = found.centre[2:-2]
    assert np.abs(np.hypot(inner[:, 0], inner[:, 2]) - 3.0).max() < 0.5 * CELL
    assert np.abs(inner[:, 1]).max() < 0.5 * CELL
    ends = np.arctan2(found.centre[[0, -1], 0], found.centre[[0, -1], 2])
    assert found.arc[-1] == pytest.approx(3 * (ends[1] - ends[0]), rel=0.01)


def test_cutting_leaves_its_input_alone():
    """Neither the line nor the hint nor the windows are written to."""
    solid = fill_solid(*cylinder(0.3, 2.0), CELL)
    line = np.stack([np.zeros(5), np.zeros(5), np.linspace(0.6, 1.4, 5)], axis=1)
    hint, reach = np.array([1.0, 0, 0]), np.full(5, 0.6)
    for array in (line, hint, reach):
        array.setflags(write=False)
    one, two = cut_sections(solid, line, reach, hint), cut_sections(solid, line, reach, hint)
    assert one.centre.tobytes() == two.centre.tobytes()


def test_a_gap_between_rigid_parts_is_no_waist():
    """Two cylinders with a gap between, cut aslant: the sections in the gap are as wide as beside
    it and lie on the axis."""
    low = cylinder(0.5, 2.0)
    high = cylinder(0.5, 2.0)
    solid = fill_solid(*joined(low, (high[0] + [0.0, 0.0, 2.3], high[1])), CELL)
    line = np.stack([np.zeros(40), np.zeros(40), np.linspace(0.2, 4.0, 40)], axis=1)
    line[:, 0] = 0.12 * np.sin(6.0 * line[:, 2])
    cut = cut_sections(solid, line, 1.2, np.array([0.0, 1.0, 0.0]))
    closed = over_gaps(cut)
    inside = (line[:, 2] > 1.7) & (line[:, 2] < 2.6)
    assert cut.area[inside].min() < 0.3 * np.pi * 0.5**2
    assert closed.area[inside].min() > 0.8 * np.pi * 0.5**2
    assert np.abs(closed.centre[inside, :2]).max() < 0.1


def test_a_wrist_is_no_gap():
    """A limb that narrows to half its thickness keeps its sections as they are."""
    wide, thin = cylinder(0.5, 2.0), cylinder(0.29, 3.0)
    solid = fill_solid(
        *joined(wide, (thin[0] + [0, 0, 1.0], thin[1]), (wide[0] + [0, 0, 2.6], wide[1])), CELL
    )
    line = np.stack([np.zeros(40), np.zeros(40), np.linspace(0.2, 4.4, 40)], axis=1)
    cut = cut_sections(solid, line, 1.2, np.array([0.0, 1.0, 0.0]))
    assert over_gaps(cut) is cut
