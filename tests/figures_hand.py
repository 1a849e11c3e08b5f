"""Hands with known joints, made of round cones that melt into one another."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from skimage.measure import marching_cubes

NAMES = {
    1: ("middle",),
    2: ("thumb", "middle"),
    3: ("thumb", "index", "pinky"),
    4: ("thumb", "index", "middle", "pinky"),
    5: ("thumb", "index", "middle", "ring", "pinky"),
}
# knuckle to tip and its three bones, share of hand length (Buchholz et al. 1992, made to add up)
BONES = {
    "index": (0.262, 0.141, 0.097),
    "middle": (0.277, 0.170, 0.108),
    "ring": (0.259, 0.165, 0.107),
    "pinky": (0.206, 0.117, 0.093),
}
KNUCKLES = {
    # to the thumb's side of the middle finger, and beyond the wrist
    "index": (0.105, 0.440),
    "middle": (0.0, 0.446),
    "ring": (-0.100, 0.420),
    "pinky": (-0.190, 0.380),
}
SPREAD = {"index": 8.0, "middle": 0.0, "ring": -9.0, "pinky": -20.0}


@dataclass(frozen=True)
class HandPlan:
    """What a hand is made from. Lengths are shares of the hand's length."""

    fingers: int = 5
    side: str = "left"
    length: float = 0.11
    """Hand length, share of the character's height."""
    girth: float = 0.047
    """Half thickness of a finger at its knuckle."""
    finger_length: float = 1.0
    """Fingers against people's."""
    spread: float = 1.0
    """Angles between the fingers against the usual ones."""
    curl: tuple[float, float, float] = (10.0, 12.0, 8.0)
    """Bend of knuckle, middle and end joint, degrees."""
    web: float = 0.20
    """How far the palm reaches beyond the knuckles, share of a finger."""
    thumb_apart: float = 40.0
    """Angle of the thumb to the hand, degrees."""
    thumb_below: float = 20.0
    """How far the thumb points to the palm side, degrees."""
    mitten: bool = False
    apart: bool = False
    """The hand ends at the wrist and the forearm is a mesh of its own with a gap."""
    cell: float = 0.02
    """Resolution of the surface."""


@dataclass(frozen=True)
class KnownHand:
    """A hand's surface and its joints in the working frame; the arm points to the side."""

    plan: HandPlan
    vertices: np.ndarray
    faces: np.ndarray
    wrist: np.ndarray
    forearm: np.ndarray
    """(3,) unit, from the elbow."""
    palm: np.ndarray
    """(3,) unit, out of the palm."""
    joints: dict[str, np.ndarray] = field(default_factory=dict)
    """(4, 3) by finger name."""


def chain(start, aim, lengths, bends, hinge):
    """(4, 3) joints of a finger that bends about one axis."""
    points = [np.asarray(start, dtype=float)]
    for length, bend in zip(lengths, bends, strict=True):
        aim = turned(aim, hinge, bend)
        points.append(points[-1] + length * aim)
    return np.array(points)


def turned(vector, axis, degrees):
    """A vector turned about an axis, right-handed."""
    axis = axis / np.linalg.norm(axis)
    angle = np.radians(degrees)
    along = axis * np.dot(axis, vector)
    aside = np.cross(axis, vector)
    return along + (vector - along) * np.cos(angle) + aside * np.sin(angle)


def round_cone(points, one, other, first, second):
    """Distance to a cone with round ends; a good enough one where the radii are alike."""
    line = (other - one).astype(np.float32)
    offset = points - one.astype(np.float32)
    share = np.clip(offset @ (line / np.dot(line, line)), 0.0, 1.0)
    offset -= share[:, None] * line
    gap = np.sqrt(np.einsum("ij,ij->i", offset, offset))
    return gap - (np.float32(first) + share * np.float32(second - first))


def melt(one, other, width):
    """Union of two shapes whose seam is rounded over a width."""
    h = np.maximum(np.float32(width) - np.abs(one - other), np.float32(0.0))
    return np.minimum(one, other) - np.float32(0.25 / width) * h * h


