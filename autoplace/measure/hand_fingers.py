"""The fingers of a hand told apart, in cells as fine as that takes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from autoplace.measure.cell_graph import CellGraph, build_graph
from autoplace.measure.finger_branches import Branch, BranchFinder, Web, begin_beyond
from autoplace.measure.finger_cores import MOST_FINGERS, finger_depth, hand_branches
from autoplace.measure.finger_folds import FoldedHand
from autoplace.measure.hand_region import HandBox, HandRegion

__all__ = ["FingerTeller", "FingersTold"]

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


class FingerTeller:
    """Tells the fingers of one hand apart, for any number to look for.

    The cells that were filled, and what was found in them, are kept for the next number.
    """

    def __init__(self, box: HandBox, guess: float) -> None:
        """Args: box: where the hand lies. guess: its length, within about a third."""
        self._box, self._guess = box, guess
        self._filled: dict[float, _HandCells | None] = {}

    def tell(self, count: int | None = None) -> FingersTold | None:
        """Fill the hand, and tell its fingers apart; again in finer cells where they are thin and
        few.

        Args:
            count: how many fingers there should be, if that is known.

        Returns:
            What shows more fingers, and of equals the coarser; None when nothing is solid.
        """
        cells = self._cells(1.0)
        if cells is None:
            return None
        found = cells.told(count)
        if not len(cells.graph.index):
            return found
        thin = finger_depth(cells.graph)
        wanted = count or MOST_FINGERS
        if len(found.branches) < wanted and 0.0 < thin < THIN:
            finer = self._cells(min(CLEAR / thin, FINEST))
            if finer is not None:
                again = finer.told(count)
                if len(again.branches) > len(found.branches):
                    cells, found = finer, again
        few = len(found.branches) < wanted
        if few and begin_beyond(cells.graph, found.branches, MAY_BE_FOLDED):
            folded = cells.folded.fingers(max(len(found.branches) + 1, 2), MOST_FINGERS, count)
            if folded is not None:
                return FingersTold(found.region, folded.graph, folded.branches, folded.webs)
        return found

    def _cells(self, finer: float) -> _HandCells | None:
        if finer not in self._filled:
            region = self._box.filled(finer)
            self._filled[finer] = None if region is None else _HandCells(region, self._guess)
        return self._filled[finer]


class _HandCells:
    """A hand in cells of one size, with what finds its fingers."""

    def __init__(self, region: HandRegion, guess: float) -> None:
        self.region = region
        self.graph = build_graph(region.solid, -BELOW * guess)
        self._finder = BranchFinder(self.graph)

    @cached_property
    def folded(self) -> FoldedHand:
        return FoldedHand(self.graph, finger_depth(self.graph))

    def told(self, count: int | None) -> FingersTold:
        """The fingers that stand free."""
        found = hand_branches(self._finder, count) if len(self.graph.index) else ([], [])
        return FingersTold(self.region, self.graph, *found)
