"""What a joint's local axes mean: which one aims, which one bends, and how the sides mirror."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.skeleton.hinge import cross

__all__ = ["AXIS_NAMES", "DEFAULT", "Convention", "axis_vector", "recorded"]

FloatArray = NDArray[np.float64]

AXIS_NAMES = ("+X", "+Y", "+Z", "-X", "-Y", "-Z")


def axis_vector(name: str) -> FloatArray:
    """(3,) unit vector of an axis name such as '-Z'.

    Raises SkeletonError for any other word.
    """
    if name not in AXIS_NAMES:
        raise SkeletonError(f"'{name}' is not an axis: write one of {', '.join(AXIS_NAMES)}.")
    vector = np.zeros(3)
    vector["XYZ".index(name[1])] = 1.0 if name[0] == "+" else -1.0
    return vector


@dataclass(frozen=True)
class Convention:
    """How local axes follow from a joint's bone and bend.

    The default is our own choice: +Y runs along the bone, and +X is the axis that bends, because
    then every trunk joint of an upright figure has the character's own frame (X to its left, Y
    up, Z to the front) and one axis, X, bends everything that bends. A positive turn about the
    bend axis always flexes: the trunk and head forward, the elbow to the front, the wrist and
    fingers toward the palm, the knee backward, the toes toward the sole; the hip and the ankle
    share the knee's axis and sign, so that a leg, too, bends on one axis. The third axis, +Z,
    points where a positive bend carries the child.

    `mirror = "motion"`: equal values on both sides move them in mirror image. A turn mirrors
    with its axis reversed, so each axis of a right joint is the left one's mirror image reversed,
    and the right joint's aim axis necessarily points away from its child.
    `mirror = "axes"`: the aim axis points at the child on both sides, and the bend axes of a pair
    are parallel where they can be (limbs whose bend axis stands across the symmetry plane, such
    as legs, then still flex on equal values; those whose bend axis lies in it, such as the arms
    of a T-pose, need opposite values). Where the bend axis is nearer to 45 degrees, as in an
    A-pose, flexing on equal values goes before parallel.
    """

    aim: str = "+Y"
    """Local axis that points at the child."""
    bend: str = "+X"
    """Local axis about which a positive turn flexes."""
    mirror: str = "motion"
    """'motion' or 'axes'."""
    eyes: str = "together"
    """'together': both eyes' axes are parallel, so that equal values turn the gaze one way, as
    eyes do; 'mirror': eyes follow `mirror` like any other pair."""

    def __post_init__(self) -> None:
        """Refuse a convention that contradicts itself."""
        aim, bend = axis_vector(self.aim), axis_vector(self.bend)
        if abs(float(aim @ bend)) > 0.5:
            raise SkeletonError(
                f"The aim axis {self.aim} and the bend axis {self.bend} lie on one line: "
                "choose two different letters."
            )
        if self.mirror not in ("motion", "axes"):
            raise SkeletonError(f"mirror = '{self.mirror}' is unknown: write 'motion' or 'axes'.")
        if self.eyes not in ("together", "mirror"):
            raise SkeletonError(f"eyes = '{self.eyes}' is unknown: write 'together' or 'mirror'.")

    def to_local(self, bend: FloatArray, aim: FloatArray) -> FloatArray:
        """(3, 3) rows X, Y, Z from the directions (3,) of a joint's bend axis and its bone.

        Both must be unit vectors at right angles.
        """
        axes = np.zeros((3, 3))
        used = []
        for name, direction in ((self.aim, aim), (self.bend, bend)):
            index = "XYZ".index(name[1])
            axes[index] = direction if name[0] == "+" else -direction
            used.append(index)
        third = 3 - sum(used)
        axes[third] = cross(axes[(third + 1) % 3], axes[(third + 2) % 3])
        return axes

    def bone(self, axes: FloatArray) -> FloatArray:
        """(..., 3) where the aim axis points, from axes (..., 3, 3)."""
        return self._pick(self.aim, axes)

    def hinge(self, axes: FloatArray) -> FloatArray:
        """(..., 3) where the bend axis points, from axes (..., 3, 3)."""
        return self._pick(self.bend, axes)

    @staticmethod
    def _pick(name: str, axes: FloatArray) -> FloatArray:
        row = np.asarray(axes, dtype=np.float64)[..., "XYZ".index(name[1]), :]
        return row if name[0] == "+" else -row

    def as_dict(self) -> dict[str, str]:
        """The convention as plain data."""
        return asdict(self)

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Convention:
        """The convention from plain data; keys of no meaning here are passed over."""
        known = {key: str(data[key]) for key in ("aim", "bend", "mirror", "eyes") if key in data}
        return cls(**known)


DEFAULT = Convention()


def recorded(settings: Mapping[str, Any]) -> Convention | None:
    """The convention a skeleton's settings say it was oriented by, or None."""
    data = settings.get("orientation")
    return Convention.from_dict(data) if isinstance(data, Mapping) else None
