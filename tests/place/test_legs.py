"""`place.legs`: joints of legs that are known by construction; no knee is ever straight."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from autoplace.measure.leg_shape import LegShape, measure_leg
from autoplace.place.evidence import Placed, combine, cue
from autoplace.place.legs import LegPlacement, hip_prior, place_hip, place_leg
from autoplace.place.template import load_template
from tests.measure.blocks import CELL
from tests.measure.cone_limbs import FOOT_LENGTH, KnownLeg, a_leg
from tests.place.trunks import BACK, CHIN, CROTCH, FRONT, a_trunk

ADULT = load_template("adult")
FLIP = np.array([-1.0, 1.0, 1.0])
POSES = {
    "straight": {"knee_bend": 0.0, "thigh_forward": 0.0},
    "relaxed": {},
    "toes_out": {"toe_out": 12.0},
    "right": {"side": "right", "toe_out": 12.0},
    "bent": {"knee_bend": 30.0, "thigh_forward": 20.0},
    "raised": {"knee_bend": 65.0, "thigh_forward": 55.0, "foot_down": 0.0},
    "backward": {"knee_bend": -8.0, "thigh_forward": -4.0},
}


@cache
def placed(name: str) -> tuple[KnownLeg, LegShape, LegPlacement]:
    """A leg and its joints below a hip that is known."""
    leg = a_leg(**POSES[name])
    shape = measure_leg(leg.solid, leg.limb)
    hip = combine([cue("known", leg.hip, 0.005, "known by construction")])
    return leg, shape, place_leg(shape, hip, ADULT)


def bend_of(joints: dict[str, Placed]) -> tuple[float, np.ndarray]:
    """Degrees of the knee's bend, and its apex: from the line hip to ankle out to the knee."""
    hip, knee, ankle = (joints[n].position for n in ("hip", "knee", "ankle"))
    one, two = knee - hip, ankle - knee
    angle = np.degrees(np.arctan2(np.linalg.norm(np.cross(one, two)), one @ two))
    axis = (ankle - hip) / np.linalg.norm(ankle - hip)
    return float(angle), one - (one @ axis) * axis


@pytest.mark.parametrize("name", POSES)
def test_a_leg_has_its_five_joints_in_order(name):
    """Hip, knee, ankle, ball and toe tip follow one another along the leg."""
    leg, _, placement = placed(name)
    assert list(placement.joints) == ["hip", "knee", "ankle", "ball", "toe_tip"]
    at = [p.position for p in placement.joints.values()]
    lengths = np.linalg.norm(np.diff(at, axis=0), axis=1)
    assert (lengths > 0.02).all()
    assert lengths[0] + lengths[1] == pytest.approx(0.475, abs=0.03)
    np.testing.assert_allclose(at[0], leg.hip, atol=1e-15)


@pytest.mark.parametrize("name", ["bent", "raised"])
def test_a_bent_knee_is_found_at_its_bend(name):
    """A knee bent by 30 degrees or more is found within 1.5 percent of the height, and the bend
    counts among its evidence."""
    leg, _, placement = placed(name)
    assert np.linalg.norm(placement.joints["knee"].position - leg.knee) < 0.015
    assert "centreline_bend" in {e.kind for e in placement.joints["knee"].evidence}
    assert not placement.bent_by_us


@pytest.mark.parametrize("name", ["straight", "relaxed", "toes_out", "backward"])
def test_a_knee_that_shows_no_bend_is_found_by_proportion(name):
    """A knee that hardly bends is within 2.5 percent of the height along the leg."""
    leg, _, placement = placed(name)
    assert np.linalg.norm(placement.joints["knee"].position - leg.knee) < 0.025


@pytest.mark.parametrize("name", POSES)
def test_no_knee_is_straight_and_its_apex_is_ahead(name):
    """Every knee is bent by two degrees at least, its apex toward the front of the foot."""
    _, shape, placement = placed(name)
    angle, apex = bend_of(placement.joints)
    assert angle > 1.99
    assert apex @ shape.foot.along > 0.0


@pytest.mark.parametrize(("name", "most"), [("straight", 4.0), ("backward", 2.02)])
def test_a_straight_leg_gets_a_small_bend(name, most):
    """A ruled leg is bent by two degrees, or by the few that the knee's axis lies ahead of the
    leg's middle, straight toward the foot's front."""
    _, shape, placement = placed(name)
    angle, apex = bend_of(placement.joints)
    assert 1.98 < angle < most
    assert apex / np.linalg.norm(apex) @ shape.foot.along > np.cos(np.radians(12.0))


def test_a_bend_that_was_put_in_is_told():
    """A leg modelled bent the wrong way says that its bend is not its own; a bent one does not."""
    assert placed("backward")[2].bent_by_us
    assert not placed("bent")[2].bent_by_us


@pytest.mark.parametrize("name", POSES)
def test_the_ankle_stands_over_the_heel_s_part_of_the_foot(name):
    """The ankle is within 1.5 percent of the height of where the shank was made to end."""
    leg, _, placement = placed(name)
    assert np.linalg.norm(placement.joints["ankle"].position - leg.ankle) < 0.015


