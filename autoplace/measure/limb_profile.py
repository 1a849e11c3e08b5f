"""How a limb's breadth, depth and middle run from one joint to the next but one.

Where a knee lies shows in all of that together: the calf and thigh swell on the two sides of it,
and the leg's line bows forward at it. The profile is free of size and place, so legs of any length
can be compared.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.sections import Sections, arc_lengths

__all__ = ["LimbProfile", "read_profile"]

FloatArray = NDArray[np.float64]

SMOOTHING = 1.0
"""Of breadth and depth along the limb, sections, one standard deviation: noise of a thousandth of
the height makes a profile look strange otherwise (common practice, no source)."""
LEAST_SECTIONS = 6
"""Sound sections without which a profile says nothing."""
CLEAR_OF_ROOT = 0.15
"""Share of the limb's length next to its root where sections take in the trunk."""
FINE = 2000
"""Steps along the line in which the nearest place to a point is looked for."""
DIRECTION_REACH = 0.05
"""Shares of the line before and behind a place that say where it runs there."""
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
    """(3 k + 2,) at the k shares asked for: log depth and log breadth, each less its mean, and how
    far the line bows to the front of its own trend, in `OFFSET_UNIT` lengths of the limb; then the
    means of log depth and breadth over the limb's length, and where it is asked for (k,) how far
    the line bows to the side."""
    front: FloatArray
    """(3,) unit: where the limb's front faces."""
    outward: float
    """+1 for a left limb, -1 for a right one."""

    def point(self, coordinates: FloatArray) -> FloatArray:
        """(3,) working frame, of the share along the line and the shares of its length to the
        front of it and to the side."""
        share, ahead, aside = (float(number) for number in coordinates)
        _, front, side = self._frame(share)
        return self._at(share) + self.arc[-1] * (ahead * front + aside * side)

    def coordinates(self, point: FloatArray) -> FloatArray:
        """(3,) of a point near the line: undoes `point`."""
        shares = np.linspace(0.0, 1.0, FINE + 1)
        along = np.stack([np.interp(shares, self._shares, self.line[:, a]) for a in range(3)], 1)
        share = float(shares[int(np.argmin(((along - point) ** 2).sum(axis=1)))])
        _, front, side = self._frame(share)
        off = (point - self._at(share)) / self.arc[-1]
        return np.array([share, off @ front, off @ side])

    def axes(self, coordinates: FloatArray) -> FloatArray:
        """(3, 3) columns: how the point moves with each of its coordinates."""
        return np.stack(self._frame(float(coordinates[0])), axis=1) * self.arc[-1]

    @property
    def _shares(self) -> FloatArray:
        return self.arc / self.arc[-1]

    def _at(self, share: float) -> FloatArray:
        return np.array([np.interp(share, self._shares, self.line[:, a]) for a in range(3)])

    def _frame(self, share: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Unit vectors along the line, to its front, and to its side, alike on both limbs."""
        along = self._at(share + DIRECTION_REACH) - self._at(share - DIRECTION_REACH)
        along = along / max(float(np.linalg.norm(along)), 1e-300)
        front = self.front - (self.front @ along) * along
        front = front / max(float(np.linalg.norm(front)), 1e-300)
        return along, front, np.cross(along, front) * self.outward


def read_profile(
    sections: Sections,
    first: FloatArray,
    last: FloatArray,
    front: FloatArray,
    shares: FloatArray,
    side: str,
    *,
    sideways: bool = False,
) -> LimbProfile | None:
    """Read the profile of a limb.

    Args:
        sections: cuts along the limb, whose first width runs front to back.
        first, last: (3,) joints at its ends, such as hip and ankle.
        front: (3,) where the limb's front faces.
        shares: (k,) of the way along the line at which to read.
        side: "left" or "right".
        sideways: whether to read how the line bows to the side as well, for limbs whose joint does
            not bend to the front alone.

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
    outward = 1.0 if side == "left" else -1.0
    width = ndimage.gaussian_filter1d(sections.width[sound], SMOOTHING, axis=0)
    rows = [np.log(np.interp(at, inner, width[:, k]) / arc[-1]) for k in (0, 1)]
    values = [row - row.mean() for row in rows]
    values.append(_bow(shares, at, inner, centre[sound] @ ahead) / arc[-1])
    values.append(np.array([row.mean() for row in rows]))
    if sideways:
        aside = np.cross(axis, ahead) * outward
        values.append(_bow(shares, at, inner, centre[sound] @ aside) / arc[-1])
    return LimbProfile(line, arc, np.concatenate(values), front, outward)


def _bow(shares: FloatArray, at: FloatArray, arc: FloatArray, off: FloatArray) -> FloatArray:
    """(k,) how far a line bows from its own trend at shares of its way, from how far off its
    places (n,) lie; in `OFFSET_UNIT`."""
    bow = np.interp(at, arc, off)
    return np.asarray(bow - np.polyval(np.polyfit(shares, bow, 1), shares)) / OFFSET_UNIT
