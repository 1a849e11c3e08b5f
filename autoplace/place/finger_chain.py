"""The joints of one finger other than the thumb."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.finger_back import BackProfile
from autoplace.measure.finger_line import FingerLine
from autoplace.measure.hand_shape import HandShape
from autoplace.place.chain_search import choose_joints, score_finger
from autoplace.place.hand_priors import HandPriors
from autoplace.skeleton.model import Evidence

__all__ = ["PlacedPoint", "finger_chains", "placed"]

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


def finger_chains(shape: HandShape, priors: HandPriors) -> dict[str, list[PlacedPoint]]:
    """Knuckle, two interphalangeal joints and tip of all fingers but the thumb.

    Args:
        shape: the hand.
        priors: proportions to place by.

    Returns:
        Four points by finger name, working frame.
    """
    places = np.arange(-1.1, 0.92, STEP)
    names = [name for name in shape.fingers if name != "thumb"]
    visible = {name: float(shape.fingers[name].arc[-1]) for name in names}
    turns = {name: _turn_at(shape.backs.get(name), places * visible[name]) for name in names}
    scores = {
        name: score_finger(priors.bones[name], places, turns[name], priors.turn_sharpness)
        for name in names
    }
    shares = {name: visible[name] / shape.length for name in names}
    chosen, shared = choose_joints(priors.knuckles, scores, shares)
    return {
        name: _finger(
            shape,
            name,
            priors,
            places,
            turns[name],
            chosen[name],
            _expected(name, priors, chosen[name], shared, shares[name]),
        )
        for name in names
    }


def _finger(
    shape: HandShape,
    name: str,
    priors: HandPriors,
    places: FloatArray,
    turn: FloatArray,
    chosen: tuple[float, float, float],
    expected: list[tuple[float, float]],
) -> list[PlacedPoint]:
    """The chain of one finger: what is expected and what the skin shows, next to what was chosen."""
    line, back = shape.fingers[name], shape.backs.get(name)
    visible, radius = float(line.arc[-1]), line.typical_radius()
    points = []
    for joint, share in enumerate(chosen):
        depth = radius * (priors.knuckle_depth if joint == 0 else priors.joint_depth)
        where, spread = expected[joint]
        note = (
            "as far behind the web as the knuckles of this hand"
            if joint == 0
            else "expected share of the finger"
        )
        place = _under_skin(shape, line, back, where * visible, depth)
        evidence = [("finger_share", place, spread * visible, note)]
        shown = _shown(places, turn, share, priors.turn_sharpness)
        if shown is not None:
            where, spread = shown
            place = _under_skin(shape, line, back, where * visible, depth)
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


def _expected(
    name: str,
    priors: HandPriors,
    chosen: tuple[float, float, float],
    shared: float,
    share: float,
) -> list[tuple[float, float]]:
    """Where the three joints of a finger are expected, and how surely, in visible lengths."""
    knuckles, bones = priors.knuckles, priors.bones[name]
    behind = (shared + knuckles.further.get(name, 0.0)) / share
    result = [(-behind, max(knuckles.own_spread, 0.4 * knuckles.shared_spread) / share)]
    whole = 1.0 - chosen[0]
    first = (chosen[0] + bones.first_bone[0] * whole, bones.first_bone[1] * whole)
    last = (1.0 - bones.last_bone[0] * whole, bones.last_bone[1] * whole)
    for own, bone in ((bones.middle, first), (bones.end, last)):
        weights = np.array([own[1], bone[1]]) ** -2.0
        mean = float(np.dot(weights, [own[0], bone[0]]) / weights.sum())
        result.append((mean, float(weights.sum() ** -0.5)))
    return result


def _shown(
    places: FloatArray, turn: FloatArray, chosen: float, sharpness: float
) -> tuple[float, float] | None:
    """The bend of the skin next to a chosen place, and how sharply it shows."""
    index = int(np.argmin(np.abs(places - chosen)))
    near = slice(max(index - 4, 0), index + 5)
    peak = near.start + int(np.argmax(turn[near]))
    if turn[peak] < LEAST_TURN or not 0 < peak < len(turn) - 1:
        return None
    bow = (turn[peak - 1] - 2.0 * turn[peak] + turn[peak + 1]) / STEP**2
    if bow >= 0.0:
        return None
    shift = 0.5 * (turn[peak - 1] - turn[peak + 1]) / (bow * STEP)
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
