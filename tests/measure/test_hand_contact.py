"""A hand that touches the thigh is parted from it by what the body's own cells say."""

from __future__ import annotations

import numpy as np

from autoplace.measure.hand_contact import ArmCells, arm_and_rest, within_arm
from autoplace.measure.hand_shape import HandAtWrist, HandShape
from autoplace.measure.solid import Solid
from tests.figures_hand import NAMES, HandPlan, build_hand
from tests.mesh.capsule_figures import box, joined

PLAN = HandPlan()
CELL = 1 / 150
"""The body's grid in the pipeline."""


def touching_thigh():
    """A hand whose palm lies on a block as long and broad as a thigh, and the block's corners."""
    hand = build_hand(PLAN)
    inside = np.linalg.solve(
        np.stack([hand.palm, np.cross(hand.palm, hand.forearm), hand.forearm], axis=1),
        (hand.vertices - hand.wrist).T,
    ).T
    own = np.stack([hand.palm, np.cross(hand.palm, hand.forearm), hand.forearm], axis=1)
    depth = float(np.percentile(inside[:, 0], 97))
    corners, triangles = box((depth, -0.1, -0.15), (depth + 0.1, 0.1, 0.25))
    block = corners @ own.T + hand.wrist
    faces = triangles if np.linalg.det(own) > 0 else triangles[:, ::-1]
    return hand, joined((hand.vertices, hand.faces), (block, faces)), (own, depth)


def cells_of(hand, own, depth) -> ArmCells:
    """What the body's cells say: the block's are the rest, the hand's the arm."""
    steps = np.arange(-0.14, 0.24, CELL)
    across = np.arange(-0.09, 0.09, CELL)
    thick = np.arange(depth + CELL, depth + 0.09, CELL)
    rest = np.stack(np.meshgrid(thick, across, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    return ArmCells(hand.vertices[::3], rest @ own.T + hand.wrist, CELL)


def measured(body: ArmCells | None, hand, mesh):
    return HandAtWrist(*mesh, hand.wrist, hand.forearm, PLAN.length, PLAN.side, body=body).measure()


def test_fingers_are_the_hand_s_and_not_the_thigh_s():
    """With the body's cells given, five fingers end where the hand's do; without, they do not."""
    hand, mesh, block = touching_thigh()
    shape = measured(cells_of(hand, *block), hand, mesh)
    assert isinstance(shape, HandShape), str(shape)
    assert tuple(shape.fingers) == NAMES[5]
    for name, line in shape.fingers.items():
        assert np.linalg.norm(line.tip - hand.joints[name][3]) < 0.1 * PLAN.length, name
    blind = measured(None, hand, mesh)
    assert not isinstance(blind, HandShape) or any(
        np.linalg.norm(line.tip - hand.joints[name][3]) > 0.3 * PLAN.length
        for name, line in blind.fingers.items()
    )


def test_what_is_merely_near_takes_nothing_away():
    """A thigh beside the hand leaves all of the hand's places, though some are nearer to it."""
    hand_places = np.stack([np.linspace(0, 0.1, 50), np.zeros(50), np.zeros(50)], axis=1)
    body = ArmCells(hand_places[:20], hand_places + np.array([0.0, 0.0, 2.0 * CELL]), CELL)
    assert within_arm(hand_places, np.ones(50, dtype=bool), body).all()


def test_arm_and_rest_share_out_the_body():
    """Every cell of the body is either the arm's or of the rest."""
    coverage = np.zeros((6, 4, 4), dtype=np.float32)
    coverage[1:5, 1:3, 1:3] = 1.0
    solid = Solid(coverage, np.zeros(3), 0.5)
    arm = solid.to_points(np.argwhere(solid.inside)[:6])
    body = arm_and_rest(solid, arm)
    assert len(body.arm) + len(body.rest) == solid.inside.sum()
    assert not {*map(tuple, body.arm)} & {*map(tuple, body.rest)}
