"""`place.arms`: joints of arms that are known by construction; no elbow is ever straight."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from autoplace.measure.trunk_shape import TrunkShape
from autoplace.place.arms import (
    ArmPlacement,
    measure_arms,
    place_arm,
    shoulder_prior,
    span_by_shoulders,
)
from autoplace.place.evidence import Placed, combine, cue
from autoplace.place.readings import known_shapes
from autoplace.place.template import load_template
from tests.measure.blocks import CELL
from tests.measure.cone_limbs import KnownArm, an_arm
from tests.place.trunks import BACK, CHIN, CROTCH, FRONT, a_trunk

ADULT = load_template("adult")
RADIUS = 0.028
"""Of the upper arm of `an_arm`, fraction of height."""
FLIP = np.array([-1.0, 1.0, 1.0])
POSES = {
    "level": {"elbow_bend": 6.0},
    "straight": {"elbow_bend": 0.0},
    "lowered": {"arm_down": 45.0},
    "right": {"arm_down": 45.0, "side": "right"},
    "bent": {"arm_down": 20.0, "elbow_bend": 40.0},
    "raised": {"arm_down": -30.0, "elbow_bend": 20.0},
    "overstretched": {"elbow_bend": -6.0},
}


def on_trunk(arm: KnownArm, trunk: TrunkShape) -> ArmPlacement:
    """The arm alone, placed by an adult's proportions."""
    (shape,) = measure_arms(arm.solid, {arm.limb.side: arm.limb}, trunk, ADULT).values()
    return place_arm(arm.solid, shape, trunk, None, ADULT)


@cache
def placed(name: str) -> tuple[KnownArm, ArmPlacement]:
    arm = an_arm(palm=2.0, **POSES[name])
    return arm, on_trunk(arm, a_trunk())


def joint(placement: ArmPlacement, name: str) -> np.ndarray:
    return placement.joints[name].position


def bend_of(placement: ArmPlacement) -> tuple[float, np.ndarray]:
    """Degrees of the elbow's bend, and its apex: from the line shoulder to wrist to the elbow."""
    shoulder, elbow, wrist = (joint(placement, n) for n in ("shoulder", "elbow", "wrist"))
    one, two = elbow - shoulder, wrist - elbow
    angle = np.degrees(np.arctan2(np.linalg.norm(np.cross(one, two)), one @ two))
    axis = (wrist - shoulder) / np.linalg.norm(wrist - shoulder)
    return float(angle), one - (one @ axis) * axis


@pytest.mark.parametrize("name", POSES)
def test_the_shoulder_is_found(name):
    """The shoulder of an arm hung at an adult's place is within 2 percent of the height."""
    arm, placement = placed(name)
    assert np.linalg.norm(joint(placement, "shoulder") - arm.shoulder) < 0.02
    kinds = {e.kind for e in placement.joints["shoulder"].evidence}
    assert kinds >= {"template_prior", "limb_axis", "armpit"}


@pytest.mark.parametrize("chin", [0.78, 0.95])
def test_the_shoulder_of_a_level_arm_is_level_with_it(chin):
    """A chin that was found too low or too high, as under a helmet or over a long neck, has the
    template expect the shoulder higher or lower by a tenth of the trunk; the upper arm shows it,
    to a sixth of its radius."""
    arm = an_arm(palm=2.0)
    trunk = replace(a_trunk(), chin=np.array([0.0, chin, FRONT]))
    expected = shoulder_prior(trunk, ADULT, "left")[0][1]
    assert abs(expected - arm.shoulder[1]) > 0.02
    found = joint(on_trunk(arm, trunk), "shoulder")
    assert found[1] == pytest.approx(arm.shoulder[1], abs=RADIUS / 6)


def test_the_armpit_of_a_hanging_arm_is_believed_less():
    """Flesh of a hanging arm touches the trunk below the armpit: of an arm 75 degrees down the
    armpit is three times as unsure as of a level one; of one 45 degrees down it is as sure (sines
    .97 and .71)."""

    def along(arm: KnownArm) -> float:
        placement = on_trunk(arm, a_trunk())
        found = {e.kind: e.spread for e in placement.joints["shoulder"].evidence}
        # what is told is the root mean square over the axes, .05 across
        return float(np.sqrt(3.0 * found["armpit"] ** 2 - 2.0 * 0.05**2))

    level, lowered, hanging = (along(an_arm(palm=2.0, arm_down=down)) for down in (0.0, 45.0, 75.0))
    assert lowered == pytest.approx(level, rel=0.05)
    assert hanging == pytest.approx(3.0 * level, rel=0.1)


def a_shoulder(height: float) -> Placed:
    return combine([cue("limb_axis", np.array([0.1, height, 0.0]), 0.005, "")])


def test_the_trunk_is_as_long_as_the_shoulders_say_where_they_are_far_off():
    """With shoulders where the template has them the trunk ends at the chin; with shoulders far
    below, it is about as long as they say, so that a long neck lengthens it little."""
    trunk, expected = a_trunk(), ADULT["shoulder_height"].value
    usual = a_shoulder(CROTCH + expected * (CHIN - CROTCH))
    assert span_by_shoulders(trunk, ADULT, [usual]) == pytest.approx(CHIN - CROTCH)
    low = a_shoulder(CROTCH + expected * 0.25)
    assert span_by_shoulders(trunk, ADULT, [low]) == pytest.approx(0.25, abs=0.02)
    assert span_by_shoulders(trunk, ADULT, [usual, low]) == pytest.approx(0.25, abs=0.02)
    assert span_by_shoulders(trunk, ADULT, []) == pytest.approx(CHIN - CROTCH)


