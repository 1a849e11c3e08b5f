"""Fit an ellipsoid to points: an eyeball that its modeller squashed, or the front of one.

The general quadric x'Ax + b'x = 1 about a point inside is linear in its nine numbers. Each round
weighs the points by the inverse of the quadric's slope, which makes the algebraic distance the
distance to the surface to first order (Sampson 1982; Taubin 1991), and gives no weight to points
that stand off (Tukey's biweight), such as a cornea or a dished iris.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from autoplace.measure.fits import MAD_TO_SD, TUKEY
from autoplace.measure.not_found import NotFound

__all__ = ["EllipsoidFit", "fit_ellipsoid"]

FloatArray = NDArray[np.float64]

LEAST_POINTS = 18
"""Twice the unknowns (common practice, no source)."""
ROUNDS = 40
SETTLED = 1e-10
LEAST_NOISE = 1e-9
"""Noise assumed at least, of the size of the points, as in the fit of a sphere."""
MOST_ASPECT = 6.0
"""Longest over shortest axis at most; more is a sheet or a rod (common practice, no source)."""


@dataclass(frozen=True)
class EllipsoidFit:
    """An ellipsoid and how well the points know it; lengths in the units of the points."""

    center: FloatArray
    """(3,)"""
    axes: FloatArray
    """(3, 3) unit rows, in the order of `lengths`."""
    lengths: FloatArray
    """(3,) half axes, shortest first."""
    residual: float
    """Root mean square distance, to first order, of the points that count from the surface."""
    inlier_share: float
    center_spread: float
    """One standard deviation of the centre along its least certain direction."""

    @property
    def radius(self) -> float:
        """Of the ball of the same volume."""
        return float(np.prod(self.lengths) ** (1.0 / 3.0))

    @property
    def rounding(self) -> FloatArray:
        """(3, 3) that makes offsets from the centre, as rows, those of that ball."""
        return np.asarray((self.axes.T * (self.radius / self.lengths)) @ self.axes)


def fit_ellipsoid(points: ArrayLike, weights: ArrayLike | None = None) -> EllipsoidFit | NotFound:
    """The ellipsoid nearest to the points, by weighted squares of distance to first order.

    Args:
        points: (n, 3), any frame and units, at least 18.
        weights: (n,) not negative; equal when None.

    Returns:
        The fit, or a false `NotFound` when the points are too few or lie on no ellipsoid.
    """
    given = np.asarray(points, dtype=np.float64).reshape(-1, 3)
    weight = np.ones(len(given)) if weights is None else np.asarray(weights, dtype=np.float64)
    given, weight = given[weight > 0], weight[weight > 0]
    if len(given) < LEAST_POINTS or not np.isfinite(given).all():
        return NotFound("ellipsoid", f"{len(given)} points do not fix an ellipsoid")
    weight = weight / weight.sum()
    origin = 0.5 * (given.min(axis=0) + given.max(axis=0))
    size = float(np.abs(given - origin).max())
    if size <= 0:
        return NotFound("ellipsoid", "all points are one")
    p = (given - origin) / size
    solved = _solve(p, weight)
    if solved is None:
        return NotFound("ellipsoid", "the points lie on no ellipsoid")
    center, axes, lengths, counted, residual, covariance = solved
    return EllipsoidFit(
        center=origin + size * center,
        axes=axes,
        lengths=size * lengths,
        residual=size * residual,
        inlier_share=float(weight @ counted),
        center_spread=size * float(np.sqrt(max(np.linalg.eigvalsh(covariance)[-1], 0.0))),
    )


def _solve(
    p: FloatArray, weight: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, float, FloatArray] | None:
    """Centre, axes, half lengths, factors, residual, covariance of the centre; None if none."""
    x, y, z = p.T
    design = np.stack([x * x, y * y, z * z, 2 * x * y, 2 * x * z, 2 * y * z, x, y, z], axis=1)
    slope, counted = np.ones(len(p)), np.ones(len(p))
    number = 1.0 / float(np.sum(weight**2))
    beta = np.zeros(9)
    for _ in range(ROUNDS):
        share = weight * counted / slope**2
        normal = (design * share[:, None]).T @ design
        try:
            now = np.linalg.solve(normal, design.T @ share)
        except np.linalg.LinAlgError:
            return None
        matrix, linear = _matrix(now), now[6:]
        slope = np.linalg.norm(2.0 * p @ matrix + linear, axis=1)
        if not np.isfinite(now).all() or slope.max() <= 0:
            return None
        slope = np.maximum(slope, 1e-3 * slope.max())
        distance = (design @ now - 1.0) / slope
        order = np.argsort(np.abs(distance), kind="stable")
        half = np.searchsorted(np.cumsum(weight[order]), 0.5 * weight.sum())
        cut = TUKEY * max(MAD_TO_SD * float(np.abs(distance)[order[half]]), LEAST_NOISE)
        counted = np.clip(1.0 - (distance / cut) ** 2, 0.0, 1.0) ** 2
        counted = np.where(np.abs(distance) <= LEAST_NOISE, 1.0, counted)
        moved = float(np.abs(now - beta).max())
        beta = now
        if moved < SETTLED * float(np.abs(beta).max()):
            break
    matrix, linear = _matrix(beta), beta[6:]
    values, vectors = np.linalg.eigh(matrix)
    if values[0] <= 0:
        return None
    inverse = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    center = -0.5 * inverse @ linear
    level = 1.0 + float(center @ matrix @ center)
    lengths = np.sqrt(level / values[::-1])
    if lengths[2] > MOST_ASPECT * lengths[0] or lengths[2] > MOST_ASPECT:
        return None
    share = weight * counted
    residual = float(np.sqrt(share @ distance**2 / share.sum()))
    freedom = max(number * float(share.sum()) - 9.0, 1.0)
    noise = max(residual * np.sqrt(number * share.sum() / freedom), LEAST_NOISE)
    normal = (design * (number * share / slope**2)[:, None]).T @ design
    spread = np.linalg.pinv(normal, hermitian=True) * noise**2
    jacobian = _center_by_numbers(inverse, center)
    return center, vectors.T[::-1], lengths, counted, residual, jacobian @ spread @ jacobian.T


def _matrix(beta: FloatArray) -> FloatArray:
    """(3, 3) of the quadric's first six numbers."""
    a, b, c, d, e, f = beta[:6]
    return np.array([[a, d, e], [d, b, f], [e, f, c]])


def _center_by_numbers(inverse: FloatArray, center: FloatArray) -> FloatArray:
    """(3, 9) how the centre -A^-1 b / 2 moves with the quadric's numbers."""
    columns = []
    for i, j in ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2)):
        change = np.zeros((3, 3))
        change[i, j] = change[j, i] = 1.0
        columns.append(-inverse @ change @ center)
    columns += [-0.5 * inverse[:, k] for k in range(3)]
    return np.stack(columns, axis=1)
