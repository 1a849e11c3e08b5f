"""Poses as turns of joints: made from a rest skeleton, applied by forward kinematics."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.dataset.bones import FINGERS, JOINTS, PARENT, SIDES

Joints = dict[str, np.ndarray]
Turns = dict[str, np.ndarray]


@dataclass(frozen=True)
class Pose:
    """Angles in degrees. None leaves a limb as the rest mesh has it."""

    name: str
    raised: tuple[float, float] | None = None
    """Upper arms (left, right) from hanging straight down, in the frontal plane."""
    elbow: tuple[float, float] | None = None
    """Bend of the elbows (left, right); 0 is straight."""
    forward: tuple[float, float] = (0.0, 0.0)
    """How far the upper arms are swung to the front, after raising."""
    hip: tuple[float, float] = (0.0, 0.0)
    """Thighs swung to the front."""
    spread: tuple[float, float] = (0.0, 0.0)
    """Thighs swung outward."""
    knee: tuple[float, float] = (0.0, 0.0)
    """Knees bent further than at rest."""
    head: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Head turned to its left, nodded down, tilted; shared between neck and head."""
    curl: dict[str, float] = field(default_factory=dict)
    """Further bend at a finger joint, by joint name."""


def axis_turn(axis: np.ndarray, degrees: float) -> np.ndarray:
    """(3, 3) right-handed turn about an axis."""
    x, y, z = axis / np.linalg.norm(axis)
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    angle = np.radians(degrees)
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross


def shortest_turn(source: np.ndarray, target: np.ndarray) -> np.ndarray:
    """(3, 3) smallest turn that brings one direction onto another."""
    source, target = source / np.linalg.norm(source), target / np.linalg.norm(target)
    axis = np.cross(source, target)
    if np.linalg.norm(axis) < 1e-9:
        return np.eye(3)
    return axis_turn(axis, angle_between(source, target))


def angle_between(first: np.ndarray, second: np.ndarray) -> float:
    """Degrees between two directions."""
    return float(
        np.degrees(np.arctan2(np.linalg.norm(np.cross(first, second)), np.dot(first, second)))
    )


def arm_turns(rest: Joints, pose: Pose, number: int, side: str) -> Turns:
    """Turns of one arm: raised in the frontal plane, swung forward, elbow on its own hinge."""
    outward = 1.0 if side == "left" else -1.0
    upper = rest[f"{side}_elbow"] - rest[f"{side}_shoulder"]
    lower = rest[f"{side}_wrist"] - rest[f"{side}_elbow"]
    turns = {}
    if pose.raised is not None:
        raised = np.radians(pose.raised[number])
        wanted = np.array([outward * np.sin(raised), -np.cos(raised), 0.0])
        swing = axis_turn(np.array([0.0, -outward, 0.0]), pose.forward[number])
        turns[f"{side}_shoulder"] = swing @ shortest_turn(upper, wanted)
    if pose.elbow is not None:
        # positive about upper x lower bends further
        hinge = np.cross(upper, lower)
        turns[f"{side}_elbow"] = axis_turn(hinge, pose.elbow[number] - angle_between(upper, lower))
    return turns


def leg_turns(rest: Joints, pose: Pose, number: int, side: str) -> Turns:
    """Turns of one leg: thigh forward and outward, knee bent further to the back."""
    outward = 1.0 if side == "left" else -1.0
    turns = {}
    if pose.hip[number] or pose.spread[number]:
        forward = axis_turn(np.array([-1.0, 0.0, 0.0]), pose.hip[number])
        aside = axis_turn(np.array([0.0, 0.0, outward]), pose.spread[number])
        turns[f"{side}_hip"] = aside @ forward
    if pose.knee[number]:
        turns[f"{side}_knee"] = axis_turn(np.array([1.0, 0.0, 0.0]), pose.knee[number])
    return turns


def finger_axis(rest: Joints, side: str, finger: str) -> np.ndarray:
    """Axis about which a positive turn curls a finger towards the palm."""
    first, second, third, tip = (rest[f"{side}_{finger}_{end}"] for end in (1, 2, 3, "tip"))
    own = np.cross(second - first, third - second) + np.cross(third - second, tip - third)
    if finger == "thumb":
        return own
    across = rest[f"{side}_pinky_1"] - rest[f"{side}_index_1"]
    along = tip - first
    axis = across - along * np.dot(across, along) / np.dot(along, along)
    return axis if np.dot(axis, own) > 0 else -axis


