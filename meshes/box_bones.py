"""Where the joints of a figure made of loops and boxes are, and the frames it is modelled in.

In fractions of the bare figure's height, +Y up, +Z the way it faces, +X its own left. Either side
is built as a left one; the right one is the mirror image of a left side in its own pose.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .boxes import unit

__all__ = [
    "FINGER_NAMES",
    "BoxBones",
    "BoxParams",
    "BoxSide",
    "SideBones",
    "make_box_bones",
    "palm_end",
    "palm_half",
]

Vec = NDArray[np.float64]
UP, LEFT, FRONT = np.array([0.0, 1, 0]), np.array([1.0, 0, 0]), np.array([0.0, 0, 1])
FINGER_NAMES: dict[str, tuple[str, ...]] = {
    "block": (),
    "fist": (),
    "mitten": ("middle",),
    "three": ("index", "pinky"),
    "four": ("index", "middle", "pinky"),
    "five": ("index", "middle", "ring", "pinky"),
}
"""Fingers beside the thumb, from the thumb on."""


@dataclass(frozen=True)
class BoxSide:
    """The pose of one side, in degrees."""

    arm_raise: float = 90.0
    """0 hangs down, 90 points aside."""
    arm_forward: float = 0.0
    elbow: float = 0.0
    elbow_in: float = 0.0
    """How far the elbow bends toward the body rather than forward."""
    leg_out: float = 0.0
    thigh_forward: float = 0.0
    knee: float = 0.0


@dataclass(frozen=True)
class BoxParams:
    """Lengths and half-widths of a figure, fractions of its height."""

    height: float
    """In the units of its file."""
    heads: float
    hip: float
    hip_x: float
    knee_share: float
    """Of the way from hip to ankle."""
    ankle: float
    neck_gap: float
    """From the chin down to the neck's base."""
    drop: float
    """From the neck's base down to the shoulder."""
    shoulder_x: float
    upper_arm: float
    forearm: float
    hand_length: float
    arm: float
    leg: float
    foot_length: float
    foot_half: float
    chest: tuple[float, float]
    """Half width and half depth; likewise the next two."""
    waist: tuple[float, float]
    seat: tuple[float, float]
    neck: float
    head_half: tuple[float, float]
    """Half width and half depth, in head heights."""
    head_shape: str
    """"oval", "ball" or "box"."""
    hand: str
    left: BoxSide = field(default_factory=BoxSide)
    right: BoxSide = field(default_factory=BoxSide)
    hem: tuple[float, float] | None = None
    """Where the tunic of a figure of one skin ends, share of the thigh from the hip, and how broad
    it is there over what seat and thighs fill; None without a tunic."""


@dataclass(frozen=True)
class SideBones:
    """One side, in the frame of a left side."""

    shoulder: Vec
    elbow: Vec
    wrist: Vec
    hand: Vec
    """(3, 3) unit rows: toward the thumb, along the hand, out of its back."""
    fingers: dict[str, Vec]
    """(4, 3) each: three joints and the tip, which lies in the end of the skin."""
    hip: Vec
    knee: Vec
    ankle: Vec
    foot: Vec
    """(3, 3) unit rows: outward, up, toward the toes."""
    ball: Vec
    toe: Vec


@dataclass(frozen=True)
class BoxBones:
    """The joints of the trunk and of both sides."""

    trunk: dict[str, Vec]
    chin: float
    eyes: Vec
    """(2, 3) left and right, on the front of the face."""
    sides: tuple[SideBones, SideBones]

    def joints(self) -> dict[str, Vec]:
        """All joints by name."""
        out = dict(self.trunk)
        out["left_eye"], out["right_eye"] = self.eyes
        for name, flip, side in zip(("left", "right"), (1.0, -1.0), self.sides, strict=True):
            m = np.array([flip, 1.0, 1.0])
            for stem in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "ball"):
                out[f"{name}_{stem}"] = getattr(side, stem) * m
            out[f"{name}_toe_tip"] = side.toe * m
            for finger, line in side.fingers.items():
                for i in range(3):
                    out[f"{name}_{finger}_{i + 1}"] = line[i] * m
                out[f"{name}_{finger}_tip"] = line[3] * m
        return out


def _tilt(direction: Vec, toward: Vec, degrees: float) -> Vec:
    side = unit(toward - (toward @ direction) * direction)
    a = np.radians(degrees)
    return np.asarray(np.cos(a) * direction + np.sin(a) * side)


def palm_end(kind: str) -> float:
    """Where the fingers part, in hand lengths from the wrist."""
    return 0.50 if kind in ("five", "four") else 0.52


