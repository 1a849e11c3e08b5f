"""Arms that the mesh models as pieces are taken before what else branches off."""

from __future__ import annotations

import numpy as np

from autoplace.measure.arm_gap import find_piece_arms
from autoplace.measure.limbs import find_limbs
from autoplace.measure.piece_arms import limbs_with_pieces, with_piece_arms
from autoplace.measure.solid import fill_solid
from tests.measure.blocks import CELL, block_meshes
from tests.mesh.capsule_figures import box, capsule, joined

SIDES = {"left": 1.0, "right": -1.0}


def plated(reach: float):
    """A figure with hanging arms under blocks on its shoulders that reach so far aside: its solid
    and pieces."""
    meshes = block_meshes(arm_ends={})
    for sign in SIDES.values():
        x = sorted((sign * 0.02, sign * reach))
        meshes.append(box((x[0], 0.70, -0.07), (x[1], 0.82, 0.07)))
        shoulder, hand = np.array([sign * 0.13, 0.76, 0.0]), np.array([sign * 0.2, 0.42, 0.0])
        meshes.append(capsule(shoulder, hand, 0.03, 0.025))
    vertices, faces = joined(*meshes)
    return fill_solid(vertices, faces, CELL), [v[f] for v, f in meshes]


def test_an_arm_under_a_plate_is_told_from_the_plate():
    """Though a plate on the shoulder stands out beside it, the arm is what ends in the hand."""
    for reach in (0.2, 0.3):
        solid, pieces = plated(reach)
        _, limbs = limbs_with_pieces(solid, find_piece_arms(solid, pieces))
        for side in SIDES:
            assert limbs.one("arm", side).line[-1, 1] < 0.45


def test_a_piece_is_the_arm_where_no_branch_is():
    """Of a body whose arms were not told, the pieces are taken, from shoulder to hand."""
    solid, pieces = plated(0.2)
    bare = find_limbs(solid)
    without = type(bare)(tuple(limb for limb in bare.limbs if limb.kind != "arm"), bare.seed)
    limbs = with_piece_arms(without, solid, find_piece_arms(solid, pieces))
    for side, sign in SIDES.items():
        found = limbs.one("arm", side)
        assert found.line[0, 1] > 0.65
        assert np.linalg.norm(found.line[-1] - [sign * 0.2, 0.4, 0.0]) < 0.04
        assert len(found.line) == len(found.radius)


def test_an_arm_that_was_told_as_a_piece_is_noted():
    """Arms sunk into the trunk are noted by side; arms that hang clear are not."""
    for aside, noted in ((0.12, True), (0.30, False)):
        meshes = block_meshes(arm_ends={})
        for sign in SIDES.values():
            shoulder, hand = np.array([sign * 0.1, 0.78, 0.0]), np.array([sign * aside, 0.42, 0.0])
            meshes.append(capsule(shoulder, hand, 0.03, 0.03))
        vertices, faces = joined(*meshes)
        solid = fill_solid(vertices, faces, CELL)
        _, limbs = limbs_with_pieces(solid, find_piece_arms(solid, [v[f] for v, f in meshes]))
        assert [("left arm" in n, "right arm" in n) for n in limbs.notes] == (
            [(True, False), (False, True)] if noted else []
        )
