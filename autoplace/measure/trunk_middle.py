"""Where the trunk's middle is at the height of the shoulders, whatever the arms do."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.limb_record import Limb

__all__ = ["middle_past_shoulders"]

FloatArray = NDArray[np.float64]


def middle_past_shoulders(
    y: FloatArray, middle: FloatArray, arms: Sequence[Limb], neck_y: float
) -> FloatArray:
    """The middles of level cuts, in a straight line from below the arms' roots to the neck.

    A raised shoulder carries the middle of a cut to its side, while the spine stays where it is.

    Args:
        y: (n,) heights of the cuts, ascending, working frame.
        middle: (n,) x of their middles.
        arms: of the figure; without any the middles are as they were.
        neck_y: height of the neck's narrowest cut.
    """
    if not arms:
        return middle
    low = min(float(arm.line[0, 1] - arm.radius[0]) for arm in arms)
    first, last = int(np.searchsorted(y, low)) - 1, int(np.searchsorted(y, neck_y))
    if first < 1 or last >= len(y) or last - first < 2:
        return middle
    straight = middle.copy()
    between = slice(first, last + 1)
    straight[between] = np.interp(y[between], y[[first, last]], middle[[first, last]])
    return straight
