"""The joints of one finger other than the thumb."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hand_shape import HandShape
from autoplace.place.bend_plane import flatten_chain
from autoplace.place.chain_search import choose_joints, score_finger
from autoplace.place.hand_priors import HandPriors
from autoplace.place.placed_point import PlacedPoint, placed
from autoplace.place.skin_bend import shown_bend, turn_at, under_skin

__all__ = ["finger_chains"]

FloatArray = NDArray[np.float64]

STEP = 0.02
"""Distance of candidate places, in visible lengths."""


def finger_chains(
    shape: HandShape, priors: HandPriors
) -> dict[str, tuple[list[PlacedPoint], FloatArray]]:
    """Knuckle, two interphalangeal joints and tip of all fingers but the thumb.

    Args:
        shape: the hand.
        priors: proportions to place by.

    Returns:
        By finger name: four points, and the (3,) unit axis about which a right-handed turn curls
        the finger. Working frame.
    """
    places = np.arange(-1.1, 0.92, STEP)
    names = [name for name in shape.fingers if name != "thumb"]
    visible = {name: float(shape.fingers[name].arc[-1]) for name in names}
    turns = {name: turn_at(shape.backs.get(name), places * visible[name]) for name in names}
    scores = {
        name: score_finger(priors.bones_of(name), places, turns[name], priors.turn_sharpness)
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
) -> tuple[list[PlacedPoint], FloatArray]:
    """The chain of one finger from what is expected and what the skin shows."""
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
        place = under_skin(line, back, shape.palm_normal, where * visible, depth)
        evidence = [("finger_share", place, spread * visible, note)]
        shown = shown_bend(places, turn, share, priors.turn_sharpness)
        if shown is not None:
            where, spread = shown
            place = under_skin(line, back, shape.palm_normal, where * visible, depth)
            note = "the skin of the back bends over the joint"
            evidence.append(("back_bend", place, spread * visible, note))
        points.append(placed(evidence))
    points.append(placed([("finger_end", line.tip, 0.02 * visible, "end of the finger")]))
    offset = priors.plane_offset * radius
    return flatten_chain(points, shape.palm_normal, offset, priors.plane_turn)


def _expected(
    name: str,
    priors: HandPriors,
    chosen: tuple[float, float, float],
    shared: float,
    share: float,
) -> list[tuple[float, float]]:
    """Where the three joints of a finger are expected, and how surely, in visible lengths."""
    knuckles, bones = priors.knuckles, priors.bones_of(name)
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
