"""The branches of a body, as placing and the review page both see them."""

from __future__ import annotations

import numpy as np

from autoplace.measure.body_limbs import CELL, fill_body, find_body_limbs
from tests.measure.blocks import TRUNK_HALF_WIDTH, block_meshes
from tests.mesh.capsule_figures import capsule, joined

THICK = 0.03
SIDES = {"left": 1.0, "right": -1.0}


def test_arms_that_are_pieces_are_found_against_the_trunk():
    """Arms that hang with a third of their thickness in the trunk are branches where it is known
    that they are pieces, and their ends lie within two cells; without that no arm stands out."""
    x = TRUNK_HALF_WIDTH - 0.01 + THICK
    tops = {side: np.array([sign * x, 0.76, 0.0]) for side, sign in SIDES.items()}
    ends = {side: top - np.array([0.0, 0.36, 0.0]) for side, top in tops.items()}
    tubes = [capsule(tops[side], ends[side], THICK, THICK) for side in SIDES]
    meshes = [*block_meshes(arm_ends={}), *tubes]
    solid = fill_body(*joined(*meshes))
    _, bare = find_body_limbs(solid, ())
    _, limbs = find_body_limbs(solid, [vertices[faces] for vertices, faces in meshes])
    for side in SIDES:
        assert bare.one("arm", side) is None
        end = ends[side] - np.array([0.0, THICK, 0.0])
        arm = limbs.one("arm", side)
        assert np.linalg.norm(arm.cells - end, axis=1).min() < 2.0 * CELL
