"""The placed joints of body, hands and eyes put together as one skeleton in the input frame."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.frame_record import Frame
from autoplace.measure.not_found import NotFound
from autoplace.measure.trunk_shape import TrunkShape
from autoplace.place.body import SIDES, BodyPlacement
from autoplace.place.evidence import Placed
from autoplace.place.eyes import EyePlace, EyesFound
from autoplace.place.face_eyes import guessed_eyes
from autoplace.place.hands import HandPlacement, hands_mirrored
from autoplace.place.mirror import FLIP, mirror_limbs
from autoplace.place.template import Template
from autoplace.skeleton.model import Evidence, Joint

__all__ = ["Hands", "gather_joints", "hand_points", "in_input", "make_joints"]

FloatArray = NDArray[np.float64]
Hands = Mapping[str, HandPlacement | NotFound]

EYES_ALIKE = 1e-3
"""Two eyes this near to mirror images are made so where the whole figure is symmetric, fraction of
height: an eye's own fit is surer than that."""


def gather_joints(
    body: BodyPlacement, hands: Hands, eyes: EyesFound, trunk: TrunkShape
) -> tuple[dict[str, Placed], dict[str, FloatArray | None]]:
    """All joints by name, hands and eyes mirrored where the arms are; look directions of eyes."""
    joints, alike = dict(body.joints), body.alike
    both_hands = [hand for hand in hands.values() if isinstance(hand, HandPlacement)]
    # arms may be mirror images while the fingers are bent differently
    hands_alike = len(both_hands) == 2 and alike["wrist"] and hands_mirrored(*both_hands)
    stems = {}
    for side in SIDES:
        hand = hands[side]
        if isinstance(hand, NotFound):
            continue
        for stem, point in hand_points(hand).items():
            joints[f"{side}_{stem}"] = point
            stems[stem] = hands_alike
    looks: dict[str, FloatArray | None] = {}
    guessed = guessed_eyes(trunk)
    both = isinstance(eyes.left, EyePlace) and isinstance(eyes.right, EyePlace)
    found = eyes.by_joint()
    for name, eye in found.items():
        joints[name] = Placed(eye.center, eye.spread, eye.evidence, 1.0)
        looks[name] = eye.look
    neither = not found
    if neither:
        for side, guess in zip(SIDES, guessed, strict=True):
            joints[f"{side}_eye"] = Placed(guess.center, guess.spread, guess.evidence, 1.0)
    if both:
        left, right = joints["left_eye"].position, joints["right_eye"].position
        near = bool(np.linalg.norm(left - right * FLIP) < EYES_ALIKE)
        # the plane is exact only where the whole figure is symmetric
        stems["eye"] = near and all(alike.values())
    else:
        stems["eye"] = neither
    return mirror_limbs(joints, stems), looks


def hand_points(hand: HandPlacement) -> dict[str, Placed]:
    """The joints of a placed hand by stem ('index_metacarpal', 'index_1', ...)."""
    points = {f"{finger}_metacarpal": base for finger, base in hand.metacarpals.items()}
    for finger, chain in hand.chains.items():
        for end, point in zip(("1", "2", "3", "tip"), chain, strict=True):
            points[f"{finger}_{end}"] = point
    return {
        stem: Placed(point.position, point.spread, point.evidence, 1.0)
        for stem, point in points.items()
    }


def in_input(placed: Placed, frame: Frame) -> Placed:
    """A joint placed in the working frame, in the input frame and units."""
    evidence = tuple(
        Evidence(e.kind, frame.to_input(e.position), e.spread * frame.height, e.weight, e.note)
        for e in placed.evidence
    )
    return Placed(
        frame.to_input(placed.position),
        placed.spread * frame.height,
        evidence,
        placed.disagreement,
    )


def make_joints(
    template: Template,
    spine: int,
    neck: int,
    placed: Mapping[str, Placed],
    hands: Hands,
    looks: Mapping[str, FloatArray | None],
    frame: Frame,
) -> tuple[Joint, ...]:
    """The joints of the template that were placed, parents first, in the input frame and units."""
    fingers = {
        side: tuple(hand.chains) if isinstance(hand, HandPlacement) else ()
        for side, hand in hands.items()
    }
    palms = any(isinstance(hand, HandPlacement) and hand.metacarpals for hand in hands.values())
    joints: list[Joint] = []
    there: set[str] = set()
    for name, parent in template.joint_list(spine, fingers, neck, metacarpals=palms):
        if name not in placed or (parent is not None and parent not in there):
            continue
        if name.endswith("clavicle") and f"{name.split('_')[0]}_shoulder" not in placed:
            continue
        there.add(name)
        joints.append(_joint(name, parent, placed[name], frame, looks.get(name)))
    # eyes that no template counts on: one on the middle, or more than two
    joints += [
        _joint(name, "head", placed[name], frame, looks.get(name))
        for name in looks
        if name not in there and "head" in there
    ]
    return tuple(joints)


def _joint(
    name: str, parent: str | None, placed: Placed, frame: Frame, look: FloatArray | None
) -> Joint:
    there = in_input(placed, frame)
    return Joint(
        name=name,
        parent=parent,
        position=there.position,
        spread=there.spread,
        evidence=there.evidence,
        look=None if look is None else frame.direction_to_input(look),
    )
