"""`measure.bends`: the hinge of two noisy pieces, and the narrowing of a limb."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.bends import LINE_NOISE, find_bend, find_narrowing
from autoplace.measure.sections import Sections

TURN = np.linalg.qr(np.random.default_rng(5).normal(size=(3, 3)))[0]


def bent(degrees, hinge=0.22, length=0.5, count=41, noise=0.0, seed=0):
    """Points (n, 3) and arc lengths (n,) of two straight pieces, turned somehow in space."""
    arc = np.linspace(0.0, length, count)
    beyond = np.maximum(arc - hinge, 0.0)
    angle = np.radians(degrees)
    points = np.stack(
        [np.minimum(arc, hinge) + beyond * np.cos(angle), beyond * np.sin(angle), 0 * arc], axis=1
    )
    points += np.random.default_rng(seed).normal(scale=noise, size=points.shape)
    return points @ TURN.T, arc


@pytest.mark.parametrize("degrees", [5, 20, 60, 120])
def test_two_straight_pieces_are_found_as_they_are(degrees):
    """Without noise the hinge is found within half a step of the search (1/80 of its range), and
    the angle within the turn that such a slip makes."""
    points, arc = bent(degrees)
    bend = find_bend(points, arc, 0.15, 0.35)
    step = 0.2 / 40
    assert bend.arc == pytest.approx(0.22, abs=0.5 * step + 1e-9)
    assert np.degrees(bend.angle) == pytest.approx(degrees, rel=0.02)
    np.testing.assert_allclose(bend.position, [0.22, 0, 0] @ TURN.T, atol=0.5 * step)


@pytest.mark.parametrize("degrees", [15, 30, 60])
def test_noise_moves_the_hinge_by_less_than_its_spread(degrees):
    """With the noise of a limb's line, the hinge lies within one spread in at least two thirds of
    100 tries, as one standard deviation should, and within three in all."""
    off, spread = [], []
    for seed in range(100):
        bend = find_bend(*bent(degrees, noise=LINE_NOISE, seed=seed), 0.12, 0.38)
        off.append(abs(bend.arc - 0.22))
        spread.append(bend.spread)
    share = np.array(off) / np.array(spread)
    assert (share < 1.0).mean() > 0.67
    assert share.max() < 3.0


@pytest.mark.parametrize("degrees", [30, 60, 90, 150])
def test_spread_is_the_noise_over_the_sine(degrees):
    """The spread is the line's noise over the sine of the bend, and never less than the noise."""
    bend = find_bend(*bent(degrees), 0.15, 0.35)
    expected = LINE_NOISE / np.sin(np.radians(min(degrees, 90)))
    assert bend.spread == pytest.approx(expected, rel=0.02)


def test_a_straight_line_has_no_certain_hinge():
    """On a straight line the bend is nil and its spread is wider than any limb."""
    points, arc = bent(0.0)
    bend = find_bend(points, arc, 0.1, 0.4)
    assert bend.angle < 1e-6
    assert bend.spread > 10.0
    assert 0.1 <= bend.arc <= 0.4


def test_a_hinge_outside_the_range_is_not_sought():
    """The hinge stays between the given limits even if the line bends elsewhere."""
    points, arc = bent(60, hinge=0.05)
    bend = find_bend(points, arc, 0.2, 0.3)
    assert 0.2 <= bend.arc <= 0.3


def test_points_all_before_the_hinge_leave_it_open():
    """Where no point lies beyond the range, the middle is given with an endless spread."""
    points, arc = bent(0.0, length=0.1)
    bend = find_bend(points, arc, 0.2, 0.4)
    assert bend.arc == pytest.approx(0.3)
    assert np.isinf(bend.spread)
    assert bend.angle == 0.0


def test_turning_the_line_turns_the_answer():
    """A line turned and moved in space has the same hinge, turned and moved with it."""
    points, arc = bent(35, noise=LINE_NOISE, seed=3)
    one = find_bend(points, arc, 0.12, 0.38)
    other = find_bend(points @ TURN + [1.0, 2.0, 3.0], arc, 0.12, 0.38)
    assert other.arc == one.arc
    assert other.angle == pytest.approx(one.angle, rel=1e-9)
    np.testing.assert_allclose(other.position, one.position @ TURN + [1.0, 2.0, 3.0], atol=1e-12)


def sections(radius, length=1.0, missing=()):
    """Round sections of the given radii, evenly spaced along a straight limb."""
    radius = np.asarray(radius, dtype=float)
    n = len(radius)
    centre = np.stack([np.linspace(0, length, n), np.zeros(n), np.zeros(n)], axis=1)
    area = np.pi * radius**2
    area[list(missing)] = 0.0
    axis = np.tile([1.0, 0, 0], (n, 1))
    side = np.tile([0, 1.0, 0], (n, 1))
    width = np.stack([2 * radius, 2 * radius], axis=1)
    return Sections(centre, axis, side, centre, area, width, 2 * radius, np.zeros(n, dtype=bool))


@pytest.mark.parametrize("at", [0.4, 0.5, 0.58])
def test_the_waist_of_an_hourglass_is_found(at):
    """A limb of radius 0.05 + (x - at)^2 is narrowest at `at`, found within a section's spacing;
    its depth is the shallower of its two sides over the waist, less one."""
    x = np.linspace(0, 1, 81)
    narrow = find_narrowing(sections(0.05 + (x - at) ** 2), 0.3, 0.7)
    assert narrow is not None
    assert narrow.arc == pytest.approx(at, abs=1 / 80)
    shallow = min(at - 0.3, 0.7 - at)
    assert narrow.depth == pytest.approx(shallow**2 / 0.05, rel=0.05)


def test_a_cone_has_no_narrowing():
    """Where the radius only grows, or only falls, nothing is found."""
    grows = np.linspace(0.03, 0.06, 40)
    assert find_narrowing(sections(grows), 0.3, 0.7) is None
    assert find_narrowing(sections(grows[::-1]), 0.3, 0.7) is None


def test_a_waist_beyond_the_limits_is_not_seen():
    """A narrowing outside the limits does not count."""
    x = np.linspace(0, 1, 81)
    assert find_narrowing(sections(0.05 + (x - 0.1) ** 2), 0.3, 0.7) is None


def test_sections_without_flesh_are_passed_over():
    """Stations with an area of zero do not look like a waist; too few sound ones find nothing."""
    x = np.linspace(0, 1, 81)
    radius = 0.05 + (x - 0.5) ** 2
    narrow = find_narrowing(sections(radius, missing=(30, 31, 52)), 0.3, 0.7)
    assert narrow is not None
    assert narrow.arc == pytest.approx(0.5, abs=1 / 80)
    assert find_narrowing(sections(radius, missing=range(4, 81)), 0.3, 0.7) is None


def test_a_narrowing_goes_over_from_hollow_to_hollow():
    """As one of two hollows deepens and the other fills, the narrowing goes from the one to the
    other by less than a quarter of the way at once."""
    x = np.linspace(0, 1, 81)

    def limb(part: float) -> np.ndarray:
        first, second = (np.exp(-0.5 * ((x - at) / 0.03) ** 2) for at in (0.44, 0.56))
        return 0.05 - 0.01 * ((1.0 - part) * first + part * second)

    arcs = [find_narrowing(sections(limb(part)), 0.3, 0.7).arc for part in np.linspace(0, 1, 41)]
    assert arcs[0] == pytest.approx(0.44, abs=0.01)
    assert arcs[-1] == pytest.approx(0.56, abs=0.01)
    assert np.abs(np.diff(arcs)).max() < 0.25 * (arcs[-1] - arcs[0])
