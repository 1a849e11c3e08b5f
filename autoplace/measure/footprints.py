"""What stands on the floor under a figure: two feet, and which way each is long."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

__all__ = ["Stance", "beside_the_middle", "stance"]

FloatArray = NDArray[np.float64]

LOW = 0.05
"""What lies below this share of the figure's size is foot (ankle .039 S, references 1.2)."""
TOGETHER = 3.0
"""Points within so many spacings of one another are of one foot."""
LONGEST = 0.3
"""No foot reaches farther than this share of the figure's size, as the parts of a hem do: twice an
adult's (.15 S, references 1.2)."""
LIKE = 2.0
"""One foot has this many times as many points as the other at most (common practice, no source)."""
LEAST = 0.2
"""Smallest share of these points that a foot has; the tip of a staff or of a tail has less."""
ROUND = 0.2
"""A foot that is so little longer than broad says nothing: legs that end flat look up to .25 longer
across than ahead, people's feet .7 longer ahead (invented families, people's bodies)."""
HOLLOW = 0.24
"""A foot is filled; half the hem of a skirt lies round a middle that is .31 of its reach from all
of it, .26 where it is a little less than half."""
BESIDE = 0.3
"""Feet lie so far beside each other, over how far the one is ahead: .4 in a long step (own
synthetic figures)."""
STUMP = 0.16
"""A leg that ends open, as a ring, reaches no farther than this share of the figure's size: an
adult's foot (.15 S, references 1.2); half a hem reaches farther."""
ACROSS = 0.2
"""What has this share of its points on the lesser side of the middle lies across it: a tail, the
hem of a cape (common practice, no source)."""
FEWEST = 8
"""Fewest points that show which way a foot is long."""


@dataclass(frozen=True)
class Stance:
    """How two feet stand, seen along a direction that may be ahead; nothing but zeros where there
    are not two feet."""

    long_ahead: float = 0.0
    """How much longer than broad they are: up to 0.8, -0.8 for feet that are long across."""
    beside: int = 0
    """Of round ones, which are neither: 1 where they stand beside each other, -1 one ahead of the
    other."""


def stance(aside: FloatArray, ahead: FloatArray, above: FloatArray, size: float) -> Stance:
    """How two feet stand. Legs may be posed as they like: each foot is looked at by itself, from
    heel to toes.

    Args:
        aside: (n,) of points spread evenly over a figure, across it; ahead: (n,) along it.
        above: (n,) over the ground. size: of the figure, same units.
    """
    low = above < LOW * size
    if low.sum() < 2 * FEWEST:
        return Stance()
    label = _pieces(np.stack([aside[low], ahead[low], above[low]], axis=1))
    points = np.stack([aside[low], ahead[low]], axis=1)
    counts = np.bincount(label)
    feet = np.flatnonzero((counts >= LEAST * len(points)) & (counts >= FEWEST))
    if len(feet) != 2:
        return Stance()
    reach = max(float(np.ptp(points[label == foot], axis=0).max()) for foot in feet)
    if reach > LONGEST * size or counts[feet].max() > LIKE * counts[feet].min():
        return Stance()
    hollow = max(_hollow(points[label == foot]) for foot in feet) > HOLLOW
    if hollow and reach > STUMP * size:
        return Stance()
    spans = [np.var(points[label == foot], axis=0) for foot in feet]
    longer = float(np.mean([(v[1] - v[0]) / max(float(v.sum()), 1e-300) for v in spans]))
    across, along = np.abs(np.subtract(*(points[label == foot].mean(axis=0) for foot in feet)))
    if hollow or abs(longer) < ROUND:
        clear = min(across, along) < BESIDE * max(across, along)
        return Stance(beside=(1 if across > along else -1) if clear else 0)
    if longer > 0.0 and across < BESIDE * along:
        return Stance()  # two ears that stand one behind the other, seen upside down
    return Stance(float(np.sign(longer)) * (abs(longer) - ROUND))


def _hollow(points: FloatArray) -> float:
    """How far the middle of some points (n, 2) is from all of them, over half their reach."""
    away = np.linalg.norm(points - points.mean(axis=0), axis=1)
    return float(away.min() / max(float(away.max()), 1e-300))


def beside_the_middle(points: FloatArray) -> NDArray[np.bool_]:
    """(n,) Which points (n, 3) near the floor are a foot's, where something else lies across the
    middle, x = 0; all of them where feet are not told from that."""
    if len(points) < 2 * FEWEST:
        return np.ones(len(points), dtype=bool)
    label = _pieces(points)
    counts = np.bincount(label)
    left = np.bincount(label, weights=points[:, 0] > 0.0)
    beside = np.minimum(left, counts - left) < ACROSS * counts
    kept = np.asarray(beside[label])
    sides = [int((kept & side).sum()) for side in (points[:, 0] > 0.0, points[:, 0] <= 0.0)]
    return kept if min(sides) >= FEWEST else np.ones(len(points), dtype=bool)


def _pieces(points: FloatArray) -> NDArray[np.int32]:
    """(n,) Which of the points (n, 3) lie together, by number."""
    tree = cKDTree(points)
    spacing = float(np.median(tree.query(points, k=2)[0][:, 1]))
    near = tree.sparse_distance_matrix(tree, TOGETHER * max(spacing, 1e-300))
    return np.asarray(connected_components(near, directed=False)[1])
