"""The guess to beat: the mean of the other bodies' joints, scaled to height and told the pose."""

from __future__ import annotations

import numpy as np

from tests.dataset import poses
from tests.dataset.bodies import Body
from tests.dataset.bones import JOINTS
from tests.dataset.scores import Outcome, misses_of


def scaled_rest(body: Body) -> np.ndarray:
    """(joints, 3) rest joints of a body one unit tall that stands on the origin."""
    rest = np.array([body.rest_joints[joint] for joint in JOINTS])
    return (rest - body.origin) / body.height


def guesses(bodies: list[Body]) -> list[dict[str, np.ndarray]]:
    """For each body, where the mean of all the others puts its joints."""
    rest = np.array([scaled_rest(body) for body in bodies])
    result = []
    for number, body in enumerate(bodies):
        mean = np.delete(rest, number, axis=0).mean(axis=0) * body.height + body.origin
        joints = dict(zip(JOINTS, mean, strict=True))
        # the same angles as the body's own, about the guessed joints
        turns = poses.turns_of(joints, poses.pose_of(body.spec.pose, body.spec.seed))
        result.append(poses.posed_joints(joints, turns))
    return result


def outcomes(bodies: list[Body], same_age: bool) -> list[Outcome]:
    """The guesses, scored like placings; `same_age` also tells the guess how old the body is."""
    ages = dict.fromkeys(body.spec.age if same_age else "" for body in bodies)
    result = {}
    for age in ages:
        some = [body for body in bodies if not same_age or body.spec.age == age]
        if len(some) < 2:
            continue  # nothing to guess from
        for body, guess in zip(some, guesses(some), strict=True):
            placed = {name: (position, 0.0) for name, position in guess.items()}
            misses = misses_of(placed, body.joints, body.height, body.bone_turns)
            result[body.spec] = Outcome(body.spec.name, misses=misses)
    return [result[body.spec] for body in bodies if body.spec in result]
