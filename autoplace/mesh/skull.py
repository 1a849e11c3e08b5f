"""Is a head whole without what covers it? Its skull reaches above the eyes, and is closed behind.

Under hair the skin is often a mask: face and ears, open at the top and behind. The hair is the
skull then, and no piece that can go.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.layers import CELL
from autoplace.mesh.slices import HeadBox

__all__ = ["skull_is_whole"]

FloatArray = NDArray[np.float64]

SKULL_OVER_EYES = 0.6
"""Skull above the eyes over face below them, at least: eyes are at half the head height, .49 +-
.02 (ANSUR2; references section 6), less what hair flattens and stylised faces differ."""
SKULL_TALL = 0.85
"""Without eyes: height of a whole head over its breadth at least (common practice, no source)."""
DEEP = 0.4
"""Depth of a skull between the temples over its breadth at least, half way up: people's is 1.3 at
the brow and falls to nothing at the crown; a mask has none (common practice, no source)."""


def skull_is_whole(
    points: FloatArray, face: FloatArray, head: HeadBox, eye_height: float | None
) -> bool:
    """Does a head reach as far above the eyes as a skull does, and is it closed behind?

    Args:
        points: (n, 3) samples of a figure's surface without what may cover its head, some to every
            cell of `layers.CELL`, working frame (height 1).
        face: (k, 3) those of them that are of one piece with the face: a crest is not.
        head: where the head is.
        eye_height: height of the eyes, or None where none are seen.
    """
    column = _over(points, head)
    if len(column) == 0:
        return False
    low, top = float(head.low[1]), float(column[:, 1].max())
    if eye_height is None:
        tall = top - low > SKULL_TALL * float(np.ptp(column[:, 0]))
    else:
        tall = top - eye_height > SKULL_OVER_EYES * (eye_height - low)
    own = _over(face, head)
    own = own if len(own) else column
    level = 0.5 * (low + float(own[:, 1].max())) if eye_height is None else eye_height
    return bool(tall) and (_closed_behind(own, level) or _closed_behind(column, level))


def _over(points: FloatArray, head: HeadBox) -> FloatArray:
    """(m, 3) points in a head and straight above it."""
    low, high = head.low, head.high
    inside = np.all((points[:, [0, 2]] >= low[[0, 2]]) & (points[:, [0, 2]] <= high[[0, 2]]), 1)
    return points[inside & (points[:, 1] >= low[1])]


def _closed_behind(column: FloatArray, level: float) -> bool:
    """Is most of what lies above a level as deep as a skull, between the temples?"""
    upper = column[column[:, 1] > level]
    if len(upper) == 0:
        return False
    left, right = float(upper[:, 0].min()), float(upper[:, 0].max())
    breadth = right - left
    upper = upper[np.abs(upper[:, 0] - 0.5 * (left + right)) < 0.25 * breadth]
    if len(upper) == 0:
        return False
    _, cell = np.unique(np.floor(upper[:, :2] / CELL), axis=0, return_inverse=True)
    front, back = np.full(cell.max() + 1, -np.inf), np.full(cell.max() + 1, np.inf)
    np.maximum.at(front, cell.ravel(), upper[:, 2])
    np.minimum.at(back, cell.ravel(), upper[:, 2])
    return float(np.median(front - back)) >= DEEP * breadth
