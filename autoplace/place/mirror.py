"""Left and right joints made exact mirror images where the mesh itself is one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.place.evidence import Placed

__all__ = ["mirror_limbs", "mirrored_share"]

FloatArray = NDArray[np.float64]

ALIKE_CELLS = 1.1
"""Two limbs are mirror images when 95 percent of the cells of one lie within this many cells of
the mirrored other: the grid itself is off by up to half a cell, and rounding adds half."""

FLIP = np.array([-1.0, 1.0, 1.0])


def mirrored_share(left: FloatArray, right: FloatArray, cell: float) -> float:
    """Share of the left limb's cells that the mirrored right limb comes near to, and back.

    Args:
        left, right: (n, 3), (m, 3) cell centres, working frame. cell: edge length of a cell.
    """
    if not len(left) or not len(right):
        return 0.0
    shares = []
    for one, other in ((left, right * FLIP), (right * FLIP, left)):
        distance, _ = cKDTree(other).query(one)
        shares.append(float(np.mean(distance < ALIKE_CELLS * cell)))
    return min(shares)


def mirror_limbs(joints: Mapping[str, Placed], pairs: Mapping[str, bool]) -> dict[str, Placed]:
    """Average each pair of joints about the plane x = 0 where its limb is mirrored.

    Args:
        joints: by name. pairs: for each pair's name without the side, whether to mirror it.

    Returns:
        All joints; those of a mirrored pair are exact mirror images.
    """
    result = dict(joints)
    for stem, alike in pairs.items():
        left, right = joints.get(f"left_{stem}"), joints.get(f"right_{stem}")
        if not alike or left is None or right is None:
            continue
        middle = 0.5 * (left.position + right.position * FLIP)
        spread = float(np.hypot(left.spread, right.spread) / np.sqrt(2.0))
        result[f"left_{stem}"] = replace(left, position=middle, spread=spread)
        result[f"right_{stem}"] = replace(right, position=middle * FLIP, spread=spread)
    return result
