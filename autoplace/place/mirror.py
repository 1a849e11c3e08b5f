"""Left and right joints made exact mirror images where the mesh itself is one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.solid import Solid
from autoplace.place.evidence import Placed

__all__ = ["mirror_limbs", "mirrored_share"]

FloatArray = NDArray[np.float64]

ALIKE_COVERAGE = 0.35
"""Coverage from which the mirror image of an inside cell counts as inside: a cell's image falls
between cells, and reading between them blurs an edge of .5 by so much."""

FLIP = np.array([-1.0, 1.0, 1.0])


def mirrored_share(solid: Solid, left: FloatArray, right: FloatArray) -> float:
    """Share of a pair of limbs whose mirror image about x = 0 is inside the body too.

    Args:
        solid: the body, working frame.
        left, right: (n, 3), (m, 3) cell centres of the two limbs; where a limb ends and the trunk
            begins may be cut differently on the two sides, so they are held against the body.

    Returns:
        The lesser of the two limbs' shares; 0 when one is missing.
    """
    if not len(left) or not len(right):
        return 0.0
    return min(
        float(np.mean(solid.sample(cells * FLIP) > ALIKE_COVERAGE)) for cells in (left, right)
    )


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
