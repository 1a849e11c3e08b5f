"""`measure.branches`: distances through the inside, and the tree of their bands."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.branches import BandTree, band_tree
from autoplace.measure.solid import Solid, fill_solid
from tests.mesh.capsule_figures import box, capsule, joined, sphere

CELL, BAND = 0.05, 0.1637  # no sum of steps, or rounding decides at the limits of a band
STRETCH = np.sqrt(1 + (np.sqrt(2) - 1) ** 2 + (np.sqrt(3) - np.sqrt(2)) ** 2)
"""Most by which a way over the 26 neighbours of cells is longer than the straight one: 1.128."""
FORK = np.array([0.0, 0.0, 0.0])
ENDS = {
    "stem": np.array([0.0, -2.0, 0.0]),
    "left": np.array([1.2, 1.6, 0.0]),
    "right": np.array([-1.2, 1.6, 0.3]),
}


def letter_y() -> Solid:
    """Three round tubes of radius 0.25 that meet at the origin."""
    tubes = [capsule(FORK, end, 0.25, 0.25, columns=32) for end in ENDS.values()]
    return fill_solid(*joined(*tubes), CELL)


def node_at(tree: BandTree, solid: Solid, point: np.ndarray) -> int:
    """Node of the cell nearest to a point."""
    away = np.linalg.norm(solid.to_points(tree.cells) - point, axis=1)
    return int(tree.node_of_cell[np.argmin(away)])


def test_distance_in_a_convex_body_is_the_straight_one():
    """In a box the distance from the seed is at least the straight one and at most 1.128 times it,
    the closed form for steps to 26 neighbours."""
    solid = fill_solid(*box((-1, -1, -1), (1, 1, 1)), 0.1)
    tree = band_tree(solid, np.array([-0.35, 0.25, 0.15]), 0.2)
    start = tree.cells[np.argmin(tree.distance)]
    straight = np.linalg.norm(tree.cells - start, axis=1) * 0.1
    assert (tree.distance >= straight - 1e-8).all()
    assert (tree.distance <= STRETCH * straight + 1e-8).all()
    assert (tree.distance / np.maximum(straight, 1e-9)).max() > 1.12  # the bound is met


def test_a_hand_beside_the_thigh_is_far_away():
    """In a U the far leg's end is as far as the way around, though it lies beside the seed."""
    left, right, bar = (
        box((-0.6, 0, 0), (-0.2, 2, 0.4)),
        box((0.2, 0, 0), (0.6, 2, 0.4)),
        box((-0.6, 1.6, 0), (0.6, 2, 0.4)),
    )
    solid = fill_solid(*joined(left, right, bar), CELL)
    tree = band_tree(solid, np.array([-0.4, 0.05, 0.2]), BAND)
    far = tree.distance[tree.node_of_cell == node_at(tree, solid, np.array([0.4, 0.05, 0.2]))]
    # around the inner corners: up 1.55, across 0.4, down 1.55
    assert far.mean() > 3.4
    assert np.linalg.norm([0.8, 0.0]) < 1.0


def test_a_y_has_three_ends_that_part_at_its_fork():
    """From the foot of a Y, the ways to its two tips share the stem and part at the fork, within
    a band and the tubes' radius."""
    solid = letter_y()
    tree = band_tree(solid, ENDS["stem"], BAND)
    left, right = (tree.path_to_root(node_at(tree, solid, ENDS[s])) for s in ("left", "right"))
    shared = [node for node in left if node in set(right)]
    assert np.linalg.norm(tree.centre[shared[0]] - FORK) < BAND + 0.25
    assert shared == left[-len(shared) :] == right[-len(shared) :]
    own_left, own_right = left[: -len(shared)], right[: -len(shared)]
    assert not set(own_left) & set(own_right)
    assert (tree.centre[own_left[:-2], 0] > 0.2).all()
    assert (tree.centre[own_right[:-2], 0] < -0.2).all()


def test_branches_run_along_the_tubes():
    """The nodes of an arm of the Y lie on its axis within a cell, away from fork and tip."""
    solid = letter_y()
    tree = band_tree(solid, ENDS["stem"], BAND)
    for side in ("left", "right"):
        axis = ENDS[side] / np.linalg.norm(ENDS[side])
        path = tree.path_to_root(node_at(tree, solid, ENDS[side]))
        along = tree.centre[path] @ axis
        inner = np.array(path)[(along > 0.6) & (along < 1.7)]
        off = tree.centre[inner] - np.outer(tree.centre[inner] @ axis, axis)
        assert len(inner) >= 6
        assert np.linalg.norm(off, axis=1).max() < CELL


