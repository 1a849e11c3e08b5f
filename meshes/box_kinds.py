"""Kinds that only the wilder deals of the box family hold, those from `FIRST` on: with the weapon
welded to the hand, cloaked to the floor, winged, squat, leaning, arms close to or in the trunk.

The family that is reported on stays what it is; these are dealt beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .box_bones import BoxBones, BoxParams

__all__ = [
    "BELTED",
    "BELTED_DECKS",
    "FIRST",
    "TUNICS",
    "TUNIC_DECKS",
    "WILD_DECKS",
    "WILD_TRAITS",
    "lean_of",
    "leaning",
    "turned_head",
    "wild",
    "wild_params",
]

FloatArray = NDArray[np.float64]
FIRST = 4
"""The first deal with these kinds."""
WILD_DECKS: dict[str, dict[str, int]] = {
    "top": {"bare": 3, "hair_block": 2, "hair_cards": 2, "hood": 3, "brim": 2, "crown": 2,
            "great_horns": 2, "helmet": 1, "hanging_ears": 1},
    "worn": {"nothing": 8, "cape_floor": 3, "cape_round": 1, "coat": 2, "jacket": 2, "gown": 2,
             "robe_sleeves": 2},
    "plates": {"none": 6, "yoke": 2, "pauldrons": 2},
    "carries": {"nothing": 7, "welded sword": 3, "welded staff": 2, "welded shield": 2,
                "sword": 1},
    "pose": {"t": 2, "a": 3, "close": 3, "fused": 2, "idle": 3, "step": 2, "hip": 3, "squat": 1},
    "also": {"nothing": 4, "wings_few": 2, "wings_many": 2, "sword_back": 1, "shield_back": 1,
             "quiver": 1, "bag": 2, "pouches": 1, "beard": 2, "gloves": 2, "boots": 2,
             "long_tail": 2},
    "stature": {"ordinary": 5, "stub": 1},
}  # fmt: skip
"""Kinds of traits with their shares, in the place of the family's or beside them."""
BELTED = 7
"""The first deal with these kinds besides: broad of chest over a narrow waist, with what hangs from
a belt there."""
BELTED_DECKS: dict[str, dict[str, int]] = WILD_DECKS | {
    "also": {"nothing": 2, "flaps": 4, "loincloth": 3, "pouches": 1, "wings_few": 1, "boots": 1},
    "pose": {"t": 2, "a": 5, "close": 1, "idle": 2, "step": 1, "hip": 1},
    "worn": {"nothing": 8, "cape_floor": 1, "coat": 1},
    "waist": {"ordinary": 2, "narrow": 4},
    "beast": {"no": 3, "hunched": 2},
}
TUNICS = 44
"""The first deal of figures of one skin with a tunic over bare thighs or trousers, and without."""
TUNIC_DECKS: dict[str, dict[str, int]] = {
    "build": {"one": 1},
    "heads": {"2": 2, "3": 3, "4": 2, "5": 2, "6": 3, "7": 5, "8": 3},
    "tunic": {"none": 2, "over trousers": 3, "over bare thighs": 4},
    "top": {"bare": 4, "hair_block": 3, "hair_cards": 2, "helmet": 3, "brim": 1, "hood": 1},
    "worn": {"nothing": 7, "cape": 2, "cape_short": 1},
    "pose": {"t": 3, "a": 5, "down": 2, "close": 1, "idle": 2, "step": 1, "hip": 1},
    "also": {"nothing": 1},
    "stature": {"ordinary": 1},
}
WILD_TRAITS = ("also", "stature")
_TO_FLOOR = ("gown", "robe_sleeves", "cape_round")


def wild(traits: dict[str, str]) -> dict[str, str]:
    """The traits with what cannot go together put right."""
    t = dict(traits)
    if t["worn"] in _TO_FLOOR and t["pose"] in ("squat", "step", "t"):
        t["pose"] = "hip"
    if t["worn"] in ("coat", "robe_sleeves") and t["pose"] == "squat":
        t["pose"] = "a"
    if t["carries"].endswith(("sword", "staff")) or t["also"] == "gloves":
        t["hands"] = "fist"
    if t["pose"] in ("close", "fused") and t["carries"].endswith("staff"):
        t["pose"] = "idle"
    if t["pose"] in ("close", "fused", "hip") and t["girth"] == "broad":
        t["girth"] = "ordinary"
    if t["worn"] in ("cape_floor", "cape_round") and t["also"] not in ("beard", "gloves", "bag"):
        t["also"] = "nothing"
    if t["build"] == "robot":
        t.update(also="nothing" if t["also"] in ("beard", "boots") else t["also"], worn="nothing")
        t["top"] = "bare"
    if t["stature"] == "stub":
        t.update(heads="2", neck="none")
    return t


