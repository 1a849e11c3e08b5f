"""Pairs of an old and a new model with known joints: dataset bodies in another shape or pose.

Both bodies of a pair share the dataset's mesh, so that vertices correspond; `TOPOLOGIES` give the
new one another order of vertices or other triangles, so that they do not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from autoplace.mesh.character import Character
from tests.dataset import bodies
from tests.dataset.bodies import Body, build, part_of, spec_of
from tests.dataset.fetch import array
from tests.invariance.states import every_part, reduced, shuffled

__all__ = ["TOPOLOGIES", "Pair", "pairs"]

FEWER = 12_000
"""Triangles of the new model with other triangles; the dataset's body has 26,756."""
TOPOLOGIES = ("same", "shuffled", "fewer")
REACH = 0.8
"""Share taken of the dataset's offsets for longer arms, as `bodies` takes at most."""


@dataclass(frozen=True)
class Pair:
    """A model before and after a change; joints (3,) by name, in each mesh's frame and units."""

    change: str
    old: Body
    new: Body

    def new_mesh(self, topology: str) -> Character:
        """The new model with the old one's mesh, or with another."""
        if topology == "same":
            return self.new.character
        change = every_part(shuffled) if topology == "shuffled" else reduced(FEWER)
        return change(self.new.character, self.new.joints).character


@cache
def pairs(tuning: bool = False) -> tuple[Pair, ...]:
    """The pairs that figures are reported on, or those that may be looked at while tuning.

    Of every change one pair of each of some groups; a pair to tune on has only bodies that may be
    looked at (`bodies.OPEN_BUILDS` and the young women), a pair to report on none of them.
    """
    light, heavy = (
        (("average", "min"), ("average", "max"))
        if tuning
        else (
            ("max", "min"),
            ("max", "max"),
        )
    )
    weak, strong = (
        (("min", "average"), ("max", "average"))
        if tuning
        else (
            ("min", "min"),
            ("max", "min"),
        )
    )
    other = {"female": "male", "male": "male"}
    found = []
    for number, (sex, age) in enumerate(
        (("male", "young"), ("female", "child"), ("male", "old"), ("female", "baby"))
    ):
        group = (sex, age)
        older = (
            other[sex],
            {"young": "old", "child": "young", "old": "child", "baby": "child"}[age],
        )
        seed = (500 if tuning else 0) + number

        def one(
            who: tuple[str, str], built: tuple[str, str], pose: str, turn: int = 0, at: int = seed
        ) -> Body:
            spec = spec_of(who, built, pose, at, turn)
            if spec.tuning != tuning:
                raise ValueError(f"{spec.name} is not of the list that was asked for")
            return build(replace(spec, joined_eyes=False))

        found += [
            Pair("other weight", one(group, light, "rest"), one(group, heavy, "rest")),
            Pair("other muscle", one(group, weak, "a_pose"), one(group, strong, "a_pose")),
            Pair("other age", one(group, light, "rest"), one(older, light, "rest")),
            Pair("own proportions", one(group, light, "rest"), one(group, light, "rest", 1)),
            Pair("longer arms", one(group, heavy, "rest"), longer_arms(one(group, heavy, "rest"))),
            Pair("other pose", one(group, heavy, "t_pose"), one(group, heavy, "arms_down")),
        ]
    return tuple(found)


def longer_arms(body: Body) -> Body:
    """A body in its rest pose with longer upper arms and forearms."""
    vertices = bodies.shaped(body.spec)
    size = np.ptp(vertices[np.unique(array("body_faces")), 1]) / bodies.ADULT
    for kind in ("upper_arm", "forearm"):
        vertices = vertices + REACH * size * array(f"{kind}-incr")
    parts = [part_of("body", ("body",), vertices)]
    parts += [part_of(eye, (eye,), vertices) for eye in ("left_eye", "right_eye")]
    joints: Mapping[str, np.ndarray] = bodies.cube_means(vertices)
    character = Character(name=f"{body.spec.name}_longer_arms", parts=tuple(parts))
    return replace(body, character=character, joints=dict(joints), rest_joints=dict(joints))
