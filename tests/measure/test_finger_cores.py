"""Fingers are told apart by their cores, and a thumb from the finger that it is grown to."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.cell_graph import CellGraph, build_graph
from autoplace.measure.finger_cores import hand_branches
from tests.measure.rods import Rod, rods

RADIUS = 0.045
CELL = 1.0 / 66.0
FINGERS = (-0.12, 0.0, 0.12)
"""Across the hand: three fingers that do not touch."""


def graph_of(more: list[Rod]) -> CellGraph:
    """A hand a unit long: an arm, a palm of rods side by side, and fingers from .55 on."""
    parts: list[Rod] = [((0, -0.3, 0), (0, 0.2, 0), 0.1)]
    parts += [((x, 0.1, 0), (x, 0.5, 0), 0.075) for x in FINGERS]
    parts += [((x, 0.5, 0), (x, 0.95, 0), RADIUS) for x in FINGERS]
    return build_graph(rods(parts + more, CELL), -0.2)


def test_three_fingers_are_three():
    """Fingers that are round are left whole."""
    branches, webs = hand_branches(graph_of([]))
    assert len(branches) == 3
    assert len(webs) == 2


@pytest.mark.parametrize("end", [0.68, 0.74])
def test_a_thumb_grown_to_its_neighbour_is_parted_from_it(end: float):
    """A rod that overlaps the outer finger by a third of its breadth up to its own end is one
    finger more, and most of its cells are nearer to its own middle."""
    beside = FINGERS[2] + 1.35 * RADIUS
    graph = graph_of([((beside, 0.2, 0), (beside, end, 0), RADIUS)])
    branches, _ = hand_branches(graph)
    assert len(branches) == 4
    middles = np.array([graph.points[branch.cells].mean(axis=0)[0] for branch in branches])
    thumb = int(np.argmax(middles))
    across = graph.points[branches[thumb].cells][:, 0]
    assert np.mean(across > 0.5 * (beside + FINGERS[2])) > 0.8
    assert graph.points[branches[thumb].cells][:, 1].max() < end + RADIUS + 2.0 * CELL  # a level


def test_as_many_fingers_as_are_asked_for_are_left_alone():
    """Who says that a hand has three fingers gets three, be one of them as broad as two."""
    beside = FINGERS[2] + 1.35 * RADIUS
    graph = graph_of([((beside, 0.2, 0), (beside, 0.74, 0), RADIUS)])
    assert len(hand_branches(graph, 3)[0]) == 3
