"""`measure.arm_shape`: wrist, axis and armpit of arms whose joints are known by construction."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from autoplace.measure.arm_shape import (
    ArmShape,
    find_armpit,
    fit_axis,
    measure_arm,
)
from autoplace.measure.wrist import HAND_SHARE, HAND_SHARE_SPREAD
from tests.measure.blocks import CELL
from tests.measure.cone_limbs import KnownArm, an_arm

POSES = {
    "level": {"arm_down": 0.0},
    "lowered": {"arm_down": 45.0},
    "right": {"arm_down": 45.0, "side": "right"},
    "bent": {"arm_down": 20.0, "elbow_bend": 40.0},
    "raised": {"arm_down": -35.0},
}
UPPER_ARM = 0.165


@cache
def measured(name: str, palm: float = 2.0, end: float = 0.010) -> tuple[KnownArm, ArmShape]:
    arm = an_arm(palm=palm, end=end, **POSES[name])
    # the first guess of the shoulder comes from proportions: a cell or two off
    return arm, measure_arm(arm.solid, arm.limb, arm.shoulder + np.array([0.0, 0.01, -0.005]))


def unit(vector):
    return vector / np.linalg.norm(vector)


@pytest.mark.parametrize("name", POSES)
def test_the_wrist_is_where_the_hand_begins_to_broaden(name):
    """The wrist is found within a cell of where the hand was joined on, and it says it was seen."""
    arm, shape = measured(name)
    assert shape.wrist.seen
    assert np.linalg.norm(shape.at(shape.wrist.arc) - arm.wrist) < CELL
    assert 0.0 < shape.wrist.spread < 2 * CELL


@pytest.mark.parametrize("cuff", [1.8, 2.4])
def test_a_cuff_is_not_taken_for_the_hand(cuff):
    """Where a cuff as broad as the hand comes before it, the wrist lies between the two, within
    two cells of where the hand was joined on."""
    arm = an_arm(palm=2.0, cuff=cuff)
    shape = measure_arm(arm.solid, arm.limb, arm.shoulder)
    assert shape.wrist.seen
    assert np.linalg.norm(shape.at(shape.wrist.arc) - arm.wrist) < 2 * CELL


@pytest.mark.parametrize("sleeve", [2.4, 3.6])
def test_a_wide_sleeve_is_not_taken_for_the_hand(sleeve):
    """Where a hand comes out of a sleeve that widens to nearly twice its own breadth, the wrist
    lies in its mouth, within two cells of where the hand was joined on."""
    arm = an_arm(palm=2.0, sleeve=sleeve)
    shape = measure_arm(arm.solid, arm.limb, arm.shoulder)
    assert shape.wrist.seen
    assert np.linalg.norm(shape.at(shape.wrist.arc) - arm.wrist) < 2 * CELL


@pytest.mark.parametrize("bracer", [2.2, 2.6])
def test_what_broadens_just_beyond_the_elbow_is_no_hand(bracer):
    """Where a bracer makes the forearm broader than the hand that comes out of it, the wrist is not
    seen: it lies where the arm's proportions put it, within two of its spreads."""
    arm = an_arm(bracer=bracer)
    shape = measure_arm(arm.solid, arm.limb, arm.shoulder)
    off = np.linalg.norm(shape.at(shape.wrist.arc) - arm.wrist)
    assert not shape.wrist.seen
    assert off < 2.0 * shape.wrist.spread < 0.1


def test_a_plate_over_the_upper_arm_does_not_lead_its_line_astray():
    """Where cuts still run on into the trunk, one that closes goes through the plate above the arm:
    the line is no more than a tenth longer than the arm."""
    arm = an_arm(palm=2.0, arm_down=30.0, plate=True)
    shape = measure_arm(arm.solid, arm.limb, arm.shoulder + np.array([0.0, 0.01, -0.005]))
    bones = np.diff([arm.shoulder, arm.elbow, arm.wrist, arm.tip], axis=0)
    assert shape.sections.arc[-1] < 1.1 * np.linalg.norm(bones, axis=1).sum()


@pytest.mark.parametrize("name", POSES)
def test_an_arm_without_a_hand_falls_back_to_its_share(name):
    """Where nothing broadens, the wrist is a fixed share of the arm, with that share's spread."""
    _, shape = measured(name, palm=1.0)
    total = shape.sections.arc[-1]
    assert not shape.wrist.seen
    assert shape.wrist.arc == pytest.approx((1 - HAND_SHARE) * total)
    assert shape.wrist.spread == pytest.approx(HAND_SHARE_SPREAD * total)


