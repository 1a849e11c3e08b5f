"""Where along a limb its joint lies: the bend of its line, and the narrowing of its sections."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.sections import Sections

__all__ = ["LineBend", "Narrowing", "find_bend", "find_narrowing"]

FloatArray = NDArray[np.float64]

COARSE, FINE = 24, 40
"""Steps in which a hinge is looked for: over the whole range, then about the best of these."""
SMOOTHING = 2.0
"""Of the sections' radius before a narrowing is looked for, stations, one standard deviation: noise
of a thousandth of the height makes hollows of a hundredth of an arm's radius between neighbours."""
HOLLOW_POWER = 8
"""Power of its depth that a place counts with for where the narrowing is: four fifths as deep, a
sixth (common practice, no source)."""
LINE_NOISE = 0.005
"""How far a limb's line of section centres strays from its bones, fraction of height: muscle and
fat lie unevenly about a bone (own synthetic characters)."""


@dataclass(frozen=True)
class LineBend:
    """The best hinge of two straight pieces through a line."""

    arc: float
    """Distance along the line to the hinge."""
    angle: float
    """Bend at the hinge, radians."""
    spread: float
    """One standard deviation of `arc`: the line's noise over the sine of the bend."""
    position: FloatArray
    """(3,) the hinge of the fitted pieces."""


@dataclass(frozen=True)
class Narrowing:
    """A local narrowing of a limb."""

    arc: float
    depth: float
    """How much narrower than the shallower of its two sides, as a share of the radius."""


def find_bend(points: FloatArray, arc: FloatArray, low: float, high: float) -> LineBend:
    """Fit two straight pieces that meet, and return where.

    Minimises the squared distance of the points to a continuous two-piece line over the hinge's
    arc length between `low` and `high`.

    Args:
        points: (n, 3) line, at least four points. arc: (n,) distance along it.
        low, high: range of the hinge's arc.
    """
    step = (high - low) / COARSE
    best = _best_hinge(points, arc, np.linspace(low, high, COARSE + 1))
    if best is not None:
        # between the coarse places, or a hair's breadth would move the hinge by a whole step
        near = np.linspace(max(best[1] - step, low), min(best[1] + step, high), FINE + 1)
        best = _best_hinge(points, arc, near) or best
    if best is None:
        middle = 0.5 * (low + high)
        where = np.array([np.interp(middle, arc, points[:, a]) for a in range(3)])
        return LineBend(middle, 0.0, np.inf, where)
    _, at, solution = best
    before, after = solution[1], solution[1] + solution[2]
    cosine = before @ after / max(float(np.linalg.norm(before) * np.linalg.norm(after)), 1e-300)
    angle = float(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return LineBend(at, angle, LINE_NOISE / max(np.sin(min(angle, np.pi / 2)), 1e-6), solution[0])


def _best_hinge(
    points: FloatArray, arc: FloatArray, places: FloatArray
) -> tuple[float, float, FloatArray] | None:
    """Misfit, arc and solution (point, direction before it, change of direction) of the best place
    for the hinge; None where no place has points on both sides."""
    best: tuple[float, float, FloatArray] | None = None
    for at in places:
        basis = np.stack([np.ones_like(arc), arc - at, np.maximum(arc - at, 0.0)], axis=1)
        solution, _, rank, _ = np.linalg.lstsq(basis, points, rcond=None)
        if rank < 3:
            continue
        misfit = float(((basis @ solution - points) ** 2).sum())
        if best is None or misfit < best[0]:
            best = (misfit, float(at), solution)
    return best


def find_narrowing(sections: Sections, low: float, high: float) -> Narrowing | None:
    """The clearest local minimum of the sections' radius between two arc lengths.

    Returns:
        The narrowing, or None where the radius only grows or only falls in the range.
    """
    arc = sections.arc
    sound = (sections.area > 0) & ~sections.open_edge
    if sound.sum() < 5:
        return None
    fine = np.linspace(low, high, 61)
    radius = ndimage.gaussian_filter1d(sections.radius[sound], SMOOTHING)
    radius = np.interp(fine, arc[sound], radius)
    left = np.maximum.accumulate(radius)
    right = np.maximum.accumulate(radius[::-1])[::-1]
    depth = np.minimum(left, right) / np.maximum(radius, 1e-12) - 1.0
    deepest = float(depth.max())
    if deepest <= 0.0:
        return None
    # of two hollows the deeper one, and as much of both as they are alike
    weight = (depth / deepest) ** HOLLOW_POWER
    return Narrowing(float(weight @ fine / weight.sum()), deepest)
