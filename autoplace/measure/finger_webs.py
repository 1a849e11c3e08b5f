"""The web between two neighbouring fingers, found even where the fingers touch.

Half way between two fingers the hand is empty beyond the web and as thick as a finger in the palm.
Touching or overlapping fingers fill some of the gap between them, but never to a finger's own
thickness. So the web is where the thickness half way between two fingers, followed from their ends
towards the wrist, comes near to that of the fingers themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.finger_branches import Web
from autoplace.measure.finger_line import FingerLine
from autoplace.measure.solid import Solid

__all__ = ["PairWeb", "beyond_row", "from_webs", "web_between"]

FloatArray = NDArray[np.float64]

FILLED = (0.71, 0.75, 0.79, 0.83)
"""Thickness half way between two fingers, share of theirs, at the web: the mean of where it comes
to each. Two round fingers side by side that overlap by a third of their breadth stay below .745
(sqrt(1 - (2/3)^2)); one share alone would let a hair's breadth of skin move the web."""
STEP = 0.14
"""Distance of the places looked at, in radii of a finger."""
THROUGH = 0.2
"""Step of the thickness, in radii: about half a cell."""
REACH = 3.0
"""Half the thickness that is looked through, in radii: a palm is at most about six thick."""
BELOW = 6.0
"""How far towards the wrist the web is followed, in radii of a finger."""
PALM = 0.555
"""Wrist to the web, share of the hand: .60 to the crease (references: ANSUR II palm / hand .60),
less a finger radius (.045) to where the web is as thick as a finger."""
BEHIND = {"index": 0.010, "ring": 0.022, "pinky": 0.055}
"""How far a finger's knuckle lies behind the middle one's, share of the hand (about as Buchholz et
al. 1992 give it); webs follow the mean of both sides."""
IN_ROW, GROWN = 0.04, 0.065
"""A web that stands out of the row of the others by less than the first, shares of the hand, is in
it; by more than the second, the two fingers are grown together beyond it (own invented hands of
even number and of a further deal: webs in the row by .036 at most, of grown fingers by .07)."""


@dataclass(frozen=True)
class PairWeb:
    """The web between two neighbouring fingers."""

    point: FloatArray
    """(3,) half way between the fingers, frame of the solid."""
    arc_first: float
    """Where that is along the first finger's line (its own arc)."""
    arc_second: float
    """Where that is along the second finger's line."""


def web_between(solid: Solid, first: FingerLine, second: FingerLine) -> PairWeb | None:
    """Follow the gap between two fingers to the web.

    Args:
        solid: the hand.
        first, second: centrelines of two neighbouring fingers, frame of the solid.

    Returns:
        The web, or None when the gap between them does not fill up.
    """
    radius = 0.5 * (first.typical_radius() + second.typical_radius())
    top = 0.7 * min(first.length, second.length)
    arcs = _side_by_side(first, second, np.arange(top, -BELOW * radius, -STEP * radius))
    if arcs.shape[1] < 4:
        return None
    one, other = first.at(arcs[0]), second.at(arcs[1])
    middle = 0.5 * (one + other)
    aim = -np.gradient(middle, axis=0)
    across = one - other
    aim /= np.linalg.norm(aim, axis=1, keepdims=True)
    across -= (across * aim).sum(axis=1, keepdims=True) * aim
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    through = np.cross(across, aim)
    steps = np.arange(-REACH, REACH + 1e-9, THROUGH) * radius

    def thickness(points: FloatArray) -> FloatArray:
        places = points[:, None] + steps[:, None] * through[:, None]
        return np.asarray(solid.sample(places).sum(axis=1) * THROUGH)

    share = thickness(middle) / np.maximum(0.5 * (thickness(one) + thickness(other)), 1.0)
    places = [k for filled in FILLED if (k := _place_filled(share, filled)) is not None]
    if not places:
        return None
    steps_down = np.arange(len(share))

    def between(values: FloatArray) -> float:
        return float(np.mean(np.interp(places, steps_down, values)))

    point = np.array([between(middle[:, axis]) for axis in range(3)])
    return PairWeb(point, between(arcs[0]), between(arcs[1]))


def beyond_row(heights: FloatArray, pairs: Sequence[tuple[str, str]]) -> FloatArray:
    """How far beyond the row of a hand's webs each one lies, as where two fingers are grown
    together up to a joint: their knuckles lie in one row with the others all the same.

    Args:
        heights: (n,) of the webs beyond the wrist. pairs: names of the fingers beside each.

    Returns:
        (n,) ways, 0 for all but a web that stands out of the row.
    """
    out = np.zeros(len(heights))
    hand = float(np.median(heights)) / PALM if len(heights) > 1 else 0.0
    if hand <= 0.0:
        return out
    level = heights + 0.5 * hand * np.array(
        [sum(BEHIND.get(name, 0.0) for name in pair) for pair in pairs]
    )
    far = int(np.argmax(level))
    beyond = float(level[far] - np.delete(level, far).max())
    out[far] = beyond * np.clip((beyond / hand - IN_ROW) / (GROWN - IN_ROW), 0.0, 1.0)
    return out


