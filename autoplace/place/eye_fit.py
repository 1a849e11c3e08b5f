"""The ball that one piece of an eye is a part of: a sphere, or an ellipsoid where it is none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.ellipsoid_fit import EllipsoidFit, fit_ellipsoid
from autoplace.measure.fits import RadiusPrior, SphereFit, fit_sphere, vertex_areas
from autoplace.place.eye_look import look_direction

__all__ = ["Ball", "fit_ball", "look_of"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ROUND_RESIDUAL = 0.06
"""Residual over radius up to which a piece is taken for a ball; a cornea or an iris is not counted
in it. The human globe itself is 24.2 by 23.7 by 22-24.8 mm (Bekerman et al. 2014; references
section 6), 4 percent from round at most; half as much again is a modeller's (common practice, no
source)."""
LEAST_COUNTED = 0.5
"""Share of the surface that must lie on the ball; less is a ball through a detail."""
SAGGING = 0.8
"""Middles of faces lie this share of the radius from the centre at least: those of a ball of 40
triangles do; a box, whose corners lie on a sphere, has 0.58."""
OVAL_GAIN = 0.6
"""An ellipsoid is believed when its residual is less than this share of the sphere's: five more
numbers make that of a noisy sphere smaller by a twentieth at most (own synthetic eyes)..."""
OVAL_FROM = 0.003
"""...and when the sphere's is more than this share of its radius: what is rounder is a sphere."""
OVAL_SPREAD = 0.3
"""An ellipsoid whose centre is less sure than this share of its radius is not believed."""
FLAT = 0.85
"""Shortest over middle axis of an eye below which its short axis is where it looks (common
practice, no source)..."""
DISC = 0.92
"""...when the two long axes are alike to this share."""


@dataclass(frozen=True)
class Ball:
    """A fitted eyeball, working frame."""

    center: FloatArray
    radius: float
    residual: float
    spread: float
    """One standard deviation of the centre."""
    share_seen: float
    sphere: SphereFit
    """Of the surface, made round where it is oval."""
    oval: EllipsoidFit | None
    merit: float
    """The larger surface of the rounder piece is the eyeball rather than its iris or cornea."""

    @property
    def shape(self) -> str:
        """'sphere' or 'ellipsoid'."""
        return "sphere" if self.oval is None else "ellipsoid"

    def made_round(self, points: FloatArray) -> FloatArray:
        """Points (n, 3) moved as the oval is when it is made a sphere about its centre."""
        if self.oval is None:
            return points
        return self.center + (points - self.center) @ self.oval.rounding

    def from_round(self, direction: FloatArray) -> FloatArray:
        """A direction (3,) about the round ball as it is about the oval one; of unit length."""
        if self.oval is None:
            return direction
        back = direction @ np.linalg.inv(self.oval.rounding)
        return np.asarray(back / np.linalg.norm(back))


def fit_ball(
    vertices: FloatArray, faces: IntArray, prior: RadiusPrior | None = None
) -> Ball | None:
    """The ball a piece is a part of, None when it is part of none.

    Args:
        vertices: (n, 3), faces: (m, 3), working frame.
        prior: what is known of its radius.
    """
    weight = vertex_areas(vertices, faces)
    fit = fit_sphere(vertices, weight, prior=prior)
    sphere = fit if isinstance(fit, SphereFit) else None
    area = float(weight.sum())
    if sphere is not None and _sags(vertices[faces].mean(axis=1), sphere):
        return None
    rounds = sphere is not None and _is_round(sphere)
    if prior is None and (sphere is None or sphere.residual > OVAL_FROM * sphere.radius):
        oval = fit_ellipsoid(vertices, weight)
        if isinstance(oval, EllipsoidFit) and _is_better(oval, sphere if rounds else None):
            merit = area * oval.inlier_share * (1 - oval.residual / oval.radius)
            return _oval_ball(oval, vertices, weight, merit)
    if sphere is None or not rounds:
        return None
    return Ball(
        sphere.center,
        sphere.radius,
        sphere.residual,
        float(np.hypot(sphere.center_spread, sphere.residual)),
        sphere.share_seen,
        sphere,
        None,
        area * sphere.inlier_share * (1 - sphere.residual / sphere.radius),
    )


def _is_round(fit: SphereFit) -> bool:
    return fit.residual < ROUND_RESIDUAL * fit.radius and fit.inlier_share > LEAST_COUNTED


def _sags(middles: FloatArray, fit: SphereFit) -> bool:
    """Do the middles of faces (m, 3) lie so far inside that this is a box rather than a ball?"""
    off = np.linalg.norm(middles - fit.center, axis=1)
    return fit.residual < 0.01 * fit.radius and float(np.median(off)) < SAGGING * fit.radius


def _is_better(oval: EllipsoidFit, sphere: SphereFit | None) -> bool:
    """Does the ellipsoid tell what the sphere does not?"""
    sound = (
        oval.residual < ROUND_RESIDUAL * oval.radius
        and oval.inlier_share > LEAST_COUNTED
        and oval.center_spread < OVAL_SPREAD * oval.radius
    )
    if sphere is None:
        return sound
    return (
        sound
        and oval.residual < OVAL_GAIN * sphere.residual
        and oval.inlier_share > 0.9 * sphere.inlier_share
    )


def _oval_ball(
    oval: EllipsoidFit, vertices: FloatArray, weight: FloatArray, merit: float
) -> Ball | None:
    sphere = fit_sphere(oval.center + (vertices - oval.center) @ oval.rounding, weight)
    if not isinstance(sphere, SphereFit):
        return None
    spread = float(np.hypot(oval.center_spread, oval.residual))
    return Ball(
        oval.center, oval.radius, oval.residual, spread, sphere.share_seen, sphere, oval, merit
    )


def look_of(
    ball: Ball, vertices: FloatArray, faces: IntArray, shells: Sequence[FloatArray]
) -> tuple[FloatArray | None, str]:
    """Unit direction a ball looks along and what showed it; None and '' when nothing does.

    Args:
        ball: fitted to `vertices` (n, 3) and `faces` (m, 3), working frame.
        shells: vertices (k, 3) of each other piece of the same eye.
    """
    look, words = look_direction(
        ball.sphere, ball.made_round(vertices), faces, [ball.made_round(s) for s in shells]
    )
    if look is not None:
        return ball.from_round(look), words
    if ball.oval is None:
        return None, ""
    short, middle, long = ball.oval.lengths
    axis = ball.oval.axes[0]
    axis = axis if axis[2] > 0 else -axis
    # sideways or up no disc looks
    if short < FLAT * middle and middle > DISC * long and axis[2] > np.cos(np.radians(60.0)):
        return axis, "the axis of the flat eye"
    return None, ""
