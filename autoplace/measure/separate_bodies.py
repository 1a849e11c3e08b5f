"""How many figures stand in the solid? A file with two characters cannot be measured as one."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from autoplace.measure.solid import Solid

__all__ = ["count_bodies"]

TALL = 0.5
"""Share of the height of all that a figure has at least: a child of two is half as tall as an adult
(common practice, no source)."""
STANDS = 0.2
"""Share of that height in which a figure begins: the upper half of a robot hovers over its legs."""
LARGE = 0.1
"""Share of the largest piece's volume that a second figure has at least: the cube of the height's
share, 0.125 for half the height, less some slenderness. A spear is tall but far below."""


def count_bodies(solid: Solid) -> int:
    """Number of unconnected pieces of the solid that are each as tall and as large as a figure.

    A head, a hand or a prop apart from the body is no body of its own, nor is what hovers over
    another piece. An empty solid has none.
    """
    label, count = ndimage.label(solid.inside, structure=np.ones((3, 3, 3)))
    if count == 0:
        return 0
    volume = np.bincount(label.ravel())[1:]
    ends = np.array([(box[1].start, box[1].stop) for box in ndimage.find_objects(label)])
    low, whole = int(ends[:, 0].min()), int(np.ptp(ends))
    stands = (np.diff(ends, axis=1)[:, 0] >= TALL * whole) & (ends[:, 0] - low <= STANDS * whole)
    return max(int(np.sum(stands & (volume >= LARGE * volume.max()))), 1)