def palm_half(kind: str) -> tuple[float, float]:
    """Half breadth and half thickness of the palm, in hand lengths."""
    breadth = {"five": 0.21, "four": 0.23, "three": 0.21, "mitten": 0.20}.get(kind, 0.24)
    thick = {"five": 0.085, "four": 0.12, "three": 0.12, "mitten": 0.12}.get(kind, 0.2)
    return breadth, thick


def _fingers(p: BoxParams, wrist: Vec, hand: Vec) -> dict[str, Vec]:
    names = FINGER_NAMES[p.hand]
    if not names:
        return {}
    thumb, along, back = hand
    length = p.hand_length
    breadth, thick = palm_half(p.hand)
    found = {}
    width = 2.0 * breadth / len(names)
    for k, name in enumerate(names):
        x = breadth - (k + 0.5) * width
        out = unit(along + 0.35 * x / breadth * thumb * (len(names) > 1))
        free = (1.0 - palm_end(p.hand)) * (0.82 if name in ("index", "pinky") else 1.0)
        root = wrist + length * (palm_end(p.hand) * along + x * thumb + 0.02 * back)
        steps = np.array([-0.08, 0.36, 0.68, 0.96])
        found[name] = root + length * free * steps[:, None] * out
    start = wrist + length * (0.20 * along + 0.45 * breadth * thumb - 0.2 * thick * back)
    way = unit(0.75 * along + 0.62 * thumb - 0.2 * back)
    found["thumb"] = start + length * np.array([0.0, 0.20, 0.36, 0.50])[:, None] * way
    return found


def _side(p: BoxParams, pose: BoxSide, neck_y: float) -> SideBones:
    shoulder = np.array([p.shoulder_x, neck_y - p.drop, 0.0])
    way = _tilt(-UP, LEFT, pose.arm_raise)
    if pose.arm_forward:
        way = _tilt(way, FRONT, pose.arm_forward)
    elbow = shoulder + p.upper_arm * way
    fold = FRONT
    if pose.elbow_in:
        fold = _tilt(FRONT, -LEFT, pose.elbow_in)
    fore = _tilt(way, fold, pose.elbow) if pose.elbow else way
    wrist = elbow + p.forearm * fore
    ahead = FRONT if abs(FRONT @ fore) < 0.9 else UP
    thumb = unit(ahead - (ahead @ fore) * fore)
    hand = np.stack([thumb, fore, np.cross(thumb, fore)])
    hip = np.array([p.hip_x, p.hip, 0.0])
    reach = p.hip - p.ankle
    down = _tilt(-UP, LEFT, pose.leg_out) if pose.leg_out else -UP
    thigh = _tilt(down, FRONT, pose.thigh_forward) if pose.thigh_forward else down
    knee = hip + p.knee_share * reach * thigh
    shank = _tilt(thigh, -FRONT, pose.knee) if pose.knee else thigh
    ankle = knee + (1.0 - p.knee_share) * reach * shank
    turn = np.radians(1.5 * pose.leg_out)
    toes = np.array([np.sin(turn), 0.0, np.cos(turn)])
    foot = np.stack([np.cross(UP, toes), UP, toes])
    sole = ankle - p.ankle * UP
    ball = sole + 0.30 * p.ankle * UP + 0.44 * p.foot_length * toes
    toe = sole + 0.22 * p.ankle * UP + 0.72 * p.foot_length * toes
    fingers = _fingers(p, wrist, hand)
    return SideBones(shoulder, elbow, wrist, hand, fingers, hip, knee, ankle, foot, ball, toe)


def make_box_bones(p: BoxParams) -> BoxBones:
    """All joints; the lower sole stands on y = 0."""
    head = 1.0 / p.heads
    chin = 1.0 - head
    neck_y = chin - p.neck_gap
    span = neck_y - p.hip
    left, right = _side(p, p.left, neck_y), _side(p, p.right, neck_y)
    trunk = {
        "pelvis": np.array([0.0, p.hip + 0.10 * span, 0.0]),
        "neck": np.array([0.0, neck_y, 0.0]),
        "head": np.array([0.0, chin + 0.16 * head, 0.0]),
        "head_top": np.array([0.0, 0.98, 0.0]),
    }
    z = p.head_half[1] * head * 0.96
    eyes = np.array([[s * 0.42 * p.head_half[0] * head, chin + 0.45 * head, z] for s in (1, -1)])
    floor = min(side.ankle[1] - p.ankle for side in (left, right))
    by = np.array([0.0, -floor, 0.0])
    moved = [
        SideBones(
            **{
                name: value
                if name in ("hand", "foot")
                else {n: line + by for n, line in value.items()}
                if name == "fingers"
                else value + by
                for name, value in vars(side).items()
            }
        )
        for side in (left, right)
    ]
    return BoxBones(
        {name: at + by for name, at in trunk.items()}, chin - floor, eyes + by, (moved[0], moved[1])
    )
