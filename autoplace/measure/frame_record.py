"""The working frame of a character: a similarity between the input file's frame and ours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Frame"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Frame:
    """Working frame: +X the character's left, +Y up, +Z where it faces, floor y = 0, height 1.

    The symmetry plane is x = 0.
    """

    rotation: FloatArray
    """(3, 3) orthonormal, right-handed; rows are the working X, Y, Z axes in the input frame."""
    origin: FloatArray
    """(3,) input-frame point that becomes the working origin."""
    height: float
    """The character's height in input units."""
    up: str
    """The input axis nearest to up, such as '+Y'."""
    forward: str
    """The input axis nearest to where the character faces, such as '+Z'."""
    symmetry_residual: float
    """Typical distance between the mesh and its mirror image, fraction of height."""
    notes: tuple[str, ...] = ()

    def to_working(self, points: FloatArray) -> FloatArray:
        """Input-frame points (..., 3) in the working frame."""
        return (np.asarray(points, dtype=np.float64) - self.origin) @ self.rotation.T / self.height

    def to_input(self, points: FloatArray) -> FloatArray:
        """Working-frame points (..., 3) in the input frame and units."""
        return np.asarray(points, dtype=np.float64) * self.height @ self.rotation + self.origin

    def direction_to_working(self, directions: FloatArray) -> FloatArray:
        """Input-frame directions (..., 3) in the working frame, length kept."""
        return np.asarray(directions, dtype=np.float64) @ self.rotation.T

    def direction_to_input(self, directions: FloatArray) -> FloatArray:
        """Working-frame directions (..., 3) in the input frame, length kept."""
        return np.asarray(directions, dtype=np.float64) @ self.rotation
