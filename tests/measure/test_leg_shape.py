"""`measure.leg_shape`: shank and foot of legs whose joints are known by construction."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from autoplace.measure.leg_shape import Foot, LegShape, measure_leg
from autoplace.measure.solid import fill_solid
from tests.measure.blocks import CELL, limb_of
from tests.measure.cone_limbs import FOOT_LENGTH, KnownLeg, a_leg
from tests.measure.surfaces import rotation
from tests.mesh.capsule_figures import box, capsule, joined

STANDING = {
    "straight": {},
    "toes_out": {"toe_out": 12.0},
    "right": {"side": "right", "toe_out": 12.0},
    "bent": {"knee_bend": 25.0, "thigh_forward": 18.0},
}
RAISED = {
    "raised": {"knee_bend": 65.0, "thigh_forward": 55.0, "foot_down": 0.0},
    "raised_aside": {"side": "right", "knee_bend": 40.0, "thigh_forward": 60.0, "foot_down": 5.0},
}
POINTED = {"pointed": {"knee_bend": 60.0, "thigh_forward": 60.0, "foot_down": 20.0}}
POSES = STANDING | RAISED


@cache
def measured(name: str) -> tuple[KnownLeg, LegShape]:
    leg = a_leg(**(POSES | POINTED)[name])
    return leg, measure_leg(leg.solid, leg.limb)


def degrees_between(a, b):
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)))


@pytest.mark.parametrize("name", POSES)
def test_the_shank_is_the_line_from_knee_to_ankle(name):
    """The shank's axis runs from the knee to the ankle within 2 degrees and half a cell."""
    leg, shape = measured(name)
    along = (leg.ankle - leg.knee) / np.linalg.norm(leg.ankle - leg.knee)
    assert degrees_between(shape.shank, along) < 2.0
    off = shape.shank_point - leg.knee
    assert np.linalg.norm(off - (off @ along) * along) < 0.5 * CELL


@pytest.mark.parametrize("name", POSES)
def test_the_foot_has_its_own_length_and_ends(name):
    """Heel and toe are found within 2 cells and the length within 2 cells, on the floor or off."""
    leg, shape = measured(name)
    assert shape.foot.length == pytest.approx(FOOT_LENGTH, abs=2 * CELL)
    assert np.linalg.norm(shape.foot.heel - leg.heel) < 2 * CELL
    assert np.linalg.norm(shape.foot.toe - leg.toe) < 2 * CELL


@pytest.mark.parametrize("name", POSES)
def test_the_foot_points_from_heel_to_toe(name):
    """The foot's long axis is within 3 degrees of its own, its up axis within 12 where raised."""
    leg, shape = measured(name)
    own = (leg.toe - leg.heel) / np.linalg.norm(leg.toe - leg.heel)
    assert degrees_between(shape.foot.along, own) < (3.0 if name in STANDING else 12.0)
    assert degrees_between(shape.foot.up, leg.up) < (0.1 if name in STANDING else 12.0)


@pytest.mark.xfail(
    strict=True,
    reason="a raised foot is sought square to its shank only: at 20 degrees its axis is 18 degrees "
    "off and its length 15 percent short",
)
def test_a_raised_foot_that_points_down_is_followed():
    """A foot off the floor whose toes point down by 20 degrees keeps its axis and its length."""
    leg, shape = measured("pointed")
    own = (leg.toe - leg.heel) / np.linalg.norm(leg.toe - leg.heel)
    assert degrees_between(shape.foot.along, own) < 12.0
    assert shape.foot.length == pytest.approx(FOOT_LENGTH, abs=2 * CELL)


@pytest.mark.parametrize("name", POSES)
def test_a_standing_foot_is_told_from_a_raised_one(name):
    """Only a foot whose lowest point is near the floor stands on it."""
    assert measured(name)[1].foot.on_floor == (name in STANDING)


@pytest.mark.parametrize("name", STANDING)
def test_the_thigh_is_as_thick_as_it_was_made(name):
    """Between .085 and .2 below the hip the cone of the thigh is .0447 thick in the middle, and
    twice as deep and broad, within a twentieth."""
    _, shape = measured(name)
    assert shape.thigh_size() == pytest.approx([0.0447, 0.0894, 0.0894], rel=0.05)


def test_length_is_from_the_first_section_to_the_sole():
    """The length along a straight leg is that of its line down to the sole, within 2 cells."""
    leg, shape = measured("straight")
    expected = np.linalg.norm(shape.sections.centre[0] - leg.knee)
    expected += np.linalg.norm(leg.ankle - leg.knee) + leg.ankle[1]
    assert shape.length == pytest.approx(expected, abs=2 * CELL)


def test_points_of_a_foot_are_the_closed_form():
    """A point is so many lengths ahead of the heel, so high above the sole, so far aside."""
    turn = rotation((0.2, 1.0, -0.3), 40.0)
    heel = np.array([0.1, 0.02, -0.03])
    foot = Foot(heel, heel + turn @ [0, 0, 0.2], turn @ [0, 0, 1.0], turn @ [0, 1.0, 0], 0.2, True)
    np.testing.assert_allclose(foot.point(0.0, 0.0), heel)
    np.testing.assert_allclose(foot.point(1.0, 0.0), foot.toe)
    np.testing.assert_allclose(foot.point(0.25, 0.03, 0.01), heel + turn @ [0.01, 0.03, 0.05])


def test_the_mirror_image_is_measured_alike():
    """A right leg that mirrors the left has a mirrored heel and toe, within a cell, and a mirrored
    shank, within a degree."""
    left, right = measured("toes_out")[1], measured("right")[1]
    flip = np.array([-1.0, 1.0, 1.0])
    assert right.side == "right"
    for one, other in (
        (left.foot.heel, right.foot.heel),
        (left.foot.toe, right.foot.toe),
    ):
        assert np.linalg.norm(one - other * flip) < CELL
    assert degrees_between(left.shank, right.shank * flip) < 1.0


def test_same_leg_same_bytes():
    """Nothing depends on chance."""
    leg, shape = measured("bent")
    again = measure_leg(leg.solid, leg.limb)
    assert again.foot.toe.tobytes() == shape.foot.toe.tobytes()
    assert again.shank.tobytes() == shape.shank.tobytes()


def test_a_shoe_longer_than_the_leg_is_no_shank():
    """Of a short leg in a shoe longer than itself the shank still runs down, and the sole lies."""
    length, ankle = 0.30, np.array([0.06, 0.045, -0.03])
    hip, knee = np.array([0.05, 0.22, -0.03]), np.array([0.06, 0.132, -0.02])
    shoe = box((0.02, 0.0, -0.08), (0.10, 0.05, length - 0.08))
    trunk = box((-0.12, 0.19, -0.08), (0.12, 0.5, 0.07))
    cones = [capsule(hip, knee, 0.036, 0.03, columns=32), capsule(knee, ankle, 0.03, 0.025)]
    solid = fill_solid(*joined(trunk, *cones, shoe), CELL)
    line = np.array([hip - [0, 0.03, 0], knee, ankle, [0.06, 0.02, length - 0.10]])
    shape = measure_leg(solid, limb_of(solid, "leg", "left", line, 0.06))
    assert degrees_between(shape.shank, np.array([0.0, -1.0, 0.0])) < 10.0
    assert degrees_between(shape.foot.up, np.array([0.0, 1.0, 0.0])) < 1.0
    assert shape.foot.length == pytest.approx(length, abs=2 * CELL)
