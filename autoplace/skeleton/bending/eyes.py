"""Eyes: does an eyeball that is turned stay where it is?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.ellipsoid_fit import EllipsoidFit, fit_ellipsoid
from autoplace.measure.fits import SphereFit, fit_sphere
from autoplace.skeleton.angles import angle_between
from autoplace.skeleton.bending.records import Value
from autoplace.skeleton.bending.subject import Subject
from autoplace.skeleton.names import family
from autoplace.skeleton.pose import Posed

__all__ = ["measure_eyes"]

FloatArray = NDArray[np.float64]

ROUND = 0.02
"""An eyeball is a ball when its vertices lie this near to a sphere, share of the radius (root mean
square); otherwise an ellipsoid is fitted. The bulge of the cornea alone gives about 0.02 (1.5 mm on
a fifth of a globe of 12 mm, from memory); common practice for the limit."""


def measure_eyes(subject: Subject, posed: Posed) -> list[Value]:
    """How far each turned eyeball leaves its own rest shape, how far its gaze turned, and whether
    both eyes went together."""
    values = []
    eyes = [joint.name for joint in subject.skeleton if family(joint.name) == "eye"]
    gone = {}
    for name in eyes:
        turn = posed.turn[subject.index[name]]
        gone[name] = turn
        before = subject.axis(name, "aim")
        values.append(Value("turned", name, angle_between(before, turn @ before)))
        ball = subject.flesh.eyeballs.get(name) if subject.flesh else None
        if ball is not None and len(ball):
            left = _leaves(ball, turn, posed.shift[subject.index[name]])
            if left is not None:
                values.append(Value("stays", name, 100.0 * left))
    if "left_eye" in gone and "right_eye" in gone:
        between = gone["left_eye"].T @ gone["right_eye"]
        cosine = np.clip(0.5 * (np.trace(between) - 1.0), -1.0, 1.0)
        values.append(Value("together", "eyes", float(np.degrees(np.arccos(cosine)))))
    return values


def _leaves(ball: FloatArray, turn: FloatArray, shift: FloatArray) -> float | None:
    """Greatest distance by which the turned ball (k, 3) stands out of the shape it has at rest,
    share of its radius; None when the vertices lie on no ball.

    The shape is the sphere, or else the ellipsoid, through its vertices; what stands out of that at
    rest already, such as a cornea, is taken off.
    """
    sphere = fit_sphere(ball)
    if isinstance(sphere, SphereFit) and sphere.residual <= ROUND * sphere.radius:
        center, radius, rounding = sphere.center, sphere.radius, np.eye(3)
    else:
        found = fit_ellipsoid(ball)
        if not isinstance(found, EllipsoidFit):
            return None
        center, radius, rounding = found.center, found.radius, found.rounding
    moved = ball @ turn.T + shift
    out = [np.linalg.norm((at - center) @ rounding, axis=1).max() for at in (ball, moved)]
    return max(float(out[1] - out[0]), 0.0) / radius
