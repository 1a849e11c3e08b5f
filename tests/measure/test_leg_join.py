"""Where legs join is told by the legs, whichever side of the middle plane they are on."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.leg_join import legs_join
from autoplace.measure.solid import Solid, fill_solid
from autoplace.measure.trunk_ends import parting_of_legs
from autoplace.measure.trunk_shape import measure_trunk
from tests.measure.blocks import CELL, CROTCH, block_meshes, no_limbs
from tests.measure.test_hem import skirt
from tests.mesh.capsule_figures import Mesh, capsule, joined

TRUNK = block_meshes()[:4]
ARMS = block_meshes()[-2:]


THIGH = 0.045
"""Upper end of a thigh from the middle: less than its radius, so that the two touch there."""


AHEAD = np.array([0.0, 0.0, 1.0])


def in_stride(aside: float) -> Solid:
    """The block figure in a stride, its right foot behind and on the line of the left one: the
    left leg stands `aside` of the middle at the knee, the right one as far to its other side."""
    legs: list[Mesh] = []
    for places in (
        ((THIGH, CROTCH + 0.02, 0.0), (aside, 0.26, 0.08), (0.08, 0.03, 0.04)),
        ((-THIGH, CROTCH + 0.02, 0.0), (aside - 0.1, 0.26, -0.02), (-0.08, 0.03, -0.14)),
    ):
        hip, knee, foot = map(np.array, places)
        legs += [capsule(hip, knee, 0.048, 0.04), capsule(knee, foot, 0.04, 0.03)]
        legs.append(capsule(foot, foot + 0.1 * AHEAD, 0.03, 0.02))
    return fill_solid(*joined(*TRUNK, *ARMS, *legs), CELL)


def lowest_in_middle(solid: Solid) -> int:
    """The lowest level of the solid middle plane, followed down from the trunk."""
    column = round(float(-solid.origin[0] / solid.cell))
    filled = solid.inside[column - 1 : column + 1].all(axis=0).any(axis=1)
    row = round((0.55 - solid.origin[1]) / solid.cell)
    while filled[row - 1]:
        row -= 1
    return row


@pytest.mark.parametrize("aside", [-0.01, 0.0])
def test_a_leg_in_the_middle_plane_is_no_trunk(aside):
    """With a leg across the middle plane the crotch is still where the two legs join, and
    thighs that touch are two lobes up to there."""
    solid = in_stride(aside)
    low = lowest_in_middle(solid)
    assert solid.origin[1] + low * CELL < CROTCH - 0.05  # the plane runs down the leg
    assert parting_of_legs(solid) == pytest.approx(CROTCH, abs=0.03)
    assert measure_trunk(solid, no_limbs()).crotch[1] == pytest.approx(CROTCH, abs=0.03)


def test_legs_beside_the_middle_plane_are_told_by_it():
    """Where the plane shows where the legs part, nothing else is asked."""
    solid = fill_solid(*joined(*block_meshes()), CELL)
    assert legs_join(solid.inside, lowest_in_middle(solid), CELL) is None


@pytest.mark.parametrize("step", [0.0, 0.04])
def test_legs_do_not_join_at_a_hem(step):
    """Two legs below a skirt that is longer behind end there, also where it meets one of them
    first, which stands a step behind the other."""
    meshes = block_meshes()
    behind = [(vertices - [0.0, 0.0, step], faces) for vertices, faces in meshes[6:8]]
    solid = fill_solid(*joined(*meshes[:6], *behind, *ARMS, skirt(0.15, 0.3)), CELL)
    assert legs_join(solid.inside, lowest_in_middle(solid), CELL) is None
