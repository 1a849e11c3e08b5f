"""A joint's place on its way to the skeleton."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.model import Evidence

__all__ = ["PlacedPoint", "placed"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class PlacedPoint:
    """A joint's place, how sure it is, and why it is there."""

    position: FloatArray
    """(3,) working frame."""
    spread: float
    """One standard deviation."""
    evidence: tuple[Evidence, ...]
    """What spoke for it; the weights sum to one."""


def placed(evidence: list[tuple[str, FloatArray, float, str]]) -> PlacedPoint:
    """A joint from (kind, position, spread, note), weighed by inverse squared spreads."""
    strength = np.array([spread**-2.0 for _, _, spread, _ in evidence])
    weights = strength / strength.sum()
    position = np.sum([w * e[1] for w, e in zip(weights, evidence, strict=True)], axis=0)
    records = tuple(
        Evidence(kind, place, spread, float(weight), note)
        for (kind, place, spread, note), weight in zip(evidence, weights, strict=True)
    )
    return PlacedPoint(np.asarray(position), float(strength.sum() ** -0.5), records)
