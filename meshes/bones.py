"""Where the joints of a figure are: the construction the clay is put on.

Everything is in fractions of stature, +Y up, +Z the way the figure faces, +X its own left. One side
is always built as the left one; the right one is the mirror image of a left side in its own pose.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TypeVar, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .params import FigureParams, Hand, Head, Side
from .shapes import Local

__all__ = ["Arm", "Bones", "Finger", "Leg", "eye_depth", "make_bones", "tilt"]

Vec = NDArray[np.float64]
UP, LEFT, FRONT = np.array([0.0, 1, 0]), np.array([1.0, 0, 0]), np.array([0.0, 0, 1])


def tilt(direction: Vec, toward: Vec, degrees: float) -> Vec:
    """A unit direction turned by an angle toward another direction."""
    side = toward - (toward @ direction) * direction
    side = side / np.linalg.norm(side)
    angle = np.radians(degrees)
    return np.asarray(np.cos(angle) * direction + np.sin(angle) * side)


@dataclass(frozen=True)
class Finger:
    """One finger in the world frame."""

    name: str
    joints: Vec
    """(4, 3): base joint, two bends, and the end of the skin."""
    tip: Vec
    """(3,) the tip helper, a little inside the end of the skin."""
    dorsal: Vec
    """(3, 3) for each of the three bones, the unit direction of its back."""
    girth: float
    """Radius of the finger at its middle, world units."""


@dataclass(frozen=True)
class Arm:
    """One arm, in the frame of a left arm."""

    clavicle: Vec
    shoulder: Vec
    elbow: Vec
    wrist: Vec
    hand: Local
    """Origin at the wrist; x toward the thumb, y toward the fingers, z the hand's back."""
    fingers: tuple[Finger, ...]
    back: Vec
    """Unit direction in which the elbow points."""


@dataclass(frozen=True)
class Leg:
    """One leg, in the frame of a left leg."""

    hip: Vec
    knee: Vec
    ankle: Vec
    foot: Local
    """Origin on the sole under the heel; x outward, y up, z toward the toes; unit foot length."""
    ball: Vec
    toe: Vec
    front: Vec
    """Unit direction in which the kneecap looks."""


@dataclass(frozen=True)
class Bones:
    """All joints of a figure, and the frames its regions are modelled in."""

    trunk: dict[str, Vec]
    """pelvis, spine_1, spine_2, chest, neck, head, head_top."""
    head: Local
    """Origin at chin height under the ear canal; unit head height."""
    eyes: Vec
    """(2, 3) centres of the left and the right eyeball."""
    arms: tuple[Arm, Arm]
    """Left, right; the right one still in the frame of a left arm."""
    legs: tuple[Leg, Leg]

    def joints(self) -> dict[str, Vec]:
        """All joints by name."""
        out = dict(self.trunk)
        out["left_eye"], out["right_eye"] = self.eyes
        for side, flip, arm, leg in zip(
            ("left", "right"), (1.0, -1.0), self.arms, self.legs, strict=True
        ):
            m = np.array([flip, 1, 1])
            for name in ("clavicle", "shoulder", "elbow", "wrist"):
                out[f"{side}_{name}"] = getattr(arm, name) * m
            for finger in arm.fingers:
                for i in range(3):
                    out[f"{side}_{finger.name}_{i + 1}"] = finger.joints[i] * m
                out[f"{side}_{finger.name}_tip"] = finger.tip * m
            for name in ("hip", "knee", "ankle", "ball"):
                out[f"{side}_{name}"] = getattr(leg, name) * m
            out[f"{side}_toe_tip"] = leg.toe * m
        return out


# Base joint of each finger: toward the thumb, toward the tips, toward the back of the hand; then
# the three bones (Buchholz et al. 1992, fractions of hand length), the fan angle in degrees and the
# radius at mid-finger (by eye). The base joint lies in the back half of the hand's thickness.
_FINGERS: dict[str, tuple[tuple[float, float, float], tuple[float, float, float], float, float]] = {
    "index": ((0.130, 0.437, 0.014), (0.265, 0.143, 0.097), 7.0, 0.047),
    "middle": ((0.042, 0.446, 0.018), (0.277, 0.170, 0.108), 1.0, 0.048),
    "ring": ((-0.047, 0.425, 0.014), (0.259, 0.165, 0.107), -6.0, 0.045),
    "pinky": ((-0.130, 0.390, 0.006), (0.206, 0.117, 0.093), -14.0, 0.039),
}
_FOUR: dict[str, tuple[tuple[float, float, float], tuple[float, float, float], float, float]] = {
    "index": ((0.118, 0.437, 0.014), (0.255, 0.150, 0.110), 8.0, 0.064),
    "middle": ((-0.004, 0.446, 0.018), (0.265, 0.165, 0.115), -1.0, 0.066),
    "pinky": ((-0.122, 0.405, 0.010), (0.215, 0.125, 0.105), -12.0, 0.058),
}
_MITTEN = {"middle": ((0.0, 0.430, 0.014), (0.265, 0.165, 0.130), 0.0, 0.086)}
_THUMB = ((0.251, 0.0, 20.0), (0.196, 9.0, 17.0), (0.158, 17.0, 15.0))
_RELAXED = (5.0, 9.0, 6.0)  # bend at the three joints of a nearly flat hand, degrees, by eye


