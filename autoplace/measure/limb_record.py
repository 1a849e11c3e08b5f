"""The branches of a body as records: which limb each is and where it runs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.belted import Hanging

__all__ = ["BAND", "CLEAR_OF_FLOOR", "Limb", "Limbs", "hanging"]

FloatArray = NDArray[np.float64]

BAND = 0.02
"""Width of a distance band, fraction of height: three cells of the body's grid."""
CLEAR_OF_FLOOR = 0.05
"""A hand that hangs low is this much above the feet, fraction of height (own synthetic
characters)."""
THREAD = 0.2
"""Radius of a limb's beginning over its middle one, from which on it is flesh: no thigh has a fifth
of a shank's thickness (common practice, no source)."""


@dataclass(frozen=True)
class Limb:
    """One branch, working frame (height = 1)."""

    kind: str
    """'leg', 'arm', 'head' or 'other'."""
    side: str | None
    """'left' or 'right', the character's own; None for the head."""
    line: FloatArray
    """(n, 3) rough centreline, from the trunk to the tip."""
    radius: FloatArray
    """(n,) rough radius along the line."""
    junction: FloatArray
    """(3,) centre of the trunk's band that the branch leaves from."""
    cells: FloatArray
    """(m, 3) centres of all the solid's cells that belong to the limb, tip and side shoots too."""
    skin: FloatArray | None = None
    """(k, 3, 3) corners of the triangles of an arm that was told by its skin (see
    `measure.skin_arms`), None of all others."""

    @property
    def on_floor(self) -> bool:
        """Does it reach down to the floor, as a leg does that is stood on?"""
        return bool(self.cells[:, 1].min() < CLEAR_OF_FLOOR)

    def without_thread(self) -> Limb:
        """The limb from where it has flesh: under cloth, it may hang from the trunk by folds."""
        thick = self.radius > THREAD * float(np.median(self.radius))
        first = min(int(np.argmax(thick)), len(self.line) - 2)
        return replace(self, line=self.line[first:], radius=self.radius[first:])


@dataclass(frozen=True)
class Limbs:
    """The branches of one body."""

    limbs: tuple[Limb, ...]
    seed: FloatArray
    """(3,) trunk point that distances start from."""
    notes: tuple[str, ...] = ()
    """What a person should know of how they were told apart, as sentences without a stop."""
    parting: float | None = None
    """Height at which the legs part, None where that is hidden."""
    neck: float = np.inf
    """Height of the neck, infinite where none shows."""
    led_up: bool = False
    """Whether the legs end inside a skirt and were led on to the trunk."""

    def one(self, kind: str, side: str | None = None) -> Limb | None:
        """The limb of a kind and side; the longest where several claim it, but of legs one that
        reaches the floor before what hangs clear of it; None if missing."""
        mine = [limb for limb in self.limbs if limb.kind == kind and limb.side == side]
        stand = [limb for limb in mine if kind == "leg" and limb.on_floor]
        return max(stand or mine, key=lambda limb: _length(limb.line)) if mine else None

    def pair(self, kind: str) -> list[Limb]:
        """The limbs of a kind, `one` of either side, left first; those that are there."""
        both = (self.one(kind, side) for side in ("left", "right"))
        return [limb for limb in both if limb is not None]


def hanging(limb: Limb) -> Hanging:
    """A limb as what leaves the trunk to its side."""
    leaves = float(limb.junction[1])
    reach = float(np.linalg.norm(limb.line[-1] - [0.0, leaves, limb.junction[2]]))
    aside = float(np.abs(limb.cells[:, 0]).max())
    return Hanging(limb.side, float(limb.line[0, 1]), leaves, reach, aside, len(limb.cells))


def _length(line: FloatArray) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
