"""Joints moved to where the pieces of a finger meet."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.finger_pieces import PieceJoint
from autoplace.place.piece_joints import at_pieces
from autoplace.place.placed_point import placed

HINGE = np.array([1.0, 0.0, 0.0])


def finger(*ends: float):
    """A straight finger along y with joints at these places."""
    return [placed([("finger_share", np.array([0.0, y, 0.0]), 0.1, "")]) for y in ends]


def meeting(y: float, x: float = 0.0) -> PieceJoint:
    return PieceJoint(np.array([x, y, 0.0]), 0.01)


def places(points) -> list[float]:
    return [float(point.position[1]) for point in points]


def test_three_meetings_are_the_three_joints():
    """Each joint moves to its own, the end stays; weights of the evidence still sum to one."""
    found = at_pieces(finger(0.0, 0.4, 0.7, 1.0), HINGE, [meeting(y) for y in (0.1, 0.5, 0.8)])
    assert places(found) == pytest.approx([0.1, 0.5, 0.8, 1.0])
    for point in found:
        assert sum(row.weight for row in point.evidence) == pytest.approx(1.0)


def test_a_knuckle_behind_its_joint_is_met_too():
    """The first meeting may lie nearer to the wrist than the first joint was put."""
    found = at_pieces(finger(0.0, 0.4, 0.7, 1.0), HINGE, [meeting(y) for y in (-0.15, 0.42, 0.72)])
    assert places(found) == pytest.approx([-0.15, 0.42, 0.72, 1.0])


def test_both_sides_of_a_ball_are_one_joint():
    """Shell, ball and shell meet twice in one joint: it lies between."""
    meetings = [meeting(0.0), meeting(0.42), meeting(0.50)]
    found = at_pieces(finger(0.0, 0.4, 0.7, 1.0), HINGE, meetings)
    assert places(found) == pytest.approx([0.0, 0.46, 0.7, 1.0])


def test_a_finger_of_one_piece_keeps_its_joints():
    """Where it is stuck into the palm says nothing of where it bends."""
    chain = finger(0.0, 0.4, 0.7, 1.0)
    assert at_pieces(chain, HINGE, [meeting(0.2)]) == chain


def test_two_pieces_leave_the_third_joint():
    """With two meetings the joints nearest to them move."""
    found = at_pieces(finger(0.0, 0.4, 0.7, 1.0), HINGE, [meeting(0.05), meeting(0.66)])
    assert places(found) == pytest.approx([0.05, 0.4, 0.66, 1.0])


def test_what_meets_beside_the_finger_is_another_finger():
    """A meeting a finger's breadth away, or far along, moves nothing."""
    chain = finger(0.0, 0.4, 0.7, 1.0)
    beside = [meeting(0.4, x=0.3), meeting(0.7, x=0.3)]
    assert at_pieces(chain, HINGE, beside) == chain
    assert at_pieces(chain, HINGE, []) == chain


def test_joints_stay_in_the_bend_plane():
    """Only as far aside as the finger's own plane."""
    meetings = [meeting(0.0), meeting(0.45, x=0.05)]
    found = at_pieces(finger(0.0, 0.4, 0.7, 1.0), HINGE, meetings)
    assert found[1].position == pytest.approx([0.0, 0.45, 0.0])
