"""What a hand wears or holds is left out."""

from __future__ import annotations

import numpy as np

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
