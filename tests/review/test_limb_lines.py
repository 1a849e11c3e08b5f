"""Lines of limbs: the nearest point of one, and its ends."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.body_limbs import fill_body
from autoplace.measure.limbs import find_limbs
from autoplace.measure.not_found import NotFound
from autoplace.review.limb_lines import (
    Centreline,
    arm_or_leg_line,
    hand_of,
    nearest_on,
)
from tests.measure.blocks import T_ARM, block_meshes
from tests.mesh.capsule_figures import joined

CORNER = Centreline(np.array([[0.0, 0, 0], [1.0, 0, 0], [1.0, 1.0, 0]]), np.full(3, 0.1))


@pytest.mark.parametrize(
    ("point", "nearest"),
    [
        ((0.3, -0.2, 0.0), (0.3, 0.0, 0.0)),
        ((1.2, 0.6, 0.3), (1.0, 0.6, 0.0)),
        ((1.3, -0.3, 0.0), (1.0, 0.0, 0.0)),
        ((-0.05, 0.1, 0.0), (0.0, 0.0, 0.0)),
    ],
)
def test_nearest_point_of_a_line_with_a_corner(point, nearest):
    """The foot of the perpendicular, the corner outside of it, and the end just beyond it."""
    assert nearest_on(CORNER, np.array(point)) == pytest.approx(np.array(nearest))


@pytest.mark.parametrize("point", [(-0.2, 0.0, 0.0), (1.0, 1.2, 0.05)])
def test_a_joint_beyond_the_end_has_no_place(point):
    """Two radii beyond either end nothing of the line belongs to the joint."""
    assert nearest_on(CORNER, np.array(point)) is None


def test_line_of_a_level_arm_is_its_axis():
    """The capsule of the arm runs along y = .78, z = 0; its line does so to half a percent of the
    height beyond the trunk (half-breadth .11), and the leg's along x = .06, whose block reaches
    from z = -.045 to .035."""
    solid = fill_body(*joined(*block_meshes()))
    limbs = find_limbs(solid)
    arm = arm_or_leg_line(solid, limbs, "arm", "left", np.array([0.09, 0.78, 0.0]))
    assert isinstance(arm, Centreline)
    outer = arm.points[(arm.points[:, 0] > 0.16) & (arm.points[:, 0] < T_ARM[0] - 0.03)]
    assert len(outer) > 5
    assert outer[:, 1:] == pytest.approx(np.tile([0.78, 0.0], (len(outer), 1)), abs=0.005)
    leg = arm_or_leg_line(solid, limbs, "leg", "right", None)
    assert isinstance(leg, Centreline)
    shank = leg.points[(leg.points[:, 1] > 0.12) & (leg.points[:, 1] < 0.35)]
    assert len(shank) > 5
    assert shank[:, [0, 2]] == pytest.approx(np.tile([-0.06, -0.005], (len(shank), 1)), abs=0.005)


def test_a_body_without_arms_has_no_line_for_them():
    """The reason names the side."""
    solid = fill_body(*joined(*block_meshes({})))
    limbs = find_limbs(solid)
    found = arm_or_leg_line(solid, limbs, "arm", "left", None)
    assert isinstance(found, NotFound)
    assert "left arm" in str(found)


def test_a_stump_has_no_hand():
    """An arm that ends in a capsule shows no fingers to follow, and an arm without a length none
    either; both say why."""
    vertices, faces = joined(*block_meshes())
    wrist, elbow = np.array([0.45, 0.78, 0.0]), np.array([0.3, 0.78, 0.0])
    bare = hand_of(vertices, faces, "left", wrist, wrist, {})
    assert isinstance(bare, NotFound)
    assert bare.why
    fingers = {name: np.tile(wrist, (4, 1)) for name in ("index", "middle", "pinky")}
    stump = hand_of(vertices, faces, "left", wrist, elbow, fingers)
    assert not (stump and stump.finger_count > 2)
