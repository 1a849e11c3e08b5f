"""Fit spheres to points: an eyeball, or however much of one the modeller made.

Three steps. An algebraic fit (Pratt 1987), solved as an eigenvalue problem, gives a start without
iteration and, unlike the linear least-squares sphere, is not drawn toward the surface of a small
cap. Concentration steps (Rousseeuw & Van Driessen 1999) then refit the better part of the points,
so that a cornea's bulge or an iris's dish does not pull the start. Last, Gauss-Newton steps
(Gander, Golub & Strebel 1994) minimise the weighted squares of distance to the surface, with
weights that fall to zero for points that do not belong (Tukey's biweight). Nothing is drawn at
random, and everything is centred and scaled first, so any magnitude will do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from autoplace.measure.not_found import NotFound

__all__ = ["RadiusPrior", "SphereFit", "fit_sphere", "vertex_areas"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

TRUSTED_SHARE = 0.7
"""Share of the weight that the concentration steps fit: a cornea inside 29 degrees of the axis
covers 6 percent of the ball, and 25 percent of a cap of 60 degrees (references section 11.2)."""
TUKEY = 4.685
"""Biweight cut-off in standard deviations: 95 percent efficient on normal errors (Huber 1981)."""
MAD_TO_SD = 1.4826
"""Standard deviation of a normal spread over its median absolute deviation."""
LEAST_NOISE = 1e-9
"""Noise assumed at least, fraction of the radius, so that perfect points keep all their weight."""
STEPS = 60
CONVERGED = 1e-12
FLATTEST = 1e-4
"""Smallest over largest extent of the points below which they are a plane and no sphere."""
WIDEST = 50.0
"""A radius of so many times the extent of the points means they are as good as flat."""


@dataclass(frozen=True)
class RadiusPrior:
    """What is known of the radius beforehand."""

    radius: float
    spread: float
    """One standard deviation; both in the units of the points."""


@dataclass(frozen=True)
class SphereFit:
    """A sphere and how well the points know it; lengths in the units of the points."""

    center: FloatArray
    """(3,)"""
    radius: float
    residual: float
    """Root mean square distance of the points that count from the surface, weighted."""
    inlier_share: float
    """Share of the weight that counts: 1 less what was judged not to belong."""
    share_seen: float
    """Share of the whole sphere that the counting points reach over, 0 to 1: of the smallest cap
    that holds them."""
    axis: FloatArray
    """(3,) unit direction from the centre to the middle of that cap; zero for a whole sphere."""
    center_spread: float
    """One standard deviation of the centre along its least certain direction."""
    radius_spread: float

    def residuals(self, points: ArrayLike) -> FloatArray:
        """(n,) signed distance of points (n, 3) from the surface, positive outside."""
        away = np.asarray(points, dtype=np.float64) - self.center
        return np.asarray(np.linalg.norm(away, axis=-1) - self.radius)


def fit_sphere(
    points: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    prior: RadiusPrior | None = None,
    robust: bool = True,
) -> SphereFit | NotFound:
    """The sphere nearest to the points, by weighted squares of distance to its surface.

    Args:
        points: (n, 3), any frame and units; at least four, not in one plane.
        weights: (n,) not negative, such as `vertex_areas`; equal when None.
        prior: what is known of the radius; needed only for caps below about 30 degrees of
            half-angle (references section 11.2).
        robust: give no weight to points that stand off the sphere of the others.

    Returns:
        A `SphereFit`, or a false `NotFound` with the reason when the points are too few, not
        finite, or as good as flat.

    Example:
        >>> corners = [[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]]
        >>> fit = fit_sphere(corners)
        >>> round(fit.radius, 6), bool(fit_sphere([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]]))
        (1.0, False)
    """
    given = np.asarray(points, dtype=np.float64).reshape(-1, 3)
    weight = np.ones(len(given)) if weights is None else np.asarray(weights, dtype=np.float64)
    used = weight > 0
    given, weight = given[used], weight[used]
    if len(given) < 4:
        return NotFound("sphere", f"{len(given)} points do not fix a sphere, four do")
    if not np.isfinite(given).all():
        return NotFound("sphere", "a point is not finite")
    weight = weight / weight.sum()
    middle = weight @ given
    extent = float(np.abs(given - middle).max())
    if extent <= 0:
        return NotFound("sphere", "all points are one")
    p = (given - middle) / extent
    variances = np.linalg.eigvalsh((p * weight[:, None]).T @ p)
    if variances[0] <= FLATTEST**2 * variances[2]:
        return NotFound("sphere", "the points lie in one plane")
    known = None if prior is None else RadiusPrior(prior.radius / extent, prior.spread / extent)
    center, radius = _start(p, weight, robust)
    if not np.isfinite(radius) or radius > WIDEST:
        if known is None:
            return NotFound("sphere", "the points are as good as flat")
        center, radius = _cap_start(p, weight, known.radius)
    center, radius, counted, covariance = _refine(p, weight, center, radius, known, robust)
    if not np.isfinite(radius) or radius <= 0 or radius > WIDEST:
        return NotFound("sphere", "the points are as good as flat")
    return _record(p, weight, counted, center, radius, covariance, middle, extent)


def vertex_areas(vertices: FloatArray, faces: IntArray) -> FloatArray:
    """(n,) area of surface around each vertex: a third of every triangle that meets there.

    As weights they keep a finely cut iris from outweighing a coarse back of the eye.
    """
    a, b, c = (vertices[faces[:, i]] for i in range(3))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 6.0
    return np.asarray(np.bincount(faces.reshape(-1), np.repeat(area, 3), len(vertices)))


def _pratt(p: FloatArray, weight: FloatArray) -> tuple[FloatArray, float]:
    """Algebraic sphere a|x|^2 + b.x + c = 0 with |b|^2 - 4ac = 1; centre and radius."""
    middle = weight @ p / weight.sum()
    q = p - middle
    square = np.einsum("ij,ij->i", q, q)
    design = np.column_stack([square, q, np.ones(len(q))])
    moments = (design * weight[:, None]).T @ design
    # inverse of the constraint matrix that has -2 where a and c meet
    inverse = np.diag([0.0, 1.0, 1.0, 1.0, 0.0])
    inverse[0, 4] = inverse[4, 0] = -0.5
    values, vectors = np.linalg.eig(inverse @ moments)
    values, vectors = values.real, vectors.real
    # exactly one eigenvalue is negative (one -2 in the constraint); the least other is the fit
    order = np.argsort(values, kind="stable")
    a, *b, c = vectors[:, order[1]]
    if abs(a) < 1e-12 * np.abs(vectors[:, order[1]]).max():
        return middle, np.inf
    offset = -np.array(b) / (2 * a)
    return middle + offset, float(np.sqrt(max(offset @ offset - c / a, 0.0)))


def _start(p: FloatArray, weight: FloatArray, robust: bool) -> tuple[FloatArray, float]:
    """Pratt's sphere of all points, then of the share that fits best, until that share stays."""
    center, radius = _pratt(p, weight)
    if not robust or len(p) < 8:
        return center, radius
    chosen = np.ones(len(p), dtype=bool)
    for _ in range(20):
        if not np.isfinite(radius):
            break
        misfit = np.abs(np.linalg.norm(p - center, axis=1) - radius)
        order = np.argsort(misfit, kind="stable")
        kept = np.cumsum(weight[order]) <= TRUSTED_SHARE * weight.sum()
        kept[: min(8, len(kept))] = True
        now = np.zeros(len(p), dtype=bool)
        now[order[kept]] = True
        if np.array_equal(now, chosen):
            break
        chosen = now
        center, radius = _pratt(p[chosen], weight[chosen])
    return center, radius


