"""A skeleton from joints that are known, with our own hierarchy, oriented by the default."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from autoplace.place.template import load_template
from autoplace.skeleton.model import Joint, Skeleton, Source
from autoplace.skeleton.names import FINGERS, SIDES
from autoplace.skeleton.orient import orient


def known_skeleton(
    joints: Mapping[str, np.ndarray],
    height: float,
    template: str = "adult",
    up: str = "+Y",
    forward: str = "+Z",
) -> Skeleton:
    """Joints (3,) by name, in the frame that `up` and `forward` tell and the units of `height`."""
    fingers = {side: [f for f in FINGERS if f"{side}_{f}_1" in joints] for side in SIDES}
    rows = load_template("adult").joint_list(3, fingers)
    return orient(
        Skeleton(
            tuple(
                Joint(name, parent, np.asarray(joints[name], dtype=np.float64))
                for name, parent in rows
                if name in joints
            ),
            Source(up=up, forward=forward, height=height),
            template,
        )
    )
