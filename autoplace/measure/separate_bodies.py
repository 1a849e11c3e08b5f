"""How many figures stand in the solid? A file with two characters cannot be measured as one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.solid import Solid

__all__ = ["count_bodies"]

IntArray = NDArray[np.int64]

TALL = 0.5
"""Share of the height of all that a figure has at least: a child of two is half as tall as an adult
(common practice, no source)."""
STANDS = 0.2
"""Share of that height in which a figure begins: the upper half of a robot hovers over its legs."""
LARGE = 0.1
"""Share of the largest piece's volume that a second figure has at least: the cube of the height's
share, 0.125 for half the height, less some slenderness. A spear is tall but far below."""
BROAD = 0.15
"""Least spread of a figure across its long axis, to that along it: thin ones with hanging arms have
.3 (own synthetic characters), a club a tenth as thick as long has .09, a rod's closed form."""


def count_bodies(solid: Solid) -> int:
    """Number of unconnected pieces of the solid that are each as tall, large and broad as a figure.

    A head, a hand or a prop apart from the body is no body of its own, nor is what hovers over
    another piece, nor a staff. An empty solid has none.
    """
    label = solid.pieces
    if not label.any():
        return 0
    volume = np.bincount(label.ravel())[1:]
    ends = np.array([(box[1].start, box[1].stop) for box in ndimage.find_objects(label)])
    low, whole = int(ends[:, 0].min()), int(np.ptp(ends))
    stands = (np.diff(ends, axis=1)[:, 0] >= TALL * whole) & (ends[:, 0] - low <= STANDS * whole)
    large = np.flatnonzero(stands & (volume >= LARGE * volume.max()))
    if len(large) < 2:
        return 1
    return max(sum(_breadth(np.argwhere(label == number + 1)) >= BROAD for number in large), 1)


def _breadth(cells: IntArray) -> float:
    """Spread of cells (n, 3) across their long axis, where they are broadest, to that along it."""
    along = np.sqrt(np.maximum(np.linalg.eigvalsh(np.cov(cells.T, bias=True)), 0.0))
    return float(along[1] / max(along[2], 1e-300))
