"""Finger joints of a hand of rigid pieces: where the pieces meet, whatever proportions say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.finger_pieces import PieceJoint
from autoplace.place.placed_point import PlacedPoint
from autoplace.skeleton.model import Evidence

__all__ = ["at_pieces"]

FloatArray = NDArray[np.float64]

BESIDE = 0.2
"""How far from a finger's line a meeting of pieces is its own, share of the finger: a finger is a
fifth as thick as it is long, and the next one as far again (common practice, no source)."""
SAME = 0.12
"""Meetings nearer together than this along the finger are both sides of a ball in one joint."""
FARTHEST = 0.3
"""How far along the finger a joint is moved at most, share of the finger (common practice, no
source)."""
SPREAD = 0.03
"""One standard deviation of where the pieces turn about each other, share of the finger (common
practice, no source)."""


def at_pieces(
    chain: Sequence[PlacedPoint], hinge: FloatArray, joints: Sequence[PieceJoint]
) -> list[PlacedPoint]:
    """A finger's joints moved to where its pieces meet.

    Args:
        chain: the four points of a finger, working frame. hinge: (3,) unit, at right angles to its
            bend plane, in which the joints stay.
        joints: where pieces of the hand meet.

    Returns:
        The four points; those of which no meeting is near, and all of a finger that is one piece,
        are as they were.
    """
    line = np.array([point.position for point in chain])
    length = float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
    if length <= 0.0:
        return list(chain)
    met = _along(line, hinge, joints, length)
    if len(met) < 2:
        return list(chain)  # a finger of one piece, which is stuck into its palm anywhere
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    best: list[tuple[int, FloatArray]] = []
    least = np.inf
    for count in range(min(len(met), 3), 0, -1):
        for which in combinations(range(len(met)), count):
            for numbers in combinations(range(3), count):
                off = [abs(met[i][0] - arc[k]) for i, k in zip(which, numbers, strict=True)]
                if max(off) < FARTHEST * length and sum(off) < least:
                    best = [(k, met[i][1]) for i, k in zip(which, numbers, strict=True)]
                    least = sum(off)
        if best:
            break
    moved = list(chain)
    for number, place in best:
        record = Evidence(
            "piece_gap", place, SPREAD * length, 1.0, "two pieces of the finger meet here"
        )
        older = tuple(replace(row, weight=0.0) for row in chain[number].evidence)
        moved[number] = PlacedPoint(place, SPREAD * length, (record, *older))
    return moved


def _along(
    line: FloatArray, hinge: FloatArray, joints: Sequence[PieceJoint], length: float
) -> list[tuple[float, FloatArray]]:
    """How far along a finger pieces meet, and the (3,) place in its bend plane; in order."""
    found: list[tuple[float, FloatArray]] = []
    steps = np.diff(line, axis=0)
    size = np.linalg.norm(steps, axis=1)
    begins = np.concatenate([[0.0], np.cumsum(size)[:-1]])
    for joint in joints:
        place = joint.position - hinge * float((joint.position - line[0]) @ hinge)
        share = np.einsum("ij,ij->i", place - line[:-1], steps) / np.maximum(size**2, 1e-300)
        # the knuckle's own piece may begin before the first joint
        share = np.clip(share, [-1.0, 0.0, 0.0], 1.0)
        away = np.linalg.norm(line[:-1] + share[:, None] * steps - joint.position, axis=1)
        row = int(np.argmin(away))
        if away[row] < BESIDE * length:
            found.append((float(begins[row] + share[row] * size[row]), place))
    found.sort(key=lambda one: one[0])
    merged: list[tuple[float, FloatArray]] = []
    for arc, place in found:
        if merged and arc - merged[-1][0] < SAME * length:
            merged[-1] = (0.5 * (merged[-1][0] + arc), 0.5 * (merged[-1][1] + place))
        else:
            merged.append((arc, place))
    return merged
