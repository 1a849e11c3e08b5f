"""Small shapes and turns that the scene is made of."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["ball", "block", "quaternions"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@cache
def ball() -> tuple[FloatArray, IntArray]:
    """Vertices (n, 3) and faces (m, 3) of a ball of radius 1."""
    from trimesh.creation import icosphere

    mesh = icosphere(subdivisions=2, radius=1.0)
    return np.asarray(mesh.vertices), np.asarray(mesh.faces)


@cache
def block() -> tuple[FloatArray, IntArray]:
    """Vertices (n, 3) and faces (m, 3) of a cube from -1 to 1."""
    from trimesh.creation import box

    mesh = box(extents=(2.0, 2.0, 2.0))
    return np.asarray(mesh.vertices), np.asarray(mesh.faces)


def quaternions(turns: FloatArray) -> FloatArray:
    """(n, 4) unit quaternions w, x, y, z, w not negative, of right-handed turns (n, 3, 3) for
    column vectors."""
    from scipy.spatial.transform import Rotation

    # scipy puts w last
    found: FloatArray = Rotation.from_matrix(turns).as_quat(canonical=True)[:, [3, 0, 1, 2]]
    return found
