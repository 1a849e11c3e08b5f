"""A shield of one piece with an arm is left out of the limbs; hands, and wide sleeves, stay."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.branches import BandTree
from autoplace.measure.held_plates import without_plates
from tests.measure.test_held_sticks import CELL, HAND, arms, tree_of

Rod = tuple[np.ndarray, np.ndarray, float]


def plate(sign: float = 1.0, half: float = 0.2, thick: float = 0.013) -> list[Rod]:
    """A shield outside of the forearm, its corners farther than the hand: strips side by side."""
    at = HAND + np.array([-0.12, 0.0, 0.07])
    strips = np.arange(-half, half, thick)
    return [
        (
            (at + np.array([-half, y, 0.0])) * [sign, 1, 1],
            (at + np.array([half, y, 0.0])) * [sign, 1, 1],
            thick,
        )
        for y in strips
    ] + [((HAND + np.array([-0.12, 0.0, 0.0])) * [sign, 1, 1], at * [sign, 1, 1], 0.02)]


def left_end(tree: BandTree) -> float:
    """How far the body reaches to its left."""
    return float(tree.centre[:, 0].max())


def test_a_shield_on_one_arm_is_left_out():
    """The hand under it is the end of the arm again."""
    plain, armed = tree_of(arms()), tree_of(arms() + plate())
    assert left_end(armed) > left_end(plain) + 0.04
    assert left_end(without_plates(armed, CELL)) == pytest.approx(left_end(plain), abs=2 * CELL)


def test_plates_on_both_arms_stay():
    """Wide sleeves are no shields."""
    tree = tree_of(arms() + plate() + plate(-1.0))
    assert without_plates(tree, CELL) is tree


def test_a_flat_hand_with_its_thumb_stays():
    """A thumb is no end of an arm, beside which the palm would be a plate."""
    palm = [(HAND, HAND + np.array([0.11, y, 0.0]), 0.012) for y in (-0.03, -0.015, 0.0, 0.015)]
    thumb = [(HAND, HAND + np.array([0.03, 0.0, 0.055]), 0.012)]
    tree = tree_of(arms() + palm + thumb)
    assert len(without_plates(tree, CELL).cells) == len(tree.cells)


def test_arms_without_anything_stay():
    tree = tree_of(arms())
    assert len(without_plates(tree, CELL).cells) == len(tree.cells)