def from_webs(
    solid: Solid,
    webs: list[Web],
    name_of: dict[int, str],
    lines: dict[str, FingerLine],
) -> tuple[dict[str, FingerLine], list[tuple[str, str, FloatArray]]]:
    """The fingers with lengths counted from their webs, and the webs.

    Args:
        solid: the hand. webs: where branches met.
        name_of: name of the finger by number of its branch.
        lines: the fingers by name, thumb first.

    Returns:
        The fingers, and of each web the fingers beside it and its (3,) place, frame of the solid.
    """
    met = {
        frozenset(name_of[number] for number in web.branches): web.point
        for web in webs
        if all(number in name_of for number in web.branches)
    }
    starts: dict[str, list[float]] = {name: [] for name in lines}
    found: list[tuple[str, str, FloatArray]] = []
    followed: list[tuple[str, str, PairWeb]] = []
    for first, second in pairwise(lines):
        by_thumb = first == "thumb"
        web = None if by_thumb else web_between(solid, lines[first], lines[second])
        if web is not None:
            followed.append((first, second, web))
            found.append((first, second, web.point))
            continue
        point = met.get(frozenset((first, second)))
        if point is None:
            continue
        starts[first].append(lines[first].beside(point))
        if not by_thumb or len(lines) == 2:
            starts[second].append(lines[second].beside(point))
        found.append((first, second, point))
    heights = np.array([web.point[1] for _, _, web in followed])
    grown = beyond_row(heights, [(first, second) for first, second, _ in followed])
    for (first, second, web), way in zip(followed, grown, strict=True):
        starts[first].append(web.arc_first - float(way))
        starts[second].append(web.arc_second - float(way))
    counted = {
        name: line.starting_at(
            min(float(np.mean(starts[name])), 0.5 * line.length) if starts[name] else 0.0
        )
        for name, line in lines.items()
    }
    return counted, found


def _place_filled(share: FloatArray, filled: float) -> float | None:
    """Where, between the places, the share first comes to one and stays there; None if nowhere."""
    full = share >= filled
    # a speck of contact is no web: it must stay filled for half a radius
    stay = max(int(0.5 / STEP), 1)
    run = np.convolve(full, np.ones(stay), "full")[stay - 1 :][: len(full)] == stay
    if not run.any():
        return None
    k = int(np.argmax(run))
    if k > 0 and share[k] > share[k - 1]:
        return k - float((share[k] - filled) / (share[k] - share[k - 1]))
    return float(k)


def _side_by_side(first: FingerLine, second: FingerLine, places: FloatArray) -> FloatArray:
    """(2, k) lengths along two lines that lie side by side, both falling towards the wrist.

    A place on one line and the nearest one on the other are about side by side, and the other way
    round: the mean of both is as good for the one as for the other.
    """
    there = _nearest(first, second, places)
    back = _nearest(second, first, places)
    # where on the second line each place of the first one is the nearest
    order = np.argsort(back, kind="stable")
    other = np.interp(places, back[order], places[order])
    arcs = np.stack([places, np.minimum.accumulate(0.5 * (there + other))])
    within = (other > places[-1]) & (other < places[0])
    arcs[1] = np.where(within, arcs[1], there)
    arcs[1] = np.minimum.accumulate(arcs[1])
    return arcs


def _nearest(line: FingerLine, other: FingerLine, places: FloatArray) -> FloatArray:
    """Lengths along the other line, falling, that are nearest to places along a line."""
    fine = np.linspace(places[-1] - 0.3 * other.length, other.length, 120)
    gap = np.linalg.norm(line.at(places)[:, None] - other.at(fine)[None], axis=2)
    best = np.argmin(gap, axis=1)
    # between the fine places: the vertex of the parabola through three distances
    k = np.clip(best, 1, len(fine) - 2)
    rows = np.arange(len(places))
    low, middle, high = (gap[rows, k + d] ** 2 for d in (-1, 0, 1))
    bend = np.maximum(low - 2.0 * middle + high, 1e-300)
    shift = np.clip(0.5 * (low - high) / bend, -0.5, 0.5)
    return np.asarray(np.minimum.accumulate(fine[k] + shift * (fine[1] - fine[0])))
