from __future__ import annotations

import numpy as np
import pytest
import trimesh

from autoplace.show.shade import OVERSAMPLE, Surface, multiply, wash

FRONT = np.eye(3)


def ball(radius, centre=(0.0, 0.0, 0.0)):
    mesh = trimesh.creation.icosphere(subdivisions=4, radius=radius)
    mesh.apply_translation(centre)
    return Surface.of(np.asarray(mesh.vertices), np.asarray(mesh.faces, dtype=np.int64))


def ink(picture):
    return 255.0 - picture.astype(float).mean(axis=2)


def test_normals_of_a_ball_point_outward():
    """Area-weighted normals of a fine ball agree with its radii."""
    surface = ball(0.5)
    assert (surface.normals * surface.vertices * 2).sum(axis=1).min() > 0.999


def test_the_washed_area_is_the_balls_disc():
    """Pixels with ink agree with the disc, half pixels at the rim included."""
    picture = wash(((ball(0.4), "body"),), FRONT, np.zeros(2), 200.0, 220, 220)
    assert (ink(picture) > 0).sum() == pytest.approx(np.pi * 80**2, rel=0.02)


def test_flesh_behind_makes_the_wash_deeper():
    """A ball as thick as a limb behind another can be told through the front one."""
    front = ball(0.05, (0, 0, 0.5))
    alone = wash(((front, "body"),), FRONT, np.zeros(2), 200.0, 60, 60)
    behind = trimesh.util.concatenate(
        [
            trimesh.creation.icosphere(subdivisions=4, radius=0.05).apply_translation([0, 0, z])
            for z in (0.5, 0.0)
        ]
    )
    both = Surface.of(np.asarray(behind.vertices), np.asarray(behind.faces, dtype=np.int64))
    through = wash(((both, "body"),), FRONT, np.zeros(2), 200.0, 60, 60)
    assert ink(through)[30, 30] > ink(alone)[30, 30] + 5


def test_garments_are_fainter_than_skin():
    """The same shape takes less ink as a veil than as a body."""
    shapes = [wash(((ball(0.1), k),), FRONT, np.zeros(2), 200.0, 60, 60) for k in ("body", "veil")]
    assert ink(shapes[1])[20:40, 20:40].mean() < 0.6 * ink(shapes[0])[20:40, 20:40].mean()


def test_an_eyeball_is_seen_inside_the_head():
    """An eyeball under the skin lightens what covers it and has a line of its own."""
    head = (ball(0.2), "body")
    plain = wash((head,), FRONT, np.zeros(2), 200.0, 100, 100)
    marked = wash((head, (ball(0.04), "eye")), FRONT, np.zeros(2), 200.0, 100, 100)
    assert ink(marked)[50, 50] < ink(plain)[50, 50] - 20
    changed = np.argwhere(np.abs(ink(marked) - ink(plain)) > 1)
    assert np.ptp(changed, axis=0) == pytest.approx([16, 16], abs=1.1)


def test_a_mesh_turned_inside_out_is_still_lit():
    """Winding does not decide whether a surface is seen: brightness stays about the same."""
    right = ball(0.2)
    wrong = Surface.of(right.vertices, right.faces[:, ::-1])
    pictures = [wash(((s, "body"),), FRONT, np.zeros(2), 200.0, 100, 100) for s in (right, wrong)]
    covered = [(ink(p) > 0).sum() for p in pictures]
    assert covered[0] == covered[1]
    assert ink(pictures[1])[50, 50] > 15


def test_the_edge_is_smooth():
    """Oversampling leaves pixels between paper and full ink along a slanted edge."""
    assert OVERSAMPLE >= 2
    picture = ink(wash(((ball(0.2), "body"),), FRONT, np.zeros(2), 200.0, 100, 100))
    row = picture[22]
    rim = row[np.flatnonzero(row > 0)[0] - 1 : np.flatnonzero(row > 0)[0] + 3]
    assert len(set(np.round(rim))) >= 3


def test_multiplying_leaves_paper_under_white():
    """White parts of the picture do not change the page; a corner off the page is cut."""
    page = np.full((10, 10, 3), 200, dtype=np.uint8)
    picture = np.full((6, 6, 3), 255, dtype=np.uint8)
    picture[0, 0] = 0
    multiply(page, 7, 7, picture)
    assert page[7, 7, 0] == 0
    assert (page[8:, 8:] == 200).all()
