"""Fingers are told apart by their cores, and a thumb from the finger that it is grown to."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.cell_graph import CellGraph, build_graph
from autoplace.measure.finger_branches import BranchFinder
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
    branches, webs = hand_branches(BranchFinder(graph_of([])))
    assert len(branches) == 3
    assert len(webs) == 2


@pytest.mark.parametrize("end", [0.68, 0.74])
def test_a_thumb_grown_to_its_neighbour_is_parted_from_it(end: float):
    """A rod that overlaps the outer finger by a third of its breadth up to its own end is one
    finger more, and most of its cells are nearer to its own middle."""
    beside = FINGERS[2] + 1.35 * RADIUS
    graph = graph_of([((beside, 0.2, 0), (beside, end, 0), RADIUS)])
    branches, _ = hand_branches(BranchFinder(graph))
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
    assert len(hand_branches(BranchFinder(graph), 3)[0]) == 3


OUTER = FINGERS[2]
"""Where the finger is that the thumb meets, or that is folded."""


def test_a_thumb_that_meets_a_fingertip_is_a_finger():
    """A thumb whose end is grown to that of a finger, with a gap between them below, is one finger
    more, and keeps the cells about its own middle."""
    bow = [((OUTER, 0.3, -0.05), (OUTER, 0.62, -0.2), RADIUS)]
    bow += [((OUTER, 0.62, -0.2), (OUTER, 0.9, -0.04), RADIUS)]
    graph = graph_of(bow)
    branches, _ = hand_branches(BranchFinder(graph))
    assert len(branches) == 4
    deepest = min(branches, key=lambda branch: graph.points[branch.cells][:, 2].mean())
    assert graph.points[deepest.cells][:, 2].mean() < -0.1


def test_a_folded_finger_is_one():
    """A finger that comes back beside itself, with a gap between, stays one."""
    back = [((OUTER, 0.95, 0.0), (OUTER, 0.95, -0.13), RADIUS)]
    back += [((OUTER, 0.95, -0.13), (OUTER, 0.75, -0.13), RADIUS)]
    assert len(hand_branches(BranchFinder(graph_of(back)))[0]) == 3


@pytest.mark.parametrize(("palm", "end", "count"), [(0.5, 0.48, 2), (0.85, 0.85, 3)])
def test_a_short_finger_counts_where_only_folds_stand_free(palm: float, end: float, count: int):
    """A finger that ends a twentieth of the way beyond its web is a bump beside the long fingers of
    an open hand, and a finger where the others, too, begin far out."""
    ends = [end if x == OUTER else 0.97 for x in FINGERS]
    parts: list[Rod] = [((0, -0.3, 0), (0, 0.2, 0), 0.1)]
    for x, top in zip(FINGERS, ends, strict=True):
        parts += [((x, 0.1, 0), (x, palm - 0.075, 0), 0.075)]
        parts += [((x, palm - 0.075, 0), (x, top, 0), RADIUS)]
    graph = build_graph(rods(parts, CELL), -0.2)
    branches, _ = hand_branches(BranchFinder(graph))
    assert len(branches) == count
    shortest = min((branch.tip - branch.root) / graph.distance.max() for branch in branches)
    assert (shortest < 0.055) == (count == 3)


@pytest.mark.parametrize("count", [2, 3])
def test_of_more_folds_than_are_asked_for_the_longest_are_taken(count: int):
    """Of three stubs on a palm that reaches far out two are taken if two are asked for: the longer
    ones."""
    wide = (-0.2, 0.0, 0.2)
    parts: list[Rod] = [((0, -0.3, 0), (0, 0.2, 0), 0.1)]
    parts += [((x, 0.1, 0), (x, 0.8, 0), 0.105) for x in wide]
    ends = (1.05, 1.07, 1.0)
    parts += [((x, 0.8, 0), (x, end, 0), RADIUS) for x, end in zip(wide, ends, strict=True)]
    graph = build_graph(rods(parts, CELL), -0.2)
    branches, _ = hand_branches(BranchFinder(graph), count)
    assert len(branches) == count
    across = sorted(float(graph.points[branch.cells][:, 0].mean()) for branch in branches)
    assert across == pytest.approx(wide[:count], abs=CELL)
