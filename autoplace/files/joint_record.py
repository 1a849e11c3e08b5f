"""The joints of a foreign file as plain arrays, and what every reader of such files needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import FileMissing, SkeletonError
from autoplace.skeleton.angles import turn_angle

__all__ = [
    "DEEPEST",
    "MOST_JOINTS",
    "JointRecord",
    "file_size",
    "from_frames",
    "parents_first",
    "refuse_too_many",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_JOINTS = 4096
"""More joints than any character has (a face of a film character has some hundred); common
practice, no source. Keeps the time bounded that a broken file can take."""
DEEPEST = 512
"""Longest chain of joints that is read, for the same reason."""
TURNED = 0.01
"""Degrees; less is rounding of single-precision files on their way through several programs."""
SCALED = 1e-4
"""Scales nearer to one than this are rounding, likewise."""
MOVED = 1e-3
"""Share of the longest bone; less is rounding, likewise. Common practice, no source."""
SHEARED = 1e-4
"""Cosine between columns; less is rounding, likewise."""
SINGULAR = 1e-9
"""A local frame whose smallest factor is below this share of its largest is flat; the rounding of
single precision is some hundred times as large. Common practice, no source."""


@dataclass(frozen=True)
class JointRecord:
    """Joints of a file, parents first, in the file's frame and units, as they stand in it."""

    format: str
    """'glTF', 'USD', 'X3D' or 'BVH'."""
    names: tuple[str, ...]
    """The file's names; they may repeat."""
    parents: IntArray
    """(n,) index of the parent, -1 for none."""
    positions: FloatArray
    """(n, 3)"""
    axes: FloatArray
    """(n, 3, 3) unit rows: where the local X, Y and Z point."""
    turned: FloatArray
    """(n,) degrees that a joint is turned by on top of its rest orientation."""
    scaled: FloatArray
    """(n, 3) factors along the joint's own axes, one where it is not scaled."""
    tips: tuple[bool, ...] = ()
    """Which of them the file itself says to be no joint but the end of a chain."""
    up: str | None = None
    """Axis name, where the file or its format says it."""
    forward: str | None = None
    metres_per_unit: float | None = None
    notes: tuple[str, ...] = field(default=())


def file_size(path: Path) -> int:
    """Size of the file in bytes; FileMissing when it cannot be opened, SkeletonError if empty."""
    try:
        with path.open("rb") as file:
            size = file.seek(0, 2)
    except OSError as reason:
        raise FileMissing(
            f"Cannot read '{path}': {reason.strerror or reason}; check the name."
        ) from reason
    if size == 0:
        raise SkeletonError("it is empty; export the skeleton again.")
    return size


def parents_first(parents: Sequence[int]) -> list[int]:
    """Order of the indices with every parent before its children; as they are, if that is one.

    Raises SkeletonError for a cycle or a chain longer than DEEPEST.
    """
    children: list[list[int]] = [[] for _ in parents]
    roots: list[int] = []
    for index, parent in enumerate(parents):
        (roots if parent < 0 else children[parent]).append(index)
    order: list[int] = []
    waiting = [(root, 1) for root in reversed(roots)]
    while waiting:
        index, depth = waiting.pop()
        if depth > DEEPEST:
            raise SkeletonError(
                f"its joints hang one under the other more than {DEEPEST} deep, as no character's "
                "do; export only the character's own joints."
            )
        order.append(index)
        waiting += [(child, depth + 1) for child in reversed(children[index])]
    if len(order) < len(parents):
        raise SkeletonError("some of its joints are their own ancestors; export the file again.")
    in_order = all(parent < index for index, parent in enumerate(parents))
    return list(range(len(parents))) if in_order else order


def refuse_too_many(count: int) -> None:
    """Raises SkeletonError for more than MOST_JOINTS joints."""
    if count > MOST_JOINTS:
        raise SkeletonError(
            f"it has {count} joints, more than the {MOST_JOINTS} that are read; export only the "
            "character's own joints."
        )


