"""Limbs against closed forms of a bone that turns about a hinge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.skeleton.angles import angle_between
from autoplace.skeleton.orient import orient
from tests.figures import Z, moved
from tests.skeleton.bending.bent import bent, figure, twisted, values


def law_of_cosines(a: float, b: float, bent_by: float) -> float:
    """The third side of a triangle whose other two turn by `bent_by` degrees from straight."""
    return float(np.sqrt(a * a + b * b + 2 * a * b * np.cos(np.radians(bent_by))))


@pytest.mark.parametrize(
    ("test", "joints", "degrees"),
    [
        ("elbow", ("left_shoulder", "left_elbow", "left_wrist"), 140),
        ("knee", ("right_hip", "right_knee", "right_ankle"), 130),
    ],
)
def test_a_hinge_folds_to_the_law_of_cosines(test, joints, degrees):
    """Where the axis is square to both bones, the end comes as near as the triangle says."""
    skeleton = figure(elbow=12, knee=12)
    result = bent(skeleton, test)[test]
    root, joint, end = (skeleton[name].position for name in joints)
    a, b = np.linalg.norm(joint - root), np.linalg.norm(end - joint)
    assert values(result, "bent")[joints[1]] == pytest.approx(degrees, abs=1e-6)
    near = 100 * law_of_cosines(a, b, degrees) / (a + b)
    assert values(result, "near")[joints[1]] == pytest.approx(near, abs=1e-6)
    assert values(result, "plane")[joints[1]] == pytest.approx(0, abs=1e-6)


def test_what_is_bent_already_is_taken_off():
    """An elbow modelled at 30 degrees is keyed 110, one at 10 degrees 130, to reach 140."""
    for modelled in (10, 30):
        turn = bent(figure(elbow=modelled), "elbow")["elbow"].poses[""]["left_elbow"]
        assert turn.bend == pytest.approx(140 - modelled, abs=1e-6)
        assert (turn.third, turn.aim) == (0, 0)


def test_raised_thighs_and_arms_stand_where_the_angle_says():
    """Thighs at 100 and arms at 150 degrees from hanging: the ends' heights are minus the cosines;
    the thigh's own slant aside leaves a little."""
    hip = values(bent(figure(), "hip")["hip"], "up")["left_hip"]
    assert hip == pytest.approx(-100 * np.cos(np.radians(100)), abs=0.5)
    arm = values(bent(figure("T"), "shoulder")["shoulder"], "up")["right_shoulder"]
    assert arm == pytest.approx(-100 * np.cos(np.radians(150)), abs=0.1)


def test_a_plane_that_the_joints_leave_open_is_not_judged():
    """Of an elbow bent by 8 degrees whose joints are known to a tenth of the arm, none is told."""
    skeleton = figure("T")
    assert values(bent(skeleton, "elbow")["elbow"], "plane")
    unsure = skeleton.with_joints(tuple(replace(j, spread=0.03) for j in skeleton))
    assert not values(bent(unsure, "elbow")["elbow"], "plane")


def test_a_twisted_hinge_leaves_the_plane():
    """An elbow whose axis is turned by 20 degrees about its bone sweeps a cone out of the plane:
    at right angles to the rest the forearm would stand 20 degrees off it."""
    result = bent(twisted(figure(elbow=20), "left_elbow", 20), "elbow")["elbow"]
    off = values(result, "plane")
    assert off["left_elbow"] > 10 > 1e-6 > off["right_elbow"]
    assert "left_elbow" in {m.joint for m in result.failures}


def test_toes_rise_by_what_they_are_keyed():
    """A ball keyed 40 degrees lifts straight toes by 40 degrees in the foot's own plane."""
    skeleton = figure()
    straight = {
        f"{side}_toe_tip": skeleton[f"{side}_ball"].position + 0.04 * Z
        for side in ("left", "right")
    }
    result = bent(orient(moved(skeleton, straight)), "toe_roll")["toe_roll"]
    assert values(result, "up")["left_ball"] == pytest.approx(40, abs=0.5)


def test_angles_near_zero_are_exact():
    """An angle of a millionth of a degree is not lost in an arc cosine."""
    small = np.radians(1e-6)
    assert angle_between(np.array([1.0, 0, 0]), np.array([np.cos(small), np.sin(small), 0])) == (
        pytest.approx(1e-6, rel=1e-6)
    )