def test_the_tree_is_a_tree():
    """There is one root, every parent is nearer to the seed, and every way leads to the root."""
    tree = band_tree(letter_y(), np.array([0.1, 0.2, 0.0]), BAND)
    roots = np.flatnonzero(tree.parent < 0)
    assert len(roots) == 1
    for node, parent in enumerate(tree.parent):
        if parent >= 0:
            assert tree.node_distance[parent] < tree.node_distance[node]
        assert tree.path_to_root(node)[-1] == roots[0]
    below = tree.children()
    assert sum(map(len, below)) == len(tree.parent) - 1
    assert all(tree.parent[child] == node for node, some in enumerate(below) for child in some)


def test_counts_add_up():
    """All cells of the solid are in one node, and the root's subtree holds them all."""
    solid = letter_y()
    tree = band_tree(solid, FORK, BAND)
    assert len(tree.cells) == solid.inside.sum() == tree.count.sum()
    assert np.array_equal(np.bincount(tree.node_of_cell), tree.count)
    assert tree.subtree_counts()[tree.parent < 0] == tree.count.sum()
    at = solid.to_points(tree.cells)
    for node in (0, len(tree.count) // 2):
        np.testing.assert_allclose(tree.centre[node], at[tree.node_of_cell == node].mean(axis=0))


def test_bands_hold_their_distance():
    """The cells of a node lie within one band of distance, and those of its parent in the last."""
    tree = band_tree(letter_y(), FORK, BAND)
    band = np.floor(tree.distance / BAND).astype(int)
    own = np.zeros(len(tree.parent), dtype=int)
    own[tree.node_of_cell] = band
    assert np.array_equal(own[tree.node_of_cell], band)
    has = tree.parent >= 0
    assert (own[has] - own[tree.parent[has]] == 1).all()


def test_what_does_not_hang_together_is_left_out():
    """A ball apart from the seed's body is no part of the tree."""
    body, ball = box((0, 0, 0), (1, 2, 0.5)), sphere(np.array([3.0, 1.0, 0.2]), 0.4)
    both = band_tree(fill_solid(*joined(body, ball), CELL), np.array([0.5, 1.0, 0.2]), BAND)
    alone = band_tree(fill_solid(*body, CELL), np.array([0.5, 1.0, 0.2]), BAND)
    assert len(both.cells) == len(alone.cells)
    assert len(both.parent) == len(alone.parent)


def test_a_seed_outside_takes_the_nearest_cell():
    """A seed beside the body starts from the body's cell nearest to it."""
    solid = letter_y()
    tree = band_tree(solid, np.array([0.0, -9.0, 0.0]), BAND)
    start = solid.to_points(tree.cells[np.argmin(tree.distance)])
    assert start[1] == pytest.approx(-2.25, abs=CELL)


def test_an_empty_solid_gives_an_empty_tree():
    """Without any inside there is no node."""
    empty = Solid(np.zeros((4, 5, 6), dtype=np.float32), np.zeros(3), CELL)
    tree = band_tree(empty, np.zeros(3), BAND)
    assert len(tree.cells) == len(tree.parent) == len(tree.children()) == 0
    assert tree.subtree_counts().shape == (0,)


@pytest.mark.parametrize("scale", [1e-6, 1e6])
def test_units_do_not_matter(scale):
    """The same body a million times as large has the same tree."""
    solid = letter_y()
    large = Solid(solid.coverage, solid.origin * scale, solid.cell * scale)
    one, other = band_tree(solid, FORK, BAND), band_tree(large, FORK * scale, BAND * scale)
    assert np.array_equal(one.parent, other.parent)
    np.testing.assert_allclose(other.centre, one.centre * scale, rtol=1e-9, atol=1e-9 * scale)


def test_same_solid_same_bytes():
    """Nothing depends on chance."""
    one, two = band_tree(letter_y(), FORK, BAND), band_tree(letter_y(), FORK, BAND)
    assert one.centre.tobytes() == two.centre.tobytes()
    assert one.parent.tobytes() == two.parent.tobytes()
