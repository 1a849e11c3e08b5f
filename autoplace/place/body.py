"""All joints of the body: legs, arms and trunk, mirrored where the mesh is."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.leg_shape import LegShape, measure_leg
from autoplace.measure.limb_record import Limb, Limbs
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_net import trunk_nets
from autoplace.measure.trunk_shape import TrunkShape
from autoplace.place.arms import ArmPlacement, measure_arms, place_arm, span_by_shoulders
from autoplace.place.evidence import Placed
from autoplace.place.hidden_legs import (
    HiddenLegs,
    place_hidden_hip,
    place_hidden_leg,
    place_shown_leg,
)
from autoplace.place.legs import LegPlacement, place_hip, place_leg
from autoplace.place.mirror import FLIP, mirror_limbs, mirrored_share
from autoplace.place.template import Template
from autoplace.place.trunk import place_trunk
from autoplace.skeleton.model import Finding

__all__ = ["SIDES", "BodyPlacement", "place_body"]

FloatArray = NDArray[np.float64]

SIDES = ("left", "right")
ALIKE_SHARE = 0.95
"""Share of a limb's cells that must match their mirror image for the two limbs to be one."""
ROOT_SHARES = (0.25, 0.5)
"""Shares of a limb's reach that are not asked, the one or the other: where forearms or shanks are
mirrored so is all above them, whatever hangs there (common practice, no source)."""
STEMS = {
    "leg": ("hip", "knee", "ankle", "ball", "toe_tip"),
    "arm": ("shoulder", "elbow", "wrist"),
}


@dataclass(frozen=True)
class BodyPlacement:
    """The body's joints, working frame."""

    joints: dict[str, Placed]
    arms: dict[str, ArmPlacement]
    """By side, where there is an arm."""
    alike: dict[str, bool]
    """By joint name without the side: whether its limb is a mirror image of the other."""
    findings: tuple[Finding, ...]


def place_body(
    solid: Solid,
    limbs: Limbs,
    trunk: TrunkShape,
    template: Template,
    spine: int,
    neck: int,
    hidden: HiddenLegs | None = None,
) -> BodyPlacement:
    """Decide all joints of legs, arms and trunk.

    Args:
        solid: the body, working frame. limbs: its branches. trunk: its level cuts.
        template: proportions. spine: number of spine joints, the chest counted.
        neck: number of neck joints.
        hidden: where a skirt of one piece with the body hides the legs.
    """
    placed: dict[str, Placed] = {}
    arms: dict[str, ArmPlacement] = {}
    findings: list[Finding] = []
    shapes = {}
    nets = trunk_nets(solid, limbs, trunk)
    branches = {side: arm for side in SIDES if (arm := limbs.one("arm", side)) is not None}
    arm_shapes = measure_arms(solid, branches, trunk, template)
    for side in SIDES:
        leg, arm_shape = limbs.one("leg", side), arm_shapes.get(side)
        if leg is not None and (hidden is None or hidden.shanks_show):
            shapes[side] = measure_leg(solid, leg)
        if arm_shape is not None:
            arms[side] = place_arm(solid, arm_shape, trunk, nets[side], template)
            placed |= {f"{side}_{name}": p for name, p in arms[side].joints.items()}
            findings += _straight(f"{side}_elbow", "an elbow", arms[side].bent_by_us)
    shoulders = [arm.joints["shoulder"] for arm in arms.values()]
    trunk = replace(trunk, shoulder_span=span_by_shoulders(trunk, template, shoulders))
    alike = _alike(limbs, solid)
    if hidden is not None and not shapes and not hidden.hem.shown:
        alike |= dict.fromkeys(STEMS["leg"], alike["shoulder"])
    if hidden is None:
        hips = {
            side: place_hip(shape, trunk, nets[side], template) for side, shape in shapes.items()
        }
    else:
        hips = {s: place_hidden_hip(hidden, shapes.get(s), trunk, template, s) for s in SIDES}
    if len(hips) == 2:
        hips = _level(hips, {s: float(-shapes[s].thigh[1]) if s in shapes else 0.0 for s in hips})
    for side, hip in hips.items():
        placement = _leg(shapes.get(side), hip, template, hidden, side)
        placed |= {f"{side}_{name}": p for name, p in placement.joints.items()}
        findings += _straight(f"{side}_knee", "a knee", placement.bent_by_us)
    placed = mirror_limbs(placed, alike)
    positions = {name: p.position for name, p in placed.items()}
    placed |= place_trunk(trunk, nets, template, (spine, neck), positions)
    if all(alike.values()):
        placed = _centred(placed)
    return BodyPlacement(placed, arms, alike, tuple(findings))


def _leg(
    shape: LegShape | None, hip: Placed, template: Template, hidden: HiddenLegs | None, side: str
) -> LegPlacement:
    """The joints of a leg, of which much or little may show."""
    if hidden is None and shape is not None:
        return place_leg(shape, hip, template)
    if hidden is not None and shape is not None:
        return place_shown_leg(shape, hip, template)
    assert hidden is not None, "a leg that does not show has no hip unless it is hidden"
    return place_hidden_leg(hidden, hip, template, side)


def _alike(limbs: Limbs, solid: Solid) -> dict[str, bool]:
    """By joint name, whether its limb is a mirror image of the other side's."""
    alike: dict[str, bool] = {}
    for kind, names in STEMS.items():
        left, right = limbs.one(kind, "left"), limbs.one(kind, "right")
        same = (
            left is not None
            and right is not None
            and any(
                mirrored_share(solid, _beyond(share, left), _beyond(share, right)) > ALIKE_SHARE
                for share in ROOT_SHARES
            )
        )
        alike |= dict.fromkeys(names, same)
    return alike


def _beyond(share: float, limb: Limb) -> FloatArray:
    """(m, 3) cells of a limb without this share of it from its beginning, where hair and collars
    hang beside it."""
    away = np.linalg.norm(limb.cells - limb.line[0], axis=1)
    return limb.cells[away > share * away.max()]


def _level(hips: dict[str, Placed], upright: dict[str, float]) -> dict[str, Placed]:
    """Both hips as one pelvis has them, mirrored about the middle plane.

    A pelvis is rigid and turns little when a leg is posed, while the flesh about a raised thigh
    misleads; so the leg that hangs straighter counts for more.

    Args:
        hips: by side. upright: by side, cosine between the thigh and straight down.
    """
    weight = {side: max(upright[side], 0.1) ** 8 for side in hips}
    total = weight["left"] + weight["right"]
    left, right = hips["left"], hips["right"]
    middle = (weight["left"] * left.position + weight["right"] * (right.position * FLIP)) / total
    return {
        "left": replace(left, position=middle),
        "right": replace(right, position=middle * FLIP),
    }


def _centred(placed: dict[str, Placed]) -> dict[str, Placed]:
    """Joints of the middle put on the symmetry plane, clavicles mirrored."""
    centred = {
        name: p
        if name.startswith(SIDES)
        else replace(p, position=p.position * np.array([0.0, 1.0, 1.0]))
        for name, p in placed.items()
    }
    return mirror_limbs(centred, {"clavicle": True})


def _straight(joint: str, hinge: str, bent_by_us: bool) -> list[Finding]:
    """A finding where the limb does not bend as its hinge does and had to be bent."""
    if not bent_by_us:
        return []
    return [
        Finding(
            "straight_limb",
            joint,
            "note",
            f"{joint}: the limb is not modelled bent as {hinge} bends, so 2 degrees were put in.",
            "Nothing to do, unless the joint should bend another way: then move it.",
        )
    ]
