"""Arms that are pieces of their own are parted from the trunk that they hang beside."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from autoplace.measure.arm_gap import arm_alone, find_piece_arms, pieces_of_arms, with_arm_gaps
from autoplace.measure.limbs import find_limbs
from autoplace.measure.piece_arms import limbs_with_pieces
from autoplace.measure.solid import fill_solid
from tests.measure.blocks import CELL, TRUNK_HALF_WIDTH, block_meshes
from tests.mesh.capsule_figures import box, capsule, joined

TOP, END = 0.76, 0.40
"""Heights between which the arms hang."""
THICK = 0.03
SIDES = {"left": 1.0, "right": -1.0}


def body(gap: float, extra: tuple = (), bent: bool = False):
    """The solid and the pieces of the block figure whose arms hang `gap` beside its trunk, or are
    sunk into it where that is negative; bent, with the left hand on the hip."""
    x = TRUNK_HALF_WIDTH + gap + THICK
    meshes = [*block_meshes(arm_ends={}), *extra]
    for side, sign in SIDES.items():
        line = [np.array([sign * x, TOP, 0.0]), np.array([sign * x, END, 0.0])]
        if bent and side == "left":
            line = [line[0], np.array([x + 0.1, 0.62, 0.0]), np.array([x - 0.02, 0.5, 0.0])]
        tubes = [capsule(a, b, THICK, THICK) for a, b in pairwise(line)]
        meshes.append(joined(*tubes))
    vertices, faces = joined(*meshes)
    return fill_solid(vertices, faces, CELL), [v[f] for v, f in meshes]


def arm(limbs, side: str):
    """The arm of one side, and how long its line is, straight."""
    found = limbs.one("arm", side)
    return found, 0.0 if found is None else float(np.linalg.norm(found.line[-1] - found.line[0]))


@pytest.mark.parametrize("gap", [-0.02, -0.01, 0.0, 0.005])
def test_an_arm_against_the_trunk_is_a_limb_from_its_shoulder(gap):
    """Sunk into the trunk by a third of its thickness, touching it, or less than a cell away: the
    arm is found from its upper half to its end, which lies within two cells."""
    solid, pieces = body(gap)
    _, limbs = limbs_with_pieces(solid, find_piece_arms(solid, pieces))
    for side, sign in SIDES.items():
        found, _ = arm(limbs, side)
        end = np.array([sign * (TRUNK_HALF_WIDTH + gap + THICK), END - THICK, 0.0])
        assert found.line[0, 1] > 0.5 * (TOP + END)
        assert np.linalg.norm(found.cells - end, axis=1).min() < 2.0 * CELL


@pytest.mark.parametrize("gap", [0.015, 0.03])
def test_an_arm_beside_the_trunk_in_air_hangs_by_its_upper_end(gap):
    """What nothing joins to the trunk is joined at its top and nowhere else."""
    solid, pieces = body(gap)
    arms = find_piece_arms(solid, pieces)
    joined_cells = solid.to_points(np.concatenate([one.joined for one in arms]))
    assert joined_cells[:, 1].min() > TOP - 0.4 * (TOP - END)
    _, limbs = limbs_with_pieces(solid, arms)
    for side in SIDES:
        assert arm(limbs, side)[0].line[0, 1] > 0.5 * (TOP + END)


def test_a_hand_on_the_hip_is_the_end_of_its_arm():
    """An arm that is joined to the trunk at both ends goes from the shoulder to the hand."""
    solid, pieces = body(-0.01, bent=True)
    _, limbs = limbs_with_pieces(solid, find_piece_arms(solid, pieces))
    found, _ = arm(limbs, "left")
    assert found.line[0, 1] > 0.64
    assert np.linalg.norm(found.line[-1] - [TRUNK_HALF_WIDTH, 0.5, 0.0]) < 0.05


def test_arms_that_stand_off_leave_the_body_as_it_is():
    """Level arms that are pieces are the branches they were, and no cell changes."""
    meshes = block_meshes()
    vertices, faces = joined(*meshes)
    solid = fill_solid(vertices, faces, CELL)
    after, limbs = limbs_with_pieces(solid, find_piece_arms(solid, [v[f] for v, f in meshes]))
    assert after is solid
    before = find_limbs(solid)
    assert [(x.kind, x.side) for x in limbs.limbs] == [(x.kind, x.side) for x in before.limbs]


def test_straps_beside_level_arms_are_no_arms():
    """Two straps down the chest of a figure whose arms are longer change nothing."""
    straps = [box((x - 0.015, 0.5, 0.055), (x + 0.015, 0.78, 0.075)) for x in (0.06, -0.06)]
    meshes = [*block_meshes(), *straps]
    vertices, faces = joined(*meshes)
    solid = fill_solid(vertices, faces, CELL)
    pieces = [v[f] for v, f in meshes]
    after, limbs = limbs_with_pieces(solid, find_piece_arms(solid, pieces))
    assert after is solid
    for side, sign in SIDES.items():
        assert sign * arm(limbs, side)[0].line[-1, 0] > 0.4


def test_one_arm_alone_is_left():
    """A piece on one side only may be anything that hangs there."""
    solid, pieces = body(-0.01)
    assert find_piece_arms(solid, pieces[:-1]) == ()


def test_only_cells_beside_the_arm_change():
    """Opened are cells of the trunk that touch the arm, by no more than makes them just empty."""
    solid, pieces = body(-0.01)
    after = with_arm_gaps(solid, find_piece_arms(solid, pieces))
    changed = after.coverage != solid.coverage
    at = solid.to_points(np.argwhere(changed))
    inner = TRUNK_HALF_WIDTH - 0.01
    assert len(at)
    assert np.abs(at[:, 0]).min() > inner - 2.0 * CELL
    assert at[:, 1].max() < TOP
    assert after.coverage[changed].min() > 0.4


def links(*, beside_thighs: bool):
    """A robot whose arms are links too short to be arms each, hanging close to its trunk."""
    meshes = [
        box((-0.06, 0.24, -0.05), (0.06, 0.45, 0.05)),
        box((-0.2, 0.47, -0.2), (0.2, 1.0, 0.2)),
        box((-0.02, 0.44, -0.02), (0.02, 0.48, 0.02)),
    ]
    for sign in (1.0, -1.0):
        for low, high, middle in ((0.37, 0.44, 0.095), (0.30, 0.36, 0.098), (0.22, 0.29, 0.1)):
            x = sorted((sign * (middle - 0.028), sign * (middle + 0.028)))
            meshes.append(box((x[0], low, -0.03), (x[1], high, 0.03)))
        top = 0.21 if beside_thighs else 0.26
        x = sorted((sign * 0.012, sign * 0.06))
        meshes.append(box((x[0], 0.0, -0.03), (x[1], top, 0.03)))
    vertices, faces = joined(*meshes)
    return fill_solid(vertices, faces, CELL), [v[f] for v, f in meshes]


@pytest.mark.parametrize("beside_thighs", [True, False])
def test_short_links_under_one_another_are_an_arm(beside_thighs):
    """Three links of .07 of the height make an arm of each side; a thigh is no link of it."""
    solid, pieces = links(beside_thighs=beside_thighs)
    found = find_piece_arms(solid, pieces)
    assert sorted(piece.side for piece in found) == ["left", "right"]
    for piece in found:
        height = solid.to_points(np.argwhere(piece.cells))[:, 1]
        assert height.min() == pytest.approx(0.22, abs=2 * CELL)
        assert height.max() == pytest.approx(0.44, abs=2 * CELL)


def test_beyond_its_shoulder_an_arm_can_be_looked_at_alone():
    """About the shoulder the body's cells stay; near the hand, which is sunk into the trunk, there
    is only the arm, of the radius that it was made with."""
    solid, pieces = body(-0.02)
    top = np.array([TRUNK_HALF_WIDTH - 0.02 + THICK, TOP, 0.0])
    alone = arm_alone(solid, pieces[-2], top)
    near = np.linalg.norm(solid.to_points(np.argwhere(solid.inside)) - top, axis=1) < 0.1
    kept = alone.inside[tuple(np.argwhere(solid.inside)[near].T)]
    assert kept.all()
    points = alone.to_points(np.argwhere(alone.inside))
    low = points[points[:, 1] < 0.5 * (TOP + END)]
    axis = np.linalg.norm(low[:, [0, 2]] - top[[0, 2]], axis=1)
    assert len(low)
    assert axis.max() < THICK + CELL


def test_known_arms_need_neither_be_slender_nor_level():
    """What is known to be the arms is not judged; what fills no cells is none."""
    solid, pieces = body(-0.01)
    arms = {"left": pieces[-2], "right": pieces[-1] - np.array([0.0, 0.15, 0.0])}
    assert {one.side for one in pieces_of_arms(solid, arms)} == {"left", "right"}
    assert not find_piece_arms(solid, list(arms.values()))
    specks = {side: 1e-3 * corners for side, corners in arms.items()}
    assert pieces_of_arms(solid, specks) == ()
