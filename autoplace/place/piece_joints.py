"""Finger joints of a hand of rigid pieces: where the pieces meet, whatever proportions say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from autoplace.place.placed_point import PlacedPoint
from autoplace.skeleton.model import Evidence

__all__ = ["Fitted", "at_pieces"]

FloatArray = NDArray[np.float64]
Fitted = tuple[list[PlacedPoint], FloatArray]
"""The four points of a finger, and the (3,) unit axis at right angles to its bend plane."""
Met = tuple[float, FloatArray]
"""How far along a finger pieces meet, and the (3,) place."""

BESIDE = 0.35
"""How far from a finger's line a meeting of pieces is its own at most, share of the finger: a fat
finger is half as thick as it is long, and its line may slant (common practice, no source)."""
SAME = 0.12
"""Meetings nearer together than this along the finger are both sides of a ball in one joint."""
FARTHEST = 0.7
"""How far along the finger a joint is moved at most, and how far behind its knuckle its pieces may
meet the palm, share of the finger (common practice, no source)."""
SPREAD = 0.03
"""One standard deviation of where the pieces turn about each other, share of the finger (common
practice, no source)."""


def at_pieces(fitted: Mapping[str, Fitted], joints: Sequence[FloatArray]) -> dict[str, Fitted]:
    """All fingers' joints moved to where their pieces meet.

    Args:
        fitted: by finger name; working frame.
        joints: (3,) places where pieces of the hand meet; each belongs to the finger whose line is
            nearest.

    Returns:
        The same fingers. Joints stay in their finger's bend plane; those of which no meeting is
        near, and all of a finger that is one piece, are as they were.
    """
    met: dict[str, list[Met]] = {name: [] for name in fitted}
    for joint in joints:
        away, arc, name = min(
            (*_beside(points, joint), name) for name, (points, _) in fitted.items()
        )
        if away < BESIDE:
            points, hinge = fitted[name]
            off = float((joint - points[0].position) @ hinge)
            met[name].append((arc, joint - off * hinge))
    return {
        name: (_moved(points, _merged(met[name], SAME * _length(points))), hinge)
        for name, (points, hinge) in fitted.items()
    }


def _length(points: Sequence[PlacedPoint]) -> float:
    """Of a finger, from its knuckle to its end."""
    return float(sum(_bones(points)))


def _bones(points: Sequence[PlacedPoint]) -> FloatArray:
    line = np.array([point.position for point in points])
    return np.asarray(np.linalg.norm(np.diff(line, axis=0), axis=1))


def _beside(points: Sequence[PlacedPoint], place: FloatArray) -> tuple[float, float]:
    """How far a place lies from a finger's line, share of the finger, and how far along."""
    line = np.array([point.position for point in points])
    steps, size = np.diff(line, axis=0), np.maximum(_bones(points), 1e-300)
    share = np.einsum("ij,ij->i", place - line[:-1], steps) / size**2
    # the knuckle's own piece may begin before the first joint
    share = np.clip(share, [-FARTHEST * float(size.sum() / size[0]), 0.0, 0.0], 1.0)
    away = np.linalg.norm(line[:-1] + share[:, None] * steps - place, axis=1)
    row = int(np.argmin(away))
    arc = float(size[:row].sum() + share[row] * size[row])
    return float(away[row] / size.sum()), arc


def _merged(met: list[Met], near: float) -> list[Met]:
    """Meetings in order, with those nearer together than this as one."""
    found: list[Met] = []
    for arc, place in sorted(met, key=lambda one: one[0]):
        if found and arc - found[-1][0] < near:
            found[-1] = (0.5 * (found[-1][0] + arc), 0.5 * (found[-1][1] + place))
        else:
            found.append((arc, place))
    return found


def _moved(points: list[PlacedPoint], met: list[Met]) -> list[PlacedPoint]:
    """The points with as many joints as can be where pieces meet, moved as little as can be."""
    if len(met) < 2:
        return points  # a finger of one piece, which is stuck into its palm anywhere
    length = _length(points)
    arc = np.concatenate([[0.0], np.cumsum(_bones(points))])
    best: list[tuple[int, FloatArray]] = []
    least = np.inf
    for count in range(min(len(met), 3), 0, -1):
        for which in combinations(met, count):
            for numbers in combinations(range(3), count):
                off = [abs(one[0] - arc[k]) for one, k in zip(which, numbers, strict=True)]
                if max(off) < FARTHEST * length and sum(off) < least:
                    best = [(k, one[1]) for one, k in zip(which, numbers, strict=True)]
                    least = sum(off)
        if best:
            break
    moved = list(points)
    for number, place in best:
        note = "two pieces of the finger meet here"
        record = Evidence("piece_gap", place, SPREAD * length, 1.0, note)
        older = tuple(replace(row, weight=0.0) for row in points[number].evidence)
        moved[number] = PlacedPoint(place, SPREAD * length, (record, *older))
    return moved
