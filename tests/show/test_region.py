from __future__ import annotations

import numpy as np
import trimesh

from autoplace.show.region import connected, within
from autoplace.show.shade import Surface

NONE = np.zeros((0, 3))


def surface_of(*meshes):
    whole = trimesh.util.concatenate(meshes)
    return Surface.of(np.asarray(whole.vertices), np.asarray(whole.faces, dtype=np.int64))


def rod(x, radius, length=2.0):
    """An upright rod about (x, 0, 0)."""
    mesh = trimesh.creation.capsule(height=length, radius=radius, count=[24, 24])
    mesh.apply_transform(trimesh.geometry.align_vectors([0, 0, 1], [0, 1, 0]))
    mesh.apply_translation([x, 0, 0] - mesh.bounds.mean(axis=0) * [0, 1, 0])
    return mesh.subdivide_to_size(0.06)


def test_a_neighbour_that_is_not_connected_is_left_out():
    """The thigh beside a hanging hand is near, but does not hang together with the hand."""
    hand, thigh = rod(0.0, 0.05), rod(0.16, 0.09)
    points = np.array([[0.0, y, 0.0] for y in np.linspace(-0.2, 0.2, 5)])
    both = surface_of(hand, thigh)
    assert within(both, points, 0.3).middles[:, 0].max() > 0.1
    alone = connected(both, points, 0.3, NONE)
    assert alone.middles[:, 0].max() < 0.05
    assert len(alone.faces) == len(connected(surface_of(hand), points, 0.3, NONE).faces)


def test_a_small_piece_on_the_hand_is_kept_unless_it_is_a_rival():
    """A whole nail near the points is kept; the same beside a rival joint is not."""
    hand = rod(0.0, 0.05)
    nail = trimesh.creation.icosphere(radius=0.01)
    nail.apply_translation([0.065, 0.05, 0.0])
    points = np.array([[0.0, 0.0, 0.0], [0.0, 0.1, 0.0]])
    both = surface_of(hand, nail)
    kept = connected(both, points, 0.3, NONE)
    assert kept.middles[:, 0].max() > 0.06
    rival = connected(both, points, 0.3, np.array([[0.08, 0.05, 0.0]]))
    assert rival.middles[:, 0].max() < 0.05


def test_seams_do_not_part_a_region():
    """Triangles that only share places, not vertices, still hang together."""
    hand = rod(0.0, 0.05)
    loose = Surface.of(
        np.asarray(hand.triangles).reshape(-1, 3),
        np.arange(3 * len(hand.faces)).reshape(-1, 3),
    )
    points = np.array([[0.0, 0.0, 0.0]])
    welded = connected(surface_of(hand), points, 0.3, NONE)
    assert len(connected(loose, points, 0.3, NONE).faces) == len(welded.faces)


def test_an_empty_surface_gives_an_empty_region():
    """No faces, no error."""
    nothing = Surface.of(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64))
    assert len(connected(nothing, np.zeros((1, 3)), 1.0, NONE).faces) == 0
    assert len(within(nothing, np.zeros((1, 3)), 1.0).faces) == 0
