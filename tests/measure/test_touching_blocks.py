"""Blocks that touch face to face, corner on corner, are pieces of their own."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.body_limbs import fill_body, find_body_limbs
from autoplace.measure.touching_blocks import parted_at_shared_edges
from tests.mesh.capsule_figures import box, capsule, joined

SIDES = {"left": 1.0, "right": -1.0}
TRUNK = box((-0.12, 0.40, -0.06), (0.12, 0.75, 0.06))


def arm(sign: float, bottom: float):
    """An arm of a block figure: its inner face lies on the trunk's side, from the top down."""
    inner, outer = sorted((0.12 * sign, 0.24 * sign))
    return box((inner, bottom, -0.06), (outer, 0.75, 0.06))


def corners(*meshes):
    vertices, faces = joined(*meshes)
    return vertices[faces]


def block_figure(bottom: float):
    legs = [
        box((min(0.0, 0.12 * s), 0.0, -0.06), (max(0.0, 0.12 * s), 0.40, 0.06))
        for s in SIDES.values()
    ]
    head = box((-0.12, 0.75, -0.12), (0.12, 1.0, 0.12))
    return [TRUNK, *(arm(sign, bottom) for sign in SIDES.values()), *legs, head]


def test_arms_whose_corners_are_the_trunk_s_are_parted_from_it():
    """Of a trunk and two arms as high as it, in one object, three pieces are made."""
    whole = corners(TRUNK, *(arm(sign, 0.40) for sign in SIDES.values()))
    parted = parted_at_shared_edges([whole])
    assert len(parted) == 3
    spans = sorted((round(p[..., 0].min(), 6), round(p[..., 0].max(), 6)) for p in parted)
    assert spans == [(-0.24, -0.12), (-0.12, 0.12), (0.12, 0.24)]


def test_a_surface_without_such_edges_stays_one_piece():
    """A capsule is left as it is, also with a hole in it or with every triangle twice."""
    whole = corners(capsule(np.zeros(3), np.array([0.0, 0.5, 0.0]), 0.1, 0.1))
    for piece in (whole, whole[5:], np.concatenate([whole, whole])):
        (same,) = parted_at_shared_edges([piece])
        assert same is piece


@pytest.mark.parametrize("turn", [0.0, 33.0], ids=["as made", "turned and back"])
def test_the_arms_of_a_block_figure_are_found(turn):
    """Its arms lie flat against the trunk, corner on corner, and are found as limbs all the same,
    to their ends."""
    meshes = block_figure(0.40)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    about = np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
    vertices, faces = joined(*meshes)
    vertices = (vertices @ about.T).astype(np.float32).astype(float) @ about
    _, limbs = find_body_limbs(fill_body(vertices, faces), [vertices[faces]])
    for side, sign in SIDES.items():
        limb = limbs.one("arm", side)
        assert limb is not None
        assert np.linalg.norm(limb.cells - [0.18 * sign, 0.405, 0.0], axis=1).min() < 0.01
