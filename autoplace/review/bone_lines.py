"""Along which line the flesh runs at a joint, and how far its neighbours are."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.aims import find_bones
from autoplace.skeleton.convention import recorded
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import stem
from autoplace.skeleton.structure import parent_indices

__all__ = ["bone_length", "flesh_direction"]

FloatArray = NDArray[np.float64]

OWN_BONE = ("pelvis", "clavicle", "shoulder", "hip", "thumb_1")
"""Joints (without side) that end no tube of flesh: only the bone that hangs on them counts."""
BONE_ABOVE = ("ankle",)
"""The same the other way: the foot stands square to the shank's tube."""


def flesh_direction(skeleton: Skeleton, name: str, position: FloatArray) -> FloatArray | None:
    """(3,) along the flesh at a joint that stands at `position`; None where no bone tells.

    Midway between the bone that ends at the joint and the one that begins there, so that a section
    square to it parts a bent limb evenly. Frame and units of the skeleton. Raises SkeletonError for
    a broken tree.
    """
    parents = parent_indices(skeleton)
    at = skeleton.positions()
    index = skeleton.names.index(name)
    at[index] = position
    convention = recorded(skeleton.settings)
    bones = find_bones(skeleton, parents, at, convention.aims if convention else None)
    above = at[index] - at[parents[index]] if parents[index] >= 0 else np.zeros(3)
    length = float(np.linalg.norm(above))
    above = above / length if length > 0.0 else above
    own = bones.direction[index]
    if stem(name) in OWN_BONE and np.any(own):
        return own
    if stem(name) in BONE_ABOVE and np.any(above):
        return above
    both = above + own
    if np.linalg.norm(both) < 0.1:  # folded flat: either bone will do
        both = own
    return both if np.any(both) else None


def bone_length(skeleton: Skeleton, name: str) -> float:
    """Of the longest bone that ends or begins at a joint, in the skeleton's units; 0 for none."""
    joint = skeleton[name]
    others = [child.position for child in skeleton.children(name)]
    if joint.parent is not None:
        others.append(skeleton[joint.parent].position)
    return max((float(np.linalg.norm(other - joint.position)) for other in others), default=0.0)
