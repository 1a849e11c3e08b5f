"""A joint whose place was decided instead of measured, and the way back to where it was placed.

Its evidence begins with what decided, weight one, and 'placed_anew', weight none: where it would be
placed, and with what spread. The evidence of placing follows; its weights are divided by `ASIDE`,
so that they count for nothing and come back to the last bit.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.model import Evidence, Joint

__all__ = ["DECIDING", "as_placed", "decided"]

FloatArray = NDArray[np.float64]

ASIDE = 2.0**30
"""What weights are divided by where something else decided: a power of two, which only changes the
exponent, and so large that they stay shares of nothing."""
DECIDING = ("corrected", "confirmed", "kept")
"""Kinds of evidence that decide: a person moved the joint, or locked it where it was placed, or it
was carried over from an earlier model."""
ANEW = "placed_anew"


def decided(
    placed: Joint, kind: str, position: FloatArray, spread: float, note: str, *, locked: bool
) -> Joint:
    """The joint at a place that was decided; axes are left as they are.

    Args:
        placed: the joint as placed.
        kind: one of `DECIDING`.
        position: (3,), frame and units of the joint.
        spread: one standard deviation of that place, same units.
        note: what decided, in plain words.
        locked: whether a person wants it kept.
    """
    evidence = (
        Evidence(kind, position, spread, 1.0, note),
        Evidence(ANEW, placed.position, placed.spread, 0.0, "where it would be placed"),
        *(replace(e, weight=e.weight / ASIDE) for e in placed.evidence),
    )
    return replace(placed, position=position, spread=spread, locked=locked, evidence=evidence)


def as_placed(joint: Joint) -> Joint:
    """The joint as its evidence says that it was placed, not locked; itself if it is that.

    Where nothing says it, it stays where it stands.
    """
    kinds = [evidence.kind for evidence in joint.evidence[:2]]
    if len(kinds) == 2 and kinds[0] in DECIDING and kinds[1] == ANEW:
        anew = joint.evidence[1]
        before = tuple(replace(e, weight=min(e.weight * ASIDE, 1.0)) for e in joint.evidence[2:])
        return replace(
            joint, position=anew.position, spread=anew.spread, locked=False, evidence=before
        )
    return replace(joint, locked=False) if joint.locked else joint
