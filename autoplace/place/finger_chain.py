"""The joints of one finger other than the thumb."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.finger_back import BackProfile
from autoplace.measure.finger_line import FingerLine
from autoplace.measure.hand_shape import HandShape
from autoplace.place.chain_search import ChainPrior, find_joints
from autoplace.place.hand_priors import HandPriors
from autoplace.skeleton.model import Evidence

__all__ = ["PlacedPoint", "finger_chain", "placed"]

FloatArray = NDArray[np.float64]

STEP = 0.02
"""Distance of candidate places, in visible lengths."""
LEAST_TURN = 0.05
"""Turn of the skin, radians, below which it says nothing."""


@dataclass(frozen=True)
class PlacedPoint:
    """A joint's place, how sure it is, and why it is there."""

    position: FloatArray
    """(3,) working frame."""
    spread: float
    """One standard deviation."""
    evidence: tuple[Evidence, ...]
    """What spoke for it; the weights sum to one."""


def placed(evidence: list[tuple[str, FloatArray, float, str]]) -> PlacedPoint:
    """A joint from (kind, position, spread, note) by the inverse squares of the spreads."""
    strength = np.array([spread**-2.0 for _, _, spread, _ in evidence])
    weights = strength / strength.sum()
    position = np.sum([w * e[1] for w, e in zip(weights, evidence, strict=True)], axis=0)
    records = tuple(
        Evidence(kind, place, spread, float(weight), note)
        for (kind, place, spread, note), weight in zip(evidence, weights, strict=True)
    )
    return PlacedPoint(np.asarray(position), float(strength.sum() ** -0.5), records)


def finger_chain(shape: HandShape, name: str, priors: HandPriors) -> list[PlacedPoint]:
    """Knuckle, two interphalangeal joints and the tip of a finger.

    Args:
        shape: the hand.
        name: which finger.
        priors: proportions to place by.

    Returns:
        Four points, working frame.
    """
    line = shape.fingers[name]
    back = shape.backs.get(name)
    prior = priors.fingers[name]
    visible, radius = float(line.arc[-1]), line.typical_radius()
    places = np.arange(-1.1, 0.92, STEP)
    turn = _turn_at(back, places * visible)
    chosen = find_joints(prior, places, turn, priors.turn_sharpness)
    points = []
    for joint, (index, expected) in enumerate(
        zip(chosen, (prior.knuckle, prior.middle, prior.end), strict=True)
    ):
        depth = priors.knuckle_depth if joint == 0 else priors.joint_depth
        shown = _shown(places, turn, index, expected, priors.turn_sharpness)
        evidence = []
        share, spread = _expected(joint, prior, places[list(chosen)])
        note = "expected share of the finger from its web to its end"
        place = _under_skin(shape, line, back, share * visible, depth * radius)
        evidence.append(("finger_share", place, spread * visible, note))
        if shown is not None:
            share, spread = shown
            place = _under_skin(shape, line, back, share * visible, depth * radius)
            note = "the skin of the back bends over the joint"
            evidence.append(("back_bend", place, spread * visible, note))
        points.append(placed(evidence))
    points.append(placed([("finger_end", line.tip, 0.02 * visible, "end of the finger")]))
    return points


def _turn_at(back: BackProfile | None, arcs: FloatArray) -> FloatArray:
    """Turn of the skin at lengths along the finger; 0 where it is unknown."""
    if back is None:
        return np.zeros(len(arcs))
    known = np.isfinite(back.turn)
    if known.sum() < 2:
        return np.zeros(len(arcs))
    return np.interp(arcs, back.arc[known], back.turn[known], left=0.0, right=0.0)


def _expected(joint: int, prior: ChainPrior, chosen: FloatArray) -> tuple[float, float]:
    """Where a joint is expected, given the other two: share and spread in visible lengths."""
    first, _, _ = chosen
    own = (prior.knuckle, prior.middle, prior.end)[joint]
    if joint == 0:
        return own
    whole = 1.0 - first
    if joint == 1:
        bone = (first + prior.first_bone[0] * whole, prior.first_bone[1] * whole)
    else:
        bone = (1.0 - prior.last_bone[0] * whole, prior.last_bone[1] * whole)
    weights = np.array([own[1], bone[1]]) ** -2.0
    return float(np.dot(weights, [own[0], bone[0]]) / weights.sum()), float(weights.sum() ** -0.5)


def _shown(
    places: FloatArray,
    turn: FloatArray,
    index: int,
    expected: tuple[float, float],
    sharpness: float,
) -> tuple[float, float] | None:
    """The bend of the skin next to a chosen place, and how sharply it shows."""
    near = slice(max(index - 4, 0), index + 5)
    peak = near.start + int(np.argmax(turn[near]))
    if turn[peak] < LEAST_TURN or not 0 < peak < len(turn) - 1:
        return None
    bow = (turn[peak - 1] - 2.0 * turn[peak] + turn[peak + 1]) / STEP**2
    if bow >= 0.0:
        return None
    shift = 0.5 * (turn[peak - 1] - turn[peak + 1]) / (bow * STEP**2) * STEP
    spread = float(np.sqrt(sharpness / -bow))
    return float(places[peak] + np.clip(shift, -STEP, STEP)), max(spread, 0.5 * STEP)


def _under_skin(
    shape: HandShape, line: FingerLine, back: BackProfile | None, arc: float, depth: float
) -> FloatArray:
    """A place at a depth under the skin of the back."""
    if back is not None:
        skin, direction = back.at(float(np.clip(arc, back.arc[0], back.arc[-1])))
        return np.asarray(skin - depth * direction)
    ahead = line.base_aim()
    out = shape.palm_normal - ahead * np.dot(ahead, shape.palm_normal)
    radius = float(line.radius_at(arc)) if arc > line.arc[0] else line.typical_radius()
    return np.asarray(line.at(arc) - out / np.linalg.norm(out) * (radius - depth))
