"""The joints of one finger other than the thumb."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hand_shape import HandShape
from autoplace.place.bend_plane import flatten_chain
from autoplace.place.chain_search import JointPlaces, score_finger, weigh_joints
from autoplace.place.hand_priors import HandPriors
from autoplace.place.placed_point import PlacedPoint, placed
from autoplace.place.skin_bend import told_beside, turn_at, under_skin

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
    found, shared = weigh_joints(priors.knuckles, scores, shares)
    return {
        name: _finger(
            shape,
            name,
            priors,
            found[name],
            _expected(name, priors, float(found[name].mean[0]), shared, shares[name]),
        )
        for name in names
    }


def _finger(
    shape: HandShape,
    name: str,
    priors: HandPriors,
    found: JointPlaces,
    expected: list[tuple[float, float]],
) -> tuple[list[PlacedPoint], FloatArray]:
    """The chain of one finger from what is expected and what the skin shows."""
    line, back = shape.fingers[name], shape.backs.get(name)
    visible, radius = float(line.arc[-1]), line.typical_radius()
    points = []
    for joint, (where, spread) in enumerate(expected):
        depth = radius * (priors.knuckle_depth if joint == 0 else priors.joint_depth)
        note = (
            "as far behind the web as the knuckles of this hand"
            if joint == 0
            else "expected share of the finger"
        )
        told = told_beside((where, spread), (float(found.mean[joint]), float(found.spread[joint])))
        rows = [("finger_share", (where, spread), note)]
        if back is not None:
            rows.append(("back_bend", told, "the skin of the back bends over the joint"))
        points.append(
            placed(
                [
                    (
                        kind,
                        under_skin(line, back, shape.palm_normal, arc * visible, depth),
                        sure * visible,
                        why,
                    )
                    for kind, (arc, sure), why in rows
                ]
            )
        )
    points.append(placed([("finger_end", line.tip, 0.02 * visible, "end of the finger")]))
    offset = priors.plane_offset * radius
    return flatten_chain(points, shape.palm_normal, offset, priors.plane_turn)


def _expected(
    name: str,
    priors: HandPriors,
    knuckle: float,
    shared: float,
    share: float,
) -> list[tuple[float, float]]:
    """Where the three joints of a finger are expected, and how surely, in visible lengths."""
    knuckles, bones = priors.knuckles, priors.bones_of(name)
    behind = (shared + knuckles.further.get(name, 0.0)) / share
    result = [(-behind, max(knuckles.own_spread, 0.4 * knuckles.shared_spread) / share)]
    whole = 1.0 - knuckle
    first = (knuckle + bones.first_bone[0] * whole, bones.first_bone[1] * whole)
    last = (1.0 - bones.last_bone[0] * whole, bones.last_bone[1] * whole)
    for own, bone in ((bones.middle, first), (bones.end, last)):
        weights = np.array([own[1], bone[1]]) ** -2.0
        mean = float(np.dot(weights, [own[0], bone[0]]) / weights.sum())
        result.append((mean, float(weights.sum() ** -0.5)))
    return result