@pytest.mark.parametrize("name", [n for n in POSES if n != "raised"])
def test_ball_and_toe_are_shares_of_the_foot(name):
    """The ball lies .741 of the foot from the heel (US Army 2012 survey), within the foot, and the
    toe tip at its end."""
    leg, _, placement = placed(name)
    along = (leg.toe - leg.heel) / FOOT_LENGTH
    ball = placement.joints["ball"].position - leg.heel
    toe = placement.joints["toe_tip"].position - leg.heel
    assert ball @ along == pytest.approx(0.741 * FOOT_LENGTH, abs=2 * CELL)
    assert toe @ along == pytest.approx(FOOT_LENGTH, abs=2 * CELL)
    for joint in (ball, toe):
        assert 0.0 < joint @ leg.up < 0.03 + CELL
        assert abs(joint @ np.cross(leg.up, along)) < CELL


def test_left_and_right_are_mirror_images():
    """A right leg that mirrors the left has mirrored joints, within a cell."""
    left, right = placed("toes_out")[2], placed("right")[2]
    for name in left.joints:
        one, other = left.joints[name].position, right.joints[name].position
        assert np.linalg.norm(one - other * FLIP) < CELL, name


@pytest.mark.parametrize("name", POSES)
def test_every_joint_tells_why_it_is_there(name):
    """Each joint has a spread between a ten-thousandth and a tenth, evidence that sums to one and
    notes in words."""
    for joint in placed(name)[2].joints.values():
        assert 1e-4 <= joint.spread < 0.1
        assert sum(e.weight for e in joint.evidence) == pytest.approx(1.0)
        assert all(e.note for e in joint.evidence)


@pytest.mark.parametrize(("side", "sign"), [("left", 1.0), ("right", -1.0)])
def test_the_template_s_hip_is_the_closed_form(side, sign):
    """The expected hip is so many trunk lengths above the crotch and beside the middle, at its
    share of the depth, with the template's spreads."""
    at, spread = hip_prior(a_trunk(), ADULT, side)
    scale = CHIN - CROTCH
    up, half, depth = (ADULT[f"hip_{n}"] for n in ("above_crotch", "half_spacing", "depth"))
    expected = [sign * half.value * scale, CROTCH + up.value * scale]
    np.testing.assert_allclose(at[:2], expected)
    assert at[2] == pytest.approx(BACK + depth.value * (FRONT - BACK))
    np.testing.assert_allclose(
        spread, [half.spread * scale, up.spread * scale, depth.spread * (FRONT - BACK)]
    )


@pytest.mark.parametrize("name", ["relaxed", "right", "straight"])
def test_the_hip_is_near_where_the_thigh_was_hung(name):
    """Of a leg hung at an adult's hip, the hip is found within 2.5 percent of the height."""
    leg, shape, _ = placed(name)
    hip = place_hip(shape, a_trunk(), None, ADULT)
    assert np.linalg.norm(hip.position - leg.hip) < 0.025
    assert {e.kind for e in hip.evidence} == {"template_prior", "limb_axis"}


def test_a_level_thigh_does_not_say_where_the_hip_is():
    """A thigh raised well toward level adds less weight than a hanging one, or none."""

    def weight(name):
        evidence = place_hip(placed(name)[1], a_trunk(), None, ADULT).evidence
        return sum(e.weight for e in evidence if e.kind == "limb_axis")

    assert weight("raised") < 0.5 * weight("relaxed")


def test_a_thigh_that_leads_over_the_middle_moves_no_hip():
    """What is fitted to a gap or a cloth and leads to the other side is not believed at all, and
    the less the nearer it comes to the middle."""
    _, shape, _ = placed("relaxed")
    trunk = a_trunk()
    expected = hip_prior(trunk, ADULT, "left")[0][0]

    def hip_for(share):
        point = np.array([share * expected, shape.thigh_point[1], shape.thigh_point[2]])
        lead = replace(shape, thigh=np.array([0.0, -1.0, 0.0]), thigh_point=point)
        return place_hip(lead, trunk, None, ADULT)

    assert {e.kind for e in hip_for(-0.5).evidence} == {"template_prior"}
    assert hip_for(-0.5).position[0] == pytest.approx(expected)
    weights = [
        sum(e.weight for e in hip_for(share).evidence if e.kind == "limb_axis")
        for share in (0.1, 0.3, 0.6)
    ]
    assert weights[0] < 0.2 * weights[1] < 0.6 * weights[2]


def test_a_turn_far_above_the_sole_is_not_the_foot_s():
    """A gap between a robot's shank and foot may bend the line at the knee: the ankle stays within
    2 percent of the height of where it is without."""
    leg, shape, _ = placed("relaxed")
    hip = combine([cue("known", leg.hip, 0.005, "known by construction")])
    high = replace(shape, turn=shape.foot.heel + 0.9 * FOOT_LENGTH * shape.foot.up)
    ankles = [place_leg(one, hip, ADULT).joints["ankle"].position for one in (shape, high)]
    assert np.linalg.norm(ankles[0] - ankles[1]) < 0.02


def test_placing_changes_no_input_and_repeats():
    """The measures of a leg are not written to, and the joints have the same bytes each time."""
    leg, shape, placement = placed("bent")
    for array in (shape.cells, shape.shank, shape.shank_point, shape.sections.centre):
        array.setflags(write=False)
    again = place_leg(shape, placement.joints["hip"], ADULT)
    for name, joint in placement.joints.items():
        assert again.joints[name].position.tobytes() == joint.position.tobytes()
    assert leg.limb.side == shape.side
