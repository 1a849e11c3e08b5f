"""What stands around the islands that may be eyes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.slices import HeadBox, Span, find_head, span_at

__all__ = ["Candidate", "EyeScene"]

LOWEST_LEVEL = 0.1
"""Height in the head from the chin below which there is no eye: eyes sit at half of it (ANSUR2,
references section 6), drawn ones as low as a quarter; the balls in the hips of a doll whose head
is not told from its trunk lie at its lower end."""

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Candidate:
    """A compact island in the upper part of the figure."""

    island: int
    centre: FloatArray
    radius: float
    misfit: float
    named: float
    """1 when a part name says eye, -1 when it says something else, 0 when it says nothing."""


class EyeScene:
    """What stands around the candidates; cuts are made once each."""

    def __init__(
        self, corners: FloatArray, label: IntArray, candidates: Sequence[Candidate]
    ) -> None:
        """Args: corners (m, 3, 3) of triangles and label (m,) their islands, working frame."""
        self.corners, self.label, self.candidates = corners, label, candidates
        self._spans: dict[int, Span | None] = {}
        self._heads: dict[tuple[int, ...], HeadBox] = {}

    def _without(self, one: Candidate) -> tuple[tuple[int, ...], NDArray[np.bool_]]:
        """Candidates no larger than `one`, and the triangles that belong to none of them."""
        small = tuple(c.island for c in self.candidates if c.radius < 1.3 * one.radius)
        return small, ~np.isin(self.label, small)

    def span(self, one: Candidate) -> Span | None:
        """Extent of the figure at the height of `one`."""
        if one.island not in self._spans:
            rest = self.corners[self._without(one)[1]]
            self._spans[one.island] = span_at(rest, float(one.centre[1]), 0.0)
        return self._spans[one.island]

    def head(self, one: Candidate) -> HeadBox | None:
        """The head that `one` would be an eye of; None when nothing else is there."""
        small, rest = self._without(one)
        if not rest.any():
            return None
        if small not in self._heads:
            self._heads[small] = find_head(self.corners[rest])
        return self._heads[small]

    def beside_all(self, one: Candidate, two: Candidate) -> bool:
        """Does the pair lie beside every single piece at its height, as the upper arms of a robot
        do and no eyes? A head, or a face, reaches from one eye to the other."""
        rest = ~np.isin(self.label, (one.island, two.island)) & (self.label >= 0)
        height = 0.5 * (one.centre[1] + two.centre[1])
        low, high = self.corners[:, :, 1].min(axis=1), self.corners[:, :, 1].max(axis=1)
        cut = rest & (low < height) & (high > height)
        inner, outer = sorted((float(one.centre[0]), float(two.centre[0])))
        for island in np.unique(self.label[cut]):
            across = self.corners[cut & (self.label == island)][:, :, 0]
            if across.min() < inner and across.max() > outer:
                return False
        return bool(cut.any())

    def at_head(self, one: Candidate, two: Candidate) -> bool:
        """Is the pair at the head that is seen with every other piece in place? The balls in the
        joints of a doll or robot are not; without its neck its head is not told from its trunk."""
        rest = self.corners[~np.isin(self.label, (one.island, two.island)) & (self.label >= 0)]
        if not len(rest):
            return True
        head = find_head(rest)
        if not head.certain:
            return True
        radius = max(one.radius, two.radius)
        lowest = head.low[1] + LOWEST_LEVEL * (head.high[1] - head.low[1])
        height = 0.5 * (one.centre[1] + two.centre[1]) + 0.5 * radius
        beside = np.array([one.centre[0], two.centre[0]])
        inside = (beside > head.low[0] - radius) & (beside < head.high[0] + radius)
        return bool(height > lowest and inside.all())