def _bent(
    origin: Vec, lengths: ArrayLike, way: Vec, back: Vec, bends: ArrayLike
) -> tuple[Vec, Vec]:
    """Joints (4, 3) of a finger that bends away from its back, and the back of each bone (3, 3)."""
    joints, backs, angle = [origin], [], 0.0
    for length, bend in zip(np.asarray(lengths), np.asarray(bends), strict=True):
        angle += np.radians(bend)
        step = np.cos(angle) * way - np.sin(angle) * back
        joints.append(joints[-1] + length * step)
        backs.append(np.sin(angle) * way + np.cos(angle) * back)
    return np.array(joints), np.array(backs)


def _make_finger(name: str, hand: Hand, at: Local, side: Side) -> Finger:
    flat = np.eye(3)
    if name == "thumb":
        out = 41.0 * side.thumb_out
        # joint at the trapezium: 7 % of hand length past the wrist (Buchholz), palmward
        joints = [np.array([0.098 * hand.breadth, 0.075, -0.045])]
        backs = []
        # metacarpal and two phalanges (Buchholz), turned in toward the index one after the other
        for i, (length, turn, palm) in enumerate(_THUMB):
            scale = hand.finger_length if i else 1.0
            a, b = np.radians(max(out - turn * side.finger_curl, 4.0)), np.radians(palm)
            step = np.array([np.sin(a) * np.cos(b), np.cos(a) * np.cos(b), -np.sin(b)])
            joints.append(joints[-1] + length * scale * step)
            # the back of the thumb looks outward and up
            back = np.array([np.cos(a), -np.sin(a), 0.0]) * 0.75 + np.array([0, 0, 0.66])
            back -= (back @ step) * step
            backs.append(back / np.linalg.norm(back))
        line, dorsal, girth = np.array(joints), np.array(backs), 0.056 * hand.finger_girth
    else:
        count = len(hand.fingers)
        table = _MITTEN if count == 2 else _FOUR if count == 4 else _FINGERS
        base, bones, fan, radius = table[name]
        origin = np.array([base[0] * hand.breadth, base[1], base[2] * hand.thickness])
        way = tilt(flat[1], flat[0], fan * side.finger_spread) if fan else flat[1]
        lengths = np.array(bones) * hand.finger_length
        curl = 0.6 if count == 2 else 1.0
        bends = np.array(_RELAXED) * side.finger_curl * curl
        line, dorsal = _bent(origin, lengths, way, flat[2], bends)
        girth = radius * hand.finger_girth
    last = line[3] - line[2]
    tip = line[3] - 0.35 * girth * last / np.linalg.norm(last)
    return Finger(name, at.points(line), at.points(tip), dorsal @ at.axes, girth * at.scale)


def _make_arm(p: FigureParams, side: Side, neck_y: float) -> Arm:
    lift = np.clip((side.arm_raise - 20.0) / 70.0, 0.0, 1.5)
    shoulder = np.array([p.shoulder_x - 0.004 * lift, neck_y - p.shoulder_drop, -0.010])
    shoulder[1] += 0.008 * lift  # the shoulder rises a little with the arm, by eye
    # sternoclavicular joint: at the height of the jugular notch, 20 mm from the middle, behind the
    # skin of the throat (Klein Breteler et al. 1999)
    clavicle = np.array([0.013, neck_y - p.clavicle_drop, 0.020 * p.trunk_depth])
    way = tilt(-UP, LEFT, side.arm_raise) if side.arm_raise else -UP
    if side.arm_forward:
        way = tilt(way, FRONT, side.arm_forward)
    front = FRONT - (FRONT @ way) * way
    front /= np.linalg.norm(front)
    elbow = shoulder + p.upper_arm * way
    fore = tilt(way, front, side.elbow)
    wrist = elbow + p.forearm * fore
    thumb = front - (front @ fore) * fore
    thumb /= np.linalg.norm(thumb)
    back = np.cross(thumb, fore)
    roll = np.radians(side.palm_roll)
    thumb, back = (
        np.cos(roll) * thumb + np.sin(roll) * back,
        np.cos(roll) * back - np.sin(roll) * thumb,
    )
    bend = np.radians(side.wrist_bend)
    along = np.cos(bend) * fore - np.sin(bend) * back
    hand = Local(wrist, np.stack([thumb, along, np.cross(thumb, along)]), p.hand.length)
    fingers = tuple(_make_finger(name, p.hand, hand, side) for name in p.hand.fingers)
    return Arm(clavicle, shoulder, elbow, wrist, hand, fingers, -front)


