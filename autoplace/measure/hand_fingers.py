"""The fingers of a hand told apart, in cells as fine as that takes."""

from __future__ import annotations

from dataclasses import dataclass

from autoplace.measure.cell_graph import CellGraph, build_graph
from autoplace.measure.finger_branches import Branch, Web, begin_beyond
from autoplace.measure.finger_cores import MOST_FINGERS, finger_depth, hand_branches
from autoplace.measure.finger_folds import folded_fingers
from autoplace.measure.hand_region import HandBox, HandRegion

__all__ = ["FingersTold", "tell_fingers"]

THIN, CLEAR, FINEST = 1.6, 2.3, 1.7
"""Half the thickness of fingers near their ends, in cells, under which a hand of few fingers is
filled again with finer cells; what it should be then; and how many times as fine the cells are made
at most. A gap is seen if it is about half a cell wide, and thin fingers that nearly touch leave
less (own invented hands of even number: all that were not told apart had less than this)."""
MAY_BE_FOLDED = 0.55
"""Fingers that begin farther out than this share of the way, by their median, may be folded: those
of open mittens begin nearer (own invented hands of further deals)."""
BELOW = 0.2
"""How much of the forearm the cells are looked at from, share of the guessed hand."""


@dataclass(frozen=True)
class FingersTold:
    """A hand's volume and the fingers told apart in it."""

    region: HandRegion
    graph: CellGraph
    branches: list[Branch]
    webs: list[Web]


def tell_fingers(box: HandBox, guess: float, count: int | None) -> FingersTold | None:
    """Fill the hand, and tell its fingers apart; again in finer cells where they are thin and few.

    Args:
        box: where the hand lies. guess: its length, within about a third.
        count: how many fingers there should be, if that is known.

    Returns:
        What shows more fingers, and of equals the coarser; None when nothing is solid.
    """
    found = _told(box, guess, count, 1.0)
    if found is None or not len(found.graph.index):
        return found
    thin = finger_depth(found.graph)
    wanted = count or MOST_FINGERS
    if len(found.branches) < wanted and 0.0 < thin < THIN:
        finer = _told(box, guess, count, min(CLEAR / thin, FINEST))
        if finer is not None and len(finer.branches) > len(found.branches):
            found = finer
    if len(found.branches) < wanted and begin_beyond(found.graph, found.branches, MAY_BE_FOLDED):
        least = max(len(found.branches) + 1, 2)
        thick = finger_depth(found.graph)
        folded = folded_fingers(found.graph, thick, least, MOST_FINGERS, count)
        if folded is not None:
            return FingersTold(found.region, folded.graph, folded.branches, folded.webs)
    return found


def _told(box: HandBox, guess: float, count: int | None, finer: float) -> FingersTold | None:
    region = box.filled(finer)
    if region is None:
        return None
    graph = build_graph(region.solid, -BELOW * guess)
    branches, webs = hand_branches(graph, count) if len(graph.index) else ([], [])
    return FingersTold(region, graph, branches, webs)
