"""How a limb's breadth, depth and middle run from one joint to the next but one.

Where a knee lies shows in all of that together: the calf and thigh swell on the two sides of it,
and the leg's line bows forward at it. The profile is free of size and place, so legs of any length
can be compared.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.sections import Sections, arc_lengths

__all__ = ["LimbProfile", "read_profile"]

FloatArray = NDArray[np.float64]

LEAST_SECTIONS = 6
"""Sound sections without which a profile says nothing."""
CLEAR_OF_ROOT = 0.15
"""Share of the limb's length next to its root where sections take in the trunk."""
OFFSET_UNIT = 0.1
"""Unit of the middle's offset, share of the limb's length: makes it as large a number as the
logarithms of breadth and depth."""


@dataclass(frozen=True)
class LimbProfile:
    """A limb between its first and its last joint."""

    line: FloatArray
    """(n, 3) first joint, middles of the sound sections, last joint."""
    arc: FloatArray
    """(n,) distance along the line."""
    values: FloatArray
    """(3 k,) at the k shares asked for: log depth and log breadth, each less its mean, and how far
    the line bows to the front of its own trend, in `OFFSET_UNIT` lengths of the limb."""


def read_profile(
    sections: Sections, first: FloatArray, last: FloatArray, front: FloatArray, shares: FloatArray
) -> LimbProfile | None:
    """Read the profile of a limb.

    Args:
        sections: cuts along the limb, whose first width runs front to back.
        first, last: (3,) joints at its ends, such as hip and ankle.
        front: (3,) where the limb's front faces.
        shares: (k,) of the way along the line at which to read.

    Returns:
        The profile, or None where too few sections are sound.
    """
    centre = sections.centre
    span = last - first
    length = float(np.linalg.norm(span))
    sound = (sections.area > 0) & ~sections.open_edge & ((centre - first) @ span > 0.0)
    sound &= np.linalg.norm(centre - first, axis=1) > CLEAR_OF_ROOT * length
    sound[int(np.argmin(np.linalg.norm(centre - last, axis=1))) :] = False
    if sound.sum() < LEAST_SECTIONS:
        return None
    line = np.concatenate([first[None], centre[sound], last[None]])
    arc = arc_lengths(line)
    at, inner = shares * arc[-1], arc[1:-1]
    axis = span / length
    ahead = front - (front @ axis) * axis
    ahead = ahead / max(float(np.linalg.norm(ahead)), 1e-300)
    rows = [np.log(np.interp(at, inner, sections.width[sound, k])) for k in (0, 1)]
    bow = np.interp(at, inner, centre[sound] @ ahead)
    bow = bow - np.polyval(np.polyfit(shares, bow, 1), shares)
    values = [row - row.mean() for row in rows] + [bow / (OFFSET_UNIT * arc[-1])]
    return LimbProfile(line, arc, np.concatenate(values))