def _make_leg(p: FigureParams, side: Side) -> Leg:
    hip = np.array([p.hip_x, p.hip, 0.0])
    thigh, shank = p.hip - p.knee, p.knee - p.ankle
    way = tilt(-UP, LEFT, side.leg_out) if side.leg_out else -UP
    way = tilt(way, FRONT, side.thigh_forward)
    front = FRONT - (FRONT @ way) * way
    front /= np.linalg.norm(front)
    knee = hip + thigh * way
    # the shank stands in the same plane, bent backward, and keeps nearly upright seen from ahead
    down = tilt(way, -front, side.knee)
    down = tilt(down, -LEFT, 0.5 * side.leg_out) if side.leg_out else down
    ankle = knee + shank * down
    turn = np.radians(side.toe_out)
    ahead = np.array([np.sin(turn), 0.0, np.cos(turn)])
    up = UP
    if side.foot_pitch:
        ahead, up = tilt(ahead, -UP, side.foot_pitch), tilt(UP, ahead, side.foot_pitch)
    out = np.cross(up, ahead)
    length = p.foot_length
    # the ankle stands at .20 of the foot length (sources .165 to .25)
    sole = ankle - p.ankle * up - 0.20 * length * ahead
    foot = Local(sole, np.stack([out, up, ahead]), length)
    thick = p.ankle / 0.040 * 0.152 / length  # shoes and short feet keep their height
    ball = foot.point(0.02, 0.105 * thick, 0.69)
    toe = foot.point(0.0, 0.050 * thick, 0.955)
    return Leg(hip, knee, ankle, foot, ball, toe, front)


def eye_depth(head: Head) -> float:
    """How far before the ear canal the eyeballs' centres lie, in head heights.

    An ordinary eyeball lies .345 before it (20 mm behind the brow); a larger one lies deeper, so
    that its front stays near the surface of the face.
    """
    return 0.345 * head.depth - 1.25 * (head.eye_radius - 0.058)


def make_bones(p: FigureParams) -> Bones:
    """All joints of the figure; the lower of the two soles stands on y = 0."""
    head_height = 1.0 / p.heads
    chin = 1.0 - head_height
    neck_y = chin - p.neck_gap
    span = neck_y - p.hip
    # heights: L5/S1 .58, T12/L1 .667, C7/T1 .85 of stature; depth a quarter to a third of the
    # trunk's depth from the back (Dumas & Wojtusch)
    depth = p.trunk_depth
    trunk = {
        "pelvis": np.array([0, p.hip + 0.06 * span, -0.016 * depth]),
        "spine_1": np.array([0, p.hip + 0.17 * span, -0.020 * depth]),
        "spine_2": np.array([0, p.hip + 0.44 * span, -0.024 * depth]),
        "chest": np.array([0, p.hip + 0.70 * span, -0.030 * depth]),
        "neck": np.array([0, neck_y, -0.022 * depth]),
    }
    turn, nod = np.radians(p.pose.head_turn), np.radians(p.pose.head_nod)
    ahead = np.array([np.sin(turn) * np.cos(nod), -np.sin(nod), np.cos(turn) * np.cos(nod)])
    left = np.array([np.cos(turn), 0.0, -np.sin(turn)])
    axes = np.stack([left, np.cross(ahead, left), ahead])
    # pivot between skull and neck: 17 mm behind and 33 mm below the ear canal (Chancey et al.)
    pivot = np.array([0.0, 0.28, -0.11])
    head_at = np.array([0.0, chin, 0.012])
    upright = head_at + head_height * pivot
    head = Local(upright - head_height * (pivot @ axes), axes, head_height)
    trunk["head"] = upright
    trunk["head_top"] = head.point(0.0, 0.985, -0.02)
    h = p.head
    eye_z = eye_depth(h)
    eyes = head.points([[h.eye_x, h.eye_y, eye_z], [-h.eye_x, h.eye_y, eye_z]])
    left_side, right_side = p.pose.left, p.pose.right
    legs = (_make_leg(p, left_side), _make_leg(p, right_side))
    arms = (_make_arm(p, left_side, neck_y), _make_arm(p, right_side, neck_y))
    floor = min(float(leg.foot.origin[1]) for leg in legs)
    bones = Bones(trunk, head, eyes, arms, legs)
    return _moved(bones, np.array([0.0, -floor, 0.0]))


_T = TypeVar("_T")


def _moved(item: _T, by: Vec) -> _T:
    """A record of points and frames, shifted; unit directions and numbers stay as they are."""
    if isinstance(item, Local):
        return replace(item, origin=item.origin + by)
    if isinstance(item, tuple):
        return cast(_T, tuple(_moved(part, by) for part in item))
    if isinstance(item, dict):
        return cast(_T, {name: at + by for name, at in item.items()})
    changes = {
        f.name: value + by if isinstance(value, np.ndarray) else _moved(value, by)
        for f in fields(item)  # type: ignore[arg-type]
        if f.name not in ("back", "front", "dorsal")
        and isinstance(value := getattr(item, f.name), (np.ndarray, Local, tuple, dict))
    }
    return replace(item, **changes)  # type: ignore[type-var]
