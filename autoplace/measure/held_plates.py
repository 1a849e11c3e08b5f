"""Shields of one piece with the arm: what is thin and broad and goes from a limb beside its end."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.branches import BandTree
from autoplace.measure.held_sticks import BESIDE, ways_to_ends

__all__ = ["without_plates"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

THICK = 0.3
"""Of a plate over its breadth, at most: shields with what holds them have .1 to .27, a mitten .7
(further deals of the box family), an adult's hand .34 (references 1.2)."""
BROAD = (0.05, 0.1)
"""Breadth and length of a plate, at least, fraction of height: more than those of a flat hand, .05
by .11 (references 1.2)."""
ENDS = 0.07
"""Length of what else goes from there at least: a forearm with its hand, but no thumb, .06
(references 1.2)."""
SLIVER = 0.1
"""A bit of the shield that its bands leave by itself: of fewer cells than such a share of what else
goes from there (common practice, no source)."""


def without_plates(tree: BandTree, cell: float) -> BandTree:
    """The tree without the shield that one arm carries in one piece with it.

    The farthest corner of a shield may be farther than the hand, and be taken for it. Wide sleeves
    are on both sides and stay.

    Args:
        tree: the bands of distance through a figure, rooted in its trunk, working frame.
        cell: edge of its cells, fraction of height.
    """
    below = tree.children()
    arms = {
        node
        for way in ways_to_ends(tree)
        for node in way
        if len(below[node]) > 1 and abs(tree.centre[node, 0]) > BESIDE
    }
    gone = np.zeros(len(below), dtype=bool)
    total = tree.subtree_counts()
    fewest = BROAD[0] * BROAD[1] / cell**2  # cells of a plate that is one of them thick
    sides = set()
    for node in sorted(arms):
        large = [child for child in below[node] if total[child] >= fewest]
        plates = [child for child in large if _is_plate(tree, child, cell)]
        rest = [child for child in below[node] if child not in plates]
        if not plates or not any(_reach(tree, node, child) > ENDS for child in rest):
            continue
        sides.add(bool(tree.centre[node, 0] > 0.0))
        most = max(total[child] for child in rest)
        for child in below[node]:
            if child in plates or total[child] < SLIVER * most:
                gone |= tree.subtree(child)
    return tree.without(gone) if len(sides) == 1 else tree


def _reach(tree: BandTree, node: int, child: int) -> float:
    """How far what begins with a child leads from its node."""
    return float(tree.farthest[tree.subtree(child)].max() - tree.node_distance[node])


def _is_plate(tree: BandTree, node: int, cell: float) -> bool:
    """Is what begins with a node thin and broad?"""
    cells = tree.cells[tree.subtree(node)[tree.node_of_cell]] * cell
    # sides of the box with the same spread
    thick, broad, long = np.sqrt(12.0 * np.linalg.eigvalsh(np.cov(cells.T)))
    return bool(thick < THICK * broad and broad > BROAD[0] and long > BROAD[1])