def _cap_start(p: FloatArray, weight: FloatArray, radius: float) -> tuple[FloatArray, float]:
    """A sphere of known radius behind an almost flat patch, on the side it curves to."""
    middle = weight @ p
    _, axes = np.linalg.eigh(((p - middle) * weight[:, None]).T @ (p - middle))
    normal = axes[:, 0]
    height = (p - middle) @ normal
    outward = np.einsum("ij,ij->i", p - middle, p - middle)
    bends = float(weight @ (height * (outward - weight @ outward)))
    return middle + normal * radius * (1.0 if bends > 0 else -1.0), radius


def _refine(
    p: FloatArray,
    weight: FloatArray,
    center: FloatArray,
    radius: float,
    prior: RadiusPrior | None,
    robust: bool,
) -> tuple[FloatArray, float, FloatArray, FloatArray]:
    """Gauss-Newton on distance to the surface; also the final factors and the covariance (4, 4)."""
    counted = np.ones(len(p))
    inverse = np.eye(4)
    effective = 1.0 / float(np.sum(weight**2))  # number of equally weighted points
    noise = 0.0
    for _ in range(STEPS):
        away = p - center
        distance = np.linalg.norm(away, axis=1)
        misfit = distance - radius
        least = LEAST_NOISE * radius
        if robust:
            spread = MAD_TO_SD * _weighted_median(np.abs(misfit), weight)
            # points on a perfect sphere but for a dish have no spread: floor it
            cut = TUKEY * max(spread, least)
            counted = np.clip(1.0 - (misfit / cut) ** 2, 0.0, 1.0) ** 2
            counted = np.where(np.abs(misfit) <= least, 1.0, counted)
        share = weight * counted
        freedom = max(effective * float(share.sum()) - 4.0, 1.0)
        scaled = share * effective
        noise = max(float(np.sqrt(scaled @ misfit**2 / freedom)), least)
        jacobian = np.column_stack([-away / np.maximum(distance, 1e-12)[:, None], -np.ones(len(p))])
        normal = (jacobian * scaled[:, None]).T @ jacobian
        slope = (jacobian * scaled[:, None]).T @ misfit
        if prior is not None:
            trust = (noise / max(prior.spread, 1e-12)) ** 2
            normal[3, 3] += trust
            slope[3] += trust * (radius - prior.radius)
        inverse = np.linalg.pinv(normal, hermitian=True)
        step = -inverse @ slope
        # one step may not throw the sphere further than its own size
        limit = 0.5 * radius / max(float(np.abs(step).max()), 1e-300)
        step *= min(1.0, limit)
        center, radius = center + step[:3], float(radius + step[3])
        if np.abs(step).max() < CONVERGED * max(radius, 1e-12):
            break
    return center, radius, counted, inverse * noise**2


