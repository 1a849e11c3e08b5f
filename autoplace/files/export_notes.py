"""What exported files cannot carry, said in the same words by every exporter."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from autoplace.errors import OutputError, SkeletonError
from autoplace.skeleton.model import Skeleton

__all__ = [
    "frame_note",
    "lost_axes",
    "lost_judgement",
    "must_be_frames",
    "names_or_own",
    "unit_note",
]

HALF = re.compile("[\ud800-\udfff]")
"""A surrogate, which stands for a character only together with another."""
FRAME = 1e-4
"""How far axes may be from unit length and right angles (as cosines): the rounding of
single-precision files; common practice, no source."""


def names_or_own(skeleton: Skeleton, names: Sequence[str] | None) -> tuple[str, ...]:
    """What the joints, in order, are to be called in the file; unsaid, as in the skeleton.

    Raises OutputError for a name that is empty, holds half of a character, or is given twice.
    """
    given = skeleton.names if names is None else tuple(names)
    assert len(given) == len(skeleton)
    seen: dict[str, str] = {}
    for own, name in zip(skeleton.names, given, strict=True):
        if not name.strip():
            raise OutputError(f"'{own}' would be written without a name: give it one.")
        if HALF.search(name):
            raise OutputError(
                f"The name {name!a} holds half of a character, which no file can keep: give "
                "the joint another."
            )
        if name in seen:
            raise OutputError(
                f"'{seen[name]}' and '{own}' would both be called '{name}': give one of them "
                "another name."
            )
        seen[name] = own
    return given


def must_be_frames(skeleton: Skeleton) -> None:
    """SkeletonError for a joint whose axes are not three unit rows at right angles, right-handed,
    which no format can hold as a turn."""
    for joint in skeleton:
        axes = np.asarray(joint.axes, dtype=np.float64)
        if not (np.abs(axes @ axes.T - np.eye(3)).max() <= FRAME and np.linalg.det(axes) > 0):
            raise SkeletonError(
                f"The axes of '{joint.name}' are not at right angles and right-handed, so they "
                "cannot be written as a turn: make them anew with autoplace orient."
            )


def lost_judgement(kind: str, skeleton: Skeleton) -> list[str]:
    """A note on what was thought about the joints, if there is any."""
    if any(j.spread or j.evidence or j.locked for j in skeleton) or skeleton.findings:
        return [
            f"{kind} has no place for spreads, evidence, locks and findings; they are in the JSON."
        ]
    return []


def lost_axes(kind: str, skeleton: Skeleton) -> list[str]:
    """A note on the joints' axes, if any of them are turned."""
    turned = sum(not np.array_equal(joint.axes, np.eye(3)) for joint in skeleton)
    if not turned:
        return []
    return [
        f"{kind} has no place for the joints' axes: all joints are unturned at rest, so the "
        f"orientation of {turned} of {len(skeleton)} is not carried."
    ]


def frame_note(kind: str, skeleton: Skeleton) -> str:
    """A note on unit and up of a format that says neither."""
    source = skeleton.source
    return (
        f"{kind} says neither the unit nor where up is: numbers are in the units of the skeleton "
        f"({source.height:.4g} tall), up is {source.up}, forward {source.forward}."
    )


def unit_note(height: float, metres: float, *, guessed: bool) -> str:
    """A note on what one unit was taken for, where the format counts in metres."""
    how = "taken as" if guessed else "set to"
    return (
        f"One unit was {how} {metres:g} m, which makes the character {height * metres:.3g} m tall."
    )
