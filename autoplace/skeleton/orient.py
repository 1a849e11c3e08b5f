"""Gives every joint of a skeleton an orthonormal, right-handed set of axes by one convention.

`aims` says where each bone points, `bend_axes` where each joint bends, `facing` which of these
axes a convention sets otherwise, and `convention` which local axes they are and how the sides
mirror. Joints without a bone of their own (tips, the top of the head, joints on top of one another)
copy their parent's axes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.skeleton.aims import find_bones
from autoplace.skeleton.bend_axes import BendAxes, find_bend_axes
from autoplace.skeleton.convention import (
    BY_BEND,
    DEFAULT,
    Convention,
    axis_vector,
    orientation_record,
    recorded,
)
from autoplace.skeleton.facing import faced_axes
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import family, side_of
from autoplace.skeleton.structure import parent_indices

__all__ = ["body_directions", "in_body_directions", "orient"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Direction = str | Sequence[float] | FloatArray | None

GROUPS = {"clavicle": "arm", "arm": "arm"}
GROUPS |= {"hand": "hand", "metacarpal": "hand", "finger": "hand"}
GROUPS |= {"leg": "leg", "foot": "leg"}
DECIDERS = {"arm": "arm", "hand": "hand", "leg": "leg"}
"""Families whose joints decide for their group whether `mirror = "axes"` reverses its bend axes."""
PARALLEL = 0.5
"""Bend axes of a pair are made parallel when they are, or their reverses are, within 60 degrees of
each other (cosine 0.5); common practice, no source."""


def orient(
    skeleton: Skeleton,
    convention: Convention | None = None,
    *,
    forward: Direction = None,
    up: Direction = None,
) -> Skeleton:
    """The same skeleton with `axes` filled for every joint; positions untouched.

    Without a `convention` the one that the skeleton was oriented by counts, else the default.
    `up` and `forward` are axis names such as '+Z' or vectors (3,) in the skeleton's frame; without
    them those of an earlier orientation count, else those of `skeleton.source`. The convention and
    the two directions are kept in `settings["orientation"]`, so that a second run gives the same.

    Raises SkeletonError for a broken tree, positions that are not finite, a joint that aims at
    what is not its child, or up and forward along one line.
    """
    convention = convention or recorded(skeleton.settings) or DEFAULT
    parents = parent_indices(skeleton)
    body = body_directions(skeleton, forward=forward, up=up)
    local = in_body_directions(skeleton, body)
    bones = find_bones(local, parents, local.positions(), convention.aims)
    bends = find_bend_axes(local, parents, local.positions(), bones)
    axes = _mirrored_axes(local, parents, bends, convention, body) @ body
    record: dict[str, Any] = convention.as_dict() | {
        "up": [float(v) for v in body[1]],
        "forward": [float(v) for v in body[2]],
    }
    joints = tuple(
        replace(joint, axes=own) for joint, own in zip(skeleton.joints, axes, strict=True)
    )
    return replace(skeleton, joints=joints, settings={**skeleton.settings, "orientation": record})


def body_directions(
    skeleton: Skeleton, *, forward: Direction = None, up: Direction = None
) -> FloatArray:
    """(3, 3) rows: the character's left, up and forward in the skeleton's frame.

    Raises SkeletonError when up and forward lie along one line or are not directions.
    """
    earlier = orientation_record(skeleton.settings)
    up = _first(up, earlier.get("up"), skeleton.source.up)
    forward = _first(forward, earlier.get("forward"), skeleton.source.forward)
    upward, ahead = _direction("up", up), _direction("forward", forward)
    ahead = ahead - (ahead @ upward) * upward
    if np.linalg.norm(ahead) < 1e-3:
        raise SkeletonError(f"Up ({up}) and forward ({forward}) lie along one line: give another.")
    ahead = ahead / np.linalg.norm(ahead)
    return np.stack([np.cross(upward, ahead), upward, ahead])


def in_body_directions(skeleton: Skeleton, body: FloatArray) -> Skeleton:
    """The skeleton with positions and look directions along body (3, 3) rows; origin kept."""
    return skeleton.with_joints(
        tuple(
            replace(
                joint,
                position=body @ np.asarray(joint.position, dtype=np.float64),
                look=None if joint.look is None else body @ np.asarray(joint.look, dtype=float),
            )
            for joint in skeleton.joints
        )
    )


def _first(*choices: Direction) -> Direction:
    return next(choice for choice in choices if choice is not None)


def _direction(what: str, given: Direction) -> FloatArray:
    try:
        vector = axis_vector(given) if isinstance(given, str) else np.asarray(given, dtype=float)
    except (TypeError, ValueError):
        vector = np.zeros(0)
    if vector.shape != (3,) or not np.all(np.isfinite(vector)) or not np.any(vector):
        raise SkeletonError(
            f"The {what} direction {given} is not a direction of three numbers: give an axis such "
            "as +Y."
        )
    return vector / np.linalg.norm(vector)


def _mirrored_axes(
    skeleton: Skeleton,
    parents: IntArray,
    bends: BendAxes,
    convention: Convention,
    body: FloatArray,
) -> FloatArray:
    """(n, 3, 3) axes along the character's directions, with the right side mirrored."""
    names = skeleton.names
    bends = replace(bends, axis=faced_axes(names, parents, bends, convention, body))
    reverse = _groups_to_reverse(names, bends) if convention.mirror == "axes" else {}
    axes = np.zeros((len(names), 3, 3))
    for i, name in enumerate(names):
        bone, bend = bends.bone[i], bends.axis[i]
        if not np.any(bone):
            above = parents[i]
            axes[i] = axes[above] if above >= 0 else convention.to_local(np.eye(3)[0], np.eye(3)[1])
            continue
        kind = family(name)
        if side_of(name) == "right" and not (kind == "eye" and convention.eyes == "together"):
            if convention.mirror == "motion":
                bone = -bone
            elif convention.facing_of(name) in BY_BEND and reverse.get(
                GROUPS.get(kind or "", name), _lies_in_symmetry_plane(bend)
            ):
                bend = -bend
        axes[i] = convention.to_local(bend, bone)
    return axes


def _groups_to_reverse(names: tuple[str, ...], bends: BendAxes) -> dict[str, bool]:
    """For each limb: do its two bend axes become parallel by reversing the right one?"""
    found: dict[str, list[FloatArray]] = {}
    for i, name in enumerate(names):
        group = GROUPS.get(family(name) or "")
        if side_of(name) == "right" and group and DECIDERS[group] == family(name):
            found.setdefault(group, []).append(bends.axis[i])
    return {
        group: float(np.mean([1.0 - 2.0 * axis[0] ** 2 for axis in axes])) > PARALLEL
        for group, axes in found.items()
    }


def _lies_in_symmetry_plane(bend: FloatArray) -> bool:
    return 1.0 - 2.0 * float(bend[0]) ** 2 > PARALLEL
