"""Is a piece the same as another, on the other side or in another pose?"""

from __future__ import annotations

import numpy as np

from autoplace.mesh.spheres import IslandMeasures

__all__ = ["TWIN_AREA", "is_copy", "is_twin"]

TWIN_AREA = 0.1
TWIN_BOX = 0.15
"""Relative difference of area and of the box's sorted sides between a piece and its twin on the
other side."""
POSED = 1.5
"""Relation of the boxes' diagonals of a piece and the same piece in another pose, at most: a fist
and an open hand (common practice, no source)."""
SAME_AREA = 0.01
"""Relative difference of their areas, at most, for any pieces..."""
MADE_ALIKE, MADE_AREA = 13, 0.15
"""...and for such as have as many triangles, and at least so many: a sword's blade has as many as
any other box. A sleeve over a bent elbow has up to a ninth more area than over a straight one
(further deals of the box family)."""


def is_twin(measures: IslandMeasures, island: int, other: int) -> bool:
    """Whether two islands are as large and long as each other, or one in two poses; wherever they
    are, for an arm may be behind the back."""
    area = measures.area[other] / max(measures.area[island], 1e-12)
    mine = np.sort(measures.high[island] - measures.low[island])
    theirs = np.sort(measures.high[other] - measures.low[other])
    if abs(area - 1) < TWIN_AREA and np.abs(theirs - mine).max() < TWIN_BOX * mine[2]:
        return True
    longer = np.linalg.norm(theirs) / max(float(np.linalg.norm(mine)), 1e-12)
    alike = abs(area - 1) < SAME_AREA or is_copy(measures, island, other)
    return bool(alike and 1.0 / POSED < longer < POSED)


def is_copy(measures: IslandMeasures, island: int, other: int) -> bool:
    """Whether two islands are made of as many triangles and, but for a pose, as large."""
    made = measures.count[island]
    area = measures.area[other] / max(measures.area[island], 1e-12)
    return bool(made == measures.count[other] and made >= MADE_ALIKE and abs(area - 1) < MADE_AREA)
