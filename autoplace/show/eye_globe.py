"""The fitted ball of an eye drawn as a globe: lines where the mesh shows it, dots where not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.show.figure import View
from autoplace.show.ink import Ink
from autoplace.show.palette import EYE, FAINT, deeper

__all__ = ["Globe", "draw_globe"]

FloatArray = NDArray[np.float64]

MERIDIANS, STEPS = 6, 60
"""Half circles through the poles, and pieces of a whole circle."""
PARALLELS = (25.0, 50.0, 90.0, 130.0, 155.0)
"""Degrees off the pole of the circles around it."""
NEAR_SURFACE = 0.15
"""A piece of the globe is seen where a face of the mesh lies this near to it, in radii, and..."""
NEAR_ASIDE = np.radians(9.0)
"""...no farther along it than this beyond the face's own size."""


@dataclass(frozen=True)
class Globe:
    """A fitted ball with the surface it was fitted to. Working frame."""

    center: FloatArray
    axes: FloatArray
    """(3, 3) unit rows, the last along the look."""
    lengths: FloatArray
    """(3,) half axes along `axes`."""
    middles: FloatArray
    """(m, 3) middles of the faces of its pieces."""
    reach: float
    """Radius of a face's circle, typical."""

    @property
    def radius(self) -> float:
        """Of a ball of its volume."""
        return float(np.prod(self.lengths) ** (1.0 / 3.0))


def draw_globe(ink: Ink, view: View, globe: Globe, width: float) -> None:
    """The globe's lines: firm where the mesh shows the ball, dotted where it was not modelled.

    The half that is turned away is paler. `width` is a line's, pixels.
    """
    start, end = _pieces()
    seen = _seen(globe, 0.5 * (start + end))
    a = globe.center + start * globe.lengths @ globe.axes
    b = globe.center + end * globe.lengths @ globe.axes
    toward = (0.5 * (start + end) / globe.lengths) @ globe.axes @ view.axes[2]
    for index in np.argsort(toward, kind="stable"):
        front = toward[index] > 0
        first, last = view.point(a[index]), view.point(b[index])
        if seen[index]:
            ink.line(first, last, width, deeper(EYE, 0.1), 0.85 if front else 0.3)
        elif index % 2 == 0:
            ink.line(first, last, width, FAINT, 0.8 if front else 0.35)


def _pieces() -> tuple[FloatArray, FloatArray]:
    """(k, 3) starts and ends of short pieces of meridians and parallels of a unit ball."""
    turn = np.linspace(0, 2 * np.pi, STEPS + 1)
    lines = []
    for angle in np.arange(MERIDIANS) * np.pi / MERIDIANS:
        side = np.array([np.cos(angle), np.sin(angle), 0.0])
        lines.append(np.sin(turn)[:, None] * side + np.cos(turn)[:, None] * [0.0, 0.0, 1.0])
    for off in np.radians(PARALLELS):
        ring = np.stack([np.cos(turn), np.sin(turn), np.zeros_like(turn)], axis=1)
        lines.append(np.sin(off) * ring + np.cos(off) * np.array([0.0, 0.0, 1.0]))
    starts = np.concatenate([line[:-1] for line in lines])
    ends = np.concatenate([line[1:] for line in lines])
    return starts, ends


def _seen(globe: Globe, spots: FloatArray) -> NDArray[np.bool_]:
    """Which spots (k, 3) of the unit ball lie where the mesh has a surface."""
    from scipy.spatial import cKDTree

    local = (globe.middles - globe.center) @ globe.axes.T / globe.lengths
    length = np.linalg.norm(local, axis=1)
    on_ball = np.abs(length - 1.0) < NEAR_SURFACE
    if not on_ball.any():
        return np.zeros(len(spots), dtype=bool)
    directions = local[on_ball] / length[on_ball, None]
    gap = cKDTree(directions).query(spots / np.linalg.norm(spots, axis=1)[:, None])[0]
    return np.asarray(gap < NEAR_ASIDE + globe.reach / globe.radius)
