"""Invented skeletons for the tests, with the published proportions of an adult.

Frame: +X the figure's left, +Y up, +Z forward, floor y = 0, height 1. Fractions of height come from
Winter 2009, de Leva 1996 and the means of ANSUR II, hands from Buchholz et al. 1992.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from autoplace.skeleton.model import Joint, Skeleton, Source
from autoplace.skeleton.names import mirror_name, stem

X, Y, Z = np.eye(3)
MIRROR = np.diag([-1.0, 1.0, 1.0])
HAND, BREADTH = 0.110, 0.0495  # length and breadth of a hand

MIDDLE = {
    "pelvis": (None, (0, 0.535, -0.005)),
    "spine_1": ("pelvis", (0, 0.585, -0.020)),
    "spine_2": ("spine_1", (0, 0.667, -0.027)),
    "chest": ("spine_2", (0, 0.760, -0.030)),
    "neck": ("chest", (0, 0.850, -0.015)),
    "head": ("neck", (0, 0.905, 0.000)),
    "head_top": ("head", (0, 1.000, 0.005)),
}
RAYS = {  # CMC sideways (hand breadths), fan (degrees), metacarpal and phalanges (hand lengths)
    "index": (0.126, 8, 0.378, (0.265, 0.143, 0.097)),
    "middle": (0.0, 0, 0.373, (0.277, 0.170, 0.108)),
    "ring": (-0.129, -7, 0.338, (0.259, 0.165, 0.107)),
    "pinky": (-0.223, -14, 0.306, (0.206, 0.117, 0.093)),
}
POSES = {
    "T": {"arm_down": 0, "elbow": 8, "knee": 5, "curl": 12},
    "A": {"arm_down": 45, "elbow": 8, "knee": 5, "curl": 12},
    "hanging": {"arm_down": 80, "elbow": 15, "knee": 5, "curl": 20},
    "straight": {"arm_down": 0, "elbow": 0, "knee": 0, "curl": 0},
}


def turned(vector, axis, degrees):
    """`vector` turned about the unit `axis` by the right-hand rule."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return vector * c + np.cross(axis, vector) * s + axis * (axis @ vector) * (1 - c)


def angle(a, b) -> float:
    """Degrees between two vectors; exact for small angles, unlike the arc cosine."""
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)))


def standard_skeleton(pose="T", *, thumb_bend=10, **changes) -> Skeleton:
    """A whole default skeleton in a pose of POSES; `changes` replace its angles (degrees)."""
    angles = POSES[pose] | changes
    left: dict[str, tuple[str, np.ndarray]] = {}
    left["left_eye"] = ("head", np.array([0.0182, 0.934, 0.050]))

    hip, down = np.array([0.0549, 0.521, 0.0]), -Y
    knee = hip + 0.240 * turned(down, X, -0.5 * angles["knee"])
    ankle = knee + 0.242 * turned(down, X, 0.5 * angles["knee"])
    heel = ankle[2] - 0.20 * 0.153
    left["left_hip"] = ("pelvis", hip)
    left["left_knee"] = ("left_hip", knee)
    left["left_ankle"] = ("left_knee", ankle)
    left["left_ball"] = ("left_ankle", np.array([0.0600, 0.010, heel + 0.69 * 0.153]))
    left["left_toe_tip"] = ("left_ball", np.array([0.0640, 0.008, heel + 0.95 * 0.153]))

    along = turned(X, Z, -angles["arm_down"])
    palm = turned(-Y, Z, -angles["arm_down"])
    shoulder = np.array([0.107, 0.800, -0.015])
    elbow = shoulder + 0.165 * along
    along = turned(along, palm, angles["elbow"])
    radial = turned(Z, palm, angles["elbow"])
    wrist = elbow + 0.153 * along
    left["left_clavicle"] = ("chest", np.array([0.013, 0.810, 0.015]))
    left["left_shoulder"] = ("left_clavicle", shoulder)
    left["left_elbow"] = ("left_shoulder", elbow)
    left["left_wrist"] = ("left_elbow", wrist)
    at = wrist + 0.073 * HAND * along + 0.196 * BREADTH * radial + 0.1 * BREADTH * palm
    bone = (along + radial + 0.6 * palm) / np.linalg.norm(along + radial + 0.6 * palm)
    flex = (palm - radial) / np.sqrt(2)
    axis = np.cross(bone, flex - (flex @ bone) * bone)
    _finger(left, "thumb", at, bone, axis / np.linalg.norm(axis), (0.251, 0.196, 0.158), thumb_bend)
    for name, (sideways, fan, metacarpal, phalanges) in RAYS.items():
        base = wrist + 0.073 * HAND * along + sideways * BREADTH * radial
        bone = turned(along, palm, fan)
        axis = np.cross(bone, palm)
        _finger(left, name, base + metacarpal * HAND * bone, bone, axis, phalanges, angles["curl"])

    rows = list(MIDDLE.items())
    rows += list(left.items())
    rows += [(mirror_name(n), (mirror_name(p), MIRROR @ at)) for n, (p, at) in left.items()]
    joints = tuple(Joint(n, p, np.array(at, dtype=float)) for n, (p, at) in rows)
    return Skeleton(joints, source=Source(mesh="figure.obj"), template="adult")


def _finger(rows, name, at, bone, axis, phalanges, curl):
    parent = "left_wrist"
    for number, length in enumerate(phalanges, start=1):
        rows[f"left_{name}_{number}"] = (parent, at)
        parent = f"left_{name}_{number}"
        at = at + length * HAND * bone
        bone = turned(bone, axis, curl)
    rows[f"left_{name}_tip"] = (parent, at)


def moved(skeleton: Skeleton, changes: dict[str, np.ndarray]) -> Skeleton:
    """The skeleton with some joints at other positions."""
    return skeleton.with_joints(
        tuple(
            replace(j, position=np.array(changes[j.name], float)) if j.name in changes else j
            for j in skeleton.joints
        )
    )


def without(skeleton: Skeleton, *stems: str) -> Skeleton:
    """The skeleton without the joints whose name, or its part after the side, begins so."""
    kept = [
        j
        for j in skeleton.joints
        if not any(j.name.startswith(s) or stem(j.name).startswith(s) for s in stems)
    ]
    return skeleton.with_joints(tuple(kept))
