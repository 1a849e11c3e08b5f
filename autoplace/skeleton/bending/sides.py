"""Mirrored motion: do equal values on both sides move them in mirror image?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.bending.records import Value
from autoplace.skeleton.bending.subject import Subject
from autoplace.skeleton.names import family, is_tip, mirror_name, side_of
from autoplace.skeleton.pose import Pose, Posed, Turn

__all__ = ["SYMMETRIC", "measure_sides", "mirrored_pose", "pairs", "rest_asymmetry"]

FloatArray = NDArray[np.float64]

SYMMETRIC = 1e-6
"""Sides that differ by less than this share of the height are taken for mirror images: the target
for mirrored motion; what differs at rest cannot move alike."""
KEYED = Turn(bend=25.0, third=-10.0, aim=15.0)
"""Degrees on each axis of every paired joint; within every joint's range (the least is that of the
clavicle, and 15 of radial abduction at the wrist stays under the 20 of AAOS)."""


def pairs(subject: Subject) -> list[tuple[str, str]]:
    """Left and right joint of every pair."""
    return [
        (name, mirror_name(name))
        for name in subject.index
        if side_of(name) == "left" and subject.has(mirror_name(name))
    ]


def mirrored_pose(subject: Subject) -> Pose:
    """Equal values on all three axes of both joints of every pair; no tips, and no eyes that turn
    together."""
    together = subject.convention.eyes == "together"
    return {
        name: KEYED
        for pair in pairs(subject)
        for name in pair
        if not is_tip(name) and not (together and family(name) == "eye")
    }


def rest_asymmetry(subject: Subject) -> float:
    """Greatest distance of a joint from the mirror image of its partner at rest, heights."""
    return _greatest(subject, subject.at)


def measure_sides(subject: Subject, posed: Posed) -> list[Value]:
    """How far the two sides are from mirror images, at rest and moved."""
    return [
        Value("moved", "sides", _greatest(subject, posed.positions)),
        Value("rest", "sides", rest_asymmetry(subject)),
    ]


def _greatest(subject: Subject, at: FloatArray) -> float:
    image = np.array([-1.0, 1.0, 1.0])
    twice = np.array([2.0 * subject.middle, 0.0, 0.0])
    gaps = [
        float(np.linalg.norm(at[subject.index[a]] * image + twice - at[subject.index[b]]))
        for a, b in pairs(subject)
    ]
    return max(gaps, default=0.0)
