"""What keeping locked joints in a new model did: how far joints moved, and what is odd."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from autoplace.refit.recorded import OTHER_SIZE
from autoplace.skeleton.model import Finding

if TYPE_CHECKING:
    from autoplace.result import PlaceResult
    from autoplace.skeleton.model import Skeleton

__all__ = ["KeptJoint", "far_from_anew", "moves_of", "other_frame"]

FloatArray = NDArray[np.float64]

FAR = 2.0
"""Spreads between where a joint is kept and where it would be placed anew beyond which it is told:
19 of 20 lie nearer by chance if the spreads are right (normal distribution)."""

UNSEEN = 0.001
"""Heights that are told in no case: 2 mm on an adult (common practice, no source)."""


@dataclass(frozen=True)
class KeptJoint:
    """How far one joint moved from the old skeleton to the new one."""

    name: str
    kept: bool
    """True for a locked joint that was carried over; the others were placed anew."""
    moved: float | None
    """From its old place by the numbers in the two files, in units of the new one; None for a
    joint that the old skeleton lacks."""
    share: float | None
    """The same in shares of the new character's height."""
    from_anew: float | None
    """Of a kept joint, how far it lies from where it would be placed anew, shares of the height;
    None for other joints, and where it would not be placed at all."""

    def as_data(self) -> dict[str, Any]:
        """Plain data; shares as percent of the height."""
        return {
            "name": self.name,
            "kept": self.kept,
            "moved": self.moved,
            "moved_percent": None if self.share is None else 100.0 * self.share,
            "from_anew_percent": None if self.from_anew is None else 100.0 * self.from_anew,
        }


def moves_of(old: Skeleton, kept: Skeleton, anew: PlaceResult) -> tuple[KeptJoint, ...]:
    """How far every joint of `kept` moved against `old`, and kept ones lie from `anew`."""
    locked = {joint.name for joint in old if joint.locked}
    before = {joint.name: joint.position for joint in old}
    height = anew.frame.height
    placed = {joint.name: joint.position for joint in anew.skeleton}

    def apart(first: FloatArray | None, second: FloatArray) -> float | None:
        return None if first is None else float(np.linalg.norm(second - first))

    rows = []
    for joint in kept:
        moved = apart(before.get(joint.name), joint.position)
        off = apart(placed.get(joint.name), joint.position) if joint.name in locked else None
        rows.append(
            KeptJoint(
                joint.name,
                joint.name in locked,
                moved,
                None if moved is None else moved / height,
                None if off is None else off / height,
            )
        )
    return tuple(rows)


def other_frame(old: Skeleton, new: Skeleton) -> str:
    """A sentence when the numbers in the two files can hardly be compared; empty when they can."""
    told = []
    ratio = new.source.height / old.source.height
    if not 1.0 / OTHER_SIZE < ratio < OTHER_SIZE:
        told.append(f"the new figure is {ratio:.3g} times as tall in its units")
    for what in ("up", "forward"):
        was, now = getattr(old.source, what), getattr(new.source, what)
        if was != now:
            told.append(f"{what} is {now} where it was {was}")
    if not told:
        return ""
    return f"Distances moved compare bare numbers of files in different frames: {', '.join(told)}."


def far_from_anew(kept: Skeleton, anew: PlaceResult) -> tuple[Finding, ...]:
    """Kept joints that lie beyond two spreads from where they would be placed anew."""
    found = []
    height = anew.frame.height
    for joint in kept:
        if not (joint.locked and joint.name in anew.skeleton):
            continue
        other = anew.skeleton[joint.name]
        apart = float(np.linalg.norm(joint.position - other.position)) / height
        limit = max(FAR * float(np.hypot(joint.spread, other.spread)) / height, UNSEEN)
        if apart > limit:
            found.append(
                Finding(
                    "kept_joint",
                    joint.name,
                    "note",
                    f"'{joint.name}' is kept {100 * apart:.2f} % of the height from where it would "
                    f"be placed anew; the limit is {100 * limit:.2f} % (two spreads).",
                    "Nothing, if it was set apart from there on purpose; else look at it, and "
                    "unlock it to have it placed.",
                    apart,
                    limit,
                    "height",
                    "two standard deviations",
                )
            )
    return tuple(found)
