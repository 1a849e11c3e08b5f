"""A finger's line followed down beside its web, into the palm.

Where fingers are told apart depends on how the ways through the inside run, and on a curled hand
that may be past the middle joint: drawn straight on from there the line would leave the hand. So
it is followed step by step: each next point is the one straight on, moved to the middle of the
flesh within a disc not much larger than the finger.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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
RINGS, SPOKES = 3, 12


def follow_down(
    solid: Solid, start: FloatArray, aim: FloatArray, radius: float, way: float = WAY
) -> FloatArray:
    """Points below the beginning of a finger's line.

    Args:
        solid: the hand.
        start: (3,) first point of the line. aim: (3,) unit, its direction towards the tip there.
        radius: of the finger. way: how far to go, radii.

    Returns:
        (k, 3) points from the farthest one up to the one next to `start`; none if the first step
        leaves the flesh.
    """
    rings = (np.arange(RINGS) + 0.5) / RINGS
    turns = 2.0 * np.pi * np.arange(SPOKES) / SPOKES
    weight = np.repeat(rings, SPOKES)
    flat = DISC * radius * weight[:, None] * np.tile([np.cos(turns), np.sin(turns)], RINGS).T
    place, down = np.array(start), -np.asarray(aim)
    points = []
    for _ in range(int(way / STEP)):
        ahead = place + STEP * radius * down
        other = np.eye(3)[int(np.argmin(np.abs(down)))]
        first = np.cross(down, other)
        first /= np.linalg.norm(first)
        plane = np.stack([first, np.cross(down, first)])
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
    return np.array(points[::-1]).reshape(-1, 3)