def wild_params(p: BoxParams, t: Mapping[str, str], rng: np.random.Generator) -> BoxParams:
    """The figure with the stature and pose of its kinds."""
    if t["stature"] == "stub":
        short = rng.uniform(0.5, 0.7)
        p = replace(p, upper_arm=short * p.upper_arm, forearm=short * p.forearm,
                    hand_length=0.8 * p.hand_length)  # fmt: skip
    if t.get("waist") == "narrow":
        chest, thin = rng.uniform(1.1, 1.35), rng.uniform(0.55, 0.8)
        p = replace(p, waist=(thin * p.waist[0], thin * p.waist[1]),
                    chest=(chest * p.chest[0], chest * p.chest[1]),
                    shoulder_x=chest * p.shoulder_x)  # fmt: skip
    if t.get("tunic", "none") != "none":
        bare = t["tunic"] == "over bare thighs"
        p = replace(p, hem=(rng.uniform(0.35, 0.95), rng.uniform(1.1, 1.4) if bare else
                            rng.uniform(1.0, 1.08)))  # fmt: skip
    if t.get("beast") == "hunched":
        p = replace(p, neck=0.9 * p.head_half[0] / p.heads, neck_gap=0.0)
    base = replace(p.left, elbow_in=0.0)
    pose = t["pose"]
    left, right = p.left, p.right
    if pose in ("close", "fused"):
        raised = rng.uniform(3.0, 9.0) if pose == "close" else rng.uniform(0.0, 4.0)
        left = right = replace(base, arm_raise=raised, elbow=rng.uniform(0.0, 15.0))
        inner = max(p.chest[0], p.seat[0], p.waist[0])
        away = inner + 0.9 * p.arm if pose == "close" else inner + 0.2 * p.arm
        p = replace(p, shoulder_x=away)
    bent = replace(base, arm_raise=rng.uniform(15, 30), elbow=rng.uniform(60, 100))
    hangs = replace(base, arm_raise=rng.uniform(14, 24), elbow=rng.uniform(5, 20))
    if pose == "idle":
        left = replace(hangs, leg_out=rng.uniform(2, 5), knee=0.0)
        right = replace(bent, leg_out=rng.uniform(8, 14), thigh_forward=rng.uniform(8, 15),
                        knee=rng.uniform(15, 25))  # fmt: skip
    if pose == "step":
        left = replace(hangs, thigh_forward=rng.uniform(18, 30), knee=rng.uniform(0, 10))
        right = replace(hangs, thigh_forward=-rng.uniform(6, 14), knee=rng.uniform(10, 25),
                        arm_forward=rng.uniform(10, 25))  # fmt: skip
    if pose == "hip":
        right = replace(base, arm_raise=rng.uniform(38, 50), elbow=rng.uniform(80, 100),
                        elbow_in=rng.uniform(60, 75))  # fmt: skip
        left = hangs
    if rng.random() < 0.5:
        left, right = right, left
    return replace(p, left=left, right=right)


def lean_of(t: Mapping[str, str], seed: int) -> tuple[float, float]:
    """Sideways lean of the trunk and turn of the head, in degrees."""
    rng = np.random.default_rng([seed, 7])
    lean, turn = rng.uniform(-5.0, 5.0), rng.uniform(-35.0, 35.0)
    return (lean, turn) if t["pose"] in ("idle", "step") else (0.0, 0.0)


def leaning(points: FloatArray, hip: float, degrees: float) -> FloatArray:
    """Points (n, 3) above the hips put aside as the trunk leans."""
    moved = points.copy()
    moved[:, 0] += np.tan(np.radians(degrees)) * np.maximum(points[:, 1] - hip, 0.0)
    return moved


def turned_head(points: FloatArray, bones: BoxBones, degrees: float) -> FloatArray:
    """Points (n, 3) above the chin turned about the neck, those below by ever less; only what is
    as near to the neck as the head is."""
    low = float(bones.trunk["neck"][1]) - 0.005
    share = np.clip((points[:, 1] - low) / max(bones.chin - low, 1e-6), 0.0, 1.0)
    a = np.radians(degrees) * share
    x, z = points[:, 0], points[:, 2]
    return np.stack([np.cos(a) * x + np.sin(a) * z, points[:, 1], np.cos(a) * z - np.sin(a) * x], 1)
