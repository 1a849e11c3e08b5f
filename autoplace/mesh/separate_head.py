"""A head that is a piece of its own, a cube or a ball, on a trunk that shows no neck.

It looks like a hat: the figure hangs together without it. What tells is what it lies on: right
under it the figure is broader than it, as shoulders are, and no deeper, as a skull would be; or the
piece is far too big for a hat, and deeper than all under it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.slices import SHOULDER_RATIO, HeadBox, span_at
from autoplace.mesh.spheres import IslandMeasures

__all__ = ["separate_head"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

TALL = (0.1, 0.6)
"""Height of such a head, fraction of the figure's: from nine heads tall, less some, to below two
(references on canons)."""
SLIM = (0.6, 1.7)
"""Height over breadth: neither a plate nor a plume (common practice, no source)."""
MIDDLE = 0.1
"""Its middle lies this near to the symmetry plane, as a share of its breadth."""
SUNK = 0.15
"""Share of its height that the trunk reaches up into it at most (common practice, no source)."""
HOVERS = 0.06
"""How far over the trunk it hovers at most, fraction of height (common practice, no source)."""
UNDER = (0.01, 0.03, 0.05, 0.07)
"""Where it is looked what lies under it: so far below the trunk's top, fraction of height."""
DEEP = 1.2
"""Depth of shoulders over that of the head at most: people's are alike (ANSUR2 from memory: head
length .20 m, chest depth .25 m), what carries a hat is deeper than the hat."""
BIG, FLATTER = 0.3, 0.8
"""What is this tall, fraction of height, is no hat where what it lies on is less deep by so much
(common practice, no source)."""


def separate_head(
    islands: list[int], measures: IslandMeasures, corners: FloatArray, label: IntArray
) -> HeadBox | None:
    """The box of a head that is an island of its own; None where none clearly is.

    Args:
        islands: of the figure. measures: of all. corners, label: (m, 3, 3) and (m,) of triangles,
            working frame, with their islands.
    """
    low, high = measures.low, measures.high
    for head in sorted(islands, key=lambda i: -float(np.prod(high[i] - low[i]))):
        size = high[head] - low[head]
        across = abs(0.5 * (low[head, 0] + high[head, 0])) < MIDDLE * size[0]
        breadth = max(float(size[0]), 1e-9)
        if not (across and TALL[0] < size[1] < TALL[1] and SLIM[0] < size[1] / breadth < SLIM[1]):
            continue
        sunk = low[head, 1] - SUNK * size[1]
        above = [i for i in islands if measures.centroid[i, 1] > low[head, 1] and low[i, 1] > sunk]
        below = [i for i in islands if i not in above]
        if not below or high[head, 1] < max(high[i, 1] for i in islands) - 0.5 * size[1]:
            continue
        trunk = [i for i in below if low[i, 0] < 0.0 < high[i, 0]]
        top = float(max((high[i, 1] for i in trunk), default=-np.inf))
        if not low[head, 1] - HOVERS < top < low[head, 1] + SUNK * size[1]:
            continue
        under = corners[np.isin(label, below)]
        spans = [span for down in UNDER if (span := span_at(under, top - down, 0.0)) is not None]
        if not spans:
            continue
        wide = 2.0 * max(span.half_breadth for span in spans)
        deep = max(span.z_high - span.z_low for span in spans)
        shoulders = wide > SHOULDER_RATIO * breadth and deep < DEEP * float(size[2])
        big = size[1] > BIG and deep < FLATTER * float(size[2])
        if shoulders or big:
            inside = [
                i for i in above if np.all(high[i] > low[head]) and np.all(low[i] < high[head])
            ]
            return HeadBox(low[inside].min(axis=0), high[inside].max(axis=0), True)
    return None
