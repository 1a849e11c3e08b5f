"""Runs all checks on a skeleton and gives their findings in one order."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.checks.axes import check_aims, check_rotations, check_tips
from autoplace.skeleton.checks.bends import (
    check_bend_axes_agree,
    check_finger_bends,
    check_knees_and_elbows,
)
from autoplace.skeleton.checks.figure import Figure, prepare
from autoplace.skeleton.checks.inside import check_floor, check_inside
from autoplace.skeleton.checks.proportions import check_fingers_in_order, check_proportions
from autoplace.skeleton.checks.sides import (
    check_mirrored_axes,
    check_mirrored_places,
    check_sides_not_swapped,
)
from autoplace.skeleton.checks.tree import check_bone_lengths, check_parentage, check_tree
from autoplace.skeleton.convention import Convention, recorded
from autoplace.skeleton.model import Finding, Skeleton
from autoplace.skeleton.orient import Direction

__all__ = ["CHECKS", "check"]

FloatArray = NDArray[np.float64]

CHECKS: tuple[Callable[[Figure], list[Finding]], ...] = (
    check_parentage,
    check_bone_lengths,
    check_sides_not_swapped,
    check_mirrored_places,
    check_inside,
    check_floor,
    check_knees_and_elbows,
    check_finger_bends,
    check_fingers_in_order,
    check_rotations,
    check_aims,
    check_tips,
    check_mirrored_axes,
    check_bend_axes_agree,
    check_proportions,
)
"""In the order they run; each takes the measured figure and knows nothing of the others."""

LEVELS = ("error", "warning", "note")


def check(
    skeleton: Skeleton,
    *,
    depth_at: Callable[[FloatArray], FloatArray] | None = None,
    symmetry_residual: float | None = None,
    floor: float | None = None,
    convention: Convention | None = None,
    up: Direction = None,
    forward: Direction = None,
) -> tuple[Finding, ...]:
    """What a supervisor would say about a skeleton: errors first, then warnings, then notes.

    Args:
        skeleton: Any skeleton; a broken tree is reported, and then nothing else can be checked.
        depth_at: Takes points (n, 3) in the skeleton's frame and gives how deep (n,) they lie under
            the surface, positive inside, as fractions of the height. Without it places inside the
            body are not checked.
        symmetry_residual: How far the mesh is from its mirror image, as a fraction of the height;
            None when unknown, and then differences between the sides are notes.
        floor: Where the floor is, measured along up in the skeleton's frame and units; None skips
            the check of the feet.
        convention: What the axes mean; None takes what the skeleton says of itself.
        up: As for `orient`.
        forward: As for `orient`.

    Raises:
        SkeletonError: up and forward lie along one line, or a joint aims at what is not its child.
    """
    found = check_tree(skeleton)
    if not found:
        figure = prepare(
            skeleton,
            convention=convention or recorded(skeleton.settings),
            up=up,
            forward=forward,
            depth_at=depth_at,
            symmetry_residual=symmetry_residual,
            floor=floor,
        )
        for one in CHECKS:
            found += one(figure)
    return tuple(sorted(found, key=lambda f: LEVELS.index(f.level)))
