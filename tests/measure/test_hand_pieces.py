"""What a hand wears or holds is left out."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.hand_pieces import without_worn
from tests.tubes import tube


def test_a_thing_held_is_told_however_finely_it_is_cut():
    """A rod across a hand is left out also where it has more faces than the hand."""
    hand, hand_faces = tube(np.array([0.0, -0.6, 0.0]), np.array([0.0, 0.9, 0.0]), 0.2)
    rod, rod_faces = tube(
        np.array([-0.7, 0.6, 0.35]), np.array([0.7, 0.6, 0.35]), 0.04, rings=40, sides=24
    )
    assert len(rod_faces) > len(hand_faces)
    vertices = np.concatenate([hand, rod])
    faces = np.concatenate([hand_faces, rod_faces + len(hand)])
    kept = without_worn(vertices, faces, np.zeros(3), np.array([0.0, 1.0, 0.0]), 1.0)
    assert np.array_equal(kept, hand_faces)


@pytest.mark.parametrize("raised", [False, True])
def test_a_hand_with_a_hole_is_no_ring(raised):
    """A hand that is a part of its own, with two fingers grown together at their ends, stays, be
    the arm beside it larger and cut more coarsely, or the head that it is raised to cut finer."""
    arm, arm_faces = tube(np.array([0.0, -1.4, 0.0]), np.array([0.0, 0.0, 0.0]), 0.2)
    turns = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    middle = np.stack([0.25 * np.cos(turns), 0.4 + 0.3 * np.sin(turns), 0.0 * turns], axis=1)
    out = middle - [0.0, 0.4, 0.0]
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    around = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)[:, None]
    ring = np.cos(around) * out[:, None] + np.sin(around) * np.array([0.0, 0.0, 1.0])
    hand = middle[:, None] + 0.08 * ring
    k, n = np.meshgrid(np.arange(24), np.arange(12), indexing="ij")
    a, b = 12 * k + n, 12 * ((k + 1) % 24) + n
    c, d = 12 * ((k + 1) % 24) + (n + 1) % 12, 12 * k + (n + 1) % 12
    hand_faces = np.concatenate([np.stack([a, b, c], -1), np.stack([a, c, d], -1)]).reshape(-1, 3)
    assert len(hand_faces) > len(arm_faces)
    vertices = np.concatenate([arm, hand.reshape(-1, 3)])
    faces = np.concatenate([arm_faces, hand_faces + len(arm)])
    if raised:
        head, head_faces = tube(
            np.array([0.9, 0.0, 0.0]), np.array([0.9, 0.9, 0.0]), 0.4, rings=40, sides=24
        )
        faces = np.concatenate([faces, head_faces + len(vertices)])
        vertices = np.concatenate([vertices, head])
    kept = without_worn(vertices, faces, np.zeros(3), np.array([0.0, 1.0, 0.0]), 0.8)
    assert len(kept) == len(faces)
