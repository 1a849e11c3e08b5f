"""One bend plane for all joints of a finger."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.place.placed_point import PlacedPoint

__all__ = ["flatten_chain"]

FloatArray = NDArray[np.float64]


def flatten_chain(
    points: Sequence[PlacedPoint], curl: FloatArray, offset: float, turn: float
) -> tuple[list[PlacedPoint], FloatArray]:
    """Move the inner joints of a finger into one plane.

    The plane holds the first and the last point. It is turned about the line between them so that
    the inner joints lie near it, held back by how far that turns it from where the finger is
    expected to curl.

    Args:
        points: joints from the base to the tip, working frame.
        curl: (3,) direction to which the finger is expected to bend.
        offset: distance beside the plane that counts as one standard deviation.
        turn: turn of the plane that counts as one standard deviation, degrees.

    Returns:
        The points, and the hinge: (3,) unit, at right angles to the plane; a right-handed turn
        about it curls the finger.
    """
    first, last = points[0].position, points[-1].position
    chord = (last - first) / np.linalg.norm(last - first)
    inward = curl - chord * np.dot(curl, chord)
    inward = inward / np.linalg.norm(inward)
    hinge = np.cross(chord, inward)
    beside = np.array([np.dot(point.position - first, hinge) for point in points[1:-1]])
    bent = np.array([np.dot(point.position - first, inward) for point in points[1:-1]])
    # small turns: a joint then lies (beside - angle * bent) beside the plane
    stiff = (offset / np.radians(turn)) ** 2
    angle = float(np.dot(beside, bent) / (np.dot(bent, bent) + stiff))
    angle = float(np.clip(angle, -np.pi / 3, np.pi / 3))
    hinge = np.cos(angle) * hinge - np.sin(angle) * inward
    return [points[0], *(_onto(p, first, hinge) for p in points[1:-1]), points[-1]], hinge


def _onto(point: PlacedPoint, origin: FloatArray, normal: FloatArray) -> PlacedPoint:
    """A joint and its evidence moved straight onto a plane."""

    def moved(place: FloatArray) -> FloatArray:
        return np.asarray(place - normal * np.dot(place - origin, normal))

    evidence = tuple(replace(e, position=moved(e.position)) for e in point.evidence)
    return replace(point, position=moved(point.position), evidence=evidence)
