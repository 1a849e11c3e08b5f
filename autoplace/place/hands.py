"""Finger joints of a measured hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.finger_line import FingerLine
from autoplace.measure.hand_shape import HandShape, WristHint
from autoplace.place.hand_priors import FingerPrior, HandPriors
from autoplace.skeleton.model import Evidence

__all__ = ["HandPlacement", "PlacedPoint", "place_hand"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class PlacedPoint:
    """A joint's place, how sure it is, and why it is there."""

    position: FloatArray
    """(3,) working frame."""
    spread: float
    """One standard deviation."""
    evidence: tuple[Evidence, ...]
    """What spoke for it; the weights sum to one."""


@dataclass(frozen=True)
class HandPlacement:
    """The finger joints of one hand, working frame."""

    chains: dict[str, list[PlacedPoint]]
    """Four points by finger name: joints 1 to 3 and the tip."""
    palm_normal: FloatArray
    """(3,) unit, out of the palm."""
    finger_count: int
    wrist_hint: WristHint
    notes: tuple[str, ...] = ()


def place_hand(
    shape: HandShape,
    wrist: FloatArray | None = None,
    side: str | None = None,
    priors: HandPriors | None = None,
) -> HandPlacement:
    """Place the joints of all fingers of a hand.

    Args:
        shape: the measured hand.
        wrist: (3,) the wrist joint, if it is known better than the hand alone shows.
        side: 'left' or 'right'; that of the shape when None.
        priors: proportions to place by.

    Returns:
        Four points a finger, with spread and evidence.
    """
    priors = priors or HandPriors()
    chains = {}
    for name, line in shape.fingers.items():
        if name == "thumb":
            chains[name] = _thumb(shape, line, priors)
        else:
            chains[name] = _finger(shape, line, priors.fingers[name], priors)
    return HandPlacement(
        chains, shape.palm_normal, shape.finger_count, shape.wrist_hint, shape.notes
    )


def _point(position: FloatArray, spread: float, kind: str, note: str) -> PlacedPoint:
    return PlacedPoint(position, spread, (Evidence(kind, position, spread, 1.0, note),))


def _palmward(tangent: FloatArray, normal: FloatArray) -> FloatArray:
    """(3,) unit direction to the palm side, at right angles to a finger."""
    out = normal - tangent * np.dot(tangent, normal)
    return np.asarray(out / np.linalg.norm(out))


def _finger(
    shape: HandShape, line: FingerLine, prior: FingerPrior, priors: HandPriors
) -> list[PlacedPoint]:
    """The chain of a finger other than the thumb."""
    visible, radius = line.length, line.typical_radius()
    base = line.at(0.35 * visible) - line.at(0.0)
    base /= np.linalg.norm(base)
    palm = _palmward(base, shape.palm_normal)
    knuckle = line.at(0.1 * visible) - base * (0.1 + prior.knuckle) * visible
    skin = shape.skin_beyond(knuckle, -palm, 8.0 * radius)
    if skin is not None:
        knuckle = knuckle - palm * (skin - priors.back_depth * radius)
    points = [
        _point(knuckle, prior.knuckle_spread * visible, "web_share", "behind the web"),
    ]
    for share in (prior.middle, prior.end):
        at = share * visible
        ahead = line.at(at + 0.1 * visible) - line.at(at - 0.1 * visible)
        palm = _palmward(ahead / np.linalg.norm(ahead), shape.palm_normal)
        place = line.at(at) - palm * priors.backward * line.radius_at(at)
        points.append(_point(place, prior.spread * visible, "finger_share", "share of the finger"))
    points.append(_point(line.tip, 0.02 * visible, "finger_end", "end of the finger"))
    return points


def _thumb(shape: HandShape, line: FingerLine, priors: HandPriors) -> list[PlacedPoint]:
    """The chain of the thumb."""
    prior, length = priors.thumb, shape.length
    base = shape.wrist_hint.position + length * (
        prior.base_across * shape.across
        + prior.base_along * shape.along
        + prior.base_palmward * shape.palm_normal
    )
    tip = line.tip
    end = line.at((1.0 - prior.visible_distal) * line.length)
    to_base = base - end
    back = line.at(0.05 * line.length) - line.at(0.5 * line.length)
    aim = back / np.linalg.norm(back) + to_base / np.linalg.norm(to_base)
    aim /= np.linalg.norm(aim)
    reach = min(prior.proximal * length, 0.7 * float(np.linalg.norm(to_base)))
    middle = end + aim * reach
    return [
        _point(base, prior.base_spread * length, "hand_share", "share of the hand"),
        _point(middle, 0.03 * length, "hand_share", "share of the hand"),
        _point(end, 0.03 * length, "finger_share", "share of the thumb"),
        _point(tip, 0.01 * length, "finger_end", "end of the thumb"),
    ]
