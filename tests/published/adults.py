"""Adults of average build from the open dataset, placed once; none of them was tuned on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np

from autoplace.measure.body_limbs import fill_body
from autoplace.measure.leg_shape import LegShape, measure_leg
from autoplace.measure.limbs import find_limbs
from autoplace.measure.trunk_shape import TrunkShape, measure_trunk
from autoplace.pipeline import place
from tests.dataset.bodies import BUILDS, OPEN_BUILDS, OPEN_GROUP, build, spec_of

ADULTS = {
    "young man": ("male", "young"),
    "old man": ("male", "old"),
    "old woman": ("female", "old"),
}
AVERAGE = 4
"""Number of the build with average muscle and average weight."""


@dataclass(frozen=True)
class Adult:
    """What was placed and measured in one body, working frame: fractions of stature."""

    at: dict[str, np.ndarray]
    """(3,) by joint name."""
    trunk: TrunkShape
    leg: LegShape

    def length(self, one: str, other: str) -> float:
        """Distance of two joints."""
        return float(np.linalg.norm(self.at[one] - self.at[other]))

    def phalanges(self, finger: str) -> np.ndarray:
        """(3,) joint to joint from the first joint to the tip, mean of both hands."""
        names = [f"{finger}_{end}" for end in ("1", "2", "3", "tip")]
        return np.array(
            [
                0.5 * sum(self.length(f"{s}_{a}", f"{s}_{b}") for s in ("left", "right"))
                for a, b in pairwise(names)
            ]
        )


@cache
def adult(name: str) -> Adult:
    """One of `ADULTS` in a T-pose, with the mean proportions of its group."""
    group = ADULTS[name]
    assert group != OPEN_GROUP
    assert BUILDS[AVERAGE] not in OPEN_BUILDS
    body = build(spec_of(group, BUILDS[AVERAGE], "t_pose", 0, 0))
    assert (body.spec.muscle, body.spec.weight, body.spec.proportions) == ("average", "average", 0)
    result = place(body.character)
    at = {joint.name: result.frame.to_working(joint.position) for joint in result.skeleton}
    skin = next(part for part in body.character.parts if part.name == "body")
    solid = fill_body(result.frame.to_working(skin.vertices), skin.faces)
    limbs = find_limbs(solid)
    leg = limbs.one("leg", "left")
    assert leg is not None
    return Adult(at, measure_trunk(solid, limbs), measure_leg(solid, leg))
