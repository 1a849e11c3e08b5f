"""The tree of joints as index arrays, refused with one sentence where it is no tree."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.skeleton.model import Skeleton

__all__ = ["extent", "parent_indices"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def parent_indices(skeleton: Skeleton) -> IntArray:
    """(n,) index of each joint's parent, -1 for a joint without one.

    Raises SkeletonError for no joints, a name used twice, a parent that does not exist or comes
    later, or a position that is not three finite numbers.
    """
    if not skeleton.joints:
        raise SkeletonError("The skeleton holds no joints.")
    seen: dict[str, int] = {}
    parents = np.full(len(skeleton), -1, dtype=np.int64)
    for index, joint in enumerate(skeleton.joints):
        if joint.name in seen:
            raise SkeletonError(f"Two joints are named '{joint.name}': rename one of them.")
        position = np.asarray(joint.position, dtype=np.float64)
        if position.shape != (3,) or not np.all(np.isfinite(position)):
            raise SkeletonError(
                f"The position of '{joint.name}' is not three finite numbers: {joint.position}."
            )
        if joint.parent is not None:
            if joint.parent not in seen:
                raise SkeletonError(
                    f"The parent '{joint.parent}' of '{joint.name}' is not among the joints before "
                    "it: list every parent before its children."
                )
            parents[index] = seen[joint.parent]
        seen[joint.name] = index
    return parents


def extent(positions: FloatArray) -> float:
    """Diagonal of the box around positions (n, 3): the scale that tolerances are taken from."""
    return float(np.linalg.norm(np.ptp(positions, axis=0)))
