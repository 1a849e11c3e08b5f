"""A staff of one piece with the hand, left out of the limbs; what is not held stays."""

from __future__ import annotations

import numpy as np

from autoplace.measure.branches import BandTree, band_tree
from autoplace.measure.held_sticks import without_sticks
from autoplace.measure.solid import Solid

CELL = 0.01
SHOULDER, HAND = np.array([0.1, 0.78, 0.0]), np.array([0.45, 0.78, 0.0])


def tree_of(rods: list[tuple[np.ndarray, np.ndarray, float]]) -> BandTree:
    """The bands through a trunk with these rods (ends and half breadth), from the trunk on."""
    low, high = np.array([-0.6, 0.0, -0.5]), np.array([0.6, 1.0, 0.6])
    shape = np.round((high - low) / CELL).astype(int)
    points = low + (np.stack(np.meshgrid(*map(np.arange, shape), indexing="ij"), -1) + 0.5) * CELL
    trunk = [(np.array([0.0, 0.45, 0.0]), np.array([0.0, 0.9, 0.0]), 0.12)]
    inside = np.zeros(shape, dtype=bool)
    for a, b, half in trunk + rods:
        t = np.clip((points - a) @ (b - a) / ((b - a) @ (b - a)), 0.0, 1.0)[..., None]
        inside |= np.abs(points - a - t * (b - a)).max(axis=-1) <= half
    solid = Solid(inside.astype(np.float32), low + 0.5 * CELL, CELL)
    return band_tree(solid, np.array([0.0, 0.6, 0.0]), 0.02)


def arms() -> list[tuple[np.ndarray, np.ndarray, float]]:
    flip = np.array([-1.0, 1.0, 1.0])
    return [(SHOULDER, HAND, 0.035), (SHOULDER * flip, HAND * flip, 0.035)]


def test_a_staff_in_one_hand_is_left_out():
    """Nothing is left ahead of the hand that holds it, and both hands stay."""
    staff = [(HAND, HAND + np.array([0.0, 0.0, 0.45]), 0.011)]
    tree = tree_of(arms() + staff)
    assert tree.centre[:, 2].max() > 0.4
    left = without_sticks(tree)
    assert left.centre[:, 2].max() < 0.15
    assert left.centre[:, 0].max() > 0.42
    assert left.centre[:, 0].min() < -0.42
    assert len(left.cells) == len(left.node_of_cell) == len(left.predecessor)


def test_slim_ends_of_both_arms_stay():
    """Arms that are stout above and slim below, as from wide sleeves, lose nothing."""
    flip = np.array([-1.0, 1.0, 1.0])
    slim = [(HAND * f, (HAND + np.array([0.1, -0.2, 0.0])) * f, 0.011) for f in (np.ones(3), flip)]
    tree = tree_of(arms() + slim)
    assert len(without_sticks(tree).cells) == len(tree.cells)


def test_a_slim_forearm_stays_though_the_other_arm_is_bent():
    """A limb that is no longer than the other holds nothing, in whatever pose."""
    near = 0.5 * (SHOULDER + HAND)
    flip = np.array([-1.0, 1.0, 1.0])
    raised = [(SHOULDER, near, 0.05), (near, near + np.array([0.0, 0.2, 0.0]), 0.012)]
    level = [(SHOULDER * flip, near * flip, 0.05), (near * flip, HAND * flip, 0.012)]
    tree = tree_of(raised + level)
    assert len(without_sticks(tree).cells) == len(tree.cells)


def test_a_staff_is_told_from_the_slim_arm_of_a_stout_shoulder():
    """Thin after thick is first the arm under its armour, and only then the staff."""
    flip = np.array([-1.0, 1.0, 1.0])
    end = np.array([0.22, 0.78, 0.0])
    armour = [(SHOULDER * f, end * f, 0.09) for f in (np.ones(3), flip)]
    slim = [(end * f, HAND * f, 0.025) for f in (np.ones(3), flip)]
    staff = [(HAND + np.array([0.0, 0.0, z]), HAND, 0.007) for z in (-0.4, 0.45)]
    left = without_sticks(tree_of(armour + slim + staff))
    assert np.abs(left.centre[:, 2]).max() < 0.15
    assert left.centre[:, 0].max() > 0.42
    assert left.centre[:, 0].min() < -0.42
