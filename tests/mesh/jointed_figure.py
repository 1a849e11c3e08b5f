"""A machine of many rigid pieces for the tests of roles: limbs, a ball in every joint, covers.

Working frame: +Y up, +Z where it faces, +X its left, floor y = 0, height about 1.
"""

from __future__ import annotations

import numpy as np

from tests.mesh.capsule_figures import Mesh, capsule, sphere

# ends and radii of the segments, by eye
MIDDLE = {
    "pelvis": ((-0.05, 0.52, 0), (0.05, 0.52, 0), 0.06),
    "chest": ((0, 0.66, 0), (0, 0.74, 0), 0.09),
    "neck": ((0, 0.80, 0), (0, 0.87, 0), 0.032),
    "head": ((0, 0.90, 0.01), (0, 0.945, 0.01), 0.055),
}
SEGMENTS = {
    "upper_arm": ((0.13, 0.75, 0), (0.20, 0.67, 0), 0.026),
    "forearm": ((0.23, 0.64, 0), (0.30, 0.56, 0), 0.022),
    "hand": ((0.33, 0.53, 0), (0.37, 0.48, 0), 0.018),
    "thigh": ((0.065, 0.45, 0), (0.065, 0.33, 0), 0.04),
    "shank": ((0.065, 0.25, 0), (0.065, 0.08, 0), 0.03),
    "foot": ((0.065, 0.025, -0.01), (0.07, 0.02, 0.09), 0.022),
}
JOINTS = {
    "shoulder": ((0.105, 0.78, 0), 0.03),
    "elbow": ((0.215, 0.655, 0), 0.027),
    "hip": ((0.06, 0.49, 0), 0.036),
    "knee": ((0.065, 0.29, 0), 0.033),
}
COVERS = ("upper_arm", "thigh", "shank")
"""Segments with a cover over them."""
OVER = 0.014
"""How far a cover stands off."""


def jointed_parts(covers: bool = True) -> dict[str, Mesh]:
    """The pieces of the machine by name, with or without its covers."""
    parts = {name: capsule(np.array(a), np.array(b), r, r) for name, (a, b, r) in MIDDLE.items()}
    for side, flip in (("left", 1.0), ("right", -1.0)):
        to_side = np.array([flip, 1.0, 1.0])
        for name, (a, b, r) in SEGMENTS.items():
            ends = np.array(a) * to_side, np.array(b) * to_side
            parts[f"{side}_{name}"] = capsule(*ends, r, r)
            if covers and name in COVERS:
                parts[f"{side}_{name}_cover"] = capsule(*ends, r + OVER, r + OVER)
        for name, (centre, radius) in JOINTS.items():
            parts[f"{side}_{name}"] = sphere(np.array(centre) * to_side, radius)
    return {f"Object{number:03d}": mesh for number, mesh in enumerate(parts.values())}
