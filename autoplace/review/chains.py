"""Which joints of a skeleton make up one chain on the page."""

from __future__ import annotations

from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import family, finger_of, metacarpal_of, side_of
from autoplace.skeleton.respacing import is_of_chain

__all__ = ["column_joints", "whole_chain"]

GROUPS = {
    "trunk": "column",
    "head": "column",
    "clavicle": "arm",
    "arm": "arm",
    "hand": "arm",
    "leg": "leg",
    "foot": "leg",
    "eye": "eye",
}
"""Family of a joint -> the chain that it is shown with."""


def column_joints(skeleton: Skeleton, chain: str) -> tuple[str, ...]:
    """The joints of the 'spine' (the chest counted) or the 'neck', in order."""
    return tuple(name for name in skeleton.names if is_of_chain(name, chain))


def whole_chain(skeleton: Skeleton, name: str) -> tuple[str, ...]:
    """The joints that belong to one limb, finger or the column with this one, itself included."""
    wanted = _chain(name)
    if wanted is None:
        return (name,)
    return tuple(other for other in skeleton.names if _chain(other) == wanted)


def _chain(name: str) -> tuple[str | None, str] | None:
    finger = finger_of(name) or metacarpal_of(name)
    group = finger or GROUPS.get(family(name) or "")
    return None if group is None else (side_of(name), group)