def turns_of(rest: Joints, pose: Pose) -> Turns:
    """Turn of every joint the pose moves, about the rest position, before its parents' turns."""
    turns: Turns = {}
    if any(pose.head):
        yaw, nod, tilt = pose.head
        for joint, share in (("neck", 0.4), ("head", 0.6)):
            turns[joint] = (
                axis_turn(np.array([0.0, 1.0, 0.0]), yaw * share)
                @ axis_turn(np.array([1.0, 0.0, 0.0]), nod * share)
                @ axis_turn(np.array([0.0, 0.0, 1.0]), tilt * share)
            )
    for number, side in enumerate(SIDES):
        turns.update(arm_turns(rest, pose, number, side))
        turns.update(leg_turns(rest, pose, number, side))
    for joint, degrees in pose.curl.items():
        side, finger, _ = joint.split("_")
        turns[joint] = axis_turn(finger_axis(rest, side, finger), degrees)
    return turns


def transforms(rest: Joints, turns: Turns) -> tuple[np.ndarray, np.ndarray]:
    """World turn (n, 3, 3) and shift (n, 3) of every joint of JOINTS: x -> turn @ x + shift."""
    world: dict[str, tuple[np.ndarray, np.ndarray]] = {}
    for joint in ordered():
        parent = PARENT[joint]
        turn, shift = world[parent] if parent else (np.eye(3), np.zeros(3))
        if joint in turns:
            pivot = turn @ rest[joint] + shift
            turn = turn @ turns[joint]
            shift = pivot - turn @ rest[joint]
        world[joint] = (turn, shift)
    return (
        np.array([world[joint][0] for joint in JOINTS]),
        np.array([world[joint][1] for joint in JOINTS]),
    )


def bone_turns(rest: Joints, turns: Turns) -> dict[str, np.ndarray]:
    """(3, 3) by joint: world turn of the bone that ends in it; the root's is its own."""
    turn, _ = transforms(rest, turns)
    return {joint: turn[JOINTS.index(PARENT[joint] or joint)] for joint in JOINTS}


def posed_joints(rest: Joints, turns: Turns) -> Joints:
    """Where the joints go."""
    turn, shift = transforms(rest, turns)
    return {
        joint: turn[row] @ rest[joint] + shift[row]
        for row, joint in enumerate(JOINTS)
        if joint in rest
    }


def ordered() -> list[str]:
    """Joints with parents before children."""
    done: list[str] = []
    waiting = list(JOINTS)
    while waiting:
        ready = [joint for joint in waiting if PARENT[joint] is None or PARENT[joint] in done]
        done += ready
        waiting = [joint for joint in waiting if joint not in ready]
    return done


REST = Pose("rest")
# the last few degrees of bend are left: nobody models an elbow as a ruled line
T_POSE = Pose("t_pose", raised=(90.0, 90.0), elbow=(6.0, 6.0))
A_POSE = Pose("a_pose", raised=(45.0, 45.0), elbow=(10.0, 10.0))
ARMS_DOWN = Pose("arms_down", raised=(20.0, 20.0), elbow=(12.0, 12.0))
HANGING = Pose("hanging", raised=(0.0, 0.0), elbow=(8.0, 8.0))
"""Straight down, so that arms and hands lie in trunk and thighs: not among the bodies reported."""
ONE_UP = Pose("one_up", raised=(95.0, 35.0), elbow=(15.0, 12.0), hip=(0.0, 55.0), knee=(0.0, 65.0))


def random_pose(seed: int) -> Pose:
    """A pose from a seed; every second one is the same on both sides of the arms."""
    draw = np.random.default_rng(seed)

    def pair(low: float, high: float) -> tuple[float, float]:
        return (float(draw.uniform(low, high)), float(draw.uniform(low, high)))

    raised, elbow, forward = pair(10, 95), pair(3, 45), pair(-5, 20)
    if seed % 2 == 0:
        raised, elbow, forward = ((both[0], both[0]) for both in (raised, elbow, forward))
    hip, spread, knee = pair(-10, 25), pair(-2, 12), pair(0, 30)
    head = tuple(float(draw.uniform(-size, size)) for size in (20.0, 12.0, 8.0))
    curl = {}
    for side in SIDES:
        for finger in FINGERS:
            for level in (1, 2, 3):
                most = 12.0 if finger == "thumb" else 22.0
                curl[f"{side}_{finger}_{level}"] = float(draw.uniform(-4.0, most))
    return Pose("random", raised, elbow, forward, hip, spread, knee, head, curl)


NAMED = {pose.name: pose for pose in (REST, T_POSE, A_POSE, ARMS_DOWN, HANGING, ONE_UP)}


def pose_of(name: str, seed: int = 0) -> Pose:
    """The pose by name; 'random' takes its angles from the seed."""
    return random_pose(seed) if name == "random" else NAMED[name]
