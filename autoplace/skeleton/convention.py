"""What a joint's local axes mean: which one aims, which one bends, and how the sides mirror."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.skeleton.hinge import cross
from autoplace.skeleton.names import chain_of

__all__ = [
    "AXIS_NAMES",
    "BY_BEND",
    "BY_PALM",
    "CHAINS",
    "DEFAULT",
    "FACINGS",
    "Convention",
    "axis_vector",
    "orientation_record",
    "recorded",
]

FloatArray = NDArray[np.float64]

AXIS_NAMES = ("+X", "+Y", "+Z", "-X", "-Y", "-Z")
CHAINS = (
    "trunk",
    "head",
    "eye",
    "clavicle",
    "arm",
    "hand",
    "finger",
    "thumb",
    "leg",
    "foot",
    "other",
)
"""What a facing may be given for; 'all' means each of them that has none of its own. The chain
'hand' is wrist and metacarpals, 'other' is every joint without a rule of its own."""
BY_BEND = ("flex", "extend")
BY_PALM = ("palm", "back_of_hand")
OF_BODY = ("forward", "back", "up", "down", "left", "right")
FACINGS = (*BY_BEND, *BY_PALM, *OF_BODY, *AXIS_NAMES)
"""What the remaining axis may face (see `Convention`)."""
FLEXES_TOWARD = {
    "trunk": "forward",
    "head": "forward",
    "eye": "down",
    "clavicle": "forward",
    "arm": "forward",
    "hand": "palm",
    "finger": "palm",
    "thumb": "palm",
    "leg": "back",
    "foot": "down",
}
"""Where flexing carries the end of each chain on a standing figure."""
OPPOSITE = {
    "forward": "back",
    "back": "forward",
    "up": "down",
    "down": "up",
    "left": "right",
    "right": "left",
    "palm": "back_of_hand",
    "back_of_hand": "palm",
}


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

    `facing` says for single chains where the remaining axis (the letter that neither aims nor
    bends, its positive end) shall face:

    - 'flex', what every chain does unsaid: the bend axis is fitted to the chain and to the shape of
      the hand or limb, and signed so that a positive turn flexes; 'extend' reverses that sign;
    - 'palm' or 'back_of_hand', for hand, finger and thumb: the same fitted axis, signed so that the
      remaining axis faces that side of the hand;
    - 'forward', 'back', 'up', 'down', 'left', 'right' of the character, or an axis of the file such
      as '+Z': the remaining axis faces there as nearly as the bone lets it, and no plane is fitted.
      Where a bone runs within 3 degrees of that direction, the joint goes on with the axis of the
      one above, or, without one, as for 'flex'. The right side takes the direction's mirror image
      under `mirror = "motion"`, where all its axes are reversed, and the direction itself under
      `mirror = "axes"`.
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
    facing: Mapping[str, str] = field(default_factory=dict)
    """Chain of `CHAINS`, or 'all', to one of `FACINGS`."""
    aims: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Of a joint with several children, by name without side: the children it aims at, first choice
    first. It goes before the table in `names`; a joint's own `aim` goes before both."""
    name: str = ""
    """Name of the file in `templates/conventions` it came from, for a person."""

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
        for chain, facing in self.facing.items():
            self._check_facing(chain, facing)

    @staticmethod
    def _check_facing(chain: str, facing: str) -> None:
        if chain not in (*CHAINS, "all"):
            raise SkeletonError(
                f"There is no chain '{chain}' to face anywhere: the chains are "
                f"{', '.join(CHAINS)}, and all."
            )
        if facing not in FACINGS:
            raise SkeletonError(
                f"The {chain} cannot face '{facing}': write one of {', '.join(FACINGS)}."
            )
        if facing in BY_PALM and chain not in ("hand", "finger", "thumb"):
            raise SkeletonError(
                f"The {chain} cannot face '{facing}', which only hand, finger and thumb have: "
                f"write one of {', '.join((*BY_BEND, *OF_BODY))}, or an axis of the file."
            )

    def facing_of(self, joint: str) -> str:
        """What the remaining axis of a joint faces, by the joint's name: one of `FACINGS`."""
        chain = chain_of(joint) or "other"
        if chain not in self.facing and chain == "thumb":
            chain = "finger"
        return self.facing.get(chain, self.facing.get("all", "flex"))

    @property
    def turn_sense(self) -> float:
        """+1 when a positive turn about the bend axis carries the aim axis to the positive end of
        the remaining axis, as the default does; else -1."""
        local = self.to_local(np.eye(3)[0], np.eye(3)[1])  # bend along x, aim along y
        third = ({"X", "Y", "Z"} - {self.aim[1], self.bend[1]}).pop()
        return float(np.sign(local["XYZ".index(third), 2]))

    def flex_sign(self, joint: str) -> float:
        """Whether a positive turn about the bend axis flexes a joint, by the joint's name.

        +1 when it does, -1 when it extends, 0 when the facing asked for has nothing to do with how
        the chain bends. On the right side as on the left, under `mirror = "motion"`.
        """
        facing, chain = self.facing_of(joint), chain_of(joint) or "other"
        if facing in BY_BEND:
            return 1.0 if facing == "flex" else -1.0
        toward = FLEXES_TOWARD.get(chain)
        if facing == toward:
            return self.turn_sense
        return -self.turn_sense if toward and facing == OPPOSITE[toward] else 0.0

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

    def as_dict(self) -> dict[str, Any]:
        """The convention as plain data; what is empty is left out."""
        data: dict[str, Any] = {key: getattr(self, key) for key in _WORDS}
        if self.name:
            data["convention"] = self.name
        if self.facing:
            data["facing"] = dict(self.facing)
        if self.aims:
            data["aims"] = {key: list(names) for key, names in self.aims.items()}
        return data

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Convention:
        """The convention from plain data; keys of no meaning here are passed over.

        Raises SkeletonError where a value is not what it should be.
        """
        known: dict[str, Any] = {key: str(data[key]) for key in _WORDS if key in data}
        facing, aims = data.get("facing", {}), data.get("aims", {})
        if not isinstance(facing, Mapping) or not isinstance(aims, Mapping):
            raise SkeletonError(
                "A convention's 'facing' and 'aims' are tables: write them as such."
            )
        for joint, children in aims.items():
            listed = isinstance(children, Sequence) and not isinstance(children, str)
            if not listed or not all(isinstance(child, str) for child in children):
                raise SkeletonError(
                    f"What '{joint}' aims at should be a list of joint names without side, not "
                    f"{children!r}."
                )
        return cls(
            **known,
            facing={str(chain): str(word) for chain, word in facing.items()},
            aims={str(joint): tuple(children) for joint, children in aims.items()},
            name=str(data.get("convention", "")),
        )


_WORDS = ("aim", "bend", "mirror", "eyes")

DEFAULT = Convention(name="flexion")
"""What counts unsaid; the file of that name says the same (a test compares the two)."""


def orientation_record(settings: Mapping[str, Any]) -> Mapping[str, Any]:
    """What a skeleton's settings say of its orientation: convention, up and forward; empty if
    nothing.

    Raises SkeletonError when something else stands there.
    """
    data = settings.get("orientation", {})
    if not isinstance(data, Mapping):
        raise SkeletonError(
            "The skeleton's settings hold an 'orientation' that is no table: take it out and "
            "orient the skeleton."
        )
    return data


def recorded(settings: Mapping[str, Any]) -> Convention | None:
    """The convention a skeleton's settings say it was oriented by, or None.

    Raises SkeletonError when what stands there is no convention.
    """
    data = orientation_record(settings)
    return Convention.from_dict(data) if data else None
