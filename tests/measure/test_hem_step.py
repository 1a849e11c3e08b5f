"""The steps where legs part are those that the figure was built with."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.measure.hem_step import HemStep, measure_hem_step
from autoplace.measure.limb_record import Limbs
from autoplace.measure.solid import fill_solid
from autoplace.measure.trunk_shape import measure_trunk
from tests.measure.blocks import (
    CELL,
    CHIN,
    CROTCH,
    LEG_HALF,
    LEG_X,
    T_ARM,
    TRUNK_BACK,
    TRUNK_FRONT,
    TRUNK_HALF_WIDTH,
    block_meshes,
    limb_of,
)
from tests.mesh.capsule_figures import Mesh, box, joined

LEG_DEPTH = 0.08
OUTER = LEG_X + LEG_HALF
HEM = 0.38


def step_of(*more: Mesh, sides: tuple[str, ...] = ("left", "right")) -> HemStep | None:
    """The block figure with more blocks, its arms and the legs of some sides known."""
    solid = fill_solid(*joined(*block_meshes(), *more), CELL)
    limbs = []
    for side, sign in (("left", 1.0), ("right", -1.0)):
        line = np.array([[0.10, 0.78, 0.0], T_ARM]) * [sign, 1.0, 1.0]
        limbs.append(limb_of(solid, "arm", side, line, 0.04))
        if side in sides:
            line = np.array([[LEG_X, CROTCH - 0.15, 0.0], [LEG_X, 0.02, 0.0]]) * [sign, 1.0, 1.0]
            limbs.append(limb_of(solid, "leg", side, line, 0.06))
    found = Limbs(tuple(limbs), np.array([0.0, 0.65, 0.0]))
    return measure_hem_step(solid, found, measure_trunk(solid, found))


def test_steps_under_a_trunk_are_those_of_its_blocks():
    """Breadth and area of the trunk over those of both legs, and the gap between them."""
    step = step_of()
    assert step is not None
    assert step.broad == pytest.approx(TRUNK_HALF_WIDTH / OUTER, rel=0.08)
    trunk = 2 * TRUNK_HALF_WIDTH * (TRUNK_FRONT - TRUNK_BACK)
    assert step.area == pytest.approx(trunk / (2 * 2 * LEG_HALF * LEG_DEPTH), rel=0.1)
    assert step.gap == pytest.approx((LEG_X - LEG_HALF) / OUTER, abs=0.06)


def test_steps_at_a_hem_are_those_of_the_tunic():
    """A block round both thighs is compared, where it ends, with the legs below it."""
    half, back, front = 0.14, -0.10, 0.09
    step = step_of(box((-half, HEM, back), (half, 0.6, front)))
    assert step is not None
    assert step.broad == pytest.approx(half / OUTER, rel=0.08)
    tunic = 2 * half * (front - back)
    assert step.area == pytest.approx(tunic / (4 * LEG_HALF * LEG_DEPTH), rel=0.1)


def test_what_stands_beside_the_figure_is_no_part_of_the_step():
    """A shield on the floor beside the thigh adds to no cut."""
    shield = box((0.3, 0.2, -0.2), (0.33, 0.7, 0.2))
    beside, alone = step_of(shield), step_of()
    assert beside is not None
    assert alone is not None
    # the shield may move the chin by a hair, and with it what the arms are held against
    assert replace(beside, reach=alone.reach) == alone
    assert beside.reach == pytest.approx(alone.reach, rel=0.001)


def test_arms_are_held_against_the_trunk():
    """From the middle to the end of the arm, over what lies between legs and chin."""
    step, hem = step_of(), step_of(box((-0.14, HEM, -0.10), (0.14, 0.6, 0.09)))
    assert step is not None
    assert hem is not None
    arm = 0.10 + float(np.linalg.norm(np.array(T_ARM) - [0.10, 0.78, 0.0]))
    assert step.reach == pytest.approx(arm / (CHIN - CROTCH), rel=0.05)
    assert hem.reach == pytest.approx(arm / (CHIN - HEM), rel=0.05)


def test_one_leg_has_no_step():
    """Without two legs nothing is compared."""
    assert step_of(sides=("left",)) is None
