"""Which convention do the axes of a skeleton follow that does not say by which it was oriented?

The local axis that lies along the bone of most joints is the aim axis, and the one that lies along
their bend axes, with the same sign, the bend axis. On the right side the aim axis points at the
child (`mirror = "axes"`) or away from it (`"motion"`). What most joints do, to within a degree or
two, was meant; the others can then be told apart from it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.convention import AXIS_NAMES, Convention, axis_vector
from autoplace.skeleton.names import family, side_of

__all__ = ["GuessedConvention", "guess_convention"]

FloatArray = NDArray[np.float64]

ALONG = np.cos(np.radians(1.0))
"""An aim axis lies within a degree of the bone: aims are made, not drawn by hand (common practice,
no source)."""
ACROSS = np.cos(np.radians(30.0))
"""A bend axis lies within 30 degrees of where we would put it, since planes are fitted in more than
one way (common practice, no source)."""
MOST = 0.7
"""Share of the joints that must agree (common practice, no source)."""
FEW = 5
"""Joints below which nothing is guessed."""
FLEXING = ("trunk", "arm", "finger", "leg")


@dataclass(frozen=True)
class GuessedConvention:
    """A convention that most joints follow."""

    convention: Convention
    share: float
    """Of the joints with a bone, how many aim by it."""
    bends: bool
    """Whether the bend axis could be told, too; else it is only some other letter."""


def guess_convention(
    names: tuple[str, ...], axes: FloatArray, bones: FloatArray, bends: FloatArray
) -> GuessedConvention | None:
    """The convention that most joints follow, or None where they follow none.

    Args:
        names: Of the joints.
        axes: (n, 3, 3) unit rows.
        bones: (n, 3) unit directions of the bones; zero for a joint without one.
        bends: (n, 3) unit bend axes about which a positive turn flexes; all in one frame.
    """
    told = [k for k, name in enumerate(names) if np.any(bones[k]) and family(name) != "eye"]
    right = [k for k in told if side_of(names[k]) == "right"]
    others = [k for k in told if side_of(names[k]) != "right"]
    if len(others) < FEW:
        return None
    aim, share = _most_along(axes[others], bones[others], ALONG)
    if aim is None or share < MOST:
        return None
    mirror = "axes"
    if right:
        toward = np.einsum("ki,ki->k", axis_vector(aim) @ axes[right], bones[right])
        at, away = float(np.mean(toward > ALONG)), float(np.mean(toward < -ALONG))
        if max(at, away) < MOST:
            return None
        mirror = "axes" if at > away else "motion"
        share = (share * len(others) + max(at, away) * len(right)) / len(told)
    flexing = [k for k in others if family(names[k]) in FLEXING]
    bend, sure = _most_along(axes[flexing], bends[flexing], ACROSS) if flexing else (None, 0.0)
    known = bend is not None and bend[1] != aim[1] and sure >= MOST
    free = next(name for name in AXIS_NAMES if name[1] != aim[1])
    return GuessedConvention(
        Convention(aim=aim, bend=bend if known and bend else free, mirror=mirror), share, known
    )


def _most_along(
    axes: FloatArray, directions: FloatArray, within: float
) -> tuple[str | None, float]:
    """The local axis that lies along most directions (k, 3), and the share of those."""
    votes: Counter[str] = Counter()
    for name in AXIS_NAMES:
        along = np.einsum("ki,ki->k", axis_vector(name) @ axes, directions)
        votes[name] = int(np.sum(along > within))
    best, count = votes.most_common(1)[0]
    return (best, count / len(axes)) if count else (None, 0.0)