def plan_joints(plan: HandPlan) -> dict[str, np.ndarray]:
    """(4, 3) joints by finger, hand frame: +X to the thumb, +Y along, +Z out of the palm."""
    names = NAMES[plan.fingers]
    broad = plan.girth / 0.047
    joints = {}
    for name in names:
        if name == "thumb":
            aim = turned(np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, -1.0]), plan.thumb_apart)
            aim = turned(aim, np.array([1.0, 0.0, 0.0]), plan.thumb_below)
            hinge = turned(np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0]), -30.0)
            start = np.array([0.07 * broad**0.5, 0.09, 0.025])
            lengths = np.array([0.22, 0.18, 0.15]) * (0.6 + 0.4 * plan.finger_length)
            joints[name] = chain(start, aim, lengths, (0.0, 8.0, 8.0), hinge)
            continue
        across, along = KNUCKLES[name]
        if plan.fingers == 4 and name == "pinky":
            across, along = -0.13, 0.41
        if plan.fingers == 3:
            across = {"index": 0.075, "pinky": -0.085}[name]
        start = np.array([across * max(broad, 1.0), along, 0.0])
        aim = turned(
            np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, -1.0]), SPREAD[name] * plan.spread
        )
        hinge = np.cross(aim, np.array([0.0, 0.0, 1.0]))
        lengths = np.array(BONES[name]) * plan.finger_length
        joints[name] = chain(start, aim, lengths, plan.curl, hinge)
    return joints


