"""`measure.trunk_shape`: level cuts and landmarks of a body of blocks, known by construction."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from autoplace.measure.limbs import find_limbs
from autoplace.measure.solid import fill_solid
from autoplace.measure.trunk_shape import TrunkShape, measure_trunk
from tests.measure.blocks import (
    CELL,
    CHIN,
    CROTCH,
    HEAD_BACK,
    HEAD_FRONT,
    HEAD_HALF,
    NECK_BACK,
    NECK_FRONT,
    NECK_HALF,
    SHOULDER,
    T_ARM,
    TRUNK_BACK,
    TRUNK_FRONT,
    TRUNK_HALF_WIDTH,
    block_body,
    block_meshes,
    limb_of,
)
from tests.mesh.capsule_figures import box, joined, sphere

HANGING = {"left": np.array([0.24, 0.44, 0.0]), "right": np.array([-0.24, 0.44, 0.0])}


@cache
def trunk_of(pose: str = "level") -> TrunkShape:
    ends = {
        "level": None,
        "hanging": HANGING,
        "one_up": {"left": np.array([0.36, 1.05, 0.0]), "right": HANGING["right"]},
    }[pose]
    solid = block_body(ends)
    return measure_trunk(solid, find_limbs(solid))


@pytest.mark.parametrize("pose", ["level", "hanging", "one_up"])
def test_landmarks_of_the_block_figure(pose):
    """Crotch, chin, crown and neck lie where the blocks end, within a cell."""
    trunk = trunk_of(pose)
    assert trunk.crotch[1] == pytest.approx(CROTCH, abs=CELL)
    assert trunk.chin[1] == pytest.approx(CHIN, abs=CELL)
    assert trunk.crown[1] == 1.0
    assert trunk.crown[2] == pytest.approx(0.5 * (HEAD_BACK + HEAD_FRONT), abs=CELL)
    assert SHOULDER < trunk.neck[1] < CHIN
    assert trunk.neck[2] == pytest.approx(0.5 * (NECK_BACK + NECK_FRONT), abs=CELL)
    assert trunk.chin_seen


@pytest.mark.parametrize("pose", ["level", "hanging", "one_up"])
def test_landmarks_lie_on_the_middle(pose):
    """On a figure that stands straight, crotch, neck and chin are on its middle plane, whatever
    the arms do."""
    trunk = trunk_of(pose)
    for point in (trunk.crotch, trunk.neck, trunk.chin):
        assert abs(point[0]) < CELL


@pytest.mark.parametrize("aside", [0.0, 0.03], ids=["one horn", "two horns"])
def test_the_crown_is_the_skull_s_where_horns_stand_far_above(aside):
    """Round-headed figures whose horns make a sixth of the height have their crown at the skull's
    top, within a cell and a half."""
    skull = sphere(np.array([0.0, 0.93, 0.0]), 0.07)
    horns = [box((x - 0.006, 0.98, -0.006), (x + 0.006, 1.2, 0.006)) for x in {aside, -aside}]
    vertices, faces = joined(*block_meshes()[:3], skull, *block_meshes()[4:], *horns)
    solid = fill_solid(vertices / 1.2, faces, CELL)
    trunk = measure_trunk(solid, find_limbs(solid))
    assert trunk.crown[1] == pytest.approx(1.0 / 1.2, abs=1.5 * CELL)


def test_a_plume_on_the_head_is_no_head():
    """A plume that is thin at its foot leaves the neck between shoulders and chin."""
    plume = [
        box((-0.004, 0.99, -0.004), (0.004, 1.06, 0.004)),
        box((-0.012, 1.05, -0.012), (0.012, 1.12, 0.012)),
    ]
    vertices, faces = joined(*block_meshes(), *plume)
    solid = fill_solid(vertices / 1.12, faces, CELL)
    trunk = measure_trunk(solid, find_limbs(solid))
    assert SHOULDER < 1.12 * trunk.neck[1] < CHIN
    assert 1.12 * trunk.chin[1] == pytest.approx(CHIN, abs=CELL)


def test_the_crown_lies_on_the_middle():
    """The top of a head that is held straight lies on the middle plane, within a cell."""
    assert abs(trunk_of("level").crown[0]) < CELL


def test_depth_is_a_share_from_back_to_front():
    """At a level, share 0 is the back skin, 1 the front skin and a third lies a third between."""
    trunk = trunk_of("hanging")
    assert trunk.depth_at(0.6, 0.0) == pytest.approx(TRUNK_BACK, abs=CELL)
    assert trunk.depth_at(0.6, 1.0) == pytest.approx(TRUNK_FRONT, abs=CELL)
    back, front = trunk.depth_at(0.6, 0.0), trunk.depth_at(0.6, 1.0)
    assert trunk.depth_at(0.6, 1 / 3) == pytest.approx(back + (front - back) / 3)
    assert trunk.depth_at(0.95, 1.0) == pytest.approx(HEAD_FRONT, abs=CELL)


def test_width_and_middle_of_the_blocks():
    """Width and middle of trunk and head are those of the blocks, within a cell."""
    trunk = trunk_of("hanging")
    assert trunk.width_at(0.55) == pytest.approx(2 * TRUNK_HALF_WIDTH, abs=CELL)
    assert trunk.width_at(0.95) == pytest.approx(2 * HEAD_HALF, abs=CELL)
    for y in (0.5, 0.65, 0.86, 0.95):
        assert abs(trunk.middle_at(y)) < CELL


def test_radius_of_the_neck():
    """The neck's radius is half the geometric mean of its two widths, within a cell."""
    expected = 0.5 * np.sqrt(2 * NECK_HALF * (NECK_FRONT - NECK_BACK))
    assert trunk_of().neck_radius == pytest.approx(expected, abs=CELL)


