"""Eyeballs that are one with the face: the round bulges of balls, or of lids over them.

On a ball every triangle's middle lies one radius along its normal from the centre. So triangles of
the face vote for centres at some radii, and where the votes of enough skin meet there is a ball
behind it; a robust sphere through that skin says where exactly. Both sides must show one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.measure.fits import SphereFit, fit_sphere
from autoplace.measure.not_found import NotFound
from autoplace.mesh.triangles import face_normals

__all__ = ["EyeBulges", "find_eye_bulges"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

RADII = (0.035, 0.13)
"""Of the head height: two thirds of a globe's (12 of 228 mm, references section 6), and a cartoon's
large eye with its lids (own synthetic faces)."""
TRIES, MOST_ASKED = 12, 300
FINE = 0.35
"""Side of a square of a triangle's size, in radii, at most: coarser ones show no ball."""
MEET = 0.12
"""Votes this near to one another, in radii, are for one centre."""
SHOWN = 0.13
"""Share of the sphere that the skin shows at least. A cheek of the demo characters passes for .10
of a ball; so an adult's lids, open on .08 of it (13 mm of a ball of 24, from memory), are left to
the search for hollows."""
ROUND = 0.035
"""Residual over radius at most."""
FEWEST, ROUNDS = 8, 6
"""Triangles on the ball at least; and how often it is fitted to those that then lie on it."""
OFF, SQUARE = 0.08, 0.94
"""...which do by this share of the radius, and face away from the centre to this cosine (20
degrees)."""
LEVEL = (0.28, 0.66)
"""Height in the head between which eyes are sought: half +- .023 (ANSUR2; references section 6),
lower on a child's or a cartoon's."""
ASIDE = (0.09, 0.42)
"""Distance from the middle over the head's breadth: .2075 (same source), half and twice that."""
ALIKE, MIRRORED = 0.2, 0.05
"""The two radii differ by this share at most, and the two places by this share of the head's height
from mirror images."""


@dataclass(frozen=True)
class EyeBulges:
    """Two balls behind the skin, working frame."""

    left: SphereFit
    right: SphereFit
    shown: float
    """Share of a sphere that the lesser one shows."""


def find_eye_bulges(
    vertices: FloatArray, faces: IntArray, low: FloatArray, high: FloatArray
) -> EyeBulges | NotFound:
    """Both balls in a face, or why there are none.

    Args:
        vertices: (n, 3), faces: (m, 3): the skin, facing outward, working frame.
        low, high: (3,) corners of the head's box from chin to crown, ears left out.
    """
    size, breadth = float(high[1] - low[1]), float(high[0] - low[0])
    if min(size, breadth) <= 0.0:
        return NotFound("eye bulges", "the head is too small to have a face")
    middle = 0.5 * float(low[0] + high[0])
    centres = vertices[faces].mean(axis=1)
    level = (centres[:, 1] - low[1]) / size
    aside = np.abs(centres[:, 0] - middle) / breadth
    reach = RADII[1] * size / breadth
    near = (level > LEVEL[0] - RADII[1]) & (level < LEVEL[1] + RADII[1])
    near &= (aside > max(ASIDE[0] - reach, 0.0)) & (aside < ASIDE[1] + reach)
    chosen = np.flatnonzero(near)
    normals, area = face_normals(vertices, faces[chosen])
    ahead = (normals[:, 2] > 0.0) & (area > 0)
    chosen, normals, area = chosen[ahead], normals[ahead], area[ahead]
    found: list[tuple[SphereFit, float]] = []
    for side in (1.0, -1.0):
        mine = side * (centres[chosen, 0] - middle) > 0
        skin = _Skin(
            vertices[faces[chosen[mine]]], centres[chosen[mine]], normals[mine], area[mine]
        )

        def fits(place: FloatArray, side: float = side) -> NDArray[np.bool_]:
            out = side * (place[:, 0] - middle) / breadth
            up = (place[:, 1] - low[1]) / size
            return np.asarray(
                (out > ASIDE[0]) & (out < ASIDE[1]) & (up > LEVEL[0]) & (up < LEVEL[1])
            )

        ball = _ball(skin, size, fits)
        if ball is None:
            return NotFound("eye bulges", "no ball shows in the face")
        found.append(ball)
    (left, one), (right, two) = found
    off = left.center - (right.center * [-1.0, 1.0, 1.0] + [2.0 * middle, 0.0, 0.0])
    unlike = abs(left.radius - right.radius) > ALIKE * max(left.radius, right.radius)
    if unlike or np.linalg.norm(off) > MIRRORED * size:
        return NotFound("eye bulges", "the balls in the face do not mirror one another")
    return EyeBulges(left, right, min(one, two))


@dataclass(frozen=True)
class _Skin:
    """One side of the face, triangle by triangle."""

    corners: FloatArray
    """(m, 3, 3)"""
    middles: FloatArray
    normals: FloatArray
    area: FloatArray


def _ball(
    skin: _Skin, size: float, fits: Callable[[FloatArray], NDArray[np.bool_]]
) -> tuple[SphereFit, float] | None:
    """The ball most of which shows, and how much; None when none is round enough.

    `fits` tells which places (k, 3) an eye may have; `size` is the head's height."""
    best: tuple[float, FloatArray, float] | None = None
    for radius in np.geomspace(*RADII, TRIES) * size:
        votes = skin.middles - radius * skin.normals
        fine = skin.area < (FINE * radius) ** 2
        good = np.flatnonzero(fits(votes) & fine)
        if not len(good):
            continue
        # where skin is fine, its neighbours vote alike
        good = good[:: max(1, len(good) // MOST_ASKED)]
        near = cKDTree(votes).query_ball_point(votes[good], MEET * radius)
        for index, others in zip(good, near, strict=True):
            shown = float(skin.area[others] @ fine[others]) / (4 * np.pi * radius**2)
            if best is None or shown > best[0]:
                best = (shown, votes[index], float(radius))
    if best is None or best[0] < SHOWN:
        return None
    shown, center, radius = best
    fit: SphereFit | None = None
    for _ in range(ROUNDS):
        away = skin.middles - center
        length = np.linalg.norm(away, axis=1)
        along = np.einsum("ij,ij->i", away, skin.normals) / np.maximum(length, 1e-12)
        on_ball = (np.abs(length - radius) < OFF * radius) & (along > SQUARE)
        on_ball &= skin.area < (FINE * radius) ** 2
        if on_ball.sum() < FEWEST:
            return None
        # corners lie on the ball, middles a little inside
        points = skin.corners[on_ball].reshape(-1, 3)
        now = fit_sphere(points, np.repeat(skin.area[on_ball], 3))
        if not isinstance(now, SphereFit):
            return None
        fit, center, radius = now, now.center, now.radius
        shown = float(skin.area[on_ball].sum()) / (4 * np.pi * radius**2)
    if fit is None or shown < SHOWN or fit.residual > ROUND * radius:
        return None
    if not RADII[0] * size < radius < RADII[1] * size or not fits(center[None])[0]:
        return None
    return fit, shown
