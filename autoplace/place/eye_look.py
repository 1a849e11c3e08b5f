"""Which way does an eyeball look? Told by what marks its front: cornea, iris, or the open back."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.fits import SphereFit, vertex_areas

__all__ = ["look_direction"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MARK_DEPTH = 0.03
"""Radii off the sphere from which a spot is a cornea or an iris: an adult cornea stands 0.1 off
(references section 6), a modelled one less."""
MARK_NOISE = 4.0
"""...and so many residuals of the points that do belong."""
FEW_MARKED, CLEARLY = 3, 10.0
"""Fewer points than this off the sphere may be noise, unless by so many residuals."""
TRUE_BALL = 0.03
"""Residual over radius of those points at most: on what is hardly a ball a spot means nothing."""
MARK_SHARE = (0.004, 0.3)
"""Share of the eyeball's surface that such a spot covers: an adult cornea 6 percent (29 degrees
of half-angle, references section 6); a cartoon's iris up to a third."""
MARK_SPREAD = 55.0
"""Degrees from its middle within which the spot must lie, else it is not one spot."""
CAP_SEEN = 0.9
"""A ball of which less than this share was made shows its axis by where it ends."""
LEAST_FORWARD = -0.2
"""The z of a look direction at least: a bird's eye looks aside, none looks back into the head."""
MOST_UP = 0.5
"""The y of a look direction at most, up or down (30 degrees): eyes in a rest pose look level, and
what marks the top or bottom of a ball is the modeller's seam."""


def look_direction(
    fit: SphereFit, vertices: FloatArray, faces: IntArray, shells: Sequence[FloatArray] = ()
) -> tuple[FloatArray | None, str]:
    """Unit look direction and what showed it; None and '' when the shape does not show it.

    Args:
        fit: sphere of the eyeball. vertices (n, 3), faces (m, 3): its surface, working frame.
        shells: vertices (k, 3) of each other piece of the same eye.
    """
    for direction, words in (
        (_spot(fit, vertices, faces, 1.0), "the cornea's bulge"),
        (_spot(fit, vertices, faces, -1.0), "the iris's dish"),
        (_of_shells(fit, shells), "the iris or cornea piece"),
        (_cap_axis(fit), "the middle of the modelled cap"),
    ):
        if direction is None:
            continue
        if direction[2] > LEAST_FORWARD and abs(direction[1]) < MOST_UP:
            return direction, words
    return None, ""


def _spot(fit: SphereFit, vertices: FloatArray, faces: IntArray, sign: float) -> FloatArray | None:
    """Middle of the one spot that stands out (sign 1) or in (-1) of the sphere."""
    if fit.residual > TRUE_BALL * fit.radius:
        return None
    off = sign * fit.residuals(vertices)
    limit = max(MARK_DEPTH * fit.radius, MARK_NOISE * fit.residual)
    weight = vertex_areas(vertices, faces)
    marked = off > limit
    if marked.sum() < FEW_MARKED and not (off[marked] > CLEARLY * fit.residual).any():
        return None
    share = float(weight[marked].sum() / weight.sum())
    if not MARK_SHARE[0] < share < MARK_SHARE[1]:
        return None
    away = vertices[marked] - fit.center
    direction = away / np.maximum(np.linalg.norm(away, axis=1), 1e-12)[:, None]
    return _middle(direction, weight[marked] * off[marked])


def _of_shells(fit: SphereFit, shells: Sequence[FloatArray]) -> FloatArray | None:
    """Direction of the smallest piece that sits to one side of the ball."""
    best: tuple[float, FloatArray] | None = None
    for points in shells:
        away = points - fit.center
        direction = away / np.maximum(np.linalg.norm(away, axis=1), 1e-12)[:, None]
        middle = _middle(direction, np.ones(len(points)))
        if middle is not None:
            size = float(np.ptp(points, axis=0).max())
            if best is None or size > best[0]:
                best = (size, middle)
    return None if best is None else best[1]


def _cap_axis(fit: SphereFit) -> FloatArray | None:
    if fit.share_seen >= CAP_SEEN or fit.residual > TRUE_BALL * fit.radius or not fit.axis.any():
        return None
    return fit.axis


def _middle(direction: FloatArray, weight: FloatArray) -> FloatArray | None:
    """Mean of unit directions, None when they are not one spot."""
    mean = weight @ direction
    length = float(np.linalg.norm(mean))
    if length <= 0:
        return None
    mean = mean / length
    if float((direction @ mean).min()) < np.cos(np.radians(MARK_SPREAD)):
        return None
    return mean
