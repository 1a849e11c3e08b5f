"""A body of blocks and round cones whose landmarks are known by construction.

Working frame: +X its left, +Y up, +Z ahead, floor y = 0, height 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from autoplace.measure.limb_record import Limb, Limbs
from autoplace.measure.solid import Solid, fill_solid
from tests.mesh.capsule_figures import box, capsule, joined

CELL = 1 / 150
"""The body's grid in the pipeline."""

CROTCH, SHOULDER, CHIN = 0.47, 0.82, 0.88
TRUNK_HALF_WIDTH, TRUNK_BACK, TRUNK_FRONT = 0.11, -0.07, 0.06
NECK_HALF, NECK_BACK, NECK_FRONT = 0.03, -0.035, 0.025
HEAD_HALF, HEAD_BACK, HEAD_FRONT = 0.05, -0.06, 0.07
LEG_X, LEG_HALF = 0.06, 0.04


def block_meshes(
    arm_ends: dict[str, np.ndarray] | None = None,
    leg_tops: Sequence[float] = (CROTCH + 0.02, CROTCH + 0.02),
) -> list:
    """The meshes: trunk, neck, head, legs with feet up to the given heights, left first, and arms
    to the given ends."""
    meshes = [
        box((-TRUNK_HALF_WIDTH, CROTCH, TRUNK_BACK), (TRUNK_HALF_WIDTH, SHOULDER, TRUNK_FRONT)),
        # a neck is narrowest under the chin and broadens toward the shoulders
        box((-0.045, SHOULDER - 0.02, NECK_BACK), (0.045, 0.85, NECK_FRONT)),
        box((-NECK_HALF, SHOULDER - 0.02, NECK_BACK), (NECK_HALF, CHIN + 0.02, NECK_FRONT)),
        box((-HEAD_HALF, CHIN, HEAD_BACK), (HEAD_HALF, 1.0, HEAD_FRONT)),
    ]
    for side, top in zip((1.0, -1.0), leg_tops, strict=False):
        x = sorted((side * (LEG_X - LEG_HALF), side * (LEG_X + LEG_HALF)))
        meshes.append(box((x[0], 0.0, -0.045), (x[1], top, 0.035)))
        meshes.append(box((x[0], 0.0, -0.05), (x[1], 0.04, 0.10)))
    ends = arm_ends if arm_ends is not None else {"left": T_ARM, "right": T_ARM * [-1, 1, 1]}
    for side, end in ends.items():
        start = np.array([0.08 if side == "left" else -0.08, 0.78, 0.0])
        meshes.append(capsule(start, end, 0.03, 0.025))
    return meshes


T_ARM = np.array([0.48, 0.78, 0.0])
"""Middle of the rounded end of a left arm held level."""


def block_body(arm_ends: dict[str, np.ndarray] | None = None, shift: float = 0.0) -> Solid:
    """The solid of the block figure, moved sideways by `shift`."""
    vertices, faces = joined(*block_meshes(arm_ends))
    return fill_solid(vertices + np.array([shift, 0.0, 0.0]), faces, CELL)


def limb_of(solid: Solid, kind: str, side: str | None, line: np.ndarray, near: float) -> Limb:
    """A limb record around a known line: the cells within `near` of it are its own."""
    line = np.asarray(line, dtype=float)
    points = solid.to_points(np.argwhere(solid.inside))
    dense = np.concatenate(
        [a + np.linspace(0, 1, 40)[:, None] * (b - a) for a, b in pairwise(line)]
    )
    away = np.linalg.norm(points[:, None] - dense[None, ::4], axis=2).min(axis=1)
    return Limb(kind, side, dense, np.full(len(dense), 0.6 * near), dense[0], points[away < near])


def no_limbs(seed: tuple[float, float, float] = (0.0, 0.56, 0.0)) -> Limbs:
    """A body of which no limb was found."""
    return Limbs((), np.array(seed))