@pytest.mark.parametrize("name", POSES)
def test_the_wrist_is_found(name):
    """The wrist is within a cell and a quarter of where the hand was joined on, by its section."""
    arm, placement = placed(name)
    assert np.linalg.norm(joint(placement, "wrist") - arm.wrist) < 1.25 * CELL
    assert {e.kind for e in placement.joints["wrist"].evidence} == {"section_minimum"}


def test_a_bent_elbow_is_found_at_its_bend():
    """An elbow bent by 40 degrees is within 1 percent of the height, and its bend counts."""
    arm, placement = placed("bent")
    assert np.linalg.norm(joint(placement, "elbow") - arm.elbow) < 0.01
    evidence = {e.kind: e for e in placement.joints["elbow"].evidence}
    assert evidence["centreline_bend"].weight > 0.2


@pytest.mark.parametrize("name", POSES)
def test_an_elbow_is_found_by_proportion_at_least(name):
    """Any elbow is within 2 percent of the height."""
    arm, placement = placed(name)
    assert np.linalg.norm(joint(placement, "elbow") - arm.elbow) < 0.02


@pytest.mark.parametrize("name", POSES)
def test_no_elbow_is_straight_and_its_apex_is_behind(name):
    """Every elbow is bent by two degrees at least, its apex toward the back."""
    angle, apex = bend_of(placed(name)[1])
    assert angle > 1.99
    assert apex[2] < 0.0


@pytest.mark.parametrize("name", ["straight", "overstretched"])
def test_a_straight_arm_gets_a_small_bend(name):
    """An arm without a bend, or one bent the wrong way, gets two degrees, or the few that people's
    elbow lies behind the arm's middle, within one standard deviation; more to the back than up or
    down."""
    angle, apex = bend_of(placed(name)[1])
    elbow = known_shapes("arm").joints["elbow"]
    behind = abs(elbow.middle[1]) + elbow.spread[1]  # of the arm, halfway along it
    assert 1.5 < angle < np.degrees(4.0 * behind)
    assert apex[2] / np.linalg.norm(apex) < -np.sqrt(0.5)


def test_a_bend_that_was_put_in_is_told():
    """An arm modelled bent the wrong way says that its bend is not its own; a bent one does not."""
    assert placed("overstretched")[1].bent_by_us
    assert not placed("bent")[1].bent_by_us


@pytest.mark.parametrize("name", ["bent", "raised"])
def test_a_bent_arm_keeps_its_own_bend(name):
    """An arm that is bent keeps its bend, within 5 degrees."""
    placement = placed(name)[1]
    assert not placement.bent_by_us
    assert bend_of(placement)[0] == pytest.approx(POSES[name]["elbow_bend"], abs=5.0)


@pytest.mark.parametrize("name", POSES)
def test_the_forearm_points_from_elbow_to_wrist(name):
    """The direction handed on to the hand is a unit vector along the forearm, within 5 degrees."""
    arm, placement = placed(name)
    own = (arm.wrist - arm.elbow) / np.linalg.norm(arm.wrist - arm.elbow)
    assert np.linalg.norm(placement.forearm) == pytest.approx(1.0)
    assert np.degrees(np.arccos(np.clip(placement.forearm @ own, -1, 1))) < 5.0


def test_left_and_right_are_mirror_images():
    """A right arm that mirrors the left has mirrored joints, within a cell."""
    left, right = placed("lowered")[1], placed("right")[1]
    for name in left.joints:
        assert np.linalg.norm(joint(left, name) - joint(right, name) * FLIP) < CELL, name


@pytest.mark.parametrize("name", POSES)
def test_every_joint_tells_why_it_is_there(name):
    """Each joint has a spread between a ten-thousandth and a tenth, evidence that sums to one and
    notes in words."""
    for found in placed(name)[1].joints.values():
        assert 1e-4 <= found.spread < 0.1
        assert sum(e.weight for e in found.evidence) == pytest.approx(1.0)
        assert all(len(e.note.split()) > 2 for e in found.evidence)


@pytest.mark.parametrize(("side", "sign"), [("left", 1.0), ("right", -1.0)])
def test_the_template_s_shoulder_is_the_closed_form(side, sign):
    """The expected shoulder is so many trunk lengths above the crotch and beside the body's own
    middle, at its share of the depth, with the template's spreads of half a percent at least."""
    trunk = a_trunk(lean=0.04)
    at, spread = shoulder_prior(trunk, ADULT, side)
    scale = CHIN - CROTCH
    up, half, depth = (ADULT[f"shoulder_{n}"] for n in ("height", "half_width", "depth"))
    y = CROTCH + up.value * scale
    assert at[1] == pytest.approx(y)
    assert at[0] == pytest.approx(trunk.middle_at(y - 0.1 * scale) + sign * half.value * scale)
    assert at[2] == pytest.approx(BACK + depth.value * (FRONT - BACK))
    expected = [half.spread * scale, up.spread * scale, depth.spread * (FRONT - BACK)]
    np.testing.assert_allclose(spread, np.maximum(expected, 0.005))


def test_placing_repeats():
    """The same arm has the same bytes each time, and the solid is not written to."""
    arm, placement = placed("bent")
    arm.solid.coverage.setflags(write=False)
    again = on_trunk(arm, a_trunk())
    for name, found in placement.joints.items():
        assert again.joints[name].position.tobytes() == found.position.tobytes()
