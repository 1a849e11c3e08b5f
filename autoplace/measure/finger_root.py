"""A finger's line followed down beside its web, into the palm.

Where fingers are told apart depends on how the ways through the inside run, and on a curled hand
that may be past the middle joint: drawn straight on from there the line would leave the hand. So
it is followed step by step: each next point is the one straight on, moved to the middle of the
flesh within a disc not much larger than the finger.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.mirror_plane import cross
from autoplace.measure.solid import Solid

__all__ = ["follow_down"]

FloatArray = NDArray[np.float64]

STEP = 0.35
"""Length of a step, in radii of the finger."""
WAY = 7.0
"""How far the line is followed, in radii: a web lies at most a third of a finger, five to six
radii, below the place where a finger is told apart (own invented hands)."""
DISC = 1.25
"""Radius of the disc, in radii: what lies beside the finger may pull its middle by an eighth."""
DRAWN = 0.5
"""Share of the way to the disc's middle that a point is moved in one step."""
TURN = 0.35
"""Share of a step's own direction in the next one's: a finger bends over a length of about its
radius."""
LEAST_FULL = 0.5
"""The line ends where less of the disc is flesh."""
CORNER = 3.0
"""A line that leaves the flesh within so many radii has met the back of a folded finger."""
FOLDED, TURNED = 0.6, -0.5
"""Cosines of the bends between which it is folded there: 53 to 120 degrees; the middle joint bends
by at most 100 to 120 (references: ranges of motion)."""
FOLD = 0.7
"""How far under that skin the line turns, in radii: it ends where half of the disc is out."""
RINGS, SPOKES = 3, 12


def follow_down(
    solid: Solid,
    start: FloatArray,
    aim: FloatArray,
    radius: float,
    below: FloatArray | None = None,
) -> FloatArray:
    """Points below the beginning of a finger's line.

    Args:
        solid: the hand.
        start: (3,) first point of the line. aim: (3,) unit, its direction towards the tip there.
        radius: of the finger.
        below: (k, 3) flesh about the start that lies nearer to the wrist, for a finger that is
            told apart only beyond a sharp bend.

    Returns:
        (k, 3) points from the farthest one up to the one next to `start`; none if the first step
        leaves the flesh.
    """
    points = _walk(solid, np.asarray(start), -np.asarray(aim), radius, int(WAY / STEP))
    if below is None or not len(below) or len(points) > CORNER / STEP:
        return points[::-1]
    # straight on lies the skin: the finger is folded there
    for back in range(min(round(FOLD / STEP), len(points)), len(points) + 1):
        corner = points[-1 - back] if back < len(points) else np.asarray(start)
        down = below.mean(axis=0) - corner
        down /= np.linalg.norm(down)
        if not TURNED < -aim @ down < FOLDED:
            continue
        rest = int(WAY / STEP) - len(points) + back
        beyond = _walk(solid, corner, down, radius, rest)
        if len(beyond) > 2.0 / STEP:
            return np.concatenate([points[: len(points) - back], beyond])[::-1]
    return points[::-1]


def _walk(
    solid: Solid, start: FloatArray, down: FloatArray, radius: float, most: int
) -> FloatArray:
    """(k, 3) points of a line followed in a direction until it leaves the flesh."""
    rings = (np.arange(RINGS) + 0.5) / RINGS
    turns = 2.0 * np.pi * np.arange(SPOKES) / SPOKES
    weight = np.repeat(rings, SPOKES)
    flat = DISC * radius * weight[:, None] * np.tile([np.cos(turns), np.sin(turns)], RINGS).T
    place = np.array(start)
    points = []
    for _ in range(most):
        ahead = place + STEP * radius * down
        other = np.eye(3)[int(np.argmin(np.abs(down)))]
        first = cross(down, other)
        first /= np.linalg.norm(first)
        plane = np.stack([first, cross(down, first)])
        full = solid.sample(ahead + flat @ plane) * weight
        whole = float(full.sum())
        if whole < LEAST_FULL * float(weight.sum()):
            break
        ahead = ahead + DRAWN * (full @ flat / whole) @ plane
        step = ahead - place
        down = (1.0 - TURN) * down + TURN * step / np.linalg.norm(step)
        down /= np.linalg.norm(down)
        points.append(ahead)
        place = ahead
    return np.array(points).reshape(-1, 3)
