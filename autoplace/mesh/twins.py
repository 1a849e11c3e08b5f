"""Is a piece the same as another, on the other side or in another pose?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.spheres import IslandMeasures

__all__ = [
    "MADE_ALIKE",
    "MADE_AREA",
    "TWIN_AREA",
    "TWIN_BOX",
    "fill_one_place",
    "find_twin",
    "is_copy",
]

FloatArray = NDArray[np.float64]

TWIN_AREA = 0.1
TWIN_BOX = 0.15
"""Relative difference of area and of the box's sorted sides between a piece and its twin on the
other side."""
IN_PLACE = 0.5
"""Share of each side of a piece's box that another's covers, at least, where both are of one thing
(common practice, no source)."""
WALLS = 0.03
"""Two flat walls of one thing are so much of its longest side apart at most: a shield an inch thick
and a yard tall (common practice, no source)."""
POSED = 1.5
"""Relation of the boxes' diagonals of a piece and the same piece in another pose, at most: a fist
and an open hand (common practice, no source)."""
SAME_AREA = 0.01
"""Relative difference of their areas, at most, for any pieces..."""
MADE_ALIKE, MADE_AREA = 13, 0.25
"""...and for such as have as many triangles, and at least so many: a sword's blade has as many as
any other box. A sleeve over a bent elbow has up to a fifth more area than over a straight one
(further deals of the box family)."""
MADE_NEAR = 0.2
"""How far the mirror image of the one lies from the other at most, fraction of height: an upper arm
that hangs and one that is level, a hand before the chest and one at the hip (common practice, no
source)."""


def find_twin(measures: IslandMeasures, island: int, islands: Sequence[int]) -> int | None:
    """The first of some islands that is the same piece as `island`, wherever it is, for an arm may
    be behind the back; None where there is none."""
    for other in islands:
        if other == island or not _is_twin(measures, island, other):
            continue
        if not _in_place(measures, island, other):
            return other
    return next((other for other in islands if is_copy(measures, island, other, islands)), None)


def _is_twin(measures: IslandMeasures, island: int, other: int) -> bool:
    """Whether two islands are as large and as long as each other, or one piece in two poses."""
    area = measures.area[other] / max(measures.area[island], 1e-12)
    mine, theirs = _sides(measures, island), _sides(measures, other)
    if abs(area - 1) < TWIN_AREA and np.abs(theirs - mine).max() < TWIN_BOX * mine[2]:
        return True
    return bool(abs(area - 1) < SAME_AREA and _posed(measures, island, other))


def _in_place(measures: IslandMeasures, island: int, other: int) -> bool:
    """Whether two islands are of one thing, as the face of a shield and its back, which fill one
    place on one side. So do crossed arms, but each lies nearer to the other's mirror image."""
    apart = float(np.linalg.norm(measures.centroid[other] - measures.centroid[island]))
    return fill_one_place(measures.low, measures.high, island, other) and apart < _apart(
        measures, island, other
    )


def fill_one_place(low: FloatArray, high: FloatArray, island: int, other: int) -> bool:
    """Whether one island's box covers most of another's, but for the gap between two walls.

    Args:
        low, high: (k, 3) corners of all islands' boxes.
    """
    shared = np.minimum(high[island], high[other]) - np.maximum(low[island], low[other])
    size = high[island] - low[island]
    return bool((shared > IN_PLACE * size - WALLS * size.max()).all())


def is_copy(measures: IslandMeasures, island: int, other: int, islands: Sequence[int]) -> bool:
    """Whether an island is made of as many triangles as another and, but for a pose, as large and
    where a mirror shows it. What has a nearer twin among the islands is no copy of a third: a hand
    is none of the sword's grip."""
    made = measures.count[island]
    area = measures.area[other] / max(measures.area[island], 1e-12)
    if made != measures.count[other] or made < MADE_ALIKE or abs(area - 1) > MADE_AREA:
        return False
    gap = _apart(measures, island, other)
    if other == island or gap > MADE_NEAR or not _posed(measures, island, other):
        return False
    # an upper arm's sleeve may be as large as a forearm's, which lies farther from the mirror image
    return not any(
        _is_twin(measures, one, third) and _apart(measures, one, third) < gap
        for one in (island, other)
        for third in islands
        if third not in (island, other)
    )


def _apart(measures: IslandMeasures, island: int, other: int) -> float:
    """How far an island's middle lies from the mirror image of another's."""
    mirrored = measures.centroid[other] * [-1.0, 1.0, 1.0]
    return float(np.linalg.norm(mirrored - measures.centroid[island]))


def _posed(measures: IslandMeasures, island: int, other: int) -> bool:
    mine, theirs = (np.linalg.norm(_sides(measures, i)) for i in (island, other))
    return bool(1.0 / POSED < theirs / max(float(mine), 1e-12) < POSED)


def _sides(measures: IslandMeasures, island: int) -> np.ndarray:
    """(3,) sides of an island's box, shortest first."""
    return np.asarray(np.sort(measures.high[island] - measures.low[island]))
