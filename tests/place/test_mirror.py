"""`place.mirror`: pairs made exact mirror images where the mesh is one, and left alone else."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from autoplace.measure.solid import fill_solid
from autoplace.place.evidence import combine, cue
from autoplace.place.mirror import mirror_limbs, mirrored_share

FLIP = np.array([-1.0, 1.0, 1.0])
CELL = 0.01


def body(left_drop=0.0, right_drop=0.0, right_more=0.0):
    """A trunk with two straight arms whose ends hang by the given heights, as a solid; and the
    cells of the left and of the right arm."""
    parts = [
        trimesh.creation.box(
            (0.2, 0.5, 0.2), trimesh.transformations.translation_matrix((0, 0.7, 0))
        )
    ]
    for side, drop, more in ((1, left_drop, 0.0), (-1, right_drop, right_more)):
        ends = [(side * 0.05, 0.8, 0.0), (side * (0.45 + more), 0.8 - drop, 0.0)]
        parts.append(trimesh.creation.cylinder(0.04, segment=np.array(ends), sections=24))
    mesh = trimesh.util.concatenate(parts)
    solid = fill_solid(mesh.vertices, mesh.faces, CELL)
    points = solid.to_points(np.argwhere(solid.inside))
    return solid, points[points[:, 0] > 0.12], points[points[:, 0] < -0.12]


def test_mirrored_limbs_are_alike():
    """The image of each arm of a symmetric figure lies inside the figure, but for a cell here and
    there, however the two arms were cut from the trunk."""
    solid, left, right = body()
    assert mirrored_share(solid, left, right) > 0.97
    assert mirrored_share(solid, left[left[:, 0] > 0.2], right) > 0.97


def test_limbs_in_different_poses_are_not_alike():
    """An arm whose end hangs lower by a twentieth of the height, or that is longer by a tenth, is
    no mirror image of the other, whichever side it is on."""
    for changes in ({"left_drop": 0.05}, {"right_drop": 0.05}, {"right_more": 0.1}):
        solid, left, right = body(**changes)
        assert mirrored_share(solid, left, right) < 0.95, changes


def test_a_missing_limb_is_like_nothing():
    """Without cells on a side nothing is shared."""
    solid, left, right = body()
    none = np.zeros((0, 3))
    assert mirrored_share(solid, left, none) == 0.0
    assert mirrored_share(solid, none, right) == 0.0


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
