"""The plane in which a skeleton's left and right mirror one another, told from its own joints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import family, mirror_name, stem
from autoplace.skeleton.orient import body_directions

__all__ = ["SymmetryPlane", "middle_along_left", "symmetry_plane"]

FloatArray = NDArray[np.float64]

SAME_PLANE = 1e-4
"""Of the height: the middles of pairs and of the trunk are one plane but for rounding (common
practice, no source)."""
AT_ZERO = 1e-9
"""Of the height: a plane nearer to the file's own zero than this is at zero, so that images are
clean values (far below what single-precision files keep)."""


@dataclass(frozen=True)
class SymmetryPlane:
    """A plane across the character's left, in the frame and units of the skeleton."""

    left: FloatArray
    """(3,) unit direction of the character's left."""
    middle: float
    """Where the plane stands along it."""

    def image(self, point: FloatArray) -> FloatArray:
        """(3,) the mirror image of a point (3,).

        Where the character's left is an axis of the file the other two coordinates stay as they
        are, to the last bit, and in a plane through zero the third only changes its sign.
        """
        axis = self._axis()
        if axis is None:
            return point - 2.0 * (float(point @ self.left) - self.middle) * self.left
        image = np.array(point, dtype=np.float64)
        image[axis] = 2.0 * self.middle * self.left[axis] - point[axis]
        return image

    def image_of_shift(self, shift: FloatArray) -> FloatArray:
        """(3,) the mirror image of a displacement (3,)."""
        return SymmetryPlane(self.left, 0.0).image(shift)

    def beside(self, point: FloatArray) -> float:
        """How far to the left of the plane a point (3,) lies."""
        return float(point @ self.left) - self.middle

    def at_side_of(self, point: FloatArray, other: FloatArray) -> FloatArray:
        """(3,) the point shifted sideways until it lies as far from the plane as `other`."""
        axis = self._axis()
        if axis is None:
            return point - float((point - other) @ self.left) * self.left
        shifted = np.array(point, dtype=np.float64)
        shifted[axis] = other[axis]
        return shifted

    def _axis(self) -> int | None:
        """Which axis of the file the character's left is, if it is one."""
        along = np.flatnonzero(self.left)
        return int(along[0]) if len(along) == 1 else None


def symmetry_plane(skeleton: Skeleton) -> SymmetryPlane:
    """The plane of a skeleton's own joints, across its recorded up and forward.

    Raises SkeletonError when up and forward lie along one line.
    """
    left = body_directions(skeleton)[0]
    height = skeleton.source.height
    sideways = {joint.name: float(np.asarray(joint.position) @ left) for joint in skeleton}
    middle = middle_along_left(sideways, height)
    return SymmetryPlane(left, 0.0 if abs(middle) <= AT_ZERO * height else middle)


def middle_along_left(sideways: Mapping[str, float], height: float) -> float:
    """Where the plane stands along the character's left, from where each joint does, by name.

    That of the pairs where most of them agree with the trunk's joints, else of the trunk's joints.
    Without a trunk that of pairs that no pose moves, else of any. Fingers are most of the joints,
    so a raised arm would carry a plane found from all pairs along.
    """
    pairs = {
        stem(name): 0.5 * (at + sideways[mirror_name(name)])
        for name, at in sideways.items()
        if name.startswith("left_") and mirror_name(name) in sideways
    }
    trunk = [at for name, at in sideways.items() if family(name) in ("trunk", "head")]
    if len(trunk) >= 3:
        middle = float(np.median(trunk))
        near = [at for at in pairs.values() if abs(at - middle) <= SAME_PLANE * height]
        return float(np.median(near)) if 2 * len(near) > len(pairs) else middle
    fixed = [at for base, at in pairs.items() if base in ("hip", "clavicle", "shoulder", "eye")]
    middles = fixed or list(pairs.values())
    return float(np.median(middles)) if middles else float(next(iter(sideways.values())))
