"""Where the joints of a hand lie, as shares of what can be measured on it; with sources.

Published values are for bones of adult people; modellers place finger joints nearer to the web
than anatomy does. Where the two differ the table holds a value between them and a spread that
covers both.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["FingerPrior", "HandPriors", "ThumbPrior"]


@dataclass(frozen=True)
class FingerPrior:
    """Joints of one finger. Lengths are shares of the visible finger, from its web to its end."""

    knuckle: float
    """How far the knuckle lies behind the web."""
    knuckle_spread: float
    middle: float
    """Proximal interphalangeal joint beyond the web."""
    end: float
    """Distal interphalangeal joint beyond the web."""
    spread: float
    """Of `middle` and `end`."""


@dataclass(frozen=True)
class ThumbPrior:
    """Joints of the thumb. Lengths are shares of the hand's length."""

    base_across: float = 0.14
    """Carpometacarpal joint: to the thumb's side of the wrist."""
    base_along: float = 0.15
    """Beyond the wrist."""
    base_palmward: float = 0.01
    base_spread: float = 0.05
    proximal: float = 0.195
    """From the metacarpophalangeal to the interphalangeal joint (Buchholz et al. 1992: .196)."""
    distal: float = 0.157
    """From the interphalangeal joint to the end (Buchholz et al. 1992: .158)."""
    visible_distal: float = 0.60
    """Interphalangeal joint to the end, share of the visible thumb beyond its web."""


@dataclass(frozen=True)
class HandPriors:
    """All of a hand."""

    fingers: Mapping[str, FingerPrior] = field(
        default_factory=lambda: {
            "index": FingerPrior(0.20, 0.08, 0.27, 0.64, 0.04),
            "middle": FingerPrior(0.21, 0.08, 0.29, 0.67, 0.04),
            "ring": FingerPrior(0.22, 0.08, 0.27, 0.63, 0.04),
            "pinky": FingerPrior(0.31, 0.09, 0.21, 0.57, 0.05),
        }
    )
    thumb: ThumbPrior = field(default_factory=ThumbPrior)
    back_depth: float = 0.5
    """Depth of the knuckle under the skin of the back, in radii of the finger."""
    backward: float = 0.5
    """Interphalangeal joints: towards the back from the middle of the section, in radii."""
