"""Legs that all but touch are parted where the gap between them is thinner than a body cell."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.limbs import find_limbs
from autoplace.measure.solid import fill_solid
from autoplace.measure.thigh_gap import with_thin_gap
from autoplace.measure.trunk_shape import measure_trunk
from tests.measure.blocks import CELL, CROTCH, block_meshes
from tests.mesh.capsule_figures import box, joined


def body(gap: float, down_to: float = 0.0):
    """The block figure whose thighs are parted by no more than `gap`, from a height up."""
    thighs = []
    for side in (1.0, -1.0):
        x = sorted((side * 0.5 * gap, side * 0.06))
        thighs.append(box((x[0], down_to, -0.045), (x[1], CROTCH + 0.01, 0.035)))
    return joined(*block_meshes(), *thighs)


@pytest.mark.parametrize("gap", [0.0005, 0.001, 0.003, 0.005])
def test_a_thin_gap_is_opened(gap):
    """However thin the gap between the thighs is, the crotch is found above it, within two cells,
    and two legs below."""
    vertices, faces = body(gap)
    solid = with_thin_gap(fill_solid(vertices, faces, CELL), vertices, faces)
    limbs = find_limbs(solid)
    trunk = measure_trunk(solid, limbs)
    assert trunk.crotch[1] == pytest.approx(CROTCH, abs=2.0 * CELL)
    assert sorted(str(limb.side) for limb in limbs.limbs if limb.kind == "leg") == ["left", "right"]


def test_legs_whose_walls_meet_are_opened():
    """Two boxes that touch in the middle plane are two legs."""
    vertices, faces = body(0.0)
    solid = with_thin_gap(fill_solid(vertices, faces, CELL), vertices, faces)
    legs = [limb.side for limb in find_limbs(solid).limbs if limb.kind == "leg"]
    assert sorted(map(str, legs)) == ["left", "right"]


def test_the_skin_stays_where_it_was():
    """Only cells beside the gap change, and these by no more than makes them just empty."""
    vertices, faces = body(0.002)
    before = fill_solid(vertices, faces, CELL)
    after = with_thin_gap(before, vertices, faces)
    changed = np.argwhere(after.coverage != before.coverage)
    assert len(changed)
    assert np.abs(before.to_points(changed)[:, 0]).max() < CELL
    assert after.coverage[after.coverage != before.coverage].min() > 0.4


@pytest.mark.parametrize("gap", [0.02, 0.04])
def test_legs_apart_stay_as_they_are(gap):
    """Where the body's cells show the gap already, nothing is changed."""
    vertices, faces = body(gap)
    solid = fill_solid(vertices, faces, CELL)
    assert with_thin_gap(solid, vertices, faces) is solid


def test_a_fold_in_the_flesh_is_no_gap_of_thighs():
    """A slit that is closed below, as where skin folds into the trunk, is left as it is."""
    trunk = [box((-0.11, CROTCH, -0.07), (0.11, 0.50, 0.06))]
    trunk += [
        box(*ends)
        for ends in (
            ((-0.11, 0.50, -0.07), (-0.001, 0.54, 0.06)),
            ((0.001, 0.50, -0.07), (0.11, 0.54, 0.06)),
            ((-0.11, 0.54, -0.07), (0.11, 0.82, 0.06)),
        )
    ]
    vertices, faces = joined(*trunk, *block_meshes()[1:])
    solid = fill_solid(vertices, faces, CELL)
    assert with_thin_gap(solid, vertices, faces) is solid


def test_a_seam_through_the_whole_body_is_no_gap_of_thighs():
    """Two halves that stand a little apart from head to floor have no trunk above the gap."""
    vertices, faces = joined(
        box((0.001, 0.0, -0.05), (0.1, 1.0, 0.05)), box((-0.1, 0.0, -0.05), (-0.001, 1.0, 0.05))
    )
    solid = fill_solid(vertices, faces, CELL)
    assert with_thin_gap(solid, vertices, faces) is solid


def test_what_hangs_above_all_legs_has_no_gap():
    """A pair of plates high over the floor, as a mesh without legs has them: nothing is looked for
    below them, which once asked for a box of no height."""
    plates = [
        box((sign * 0.02 - 0.018, 0.85, -0.1), (sign * 0.02 + 0.018, 1.0, 0.1)) for sign in (1, -1)
    ]
    vertices, faces = joined(*plates)
    solid = fill_solid(vertices, faces, CELL)
    assert with_thin_gap(solid, vertices, faces) is solid
