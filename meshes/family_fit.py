"""Fits the pose of an invented figure to its girth: arms clear the trunk, feet one another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .body import leg_shape, trunk_shape
from .bones import Bones, make_bones
from .combine import Blend, Mirror
from .faces import skull_shape
from .params import FigureParams, Pose, Side
from .shapes import Shape
from .skirts import HEMS

__all__ = ["fitted"]

_STEP = 5.0
"""Degrees by which a limb is moved until it is clear."""


def _rest(p: FigureParams, bones: Bones) -> Shape:
    """What an arm must stay clear of."""
    legs: list[Shape] = []
    for i in (0, 1):
        thigh, shank = leg_shape(p, bones.legs[i])
        legs += [thigh, shank] if i == 0 else [Mirror(thigh), Mirror(shank)]
    return Blend([trunk_shape(p, bones), skull_shape(p, bones, 0.1), *legs], 0.01)


def _arm_gap(p: FigureParams, bones: Bones, i: int, rest: Shape) -> float:
    """How far the surface of elbow, forearm and hand stays from the rest."""
    arm = bones.arms[i]
    flip = np.array([1.0 if i == 0 else -1.0, 1, 1])
    points, radii = [], []
    for t in np.linspace(0.75, 1.0, 4):
        points.append(arm.shoulder + t * (arm.elbow - arm.shoulder))
        radii.append(0.028 * p.arm_girth)
    for t in np.linspace(0.1, 1.0, 8):
        points.append(arm.elbow + t * (arm.wrist - arm.elbow))
        radii.append(0.026 * p.arm_girth)
    for finger in arm.fingers:
        for at in finger.joints:
            points.append(at)
            radii.append(1.2 * finger.girth)
    value = rest.evaluate((np.array(points) * flip).astype(np.float32))
    return 1.0 if value is None else float((value - np.array(radii)).min())


def _with(pose: Pose, i: int, side: Side) -> Pose:
    return replace(pose, left=side) if i == 0 else replace(pose, right=side)


def _arms_clear(p: FigureParams, margin: float) -> FigureParams:
    """Arms turned outward, and raised ones lowered, until they are clear."""
    for i in (0, 1):
        for _ in range(16):
            bones = make_bones(p)
            side = (p.pose.left, p.pose.right)[i]
            if _arm_gap(p, bones, i, _rest(p, bones)) > margin or side.arm_raise == 90.0:
                break
            step = _STEP if side.arm_raise < 90 else -_STEP
            raised = side.arm_raise + step
            raised = 90.0 if (raised - 90.0) * (side.arm_raise - 90.0) <= 0 else raised
            p = replace(p, pose=_with(p.pose, i, replace(side, arm_raise=raised)))
    return p


def _legs_clear(p: FigureParams) -> FigureParams:
    """Legs set apart until the feet and calves do not touch."""
    for _ in range(12):
        bones = make_bones(p)
        apart = min(
            min(leg.foot.point(-0.19 * p.foot_breadth, 0.1, z)[0] for z in (0.1, 0.4, 0.75))
            for leg in bones.legs
        )
        knees = min(leg.knee[0] for leg in bones.legs) - 0.034 * p.leg_girth
        if min(apart, knees) > 0.006:
            break
        left = replace(p.pose.left, leg_out=p.pose.left.leg_out + 1.0)
        right = replace(p.pose.right, leg_out=p.pose.right.leg_out + 1.0)
        p = replace(p, pose=replace(p.pose, left=left, right=right), hip_x=p.hip_x + 0.002)
    return p


def fitted(p: FigureParams, garment: str) -> FigureParams:
    """The figure with legs apart and arms clear of trunk, legs, head and what hangs from it."""
    p = _legs_clear(p)
    margin = 0.012
    if garment in HEMS or garment in ("coat", "tee", "cape"):
        margin = 0.035
    if "cloak" in garment:
        margin = 0.06
    return _arms_clear(p, margin)
