"""The joints of the thumb."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hand_shape import HandShape
from autoplace.place import readings
from autoplace.place.bend_plane import flatten_chain
from autoplace.place.chain_search import mean_and_spread
from autoplace.place.hand_priors import HandPriors, ThumbPrior
from autoplace.place.placed_point import PlacedPoint, placed
from autoplace.place.skin_bend import told_beside, turn_at, under_skin
from autoplace.place.thumb_shape import ThumbShape

__all__ = ["thumb_chain"]

FloatArray = NDArray[np.float64]

STEP = 0.008
"""Distance of candidate places, share of the hand's length."""
REACH = (-0.35, 0.35)
"""Candidate places from the web on, share of the hand's length."""


def thumb_chain(
    shape: HandShape, wrist: FloatArray, priors: HandPriors
) -> tuple[list[PlacedPoint], FloatArray]:
    """Carpometacarpal, metacarpophalangeal and interphalangeal joint and the tip of the thumb.

    Args:
        shape: the hand.
        wrist: (3,) the wrist joint.
        priors: proportions to place by.

    Returns:
        Four points, and the (3,) unit axis about which a right-handed turn curls the thumb.
    """
    prior, length = priors.thumb, shape.length
    line, back = shape.fingers["thumb"], shape.backs.get("thumb")
    radius = line.typical_radius()
    places = np.arange(REACH[0], min(REACH[1], line.arc[-1] / length - STEP), STEP)
    turn = turn_at(back, places * length)
    found = _weigh(prior, places, turn, float(line.arc[-1]) / length, priors.turn_sharpness)
    end = float(line.arc[-1]) / length
    bone = prior.last_bone[0] * (end - found[0][0]), prior.last_bone[1] * (end - found[0][0])
    expected = (
        (
            _knuckle(prior, end),
            "expected length beyond the web and of the thumb",
            prior.knuckle_depth,
        ),
        ((end - bone[0], bone[1]), "expected share of the thumb", prior.joint_depth),
    )
    inner = []
    for own, ((where, spread), note, depth) in zip(found, expected, strict=True):
        place = under_skin(line, back, -shape.across, where * length, depth * radius)
        evidence = [("finger_share", place, spread * length, note)]
        if back is not None:
            where, spread = told_beside((where, spread), own)
            place = under_skin(line, back, -shape.across, where * length, depth * radius)
            note = "the skin of the back bends over the joint"
            evidence.append(("back_bend", place, spread * length, note))
        inner.append(placed(evidence))
    tip = placed([("finger_end", line.tip, 0.01 * length, "end of the thumb")])
    seen = ThumbShape(shape, wrist, np.array([point.position for point in (*inner, tip)]))
    base = _base(seen, prior)
    return flatten_chain(
        [base, *inner, tip],
        -shape.across,
        priors.plane_offset * radius,
        priors.thumb_plane_turn,
    )


def _weigh(
    prior: ThumbPrior, places: FloatArray, turn: FloatArray, end: float, sharpness: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Place and spread of the two joints along the thumb, shares of the hand's length: the means
    over all places by how likely they are."""

    def against(values: FloatArray, expected: tuple[float, float]) -> FloatArray:
        return np.asarray(0.5 * ((values - expected[0]) / expected[1]) ** 2)

    gain = turn / sharpness
    last = (end - places)[None, :] / (end - places)[:, None]
    off = places - prior.knuckle[0]
    beside = 0.5 * (off / np.where(off < 0.0, prior.knuckle[1], prior.knuckle[2])) ** 2
    knuckle = gain - beside - against(end - places, prior.free)
    total = knuckle[:, None] + gain[None, :]
    total = total - against(last, prior.last_bone)
    total[last >= 0.9] = -np.inf
    likely = np.exp(total - total.max())
    return mean_and_spread(places, likely.sum(axis=1)), mean_and_spread(places, likely.sum(axis=0))


def _knuckle(prior: ThumbPrior, end: float) -> tuple[float, float]:
    """Where the metacarpophalangeal joint is expected, and its spread, shares of hand length."""
    by_length = end - prior.free[0]
    spread = prior.knuckle[1] if by_length < prior.knuckle[0] else prior.knuckle[2]
    weights = np.array([spread, prior.free[1]]) ** -2.0
    mean = float(np.dot(weights, [prior.knuckle[0], by_length]) / weights.sum())
    return mean, float(weights.sum() ** -0.5)


def _base(seen: ThumbShape, prior: ThumbPrior) -> PlacedPoint:
    """The carpometacarpal joint: by the hand, by the thumb's own bones, and as in known hands."""
    hand, length = seen.hand, seen.hand.length
    across, along, palmward = prior.base
    by_hand = seen.wrist + length * (
        across * hand.across + along * hand.along + palmward * hand.palm_normal
    )
    knuckle, joint, _ = seen.joints
    bone = float(np.linalg.norm(joint - knuckle))
    aim = by_hand - knuckle
    by_thumb = knuckle + prior.metacarpal[0] * bone * aim / np.linalg.norm(aim)
    note = "where the base lies in hands with such a thumb"
    read = readings.read_joint("thumb", "thumb_1", seen, note)
    less_sure = (read or readings.UNREAD).defer
    evidence = [
        ("hand_share", by_hand, less_sure * prior.base_spread * length, "beside the wrist"),
        (
            "bone_share",
            by_thumb,
            less_sure * prior.metacarpal[1] * bone,
            "expected length of the thumb's metacarpal",
        ),
    ]
    if read is not None:
        spread = float(np.sqrt(np.trace(read.cue.covariance) / 3.0))
        evidence.append((read.cue.kind, read.cue.position, spread, note))
    return placed(evidence)
