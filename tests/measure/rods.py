"""Solids made of round rods on a grid, whose middles and ends are known by their making."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from autoplace.measure.solid import Solid

Rod = tuple[Sequence[float], Sequence[float], float]
"""Two ends and a radius."""


def rods(parts: Sequence[Rod], cell: float) -> Solid:
    """A solid of rods with round ends, some cells larger than they are on every side."""
    ends = np.array([end for first, second, _ in parts for end in (first, second)], dtype=float)
    margin = max(radius for *_, radius in parts) + 3.0 * cell
    low, high = ends.min(axis=0) - margin, ends.max(axis=0) + margin
    axes = [np.arange(low[k], high[k], cell) for k in range(3)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    coverage = np.zeros(points.shape[:3], dtype=np.float32)
    for first, second, radius in parts:
        start, span = np.array(first, dtype=float), np.subtract(second, first, dtype=float)
        share = np.clip((points - start) @ span / max(float(span @ span), 1e-12), 0.0, 1.0)
        gap = np.linalg.norm(points - start - share[..., None] * span, axis=-1)
        coverage = np.maximum(coverage, np.clip(0.5 + (radius - gap) / cell, 0.0, 1.0))
    return Solid(coverage.astype(np.float32), low, cell)
