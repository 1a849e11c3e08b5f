"""Parents for joints that hang side by side from one node, as some skins list them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.skeleton.names import family, finger_of, metacarpal_of, side_of, stem, twist_of
from autoplace.skeleton.roles.words import read_names

__all__ = ["is_flat", "parents_by_names"]

IntArray = NDArray[np.int64]

LEAST_FLAT = 5
"""Fewer joints side by side may be what they are."""
ARM = ("clavicle", "shoulder", "elbow", "wrist")
LEG = ("hip", "knee", "ankle", "ball", "toe_tip")
COLUMN = 12
"""More joints than any spine or neck of ours has."""


def is_flat(parents: IntArray) -> bool:
    """Whether the joints hang from no joint at all."""
    return len(parents) >= LEAST_FLAT and bool(np.all(parents < 0))


def parents_by_names(names: Sequence[str]) -> list[int]:
    """Parents (-1 for none) of joints named as ours or as in HAnim or WebXR, in any order.

    Raises SkeletonError when a joint's name does not tell where it hangs.
    """
    ours = [reading.whole for reading in read_names(names)]
    place_of = {name: place for place, name in enumerate(ours) if name}
    if len(place_of) < len(names):
        silent = [n for n, o in zip(names, ours, strict=True) if o is None]
        raise SkeletonError(
            f"its {len(names)} joints hang side by side, and the names of {len(silent)} of them, "
            f"such as '{(silent or list(names))[0]}', do not tell how they belong together: give "
            "the joints parents, or names of ISO/IEC 19774-1 or WebXR."
        )
    parents = []
    for name in ours:
        assert name is not None
        above = (place_of[a] for a in _above(name) if a in place_of)
        parents.append(next(above, -1))
    return parents


def _above(name: str) -> Iterator[str]:
    """Joints that one of this name may hang from, the nearest first."""
    side, base = side_of(name), stem(name)
    lead = f"{side}_" if side else ""
    bone = twist_of(name)
    if bone:
        yield bone
        return
    finger = finger_of(name) or metacarpal_of(name)
    if side is None and finger is None:  # a hand alone has names without a side
        sided = f"left_{name}"
        finger = finger_of(sided) or metacarpal_of(sided)
    if finger:
        row = ["metacarpal", "1", "2", "3", "tip"]
        part = base.rsplit("_", 1)[-1]
        yield from (f"{lead}{finger}_{p}" for p in row[: row.index(part)][::-1])
        yield from (f"{lead}{p}" for p in ("wrist", "elbow", "shoulder", "clavicle"))
        return
    for limb, root in ((ARM, ()), (LEG, ("pelvis",))):
        if base in limb:
            yield from (f"{lead}{part}" for part in limb[: limb.index(base)][::-1])
            yield from root
    column = ["head", *(f"neck_{n}" for n in range(COLUMN, 1, -1)), "neck", "chest"]
    column += [*(f"spine_{n}" for n in range(COLUMN, 0, -1)), "pelvis"]
    if base in column:
        yield from column[column.index(base) + 1 :]
    elif base in ARM:
        yield from column[column.index("chest") :]
    elif family(name) in ("head", "eye"):
        yield from column
