"""Fingers of a closed hand are told by the way through the hand's core."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.cell_graph import CellGraph, build_graph
from autoplace.measure.finger_cores import finger_depth
from autoplace.measure.finger_folds import FoldedHand
from tests.measure.rods import Rod, rods

RADIUS, CELL = 0.045, 1.0 / 66.0
ACROSS = (-0.12, 0.0, 0.12)
FOLD, BACK = 0.85, -0.16
"""Where fingers fold, and how far before the palm they come back."""


def fist(end: float) -> CellGraph:
    """Three fingers that fold back; their ends sink into the palm by a part of their radius."""
    parts: list[Rod] = [((0, -0.3, 0), (0, 0.2, 0), 0.1)]
    parts += [((x, 0.1, 0), (x, 0.5, 0), 0.075) for x in ACROSS]
    for x in ACROSS:
        touch = -(0.075 + RADIUS) + end * RADIUS
        parts += [
            ((x, 0.5, 0), (x, FOLD, 0), RADIUS),
            ((x, FOLD, 0), (x, FOLD, BACK), RADIUS),
            ((x, FOLD, BACK), (x, 0.35, touch), RADIUS),
        ]
    return build_graph(rods(parts, CELL), -0.2)


@pytest.mark.parametrize("end", [0.1, 0.2])
def test_the_way_leads_over_the_fold_to_the_fingertip(end: float):
    """Fingers that touch the palm with their ends are three, each as long as its rods from the palm
    on, though the shortest way to their ends leads through the palm."""
    graph = fist(end)
    found = FoldedHand(graph, finger_depth(graph)).fingers(2, 5)
    assert found is not None
    assert len(found.branches) == 3
    back = float(np.hypot(FOLD - 0.35, 0.04))
    length = (FOLD - 0.55) - BACK + back  # from where rods that touch in the palm part
    for branch in found.branches:
        assert branch.tip - branch.root == pytest.approx(length, rel=0.15)
    assert float(graph.distance.max()) < FOLD - BACK + 0.5  # the way through the contact is shorter


def test_every_cell_of_a_finger_is_nearest_to_its_own_middle():
    """The cells that are given back to a core are those of its own finger."""
    graph = fist(0.2)
    found = FoldedHand(graph, finger_depth(graph)).fingers(2, 5)
    assert found is not None
    middles = []
    for branch in found.branches:
        points = found.graph.points[branch.cells]
        across = points[points[:, 1] > 0.6][:, 0]  # clear of the palm
        middles.append(float(np.median(across)))
        assert np.abs(across - middles[-1]).max() < RADIUS + 2.0 * CELL
    assert sorted(middles) == pytest.approx(ACROSS, abs=CELL)


def test_a_number_that_does_not_show_is_not_found():
    """Three fingers are not read as five."""
    graph = fist(0.2)
    assert FoldedHand(graph, finger_depth(graph)).fingers(2, 5, count=5) is None
    found = FoldedHand(graph, finger_depth(graph)).fingers(2, 5, count=3)
    assert found is not None
    assert len(found.branches) == 3


def test_what_does_not_split_has_no_fingers():
    """A rod alone gives nothing."""
    graph = build_graph(rods([((0, -0.3, 0), (0, 0.8, 0), 0.1)], CELL), -0.2)
    assert FoldedHand(graph, finger_depth(graph)).fingers(2, 5) is None