def build_hand(plan: HandPlan) -> KnownHand:
    """Make the surface of a hand at the end of a left or right arm held to the side."""
    joints = plan_joints(plan)
    reach = max(float(chain_[:, 1].max()) for chain_ in joints.values())
    everything = np.concatenate(list(joints.values()))
    low = np.minimum(everything.min(axis=0) - 0.12, [-0.3, -0.62, -0.2])
    high = np.maximum(everything.max(axis=0) + 0.12, [0.25, reach + 0.12, 0.2])
    axes = [np.arange(a, b, plan.cell) for a, b in zip(low, high, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    points = grid.reshape(-1, 3).astype(np.float32)
    hand, arm = palm_and_fingers(points, plan, joints), forearm(points, plan)
    solids = [hand, arm] if plan.apart else [melt(hand, arm, 0.06)]
    vertices, faces, start = [], [], 0
    for solid in solids:
        value = solid.reshape(grid.shape[:3])
        found, triangles, _, _ = marching_cubes(value, 0.0, spacing=(plan.cell,) * 3)
        vertices.append(found + low)
        # the surface looks to where the values grow
        faces.append(outward(found, triangles) + start)
        start += len(found)
    return stand(plan, np.concatenate(vertices), np.concatenate(faces), joints)


def outward(vertices, faces):
    """Triangles turned so that the volume they enclose is positive."""
    corners = vertices[faces]
    volume = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum()
    return faces if volume > 0 else faces[:, ::-1]


def palm_and_fingers(points, plan, joints):
    """Distance to the hand."""
    g = plan.girth
    rest = [name for name in joints if name != "thumb"]
    palm = None
    bases = []
    for name in rest:
        knuckle = joints[name][0]
        base = np.array([0.35 * knuckle[0], 0.04, 0.0])
        bone = round_cone(points, base, knuckle, 0.062 + 0.3 * g, 1.15 * g + 0.01)
        palm = bone if palm is None else melt(palm, bone, 0.06)
        bases.append(knuckle + plan.web * (joints[name][3] - knuckle))
    for one, other in pairwise(bases):
        palm = melt(palm, round_cone(points, one, other, 0.85 * g, 0.85 * g), 0.05)
        # fills the palm where the bones are far apart
        middle = 0.5 * (one + other) - np.array([0.0, 0.06, 0.0])
        base = np.array([0.35 * middle[0], 0.04, 0.0])
        palm = melt(palm, round_cone(points, base, middle, 0.06, 0.06), 0.06)
    fingers = None
    for name in rest:
        finger = bones(points, joints[name], (1.0, 1.0, 0.92, 0.80), g)
        width = 0.12 if plan.mitten else 0.012
        fingers = finger if fingers is None else melt(fingers, finger, width)
    if plan.mitten:
        # the sheath of the other fingers beside the middle one
        for across in (0.085, -0.085):
            moved = joints[rest[0]] + np.array([across, -0.02, 0.0])
            fingers = melt(fingers, bones(points, moved, (1.0, 1.0, 0.95, 0.85), g), 0.12)
            palm = melt(
                palm,
                round_cone(points, np.array([0.3 * across, 0.05, 0.0]), moved[0], 0.075, 1.2 * g),
                0.08,
            )
    hand = melt(palm, fingers, 0.03)
    if "thumb" in joints:
        hand = melt(hand, bones(points, joints["thumb"], (1.35, 1.15, 1.05, 0.85), g), 0.04)
    return hand


def bones(points, joints, radii, girth):
    """Distance to a finger; its last bone ends so that the tip lies on the surface."""
    ends = joints.copy()
    last = joints[3] - joints[2]
    ends[3] = joints[3] - radii[3] * girth * last / np.linalg.norm(last)
    parts = [
        round_cone(points, ends[i], ends[i + 1], radii[i] * girth, radii[i + 1] * girth)
        for i in range(3)
    ]
    whole = parts[0]
    for part in parts[1:]:
        whole = melt(whole, part, 0.3 * girth)
    return whole


def forearm(points, plan):
    """Distance to the forearm."""
    end = np.array([0.0, -0.03 if plan.apart else 0.0, 0.0])
    start = np.array([0.0, -1.2, 0.0])
    thick = 0.062 + 0.25 * plan.girth
    shape = round_cone(points, start, end, 0.12 + 0.25 * plan.girth, thick)
    return np.maximum(shape, -0.56 - points[:, 1])


def stand(plan, vertices, faces, joints):
    """Turn and move a hand to the end of an arm that points to its side."""
    # a left hand's own frame to the working frame: thumb forward, palm down
    turn = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, -1.0], [1.0, 0.0, 0.0]])
    if plan.side == "right":
        turn = np.diag([-1.0, 1.0, 1.0]) @ turn
    wrist = np.array([0.42, 0.80, 0.02]) * [1.0 if plan.side == "left" else -1.0, 1.0, 1.0]
    scale = plan.length
    placed = vertices @ turn.T * scale + wrist
    return KnownHand(
        plan=plan,
        vertices=placed,
        faces=outward(placed - wrist, faces),
        wrist=wrist,
        forearm=turn @ np.array([0.0, 1.0, 0.0]),
        palm=turn @ np.array([0.0, 0.0, 1.0]),
        joints={name: chain_ @ turn.T * scale + wrist for name, chain_ in joints.items()},
    )


def plan_of(number: int) -> HandPlan:
    """A hand of a family: count of fingers, thickness, lengths, spread and curl all vary."""
    draw = np.random.default_rng(1000 + number)
    fingers = (5, 4, 3, 5, 2, 4)[number % 6]
    fat = draw.uniform(0.0, 1.0)
    girth = 0.038 + 0.022 * fat if fingers == 5 else 0.050 + 0.030 * fat
    if fingers == 3:
        girth = 0.055 + 0.02 * fat
    if fingers == 2:
        girth = 0.05 + 0.012 * fat
    curl = draw.uniform(0.0, 1.0)
    return HandPlan(
        fingers=fingers,
        side="left" if number % 2 == 0 else "right",
        length=float(draw.uniform(0.09, 0.17)),
        girth=float(girth),
        finger_length=float(draw.uniform(0.8, 1.15)),
        spread=float(draw.uniform(0.8, 1.3)),
        curl=(25.0 * curl, 30.0 * curl + 4.0, 20.0 * curl + 3.0),
        web=float(draw.uniform(0.15, 0.26)),
        thumb_apart=float(draw.uniform(33.0, 52.0)),
        thumb_below=float(draw.uniform(5.0, 35.0)),
        mitten=fingers == 2,
    )


def as_other_side(plan: HandPlan) -> HandPlan:
    """The mirror image."""
    return replace(plan, side="right" if plan.side == "left" else "left")
