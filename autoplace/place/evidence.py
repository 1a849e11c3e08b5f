"""One rule for every joint: cues with spreads in, a place with a spread and a record out.

Each cue is a Gaussian belief about the joint, possibly surer in one direction than in another (a
limb's axis says where across, not where along). The decision is their product: the mean weighted
by precision. A template is the mean of many figures and may be far from this one, and a landmark
may be another thing than it seems: such beliefs have a heavy tail, so that they count less the
farther they are from what all else shows. Where cues disagree more than their spreads allow, the
spread of the decision grows by the square root of the excess (the Birge ratio of least-squares
adjustment).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.model import Evidence

__all__ = [
    "CENTRELINE_SPREAD",
    "Cue",
    "Placed",
    "along",
    "belief",
    "combine",
    "cue",
    "on_line",
]

FloatArray = NDArray[np.float64]

FLOOR = 1e-4
"""Least spread of a decision, fraction of height: a cell's sub-division is not seen below it."""


HEAVY_TAILED = ("template_prior", "armpit", "section_breadth")
"""Kinds of cues that may be far off: a template speaks for other figures than this one, a sleeve's
hem passes for an armpit, and a coat or a barrel of a trunk says nothing of its shoulders."""
TAIL = 4.0
"""Degrees of freedom of Student's t distribution, whose weight these have (own synthetic
characters: 1 to 4 serve alike)."""

CENTRELINE_SPREAD = 0.006
"""How far a joint lies off the middle of its limb's sections, fraction of height (own synthetic
characters)."""
OFF_CENTRELINE = 0.03
"""The same where the limb's whole shape tells how far: then the line only says where along."""


@dataclass(frozen=True)
class Cue:
    """A belief about one joint, working frame."""

    kind: str
    position: FloatArray
    """(3,)"""
    covariance: FloatArray
    """(3, 3)"""
    note: str


@dataclass(frozen=True)
class Placed:
    """A decided joint, working frame."""

    position: FloatArray
    """(3,)"""
    spread: float
    """One standard deviation per axis (root mean square over the axes)."""
    evidence: tuple[Evidence, ...]
    disagreement: float
    """Birge ratio: about 1 when the cues agree as well as they claim."""


def cue(kind: str, position: FloatArray, spread: float | FloatArray, note: str) -> Cue:
    """A cue with the same spread every way, or one spread per working axis."""
    sd = np.broadcast_to(np.maximum(spread, FLOOR), (3,))
    return Cue(kind, np.asarray(position, dtype=np.float64), np.diag(sd**2), note)


def along(
    kind: str,
    position: FloatArray,
    direction: FloatArray,
    spread_along: float,
    spread_across: float,
    note: str,
) -> Cue:
    """A cue that is differently sure along a direction and across it."""
    d = np.asarray(direction, dtype=np.float64)
    d = d / np.linalg.norm(d)
    outer = np.outer(d, d)
    covariance = max(spread_along, FLOOR) ** 2 * outer
    covariance = covariance + max(spread_across, FLOOR) ** 2 * (np.eye(3) - outer)
    return Cue(kind, np.asarray(position, dtype=np.float64), covariance, note)


def on_line(
    kind: str,
    line: FloatArray,
    arc: FloatArray,
    at: float,
    spread: float,
    note: str,
    across: float = CENTRELINE_SPREAD,
) -> Cue:
    """A cue at an arc length of a limb's line, as sure across the line as `across` says.

    Args:
        line: (n, 3) points. arc: (n,) distance along them. at: the cue's distance.
        spread: one standard deviation along the line. across: the same across it.
    """

    def point(distance: float) -> FloatArray:
        return np.array([np.interp(distance, arc, line[:, a]) for a in range(3)])

    step = 0.05 * arc[-1]
    direction = point(at + step) - point(at - step)
    return along(kind, point(at), direction, spread, across, note)


def _belief(index: int, cues: Sequence[Cue], precisions: Sequence[NDArray[np.floating]]) -> float:
    """Weight of a cue, 0 to 1: less than 1 for a doubtful one far from what the others say."""
    one = cues[index]
    others = [i for i in range(len(cues)) if i != index]
    if one.kind not in HEAVY_TAILED or not others:
        return 1.0
    covariance = np.linalg.inv(np.sum([precisions[i] for i in others], axis=0))
    middle = covariance @ np.sum([precisions[i] @ cues[i].position for i in others], axis=0)
    away = one.position - middle
    return belief(float(away @ np.linalg.solve(one.covariance + covariance, away)))


def belief(square: float) -> float:
    """How far a doubtful cue is believed, 0 to 1; `square` is that of the number of standard
    deviations that it is off."""
    return 1.0 / (1.0 + square / TAIL)


def combine(cues: Sequence[Cue]) -> Placed:
    """Decide a joint from its cues.

    Args:
        cues: at least one.

    Returns:
        The place; the weights of its evidence sum to one.
    """
    claimed = [np.linalg.inv(c.covariance) for c in cues]
    precisions = [p * _belief(i, cues, claimed) for i, p in enumerate(claimed)]
    total = np.sum(precisions, axis=0)
    covariance = np.linalg.inv(total)
    position = covariance @ np.sum(
        [p @ c.position for p, c in zip(precisions, cues, strict=True)], axis=0
    )
    excess = sum(
        float((c.position - position) @ p @ (c.position - position))
        for p, c in zip(precisions, cues, strict=True)
    )
    freedom = 3 * (len(cues) - 1)
    ratio = float(np.sqrt(max(excess / freedom, 0.0))) if freedom else 1.0
    spread = float(np.sqrt(np.trace(covariance) / 3.0)) * max(ratio, 1.0)
    shares = np.array([np.trace(covariance @ p) for p in precisions]) / 3.0
    shares = shares / shares.sum()
    evidence = tuple(
        Evidence(
            kind=c.kind,
            position=c.position,
            spread=float(np.sqrt(np.trace(c.covariance) / 3.0)),
            weight=float(w),
            note=c.note,
        )
        for c, w in zip(cues, shares, strict=True)
    )
    return Placed(position, max(spread, FLOOR), evidence, ratio)
