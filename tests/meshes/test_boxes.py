"""Surfaces modelled by hand: they face outward, and are closed where they should be."""

from __future__ import annotations

import numpy as np
import pytest

from meshes.box_family import box_family
from meshes.boxes import Net, Way, loop
from tests.meshes.test_make_characters import edge_counts

UP, FRONT = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])


def volume(net: Net) -> float:
    """Volume within a closed surface, positive when it faces outward (divergence theorem)."""
    vertices, faces = net.triangles()
    a, b, c = (vertices[faces[:, corner]] for corner in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


@pytest.mark.parametrize("sides", [4, 6, 8])
def test_prism_has_the_volume_of_its_closed_form(sides):
    """A tube of n sides, radius r and length l holds n / 2 sin(360 / n) r^2 l, also in mirror."""
    expected = 0.5 * sides * np.sin(2 * np.pi / sides) * 0.3**2 * 2.0
    for mirror in (False, True):
        net = Net(mirror=mirror)
        angles = np.arange(sides) * 360.0 / sides
        ends = [Way(np.array([1.0, y, 0.0]), UP, FRONT) for y in (0.0, 2.0)]
        net.loft([loop(way, 0.3, 0.3, angles) for way in ends])
        assert volume(net) == pytest.approx(expected, rel=1e-9)
        assert (edge_counts(net.triangles()[1]) == 2).all()


def test_box_holds_the_product_of_its_sides():
    """A box of half sides a, b, c holds 8 a b c, to the rounding of its superellipse."""
    net = Net()
    net.box([0.1, 0.2, 0.3], np.eye(3), [0.1, 0.2, 0.3])
    assert volume(net) == pytest.approx(8 * 0.1 * 0.2 * 0.3, rel=0.05)


def test_loops_of_unequal_number_are_bridged_without_a_hole():
    """A loop of six points bridged to one of eight makes a closed surface with both caps."""
    net = Net()
    a = net.ring(loop(Way(np.zeros(3), UP, FRONT), 1.0, 1.0, np.arange(6) * 60.0))
    b = net.ring(loop(Way(UP, UP, FRONT), 1.0, 1.0, np.arange(8) * 45.0))
    net.cap(a, at_start=True)
    net.bridge(a, b)
    net.cap(b)
    assert (edge_counts(net.triangles()[1]) == 2).all()
    assert volume(net) > 0


def test_sheet_has_one_layer_or_two():
    """A sheet encloses nothing; with both sides it has twice the triangles."""
    grid = [[[x, y, 0.0] for x in (0.0, 1.0)] for y in (1.0, 0.0)]
    one, two = Net(), Net()
    one.sheet(grid)
    two.sheet(grid, both=True)
    assert len(one.triangles()[1]) == 2
    assert len(two.triangles()[1]) == 4


def test_one_skin_is_closed_and_faces_outward():
    """A body in one skin is closed, apart from what sticks in it, and faces outward."""
    some = [
        m
        for m in box_family()
        if m.traits["build"] == "one"
        and m.traits["welding"] == "welded"
        and m.traits["objects"] == "several"
        and m.traits["face"] != "nose"  # a wedge of three sides
    ]
    assert len(some) > 3
    for member in some[:4]:
        body = member.build()[0][0]
        assert body.name == "body"
        assert (edge_counts(body.faces) == 2).all(), member.name
        a, b, c = (body.vertices[body.faces[:, corner]] for corner in range(3))
        assert np.einsum("ij,ij->i", a, np.cross(b, c)).sum() > 0


def test_joints_lie_where_the_figure_bends():
    """Knees lie between hip and ankle, elbows between shoulder and wrist, sides in mirror."""
    for member in box_family()[:20]:
        joints = member.build()[1]
        for side in ("left", "right"):
            for first, middle, last in (("shoulder", "elbow", "wrist"), ("hip", "knee", "ankle")):
                if f"{side}_{last}" not in joints:
                    continue
                a, b, c = (joints[f"{side}_{name}"] for name in (first, middle, last))
                whole = np.linalg.norm(c - a)
                assert np.linalg.norm(b - a) < whole
                assert np.linalg.norm(c - b) < whole
