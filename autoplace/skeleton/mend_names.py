"""Gives joints the side in their names that they lie on, where no other reading is possible."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.checks.figure import Figure
from autoplace.skeleton.checks.sides import below, faces_otherwise, swapped_tops
from autoplace.skeleton.mend_record import Change, Mended
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.names import family, mirror_name, side_of

__all__ = ["rename_doubles", "rename_swapped"]

FloatArray = NDArray[np.float64]

POSED = ("hand", "metacarpal", "finger", "foot")
"""Families that a pose may carry to the other side."""


def rename_doubles(skeleton: Skeleton, body: FloatArray) -> Mended:
    """Of two joints with one name on either side, the one on the other side takes the other name.

    Only where nothing has that name yet. What hangs from it goes with it: joints whose name has its
    new side.
    """
    counts = Counter(skeleton.names)
    middle = _middle(skeleton, body)
    joints, changes = list(skeleton.joints), []
    for name, count in counts.items():
        side, other = side_of(name), mirror_name(name)
        if count != 2 or side is None or other in counts or middle is None:
            continue
        both = [k for k, joint in enumerate(joints) if joint.name == name]
        own = 1.0 if side == "left" else -1.0
        astray = [k for k in both if own * (joints[k].position @ body[0] - middle) < 0]
        if len(astray) != 1:
            continue
        joints[astray[0]] = replace(joints[astray[0]], name=other)
        changes.append(
            Change(
                other,
                "name",
                f"a second '{name}', on the {side_of(other)}",
                f"'{other}'",
                f"one of the two lies on the {side_of(other)}, and no joint has that name",
            )
        )
        for k, joint in enumerate(joints):
            if joint.parent == name and side_of(joint.name) == side_of(other):
                joints[k] = replace(joint, parent=other)
    return Mended(skeleton.with_joints(tuple(joints)), tuple(changes))


def rename_swapped(skeleton: Skeleton, figure: Figure) -> Mended:
    """Limbs that lie wholly on the other side than their names say get the other side's names."""
    if faces_otherwise(figure):
        return Mended(skeleton, ())  # where it faces is wrong, not the names
    names: dict[str, str] = {}
    for top in swapped_tops(figure):
        pair = [n for n in (top, mirror_name(top)) if n in figure.index]
        limb = {name for end in pair for name in below(figure, end) if side_of(name)}
        if not _wholly(figure, limb):
            continue
        new = {name: mirror_name(name) for name in limb}
        if set(new.values()) & (figure.index.keys() - limb):
            continue  # a name that another joint has
        names |= new
    if not names:
        return Mended(skeleton, ())
    joints = tuple(_renamed(joint, names) for joint in skeleton)
    changes = tuple(
        Change(
            names[joint.name],
            "name",
            f"'{joint.name}'",
            f"'{names[joint.name]}'",
            f"the whole limb lies on the {side_of(names[joint.name])}",
        )
        for joint in skeleton
        if joint.name in names
    )
    return Mended(skeleton.with_joints(joints), changes)


def _wholly(figure: Figure, limb: set[str]) -> bool:
    """Whether every joint of a limb that no pose carries across lies on the other side."""
    for name in limb:
        if family(name) in POSED:
            continue
        own = 1.0 if side_of(name) == "left" else -1.0
        if own * float(figure.place(name)[0] - figure.middle) >= 0:
            return False
    return True


def _renamed(joint: Joint, names: dict[str, str]) -> Joint:
    return replace(
        joint,
        name=names.get(joint.name, joint.name),
        parent=names.get(joint.parent or "", joint.parent),
        aim=names.get(joint.aim or "", joint.aim),
    )


def _middle(skeleton: Skeleton, body: FloatArray) -> float | None:
    """Where the middle plane lies along the character's left: at joints without a side."""
    places = [float(j.position @ body[0]) for j in skeleton if family(j.name) in ("trunk", "head")]
    return float(np.median(places)) if places else None