def _weighted_median(values: FloatArray, weight: FloatArray) -> float:
    order = np.argsort(values, kind="stable")
    running = np.cumsum(weight[order])
    return float(values[order][np.searchsorted(running, 0.5 * running[-1])])


def _record(
    p: FloatArray,
    weight: FloatArray,
    counted: FloatArray,
    center: FloatArray,
    radius: float,
    covariance: FloatArray,
    middle: FloatArray,
    extent: float,
) -> SphereFit:
    away = p - center
    distance = np.linalg.norm(away, axis=1)
    share = weight * counted
    belongs = counted > 0.05
    direction = away / np.maximum(distance, 1e-12)[:, None]
    # the middle of the seen cap; a whole sphere has none
    mean = (share[:, None] * direction).sum(axis=0) / share.sum()
    length = float(np.linalg.norm(mean))
    axis = mean / length if length > 0.1 else np.zeros(3)
    reach = float((direction[belongs] @ axis).min()) if length > 0.1 else -1.0
    residual = float(np.sqrt(share @ (distance - radius) ** 2 / share.sum()))
    values = np.linalg.eigvalsh(covariance[:3, :3])
    return SphereFit(
        center=middle + center * extent,
        radius=radius * extent,
        residual=residual * extent,
        inlier_share=float(share.sum() / weight.sum()),
        share_seen=float(np.clip(0.5 * (1.0 - reach), 0.0, 1.0)),
        axis=axis,
        center_spread=float(np.sqrt(max(values[-1], 0.0))) * extent,
        radius_spread=float(np.sqrt(max(covariance[3, 3], 0.0))) * extent,
    )