def from_frames(
    kind: str,
    names: Sequence[str],
    parents: IntArray,
    now: FloatArray,
    *,
    rest: FloatArray | None,
    local_factors: FloatArray | None = None,
) -> JointRecord:
    """A record from frames (n, 4, 4) for column vectors, joints in the world, parents first.

    `now` is how the joints stand; `rest` how they stood when the mesh was bound to them, in any
    common frame. A joint is turned by what its frame in its parent's differs by; a single root
    cannot be, since where the whole stands is a matter of the frame. Without `rest` every turn
    between a joint and its parent counts. `local_factors` (n, 3) replace the scales read off the
    frames of the roots.

    Raises SkeletonError, with the names, for flat or mirrored frames.
    """
    turns, _, sheared = _turns_and_factors(now, names)
    local = _in_parents(now, parents)
    local_turns, factors, _ = _turns_and_factors(local, names)
    roots = parents < 0
    factors[roots] = 1.0 if local_factors is None else local_factors[roots]
    factors = np.where(np.abs(factors - 1.0) > SCALED, factors, 1.0)
    notes = []
    turned = np.zeros(len(names))
    if rest is None:
        turned = turn_angle(local_turns)
        turned[roots] = 0.0
    else:
        # several roots are compared with the first, as if they hung from it
        first = int(np.flatnonzero(roots)[0])
        above = np.where(roots, first, parents)
        above[first] = -1
        here, there = _in_parents(now, above), _in_parents(rest, above)
        below = above >= 0
        bound, _, _ = _turns_and_factors(
            there[below], [n for n, b in zip(names, below, strict=True) if b]
        )
        ours, _, _ = _turns_and_factors(
            here[below], [n for n, b in zip(names, below, strict=True) if b]
        )
        turned[below] = turn_angle(np.swapaxes(bound, 1, 2) @ ours)
        shift = np.linalg.norm(here[below, :3, 3] - there[below, :3, 3], axis=1)
        size = np.linalg.norm(there[below, :3, 3], axis=1).max(initial=0.0)
        moved = [n for n, s in zip(np.array(names)[below], shift, strict=True) if s > MOVED * size]
        if moved:
            notes.append(
                f"{len(moved)} joints stand elsewhere in their parents than when the mesh was "
                f"bound to them, such as '{moved[0]}'; the skeleton is taken as it stands."
            )
    if sheared:
        notes.append(
            f"Uneven scales leave the axes of {len(sheared)} joints, such as "
            f"'{names[sheared[0]]}', not at right angles; the nearest right-angled axes are taken."
        )
    return JointRecord(
        kind,
        tuple(names),
        parents,
        positions=now[:, :3, 3].copy(),
        axes=np.swapaxes(turns, 1, 2),
        turned=np.where(turned > TURNED, turned, 0.0),
        scaled=factors,
        notes=tuple(notes),
    )


def _in_parents(world: FloatArray, parents: IntArray) -> FloatArray:
    """(n, 4, 4) frames in their parents' frames, from frames in the world; roots as they are."""
    local = world.copy()
    below = parents >= 0
    local[below] = np.linalg.solve(world[parents[below]], world[below])
    return local


def _turns_and_factors(
    frames: FloatArray, names: Sequence[str]
) -> tuple[FloatArray, FloatArray, list[int]]:
    """Nearest rotations (n, 3, 3) and lengths of the columns (n, 3) of frames (n, 3 or 4, ...).

    The third value lists frames whose columns are not at right angles to single precision.
    Raises SkeletonError, with the names, for flat frames and for left-handed ones.
    """
    linear = frames[:, :3, :3]
    factors = np.linalg.norm(linear, axis=1)
    largest = factors.max(axis=1, initial=0.0)
    flat = ~(factors.min(axis=1, initial=np.inf) > SINGULAR * largest)
    unit = linear / np.where(factors > 0, factors, 1.0)[:, None, :]
    left, values, right = np.linalg.svd(unit)
    flat |= ~(values[:, -1] > SINGULAR)
    for wrong, what in (
        (flat, "is scaled to nothing, so that its axes cannot be told: give it"),
        (np.linalg.det(unit) < 0, "is mirrored by a negative scale: give it"),
    ):
        if wrong.any():
            raise SkeletonError(
                f"'{names[int(np.flatnonzero(wrong)[0])]}' {what} scales above zero, or leave it "
                "out."
            )
    gram = np.swapaxes(unit, 1, 2) @ unit
    sheared = np.abs(gram - np.eye(3)).max(axis=(1, 2), initial=0.0) > SHEARED
    return left @ right, factors, [int(i) for i in np.flatnonzero(sheared)]