@pytest.mark.parametrize("name", POSES)
def test_the_sections_end_at_the_fingertip(name):
    """The last section of a tapering hand lies at its tip, within a cell and a half."""
    arm, shape = measured(name)
    assert np.linalg.norm(shape.tip - arm.tip) < 1.5 * CELL


def test_the_sections_end_at_the_tip_of_a_mitten():
    """The last section of a hand with a broad flat end lies at its tip, within two cells."""
    arm, shape = measured("level", end=0.026)
    assert np.linalg.norm(shape.tip - arm.tip) < 2 * CELL


@pytest.mark.parametrize("name", POSES)
def test_the_axis_of_the_upper_arm(name):
    """Between a third and nine tenths of the upper arm the axis is that of the cone: within 2
    degrees, half a cell, and a sixth of the radius."""
    arm, shape = measured(name)
    point, direction, radius, clear = fit_axis(shape, 0.33 * UPPER_ARM, 0.9 * UPPER_ARM)
    own = unit(arm.elbow - arm.shoulder)
    assert np.degrees(np.arccos(direction @ own)) < 2.0
    off = point - arm.shoulder
    assert np.linalg.norm(off - (off @ own) * own) < 0.5 * CELL
    assert radius == pytest.approx(0.025, rel=1 / 6)
    assert clear == 1.0


def test_an_axis_over_too_few_sections_is_the_chord():
    """Asked for a stretch without three sections, the axis is the chord and nothing was clear."""
    _, shape = measured("level")
    point, direction, _, clear = fit_axis(shape, 0.1000, 0.1001)
    a, b = shape.at(0.1000), shape.at(0.1001)
    np.testing.assert_allclose(point, 0.5 * (a + b))
    np.testing.assert_allclose(direction, unit(b - a))
    assert clear == 0.0


@pytest.mark.parametrize("name", POSES)
def test_the_armpit_is_where_the_arm_meets_the_trunk(name):
    """The hollow under the arm is found within 1.5 percent of the height along the arm, and within
    a cell across it."""
    arm, shape = measured(name)
    point, direction, radius, _ = fit_axis(shape, 0.33 * UPPER_ARM, 0.9 * UPPER_ARM)
    armpit = find_armpit(arm.solid, point, direction, radius, np.array([0.0, 0.6, 0.0]))
    assert armpit is not None
    off = armpit - arm.armpit
    assert abs(off @ direction) < 0.015
    assert np.linalg.norm(off - (off @ direction) * direction) < CELL


def test_an_arm_apart_from_the_trunk_has_no_armpit():
    """Where the arm ends before it reaches the trunk there is no step to find."""
    arm = an_arm(trunk_half=0.04)
    own = unit(arm.elbow - arm.shoulder)
    point = arm.shoulder + 0.1 * own
    assert find_armpit(arm.solid, point, own, 0.025, np.array([0.0, 0.6, 0.0])) is None


def test_points_along_the_line_are_between_its_sections():
    """Arc 0 is the first section, the whole arc the tip, and halves lie between neighbours."""
    _, shape = measured("bent")
    arc, centre = shape.sections.arc, shape.sections.centre
    np.testing.assert_allclose(shape.at(0.0), centre[0])
    np.testing.assert_allclose(shape.at(arc[-1]), shape.tip)
    np.testing.assert_allclose(shape.at(0.5 * (arc[7] + arc[8])), 0.5 * (centre[7] + centre[8]))


def test_the_mirror_image_is_measured_alike():
    """A right arm that mirrors the left has a mirrored wrist and tip, within a cell."""
    left, right = measured("lowered")[1], measured("right")[1]
    flip = np.array([-1.0, 1.0, 1.0])
    assert (left.side, right.side) == ("left", "right")
    for arc in (left.wrist.arc, 0.1, 0.25):
        assert np.linalg.norm(left.at(arc) - right.at(arc) * flip) < CELL


def test_same_arm_same_bytes():
    """Nothing depends on chance."""
    arm, shape = measured("bent")
    again = measure_arm(arm.solid, arm.limb, arm.shoulder + np.array([0.0, 0.01, -0.005]))
    assert again.sections.centre.tobytes() == shape.sections.centre.tobytes()
    assert again.wrist.arc == shape.wrist.arc
