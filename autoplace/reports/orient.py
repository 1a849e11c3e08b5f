"""What orienting a skeleton did, as plain data for a person or a program."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from autoplace.skeleton.aims import find_bones
from autoplace.skeleton.angles import angles_between, turn_angle
from autoplace.skeleton.bend_axes import find_bend_axes
from autoplace.skeleton.convention import DEFAULT, recorded
from autoplace.skeleton.hinge import Hinge
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import family
from autoplace.skeleton.orient import body_directions, in_body_directions
from autoplace.skeleton.structure import parent_indices

__all__ = ["orient_report"]

TURNED = 0.01
"""Degrees; axes that turned by less are as they were (common practice, no source)."""


def orient_report(
    before: Skeleton, after: Skeleton, own_names: Mapping[str, str] | None = None
) -> dict[str, Any]:
    """How many joints turned and by how much, and what each hinge and the spine were found from.

    Args:
        before: the skeleton as it came. after: the same joints, oriented.
        own_names: our names to the file's, for the joints named in the report.

    Returns:
        `convention`, `up`, `forward`; `joints`, `turned`, `farthest`; `hinges` by joint or finger:
        how far the chain is bent (degrees), which share of the axis its own shape decided, and
        `facing` if the convention decided instead; `spine_axes`: the largest angle between two
        bend axes of the trunk, degrees.
    """
    shown = own_names or {}
    convention = recorded(after.settings) or DEFAULT
    parents = parent_indices(after)
    local = in_body_directions(after, body_directions(after))
    bones = find_bones(local, parents, local.positions(), convention.aims)
    bends = find_bend_axes(local, parents, local.positions(), bones)
    turns = {
        b.name: float(turn_angle(np.asarray(b.axes) @ np.asarray(a.axes).T))
        for a, b in zip(before, after, strict=True)
    }
    farthest = max(turns, key=lambda name: turns[name])
    hinges = {}
    for name, hinge in {**bends.limbs, **bends.fingers}.items():
        joint = name if name in after else f"{name}_1"
        hinges[shown.get(name, name)] = _hinge(hinge, convention.facing_of(joint))
    trunk = [j.axes for j in after if family(j.name) == "trunk"]
    axes = convention.hinge(np.array(trunk)) if trunk else np.zeros((0, 3))
    apart = angles_between(axes[:, None], axes[None])
    record = after.settings["orientation"]
    return {
        "convention": convention.as_dict(),
        "up": record["up"],
        "forward": record["forward"],
        "joints": len(after),
        "turned": sum(turn > TURNED for turn in turns.values()),
        "farthest": {"joint": shown.get(farthest, farthest), "degrees": turns[farthest]},
        "hinges": hinges,
        "spine_axes": float(apart.max()) if trunk else None,
    }


def _hinge(hinge: Hinge, facing: str) -> dict[str, Any]:
    data: dict[str, Any] = {
        "bent": float(np.degrees(hinge.turn)),
        "own_share": hinge.trust,
        "off_expected": float(np.degrees(hinge.off)),
    }
    return data if facing == "flex" else {**data, "facing": facing}
