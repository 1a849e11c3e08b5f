"""Known skeletons that joints are recognised in: of the invented family and of the open dataset."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from autoplace.skeleton.model import Joint, Skeleton
from meshes.bones import make_bones
from meshes.family import Member, family
from tests.dataset.bones import PARENT

TIPS = ("toe_tip", "head_top", "thumb_tip", "index_tip", "middle_tip", "ring_tip", "pinky_tip")


def skeleton_of(joints: Mapping[str, np.ndarray]) -> Skeleton:
    """A skeleton with the default hierarchy of joints (3,) by name; what is missing is skipped."""

    def above(name: str) -> str | None:
        parent = "head" if name == "middle_eye" else PARENT[name]
        while parent is not None and parent not in joints:
            parent = PARENT[parent]
        return parent

    order: list[str] = []
    while len(order) < len(joints):
        order += [n for n in joints if n not in order and (above(n) is None or above(n) in order)]
    return Skeleton(tuple(Joint(n, above(n), np.asarray(joints[n], float)) for n in order))


def member_skeleton(member: Member) -> Skeleton:
    """The bones of a member of the family, +Y up, facing +Z, height one; no mesh is built."""
    return skeleton_of(make_bones(member.params).joints())


def members(even: bool) -> Iterator[tuple[str, Skeleton]]:
    """Half of the family: those of even number, which may be looked at while tuning, or not."""
    for number, member in enumerate(family()):
        if (number % 2 == 0) == even:
            yield member.name, member_skeleton(member)


def bodies(tuning: bool) -> Iterator[tuple[str, Skeleton]]:
    """Bodies of the open dataset that may be looked at while tuning, or those reported on."""
    from tests.dataset.bodies import build, report_list, tuning_list

    for spec in tuning_list() if tuning else report_list():
        yield spec.name, skeleton_of(build(spec).joints)
