"""A limb's profile between its joints, on sections whose numbers are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.measure.limb_profile import OFFSET_UNIT, read_profile
from autoplace.measure.sections import Sections

SHARES = np.array([0.3, 0.4, 0.5, 0.6, 0.7, 0.8])
FRONT = np.array([0.0, 0.0, 1.0])


def leg(count=41, length=0.5, depth=None, breadth=None, bow=None, missing=()):
    """Sections down a leg from (0, length, 0) to the floor."""
    share = np.linspace(0.0, 1.0, count)
    depth = np.full(count, 0.06) if depth is None else depth(share)
    breadth = np.full(count, 0.05) if breadth is None else breadth(share)
    z = np.zeros(count) if bow is None else bow(share) * length
    centre = np.stack([np.zeros(count), length * (1.0 - share), z], axis=1)
    area = depth * breadth * np.pi / 4.0
    area[list(missing)] = 0.0
    down = np.tile([0.0, -1.0, 0.0], (count, 1))
    return Sections(
        station=centre,
        direction=down,
        side=np.tile(FRONT, (count, 1)),
        centre=centre,
        area=area,
        width=np.stack([depth, breadth], axis=1),
        breadth=np.maximum(depth, breadth),
        open_edge=np.zeros(count, dtype=bool),
    )


def profile_of(sections, length=0.5, side="left", sideways=False):
    first, last = np.array([0.0, length, 0.0]), np.zeros(3)
    return read_profile(sections, first, last, FRONT, SHARES, side, sideways=sideways)


def test_an_even_limb_tells_only_how_slim_it_is():
    """Breadth and depth that do not change, and a straight line, give zeros, but for the logarithms
    of .06 and .05 over a length of .5."""
    expected = np.r_[np.zeros(18), np.log(0.12), np.log(0.1)]
    assert profile_of(leg()).values == pytest.approx(expected, abs=1e-12)


def test_values_are_logarithms_about_their_mean():
    """Depth that grows e-fold down the leg rises by the difference of the shares."""
    values = profile_of(leg(depth=lambda s: 0.05 * np.exp(s))).values
    assert values[:6] == pytest.approx(SHARES - SHARES.mean(), abs=1e-3)
    assert values[6:18] == pytest.approx(np.zeros(12), abs=1e-9)


def test_a_leg_that_bows_forward_shows_it():
    """The bow is the offset to the front from its own trend, in tenths of the leg."""
    values = profile_of(leg(bow=lambda s: -0.1 * (s - 0.5) ** 2)).values[12:18]
    offset = -0.1 * (SHARES - 0.5) ** 2
    expected = offset - np.polyval(np.polyfit(SHARES, offset, 1), SHARES)
    assert values == pytest.approx(expected / OFFSET_UNIT, abs=2e-3)


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_limb_that_bows_outward_shows_it_where_that_is_asked_for(side):
    """The bow to the side is the same for both limbs when one is the mirror image of the other; a
    limb that is not asked has no such values."""
    sections = leg()
    share = np.linspace(0.0, 1.0, 41)
    outward = 1.0 if side == "left" else -1.0
    centre = sections.centre + np.outer(-0.05 * (share - 0.5) ** 2, [outward, 0.0, 0.0])
    sections = replace(sections, centre=centre)
    offset = -0.1 * (SHARES - 0.5) ** 2
    expected = offset - np.polyval(np.polyfit(SHARES, offset, 1), SHARES)
    values = profile_of(sections, side=side, sideways=True).values
    assert np.abs(values[20:]) == pytest.approx(np.abs(expected) / OFFSET_UNIT, abs=2e-3)
    assert values[20:] == pytest.approx(
        profile_of(replace(sections, centre=centre * [outward, 1, 1]), sideways=True).values[20:]
    )
    assert len(profile_of(sections, side=side).values) == 20


def test_size_does_not_matter():
    """A leg twice as large has the same profile."""

    def grown(times):
        sections = leg(
            length=0.3 * times,
            depth=lambda s: 0.04 * times * (1.2 - s**2 / 3),
            breadth=lambda s: 0.03 * times * (1.1 - s / 4),
            bow=lambda s: 0.02 * np.sin(3 * s),
        )
        return profile_of(sections, 0.3 * times).values

    assert grown(2.0) == pytest.approx(grown(1.0), abs=1e-9)


def test_too_few_sound_sections_give_no_profile():
    """A leg of which hardly a cut is sound is not read."""
    assert profile_of(leg(missing=range(3, 38))) is None
    assert profile_of(leg(missing=range(5, 12))) is not None


def test_points_beside_the_line_are_found_again():
    """Down a straight leg of .5, a point .2 below the hip, .01 ahead and .02 outward has the share
    .4 and offsets of .02 and .04 of the length, on either side."""
    for side, outward in (("left", 1.0), ("right", -1.0)):
        profile = profile_of(leg(), side=side)
        point = np.array([0.02 * outward, 0.3, 0.01])
        share, ahead, aside = profile.coordinates(point)
        assert (share, ahead) == pytest.approx((0.4, 0.02), abs=1e-3)
        assert abs(aside) == pytest.approx(0.04, abs=1e-3)
        assert profile.point(np.array([share, ahead, aside])) == pytest.approx(point, abs=1e-3)
    left, right = (
        profile_of(leg(), side=side).coordinates(np.array([x, 0.3, 0.01]))
        for side, x in (("left", 0.02), ("right", -0.02))
    )
    assert left == pytest.approx(right)


def test_axes_are_as_long_as_the_limb():
    """One whole share is the length of the line; the axes are square to each other."""
    axes = profile_of(leg()).axes(np.array([0.5, 0.0, 0.0]))
    assert axes.T @ axes == pytest.approx(0.25 * np.eye(3), abs=1e-9)
    assert axes[:, 0] == pytest.approx([0.0, -0.5, 0.0])
    assert axes[:, 1] == pytest.approx([0.0, 0.0, 0.5])
