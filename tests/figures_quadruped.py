"""A four-legged animal, made from the same shapes as the demo characters."""

from __future__ import annotations

import numpy as np

from meshes.combine import Blend, Mirror, tube
from meshes.marching import march, reduce_faces
from meshes.shapes import Ellipsoid, Loft, RoundCone, Shape

__all__ = ["quadruped"]

_UP, _AHEAD, _SIDE = np.array([0.0, 1, 0]), np.array([0.0, 0, 1]), np.array([1.0, 0, 0])


def _leg(path: list[tuple[float, float, float]], radii: list[float]) -> Shape:
    *_, hoof = path
    foot = Ellipsoid(np.array(hoof) + np.array([0, 0.012, 0.018]), [0.036, 0.030, 0.050])
    return Blend([tube(path, radii, 0.02), foot], 0.02)


def quadruped(faces: int = 5000) -> list[tuple[str, np.ndarray, np.ndarray]]:
    """A dog-like animal standing on four legs: (name, vertices (N, 3), faces (M, 3)) per part.

    +Y up, facing +Z, about 1.0 high and 1.7 long; nothing in it is random.
    """
    barrel = [
        [0.0, 0, 0, 0.115, 0.115, 0.125, 0.130],
        [0.25, 0, 0, 0.105, 0.105, 0.110, 0.105],
        [0.6, 0, 0, 0.130, 0.130, 0.125, 0.155],
        [0.9, 0, 0, 0.125, 0.125, 0.135, 0.165],
        [1.0, 0, 0, 0.095, 0.095, 0.120, 0.130],
    ]
    trunk: list[Shape] = [
        Loft([0, 0.60, -0.42], [0, 0.60, 0.28], _UP, barrel, 2.2, (0.5, 0.6), _SIDE),
        RoundCone([0, 0.66, 0.28], [0, 0.80, 0.50], 0.105, 0.075),
        tube(
            [[0, 0.66, -0.48], [0, 0.68, -0.62], [0, 0.62, -0.76], [0, 0.60, -0.88]],
            [0.04, 0.03, 0.024, 0.014],
            0.02,
        ),
    ]
    head: list[Shape] = [
        Ellipsoid([0, 0.85, 0.55], [0.085, 0.085, 0.105]),
        RoundCone([0, 0.83, 0.58], [0, 0.805, 0.76], 0.058, 0.036),
    ]
    side: list[Shape] = [
        _leg(
            [(0.085, 0.58, 0.22), (0.10, 0.36, 0.18), (0.10, 0.19, 0.21), (0.10, 0.02, 0.21)],
            [0.085, 0.050, 0.034, 0.030],
        ),
        _leg(
            [(0.085, 0.60, -0.40), (0.10, 0.38, -0.32), (0.10, 0.20, -0.46), (0.10, 0.02, -0.42)],
            [0.100, 0.060, 0.034, 0.030],
        ),
    ]
    ear = RoundCone([0.055, 0.92, 0.52], [0.085, 1.00, 0.50], 0.030, 0.010, 0.5, _AHEAD)
    legs = Blend([Blend(side, 0.0), Mirror(Blend(side, 0.0))], 0.0)
    ears = Blend([ear, Mirror(ear)], 0.0)
    body = Blend([Blend([*trunk, Blend(head, 0.04)], 0.06), legs, ears], 0.035)
    return [("animal", *reduce_faces(*march(body, 0.012), faces))]