def test_levels_run_from_crotch_to_crown():
    """The levels rise by one cell from the crotch to the crown, and all lists are as long."""
    trunk = trunk_of()
    np.testing.assert_allclose(np.diff(trunk.y), CELL)
    assert trunk.y[0] == pytest.approx(CROTCH, abs=1.5 * CELL)
    assert trunk.y[-1] == pytest.approx(1.0, abs=CELL)
    for values in (trunk.middle_x, trunk.width, trunk.front, trunk.back):
        assert values.shape == trunk.y.shape
    assert (trunk.front > trunk.back).all()


def test_touching_thighs_do_not_lower_the_crotch():
    """Where the thighs touch below the crotch the trunk still ends near it, not at the knees.

    The thighs meet in a bridge thinner than they are, so the crotch shows as a notch: within
    3 percent of the height.
    """
    bridge = box((-0.03, 0.30, -0.012), (0.03, CROTCH + 0.01, 0.008))
    solid = fill_solid(*joined(*block_meshes(), bridge), CELL)
    trunk = measure_trunk(solid, find_limbs(solid))
    assert trunk.crotch[1] == pytest.approx(CROTCH, abs=0.03)


def test_without_an_overhang_the_chin_is_told_to_be_unseen():
    """A head no deeper than its neck shows no chin; the neck's height stands in, and says so."""
    meshes = block_meshes()
    meshes[3] = box((-HEAD_HALF, CHIN, NECK_BACK), (HEAD_HALF, 1.0, NECK_FRONT))
    solid = fill_solid(*joined(*meshes), CELL)
    trunk = measure_trunk(solid, find_limbs(solid))
    assert not trunk.chin_seen
    assert trunk.chin[1] == trunk.neck[1]


def test_same_solid_same_bytes():
    """Nothing depends on chance, and the solid is not written to."""
    solid = block_body({"left": T_ARM})
    solid.coverage.setflags(write=False)
    limbs = find_limbs(solid)
    one, two = measure_trunk(solid, limbs), measure_trunk(solid, limbs)
    assert one.front.tobytes() == two.front.tobytes()
    assert one.crotch.tobytes() == two.crotch.tobytes()


def test_tufts_that_pass_for_arms_leave_the_neck_below_the_head():
    """Short branches high on the head do not lift the shoulders: neck and chin stay in place."""
    solid = block_body()
    limbs = find_limbs(solid)
    tufts = [
        limb_of(solid, "arm", side, np.array([[x, 0.94, 0.0], [1.5 * x, 0.99, 0.0]]), 0.03)
        for side, x in (("left", 0.03), ("right", -0.03))
    ]
    trunk = measure_trunk(solid, replace(limbs, limbs=(*limbs.limbs, *tufts)))
    assert trunk.chin[1] == pytest.approx(CHIN, abs=CELL)
    assert SHOULDER < trunk.neck[1] < CHIN


def test_low_eyes_do_not_send_the_chin_to_the_bust():
    """Ears that stand on the head raise its top, so that the chin is expected below the neck; a
    bust there is none."""
    bust = box((-0.05, 0.74, TRUNK_FRONT - 0.01), (0.05, 0.81, TRUNK_FRONT + 0.05))
    solid = fill_solid(*joined(*block_meshes(), bust), CELL)
    trunk = measure_trunk(solid, find_limbs(solid), eye_height=0.885)
    assert trunk.chin[1] == pytest.approx(CHIN, abs=CELL)
