"""Joints moved to where the pieces of a finger meet."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.place.piece_joints import at_pieces
from autoplace.place.placed_point import placed

HINGE = np.array([1.0, 0.0, 0.0])


def finger(*ends: float):
    """A straight finger along y with joints at these places."""
    return [placed([("finger_share", np.array([0.0, y, 0.0]), 0.1, "")]) for y in ends]


def meeting(y: float, x: float = 0.0) -> np.ndarray:
    return np.array([x, y, 0.0])


def moved(chain, meetings):
    """One finger's points with the joints where pieces meet."""
    return at_pieces({"index": (chain, HINGE)}, meetings)["index"][0]


def places(points) -> list[float]:
    return [float(point.position[1]) for point in points]


def test_three_meetings_are_the_three_joints():
    """Each joint moves to its own, the end stays; weights of the evidence still sum to one."""
    found = moved(finger(0.0, 0.4, 0.7, 1.0), [meeting(y) for y in (0.1, 0.5, 0.8)])
    assert places(found) == pytest.approx([0.1, 0.5, 0.8, 1.0])
    for point in found:
        assert sum(row.weight for row in point.evidence) == pytest.approx(1.0)


def test_a_knuckle_behind_its_joint_is_met_too():
    """The first meeting may lie nearer to the wrist than the first joint was put."""
    found = moved(finger(0.0, 0.4, 0.7, 1.0), [meeting(y) for y in (-0.15, 0.42, 0.72)])
    assert places(found) == pytest.approx([-0.15, 0.42, 0.72, 1.0])


def test_both_sides_of_a_ball_are_one_joint():
    """Shell, ball and shell meet twice in one joint: it lies between."""
    meetings = [meeting(0.0), meeting(0.42), meeting(0.50)]
    found = moved(finger(0.0, 0.4, 0.7, 1.0), meetings)
    assert places(found) == pytest.approx([0.0, 0.46, 0.7, 1.0])


def test_a_finger_of_one_piece_keeps_its_joints():
    """Where it is stuck into the palm says nothing of where it bends."""
    chain = finger(0.0, 0.4, 0.7, 1.0)
    assert moved(chain, [meeting(0.2)]) == chain


def test_two_pieces_leave_the_third_joint():
    """With two meetings the joints nearest to them move."""
    found = moved(finger(0.0, 0.4, 0.7, 1.0), [meeting(0.05), meeting(0.66)])
    assert places(found) == pytest.approx([0.05, 0.4, 0.66, 1.0])


def test_what_meets_beside_the_finger_is_another_finger():
    """A meeting half a finger away moves nothing."""
    chain = finger(0.0, 0.4, 0.7, 1.0)
    beside = [meeting(0.4, x=0.5), meeting(0.7, x=0.5)]
    assert moved(chain, beside) == chain
    assert moved(chain, []) == chain


def test_a_meeting_belongs_to_the_nearest_finger():
    """Of two fingers side by side each takes its own, though both would be near enough."""
    chain = finger(0.0, 0.4, 0.7, 1.0)
    aside = np.array([0.0, 0.0, 0.3])
    other = [placed([("finger_share", point.position + aside, 0.1, "")]) for point in chain]
    spots = [(0.1, 0.1), (0.5, 0.1), (-0.1, 0.2), (0.3, 0.2)]
    meetings = [np.array([0.0, y, z]) for y, z in spots]
    found = at_pieces({"index": (chain, HINGE), "middle": (other, HINGE)}, meetings)
    assert places(found["index"][0]) == pytest.approx([0.1, 0.5, 0.7, 1.0])
    assert places(found["middle"][0]) == pytest.approx([-0.1, 0.3, 0.7, 1.0])


def test_joints_stay_in_the_bend_plane():
    """Only as far aside as the finger's own plane."""
    meetings = [meeting(0.0), meeting(0.45, x=0.05)]
    found = moved(finger(0.0, 0.4, 0.7, 1.0), meetings)
    assert found[1].position == pytest.approx([0.0, 0.45, 0.0])
