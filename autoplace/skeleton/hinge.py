"""One bend axis for a chain of bones: the normal of the plane it bends in, or of a known plane.

The plane of three or more joints is only as sure as the chain is bent. If the joints are known to
within s and the chain bows out by h from the line between its ends, the plane may be turned about
that line by s / h. What is known without the chain (the palm, the front of the body) is also only
sure to within some angle p. Both are combined as two independent measurements: the chain counts
with p^2 / (p^2 + (s / h)^2), and from nineteen parts in twenty on it decides alone, so that the
joints of a clearly bent finger share the axis of their plane to the last bit. A straight one has
no say.

A chain of three bones or more also shows how well its joints keep to one plane. Where they keep to
it better than their own spread lets expect, their plane was decided when they were placed, and what
they leave of it is taken for s.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["FLAT", "Hinge", "cross", "fit_hinge", "reject", "transported", "unit"]

FloatArray = NDArray[np.float64]

ALONE = 0.95
"""From this share on the chain decides alone; common practice, no source."""
LEAST_NOISE = 5e-4
"""Joints are never taken as surer than this fraction of the chain's length (0.05 %, from how a
modeller places points by hand; common practice, no source)."""
SIDEWAYS = np.radians([45.0, 75.0])
"""A slight bend out of the expected plane is a limb's natural slant and no hinge: the carrying
angle of the elbow lies in the frontal plane (11.6 to 16.7 degrees, Van Roy et al. 2005). Up to the
first angle a limb may be turned about its own length (hip rotation, 45, AAOS, from memory) and the
bend counts; from the second on, close to straight sideways, it does not (common practice, no
source); between, in part."""
SLIGHT = np.radians([20.0, 30.0])
"""What counts as a slight bend there: wholly up to the first, which is above the mean carrying
angle plus one standard deviation (16.7 + 2.6, Van Roy et al. 2005), and not at all from the second
on; common practice, no source."""
BESIDE = 2.0
"""How many times their distances from the plane the joints of a chain are taken to be unsure by:
four points leave one such distance, which is less than half of its spread in four cases of ten."""
FLAT = np.sin(np.radians(3.0))
"""A reference nearer than 3 degrees to the bone's own line says nothing; common practice."""


@dataclass(frozen=True)
class Hinge:
    """The bend axis of a chain."""

    axis: FloatArray
    """(3,) unit; a positive turn about it flexes."""
    turn: float
    """Sum of the angles between one bone and the next, radians."""
    trust: float
    """Share of the chain's own shape in the axis, 0 (all from the reference) to 1."""
    off: float
    """Angle between the chain's own plane and the expected one, radians; 0 for a straight chain."""
    expected: FloatArray
    """(3,) unit; the reference at right angles to the line between the chain's ends."""


def cross(a: FloatArray, b: FloatArray) -> FloatArray:
    """(3,) cross product of two vectors (3,).

    Twenty times as fast as `numpy.cross`, which is made for many vectors at once; a skeleton has
    hundreds of single ones.
    """
    ax, ay, az = a.tolist()
    bx, by, bz = b.tolist()
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def unit(vector: FloatArray) -> FloatArray:
    """The vector (3,) at length one; a zero vector stays zero."""
    length = float(np.linalg.norm(vector))
    return vector / length if length > 0 else np.zeros(3)


def reject(direction: FloatArray, *references: FloatArray) -> FloatArray:
    """(3,) unit vector at right angles to the unit `direction`, from the first usable reference.

    Each reference (3,) is a unit vector; one that lies along `direction` is passed over. When none
    is left, the coordinate axis farthest from `direction` serves (ties: X, then Y, then Z).
    """
    for reference in references:
        part = reference - (reference @ direction) * direction
        if np.linalg.norm(part) > FLAT:
            part = unit(part)
            # once more: the first pass leaves rounding when the two are nearly parallel
            return unit(part - (part @ direction) * direction)
    axis = np.eye(3)[int(np.argmin(np.round(np.abs(direction), 9)))]
    return unit(axis - (axis @ direction) * direction)


def transported(vector: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """`vector` (3,) carried along by the smallest turn that takes unit `start` to unit `end`.

    For opposite directions no smallest turn exists and the vector is given back as it was.
    """
    cosine = float(start @ end)
    if cosine < -1.0 + 1e-9:
        return vector
    middle = start + end
    carried = vector - (middle @ vector) / (1.0 + cosine) * middle + 2.0 * (start @ vector) * end
    return np.asarray(carried, dtype=np.float64)


def fit_hinge(
    points: FloatArray,
    reference: FloatArray,
    *,
    spreads: FloatArray,
    reference_spread: float,
    sure_turn: float,
) -> Hinge:
    """The bend axis of a chain of joints at `points` (k, 3), k >= 2, not all in one place.

    `reference` (3,) is the expected bend axis; `spreads` (k,) the joints' own, in the units of the
    points; `reference_spread` the spread of the reference, radians. The axis takes the sign of the
    reference, unless the chain turns by more than `sure_turn` (radians) the other way: then it is
    folded so, and its own sign counts.
    """
    bones = np.diff(points, axis=0)
    lengths = np.linalg.norm(bones, axis=1)
    total = float(lengths.sum())
    bones = bones[lengths > 1e-6 * total]
    bones = bones / np.linalg.norm(bones, axis=1)[:, None]
    line = points[-1] - points[0]
    along = unit(line) if np.linalg.norm(line) > 1e-3 * total else bones[0]
    expected = reject(along, unit(reference), bones[0])
    if len(bones) < 2:
        return Hinge(expected, 0.0, 0.0, 0.0, expected)

    crosses = np.cross(bones[:-1], bones[1:])
    turns = np.arctan2(
        np.linalg.norm(crosses, axis=1), np.einsum("ij,ij->i", bones[:-1], bones[1:])
    )
    turn = float(turns.sum())
    from_line = points[1:-1] - points[0]
    from_line = from_line - np.outer(from_line @ along, along)
    bow = float(np.linalg.norm(from_line, axis=1).max())
    if bow <= 1e-9 * total:
        return Hinge(expected, turn, 0.0, 0.0, expected)

    # two bones span their plane exactly; of more, the direction they have least in common with
    normal = unit(crosses[0]) if len(bones) == 2 else np.linalg.svd(bones)[2][2]
    sense = crosses.sum(axis=0) if turn > sure_turn else expected
    if float(normal @ sense) < 0:
        normal = -normal
    off = float(np.arccos(np.clip(normal @ expected, -1.0, 1.0)))
    aside = float(np.interp(off, SIDEWAYS, (0.0, 1.0)) * np.interp(turn, SLIGHT, (1.0, 0.0)))
    if aside == 1.0:
        return Hinge(expected, turn, 0.0, off, expected)
    # of a joint against the middle of the line between the ends
    noise = float(np.sqrt(np.mean(spreads[1:-1] ** 2) + 0.25 * np.sum(spreads[[0, -1]] ** 2)))
    if len(bones) > 2:
        beside = (points - points.mean(axis=0)) @ normal
        noise = min(noise, BESIDE * float(np.linalg.norm(beside)))
    doubt = max(noise, LEAST_NOISE * total) / bow
    trust = reference_spread**2 / (reference_spread**2 + doubt**2)
    trust = min(1.0, trust / ALONE) * (1.0 - aside)
    if off > np.pi / 2:  # folded the other way: no point between the two means anything
        return Hinge(normal, turn, 1.0, off, expected)
    axis = unit((1.0 - trust) * expected + trust * normal)
    return Hinge(axis, turn, float(trust), off, expected)
