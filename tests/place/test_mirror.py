"""`place.mirror`: pairs made exact mirror images where the mesh is one, and left alone else."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.place.evidence import combine, cue
from autoplace.place.mirror import mirror_limbs, mirrored_share

FLIP = np.array([-1.0, 1.0, 1.0])
CELL = 0.01


def cells(count=400, seed=0):
    """Cells (n, 3) of a left limb: a bent rod three cells thick."""
    t = np.linspace(0, 1, count)
    line = np.stack([0.1 + 0.3 * t, 0.8 - 0.2 * t**2, 0.05 * t], axis=1)
    rng = np.random.default_rng(seed)
    return (
        np.unique(np.round((line + rng.uniform(-0.015, 0.015, line.shape)) / CELL), axis=0) * CELL
    )


def test_mirrored_cells_are_wholly_alike():
    """A limb and its exact mirror image share everything, whichever is called left."""
    left = cells()
    assert mirrored_share(left, left * FLIP, CELL) == 1.0
    assert mirrored_share(left * FLIP, left, CELL) == 1.0


@pytest.mark.parametrize("shift", [0.5, 1.0])
def test_a_slip_of_up_to_a_cell_is_forgiven(shift):
    """The grid itself may be off by a cell: such limbs are still alike."""
    left = cells()
    assert mirrored_share(left, left * FLIP + [0, shift * CELL, 0], CELL) > 0.95


def test_limbs_in_different_poses_are_not_alike():
    """A limb raised by a tenth of the height, or one that is longer, is no mirror image."""
    left = cells()
    assert mirrored_share(left, left * FLIP + [0, 0.1, 0], CELL) < 0.5
    longer = np.concatenate([left, left[left[:, 0] > 0.3] + [0.1, -0.1, 0.02]])
    assert mirrored_share(longer, left * FLIP, CELL) < 0.95
    assert mirrored_share(left, longer * FLIP, CELL) < 0.95


def test_a_missing_limb_is_like_nothing():
    """Without cells on a side nothing is shared."""
    assert mirrored_share(cells(), np.zeros((0, 3)), CELL) == 0.0
    assert mirrored_share(np.zeros((0, 3)), cells(), CELL) == 0.0


def some_joints():
    return {
        "pelvis": combine([cue("a", np.array([0.01, 0.5, 0.0]), 0.01, "")]),
        "left_knee": combine([cue("a", np.array([0.10, 0.29, 0.02]), 0.03, "left")]),
        "right_knee": combine([cue("b", np.array([-0.12, 0.27, 0.00]), 0.04, "right")]),
        "left_elbow": combine([cue("a", np.array([0.3, 0.8, 0.0]), 0.01, "")]),
    }


def test_a_mirrored_pair_is_exact_and_lies_between():
    """Both joints get the mean of the left one and the mirrored right one, exactly mirrored."""
    result = mirror_limbs(some_joints(), {"knee": True})
    left, right = result["left_knee"].position, result["right_knee"].position
    np.testing.assert_allclose(left, [0.11, 0.28, 0.01])
    assert np.array_equal(left * FLIP, right)


def test_a_pair_that_differs_or_is_half_there_stays():
    """Pairs not to be mirrored, joints of the middle and joints without a twin keep their place."""
    joints = some_joints()
    result = mirror_limbs(joints, {"knee": False, "elbow": True, "wrist": True})
    assert result == joints


def test_spread_of_a_pair_is_that_of_its_sides():
    """Two sides of spread 3 and 4 share the root mean square, 5 over the root of 2; the record of
    each side stays its own."""
    result = mirror_limbs(some_joints(), {"knee": True})
    for side, note in (("left", "left"), ("right", "right")):
        assert result[f"{side}_knee"].spread == pytest.approx(0.05 / np.sqrt(2))
        assert result[f"{side}_knee"].evidence[0].note == note


def test_mirroring_twice_changes_nothing_more_and_no_input():
    """A second mirroring leaves the bytes as they are, and the first does not touch its input."""
    joints = some_joints()
    before = {name: p.position.tobytes() for name, p in joints.items()}
    once = mirror_limbs(joints, {"knee": True})
    twice = mirror_limbs(once, {"knee": True})
    assert all(once[n].position.tobytes() == twice[n].position.tobytes() for n in once)
    assert {name: p.position.tobytes() for name, p in joints.items()} == before
