"""Findings about legs that cloth hides: which part hides them, and what was assumed."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hem import Hem
from autoplace.skeleton.model import Finding

__all__ = ["covered_legs", "hidden_legs_finding"]

FloatArray = NDArray[np.float64]

SECTORS = 24
"""Directions, level and evenly spread, in which cloth is looked for."""
AROUND = 0.85
"""Share of the directions in which cloth hides what is between the legs: a cloak that is open in
front leaves a fifth or more (own synthetic characters)."""
ALONG_EDGE = np.linspace(0.0, 1.0, 9)
"""Where on each cut edge its direction is read."""


def hidden_legs_finding(hem: Hem, parts: Mapping[str, FloatArray]) -> Finding:
    """What hides the legs of a figure whose skirt is of one piece with its body.

    Args:
        hem: of the skirt, working frame.
        parts: by name the triangles (m, 3, 3) of each part of the body, working frame.
    """
    name = _mostly_between(parts, hem.height, hem.waist)
    what = f"'{name}'" if len(parts) > 1 else f"The skirt, of one piece with '{name}',"
    fix = "Move the joints where the character needs them"
    if len(parts) > 1:
        fix += f", or if legs are modelled under it, leave it out with --leave-out '{name}'"
    if hem.height == 0.0:
        message = (
            f"{what} hides both legs to the floor, so they were placed by the template, standing "
            "straight under the hips, and may be as far off as their spreads say."
        )
    else:
        message = (
            f"{what} hides the legs down to {100 * hem.height:.0f} percent of the height, so the "
            "hips and what else lies under it were placed by the template and by what shows below."
        )
    return Finding("hidden_legs", None, "warning", message, f"{fix}.")


def _mostly_between(parts: Mapping[str, FloatArray], low: float, high: float) -> str:
    """The part with most surface between two heights."""

    def area(corners: FloatArray) -> float:
        middle = corners[:, :, 1].mean(axis=1)
        some = corners[(middle > low) & (middle < high)]
        normal = np.cross(some[:, 1] - some[:, 0], some[:, 2] - some[:, 0])
        return float(np.linalg.norm(normal, axis=1).sum())

    return max(sorted(parts), key=lambda name: area(parts[name]))


def covered_legs(
    parts: Mapping[str, FloatArray], joints: Mapping[str, FloatArray]
) -> tuple[Finding, ...]:
    """A finding for each part worn over the body that hides both legs to the ankles.

    Args:
        parts: by name the triangles (m, 3, 3) of each part that is worn, working frame.
        joints: placed joints, (3,) by name, working frame.
    """
    between = []
    for stem in ("knee", "ankle"):
        pair = [joints.get(f"{side}_{stem}") for side in ("left", "right")]
        if pair[0] is None or pair[1] is None:
            return ()
        between.append(0.5 * (pair[0] + pair[1]))
    return tuple(
        Finding(
            "covered_legs",
            None,
            "note",
            f"'{name}' hides both legs to the ankles; they were measured on the body under it.",
            f"Look at them with the part left out: --leave-out '{name}'.",
        )
        for name, corners in parts.items()
        if all(_surrounded(corners, point) > AROUND for point in between)
    )


def _surrounded(corners: FloatArray, point: FloatArray) -> float:
    """Share of the level directions from a point in which triangles are met at its height."""
    edges = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
    above = edges[:, :, 1] > point[1]
    number = np.tile(np.arange(len(corners)), 3)
    crossing = above[:, 0] != above[:, 1]
    edges, number = edges[crossing], number[crossing]
    if not len(edges):
        return 0.0
    share = (point[1] - edges[:, 0, 1]) / (edges[:, 1, 1] - edges[:, 0, 1])
    at = edges[:, 0] + share[:, None] * (edges[:, 1] - edges[:, 0])
    # each triangle that is cut is cut through two of its edges
    order = np.argsort(number, kind="stable")
    ends = at[order].reshape(-1, 2, 3)[:, :, [0, 2]] - point[[0, 2]]
    points = ends[:, :1] + ALONG_EDGE[:, None] * (ends[:, 1:] - ends[:, :1])
    turn = np.arctan2(points[..., 0], points[..., 1]) / (2.0 * np.pi) % 1.0
    return len(np.unique((turn * SECTORS).astype(np.int64) % SECTORS)) / SECTORS
