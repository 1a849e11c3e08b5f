"""Fingers of rigid pieces: what continues what, and where they meet."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.finger_pieces import bridge_pieces
from autoplace.measure.hand_shape import HandAtWrist, HandShape
from autoplace.place.hands import place_hand
from tests.measure.jointed_hand import bar, jointed_hand
from tests.mesh.capsule_figures import joined, sphere

WRIST, FOREARM = np.zeros(3), np.array([0.0, 1.0, 0.0])
FOUR, THREE = ("index", "middle", "ring", "pinky"), ("index", "middle", "pinky")
MOST_OFF = 0.03
"""Share of the hand: the median that hands are to have (own target)."""


@pytest.mark.parametrize("names", [FOUR, THREE])
@pytest.mark.parametrize("gap", [0.0, 0.01, 0.03, 0.08])
def test_joints_are_where_the_pieces_meet(gap, names):
    """All fingers are found however wide the gaps, and each joint lies in the middle of its gap."""
    mesh, joints = jointed_hand(gap, names)
    shape = HandAtWrist(*mesh, WRIST, FOREARM, 1.0, "left").measure()
    assert isinstance(shape, HandShape)
    found = place_hand(shape)
    assert list(found.chains) == ["thumb", *names]
    for name in names:
        for joint, (point, known) in enumerate(zip(found.chains[name], joints[name], strict=True)):
            # a knuckle's gap is the more beside it the wider it is
            most = MOST_OFF + (0.5 * gap if joint == 0 else 0.0)
            assert np.linalg.norm(point.position - known) < most, f"{name} {joint}"
        kinds = [point.evidence[0].kind for point in found.chains[name][:3]]
        assert kinds == ["piece_gap"] * 3


def test_forearm_and_palm_meet_in_no_finger():
    """Where the palm hangs from the forearm is the wrist, not the thumb's base."""
    mesh, _ = jointed_hand(0.03, FOUR)
    _, _, joints = bridge_pieces(*mesh, WRIST, FOREARM, 1.0)
    assert min(np.linalg.norm(joint) for joint in joints) > 0.1
    assert len(joints) == 3 * 5


def test_a_hand_of_one_piece_is_left_alone():
    """No piece, no bridge: the very same arrays."""
    vertices, faces = bar(-0.9 * FOREARM, 0.9 * FOREARM, 0.2, 0.2, np.array([1.0, 0.0, 0.0]))
    again, same, joints = bridge_pieces(vertices, faces, WRIST, FOREARM, 1.0)
    assert again is vertices
    assert same is faces
    assert joints == ()


def test_a_nail_over_a_finger_is_no_joint():
    """What lies on a finger that goes on beneath it continues nothing."""
    right = np.array([1.0, 0.0, 0.0])
    finger = bar(-0.9 * FOREARM, 0.9 * FOREARM, 0.05, 0.1, right)
    nail = bar(np.array([0.0, 0.8, 0.05]), np.array([0.0, 0.92, 0.05]), 0.04, 0.01, right)
    _, _, joints = bridge_pieces(*joined(finger, nail), WRIST, FOREARM, 1.0)
    assert joints == ()


def test_crumbs_of_a_mesh_that_falls_apart_tell_nothing():
    """A hundred balls are no hand of pieces."""
    spots = [np.array([0.05 * i, 0.2 + 0.05 * j, 0.0]) for i in range(10) for j in range(10)]
    mesh = joined(*(sphere(spot, 0.03) for spot in spots))
    assert bridge_pieces(*mesh, WRIST, FOREARM, 1.0)[2] == ()
