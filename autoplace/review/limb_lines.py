"""Centrelines of a character's limbs and fingers, measured when they are first asked for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.arm_shape import measure_arm
from autoplace.measure.finger_line import FingerLine
from autoplace.measure.hand_shape import (
    HAND_GUESSES,
    HAND_TO_FOREARM,
    HandAtWrist,
    HandShape,
)
from autoplace.measure.leg_shape import measure_leg
from autoplace.measure.limb_record import Limbs
from autoplace.measure.not_found import NotFound
from autoplace.measure.sections import Sections
from autoplace.measure.solid import Solid
from autoplace.skeleton.names import FINGERS

__all__ = [
    "Centreline",
    "arm_or_leg_line",
    "finger_centreline",
    "hand_of",
    "nearest_on",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

INTO_PALM = 0.6
"""How far a finger's line is followed straight on into the palm, share of its free length: a
knuckle lies behind the web by a quarter to a half of it (from memory)."""
BEYOND_END = 0.7
"""A joint this many radii beyond the end of a line has no place on it (common practice, no
source)."""


@dataclass(frozen=True)
class Centreline:
    """Middles of a limb's sections, working frame."""

    points: FloatArray
    """(n, 3)"""
    radius: FloatArray
    """(n,) of the flesh about them."""


def arm_or_leg_line(
    solid: Solid, limbs: Limbs, kind: str, side: str, shoulder: FloatArray | None
) -> Centreline | NotFound:
    """The line of an 'arm' or a 'leg' of a side, as far as it is a limb by itself.

    Args:
        solid: the body, working frame. limbs: its branches.
        shoulder: (3,) about where the arm begins; None for the branch's own beginning.
    """
    limb = limbs.one(kind, side)
    if limb is None or len(limb.line) < 3:
        return NotFound(f"{side} {kind}", f"no {side} {kind} stands out from the mesh")
    sections: Sections
    if kind == "arm":
        begin = limb.line[0] if shoulder is None else shoulder
        sections = measure_arm(solid, limb, np.asarray(begin)).sections
    else:
        sections = measure_leg(solid, limb).sections
    sound = (sections.area > 0) & ~sections.open_edge
    # near the trunk a section takes in more than the limb
    sound &= sections.radius < 2.0 * np.median(sections.radius[sound]) if sound.any() else False
    if sound.sum() < 3:
        return NotFound(f"{side} {kind}", f"the {side} {kind} is nowhere apart from the body")
    return Centreline(sections.centre[sound], sections.radius[sound])


def hand_of(
    vertices: FloatArray,
    faces: IntArray,
    side: str,
    wrist: FloatArray,
    elbow: FloatArray,
    fingers: dict[str, FloatArray],
) -> HandShape | NotFound:
    """The hand at a wrist, measured as when fingers are placed.

    Args:
        vertices, faces: the body's surface, working frame. side: 'left' or 'right'.
        wrist, elbow: (3,).
        fingers: by name, the joints (k, 3) that the skeleton has in that hand, from the base on.
    """
    forearm = wrist - elbow
    guess = HAND_TO_FOREARM * float(np.linalg.norm(forearm))
    ways = [
        float(np.linalg.norm(np.diff(np.concatenate([wrist[None], line]), axis=0), axis=1).sum())
        for name, line in fingers.items()
        if name != "thumb" and len(line) > 2
    ]
    if guess <= 0.0:
        return NotFound(f"{side} hand", "there is no forearm to tell where it points")
    guesses = [*ways[:1], *(factor * guess for factor in HAND_GUESSES)]
    names = tuple(name for name in FINGERS if name in fingers) or None
    found: HandShape | NotFound = NotFound(f"{side} hand", "it was not measured")
    # the names that the skeleton has, and where these do not fit, as many fingers as show
    for length, told in ((guesses[0], names), *((length, None) for length in guesses)):
        found = HandAtWrist(vertices, faces, wrist, forearm, length, side, told).measure()
        if found:
            return found
    return found


def finger_centreline(hand: HandShape, finger: str) -> Centreline | NotFound:
    """A finger's line from within the palm to its end."""
    line = hand.fingers.get(finger)
    if line is None:
        seen = ", ".join(hand.fingers)
        return NotFound(f"{finger} finger", f"the mesh shows these only: {seen}")
    return _lengthened(line)


def _lengthened(line: FingerLine) -> Centreline:
    step = float(np.mean(np.diff(line.arc)))
    before = np.arange(-INTO_PALM * line.length, line.arc[0], step)
    arcs = np.concatenate([before, line.arc])
    return Centreline(line.at(arcs), np.maximum(line.radius_at(arcs), 0.5 * line.typical_radius()))


def nearest_on(line: Centreline, point: FloatArray) -> FloatArray | None:
    """(3,) the nearest point of a line; None for a point that lies well beyond either end."""
    start, step = line.points[:-1], np.diff(line.points, axis=0)
    square = np.maximum(np.sum(step**2, axis=1), 1e-300)
    share = np.clip(np.sum((point - start) * step, axis=1) / square, 0.0, 1.0)
    places = start + share[:, None] * step
    index = int(np.argmin(np.sum((places - point) ** 2, axis=1)))
    for end, inner in ((0, 1), (-1, -2)):
        if not np.allclose(places[index], line.points[end], rtol=0.0, atol=1e-12):
            continue
        out = line.points[end] - line.points[inner]
        beyond = float((point - line.points[end]) @ out) / max(float(np.linalg.norm(out)), 1e-300)
        if beyond > BEYOND_END * float(line.radius[end]):
            return None
    return places[index]
