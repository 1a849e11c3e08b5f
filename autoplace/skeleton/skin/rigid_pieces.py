"""Which pieces of a mesh are rigid, and which one joint each of them follows.

The rules, for each connected piece:

1. An eyeball follows the nearer eye joint.
2. Teeth, tongue and the rest of an inner mouth follow the head.
3. Hair, a hat or a beard follows the head if the head and neck lead in half of it or more; longer
   hair follows what it lies on.
4. What is carried or worn as an accessory (a weapon, a shield, a bag, glasses, a helmet, a buckle)
   follows the joint that leads where it touches the body, if that leads clearly; the wrist, where
   it lies in the hand. A belt or a strap, which touches much that moves apart, follows as cloth.
5. Clothes are never rigid, but a button is: a small piece of a garment follows the one mixture of
   joints that is beneath it.
6. Of the body itself a closed piece, other than the largest, is rigid if it lies about one bone
   (the upper arm of a robot or a doll), or is a ball in a joint and smaller than the bones there.
7. A figure that has such plates on most of its limbs is a machine: there every closed piece of
   trunk and head follows the joint that leads in it. What leads in less than most of a piece of a
   limb, as in a hand or a boot, is left to bend.

Rules 3 to 7 are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.names import SIDES, family, finger_of, side_of, stem

__all__ = ["PieceShapes", "rigid_joints"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

CARRIED = ("accessory", "left_out")
HALF = 0.5
"""Share of hair that the head leads in from which it is all the head's."""
CLEAR = 0.5
"""Share of an accessory, where it touches, that one joint leads in from which it has it all."""
ALL = 0.95
"""The same for one that goes round the body, as a bracelet or a helmet may."""
ROUND = 0.5
"""Mean of the unit directions from the body to a piece below which it goes round: nothing for a
ring, 0.5 for half a sphere, and 0.64 for half a ring (closed forms)."""
ABOUT_ONE = 0.9
"""Share of a piece of the body about one bone from which it is a plate: a shell round a forearm may
lap over the elbow a little."""
MOST = 0.75
"""The same for a piece of a machine's limb: a boot about shank and foot has 0.6."""
BALL = 0.35
"""Half the size of a ball in a joint, against the shorter bone there, at most; and how far from the
joint its middle lies at most, as a share of its half size."""
LIMBS = tuple(f"{side}_{name}" for side in SIDES for name in ("shoulder", "elbow", "hip", "knee"))
MACHINE = 6
"""Plates on these of the eight limb bones make a machine."""


@dataclass(frozen=True)
class PieceShapes:
    """What is measured of each of k pieces; lengths in the frame of the joints."""

    role: NDArray[np.str_]
    """(k,) of `mesh.pieces.ROLES`."""
    area: FloatArray
    """(k,)"""
    low: FloatArray
    """(k, 3) lowest corner of the box."""
    high: FloatArray
    """(k, 3)"""
    closed: BoolArray
    """(k,) True where every edge has two triangles."""
    led: FloatArray
    """(k, joints) share of the area whose nearest bone is the joint's."""
    lean: FloatArray
    """(k,) length of the mean of the unit directions from the body to the piece."""
    touch: FloatArray
    """(k, joints) mean share of the joints in the body where the piece is nearest to it."""


def rigid_joints(
    shapes: PieceShapes, names: tuple[str, ...], positions: FloatArray, parents: IntArray
) -> IntArray:
    """(k,) index of the one joint that a piece follows by rules 2 to 4, 6 and 7; -1 for no one.

    Args:
        names, positions (j, 3), parents (j,): of the joints, parents first.
    """
    found = np.full(len(shapes.role), -1, dtype=np.int64)
    if "head" in names:
        head = names.index("head")
        upper = np.array(
            [family(n) in ("head", "eye") or stem(n).startswith("neck") for n in names]
        )
        hair = (shapes.role == "hair") & (shapes.led[:, upper].sum(axis=1) >= HALF)
        worn = np.isin(shapes.role, CARRIED) & (shapes.led[:, head] >= CLEAR)
        found[hair | worn | (shapes.role == "inner_mouth")] = head
    held = _in_the_hand(shapes.touch, names)
    leading = np.argmax(held, axis=1)
    clear = held.max(axis=1) >= np.where(shapes.lean < ROUND, ALL, CLEAR)
    accessory = np.isin(shapes.role, CARRIED) & clear & (found < 0)
    found[accessory] = leading[accessory]
    body = np.isin(shapes.role, ("body", "unknown")) & shapes.closed
    if body.any():
        body[np.argmax(np.where(np.isin(shapes.role, ("body", "unknown")), shapes.area, 0.0))] = (
            False
        )
    lead = np.argmax(shapes.led, axis=1)
    plate = body & (shapes.led.max(axis=1) >= ABOUT_ONE)
    found[plate] = lead[plate]
    ball = _balls(shapes, positions, parents)
    turning = body & ~plate & (ball >= 0)
    found[turning] = ball[turning]
    plated = {names[joint] for joint in found[plate]}
    if sum(name in plated for name in LIMBS) >= MACHINE:
        bare = np.isin(shapes.role, ("body", "unknown")) & shapes.closed & (found < 0)
        trunk = np.array([family(name) in ("trunk", "head") for name in names])
        bare &= trunk[lead] | (shapes.led.max(axis=1) >= MOST)
        found[bare] = lead[bare]
    return found


def _in_the_hand(touch: FloatArray, names: tuple[str, ...]) -> FloatArray:
    """(k, joints) shares with those of the fingers given to the wrist of their side."""
    held = touch.copy()
    for side in SIDES:
        wrist = f"{side}_wrist"
        if wrist not in names:
            continue
        mine = [i for i, n in enumerate(names) if finger_of(n) is not None and side_of(n) == side]
        held[:, names.index(wrist)] += held[:, mine].sum(axis=1)
        held[:, mine] = 0.0
    return held


def _balls(shapes: PieceShapes, positions: FloatArray, parents: IntArray) -> IntArray:
    """(k,) the joint that a small round piece lies about, -1 for none."""
    half = 0.5 * (shapes.high - shapes.low).max(axis=1)
    middle = 0.5 * (shapes.high + shapes.low)
    bone = np.linalg.norm(positions - positions[parents], axis=1)
    bone[parents < 0] = np.inf
    shorter = bone.copy()
    for joint, parent in enumerate(parents):
        if parent >= 0:
            shorter[parent] = min(shorter[parent], bone[joint])
    away = np.linalg.norm(middle[:, None] - positions[None], axis=2)
    fits = (half[:, None] <= BALL * shorter) & (away <= BALL * half[:, None])
    nearest = np.argmin(np.where(fits, away, np.inf), axis=1)
    return np.where(fits.any(axis=1), nearest, -1)
