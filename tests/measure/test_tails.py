"""A tail in one skin with the trunk neither makes it deeper nor passes for a limb."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.body_limbs import fill_body, find_body_limbs
from autoplace.measure.trunk_ends import parting_of_legs
from autoplace.measure.trunk_shape import measure_trunk
from tests.measure.blocks import CELL, TRUNK_BACK, block_meshes
from tests.mesh.capsule_figures import box, capsule, joined

ROOT = np.array([0.0, 0.54, TRUNK_BACK + 0.01])
TIPS = {
    "level": np.array([0.0, 0.54, -0.40]),
    "raised": np.array([0.0, 0.75, -0.30]),
    "hanging": np.array([0.0, 0.30, -0.28]),
    "to the floor": np.array([0.0, 0.06, -0.30]),
}


def body(*more):
    solid = fill_body(*joined(*block_meshes(), *more))
    return find_body_limbs(solid, ())


@pytest.mark.parametrize("tip", TIPS.values(), ids=TIPS)
@pytest.mark.parametrize("thick", [0.02, 0.045], ids=["slim", "thick"])
def test_the_trunk_s_back_is_where_it_is_without_the_tail(tip, thick):
    """Over the tail's root the back lies within a cell of where it lies without a tail."""
    solid, limbs = body(capsule(ROOT, tip, thick, 0.5 * thick))
    trunk = measure_trunk(solid, limbs)
    rows = trunk.y < 0.8
    assert np.abs(trunk.back[rows] - TRUNK_BACK).max() < CELL


@pytest.mark.parametrize("tip", TIPS.values(), ids=TIPS)
def test_every_other_limb_is_still_there_with_its_cells_in_the_solid(tip):
    """Legs, arms and head are found as without a tail, and none of their cells is empty."""
    _, bare = body()
    solid, limbs = body(capsule(ROOT, tip, 0.045, 0.02))
    kinds = sorted((limb.kind, limb.side or "") for limb in limbs.limbs)
    assert kinds == sorted((limb.kind, limb.side or "") for limb in bare.limbs)
    for limb in limbs.limbs:
        where = np.round(solid.to_cells(limb.cells)).astype(int)
        assert solid.inside[tuple(where.T)].all()


def test_a_body_without_a_tail_is_the_same():
    """Nothing is taken from it, nor from one with a braid, or with a head that hangs over to the
    side and behind."""
    braid = capsule(np.array([0.0, 0.95, -0.05]), np.array([0.0, 0.85, -0.30]), 0.02, 0.02)
    plume = capsule(np.array([0.0, 0.97, 0.0]), np.array([0.2, 1.02, -0.1]), 0.03, 0.03)
    for more in ((), (braid,), (plume,)):
        solid = fill_body(*joined(*block_meshes(), *more))
        assert find_body_limbs(solid, ())[0] is solid


@pytest.mark.parametrize("side", [1.0, -1.0], ids=["left", "right"])
def test_a_staff_held_before_the_body_does_not_make_the_trunk_a_tail(side):
    """The legs part where they do without it, though what is beside a slim trunk lies ahead of it
    by its mean."""
    trunk = box((-0.05, 0.3, -0.04), (0.05, 0.9, 0.04))
    legs = [box((x - 0.02, 0.0, -0.03), (x + 0.02, 0.31, 0.03)) for x in (-0.03, 0.03)]
    low, high = np.array([side * 0.3, 0.4, 0.1]), np.array([side * 0.3, 0.5, 1.0])
    solid = fill_body(*joined(trunk, *legs, capsule(low, high, 0.01, 0.01)))
    assert parting_of_legs(solid) == pytest.approx(0.3, abs=2 * CELL)
