"""Which limb a branch is, seen beside the others: wings, tails, flaps and plates are none."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.belted import are_twins, belted, breadths
from autoplace.measure.limb_record import BAND, CLEAR_OF_FLOOR, Limb, hanging
from autoplace.measure.solid import Solid

__all__ = [
    "HIGHEST_SHOULDER",
    "LOWEST_SHOULDER",
    "leads_as_tail",
    "seen_together",
]

FloatArray = NDArray[np.float64]

LOWEST_SHOULDER, HIGHEST_SHOULDER = 0.3, 0.9
"""Heights between which an arm begins: the head of the humerus is at .79 to .80 of an adult
(references 1.1), .84 at nine heads tall; what begins above is an ear, a horn or a pigtail."""
TWIN_NEAR = 0.04
"""Base and tip of a limb lie this near to the mirror image of its twin's, fraction of height (own
synthetic characters)."""
IN_MIDDLE = 0.03
"""Farthest from the middle plane that a tail begins, fraction of height (common practice, no
source)."""
OVER_SEED = 0.08
"""How far above the trunk's middle a tail begins, at most, fraction of height: half of a trunk of
two heads (common practice, no source)."""


def seen_together(
    limbs: Sequence[Limb], solid: Solid, seed: FloatArray, parting: float | None, neck: float
) -> tuple[Limb, ...]:
    """Branches that were told each by itself, told again beside one another.

    Args:
        limbs: the branches, working frame. solid: the body. seed: (3,) middle of its trunk.
        parting: height at which its legs part, None where that is hidden.
        neck: height of its neck, infinite where none shows.
    """
    limbs = _with_head_aside(list(limbs))
    limbs = _told(limbs, "other", [_is_tail(limb, limbs, seed) for limb in limbs])
    wings = [limb.kind == "arm" and _is_behind(limb, seed) for limb in limbs]
    limbs = _low_arms(_told(limbs, "other", wings), neck)
    # where nothing else is an arm of that side, an arm may be held to the back
    beside = {limb.side for limb in limbs if limb.kind == "arm"}
    held = [w and o.side not in beside for o, w in zip(limbs, wings, strict=True)]
    limbs = _told(limbs, "arm", held)
    limbs, neck = _over_belt(_without_armour(limbs), solid, neck, parting)
    return tuple(_below_neck(limbs, neck))


def _told(limbs: Sequence[Limb], kind: str, chosen: Sequence[bool]) -> list[Limb]:
    """The limbs, those chosen of another kind."""
    return [replace(o, kind=kind) if c else o for o, c in zip(limbs, chosen, strict=True)]


def _among(limbs: Sequence[Limb], some: Sequence[Limb]) -> list[bool]:
    """Which limbs are one of some."""
    return [any(limb is one for one in some) for limb in limbs]


def _with_head_aside(limbs: list[Limb]) -> list[Limb]:
    """The limbs; where none is the head, what leads up to the top of the figure over an arm of its
    side is it: a head that leans looks like an arm that is raised."""
    if any(limb.kind == "head" for limb in limbs):
        return limbs
    top = max((float(limb.cells[:, 1].max()) for limb in limbs), default=0.0)
    arms = [limb for limb in limbs if limb.kind == "arm"]
    for limb in arms:
        under = any(o.side == limb.side and o.line[0, 1] < limb.line[0, 1] for o in arms)
        if under and limb.cells[:, 1].max() > top - BAND and limb.line[-1, 1] > limb.line[0, 1]:
            return [replace(o, kind="head", side=None) if o is limb else o for o in limbs]
    return limbs


def leads_as_tail(line: FloatArray, limbs: Iterable[Limb], seed: FloatArray) -> bool:
    """Does a branch (n, 3) begin in the middle plane, behind the trunk's middle, low on the trunk
    and below the arms, and lead farther behind? A pack, a plume or a braid begins higher, and so
    does a head; a skirt leads down all around."""
    x, y, z = line[0]
    shoulders = [limb.line[0, 1] for limb in limbs if limb.kind == "arm"]
    low = min([seed[1] + OVER_SEED, *shoulders])
    return bool(abs(x) < IN_MIDDLE and line[-1, 2] < z < seed[2] and y < low)


def _is_tail(limb: Limb, limbs: Sequence[Limb], seed: FloatArray) -> bool:
    """Does a limb that leads down like a leg, or up like a head, begin behind the trunk in the
    middle plane, where others are the legs and the head?"""
    if limb.kind not in ("leg", "head") or not leads_as_tail(limb.line, limbs, seed):
        return False
    others = [o for o in limbs if o.kind == limb.kind and o is not limb]
    if limb.kind == "head":
        return any(o.line[0, 1] > limb.line[0, 1] for o in others)
    stand = [o for o in others if o.on_floor]
    beside = {o.side for o in stand if abs(o.line[0, 0]) > abs(limb.line[0, 0])}
    return beside == {"left", "right"}


def _is_behind(limb: Limb, seed: FloatArray) -> bool:
    """Does a limb begin farther behind the trunk's middle than to its side, as a wing or a pack
    does?"""
    return bool(seed[2] - limb.line[0, 2] > abs(limb.line[0, 0]))


def _low_arms(limbs: list[Limb], neck: float) -> list[Limb]:
    """Limbs that reach down like legs but hang outside and above a lower one are arms: those of a
    figure with a large head reach below its knees. What hangs beside the head is no arm yet."""
    arms = {limb.side for limb in limbs if limb.kind == "arm" and limb.line[0, 1] <= neck}
    sorted_out = []
    for limb in limbs:
        legs = [other for other in limbs if other.kind == "leg" and other.side == limb.side]
        if limb.kind == "leg" and limb.side not in arms:
            lowest = min(legs, key=lambda other: float(other.line[-1, 1]))
            above = float(limb.line[-1, 1] - lowest.line[-1, 1]) > CLEAR_OF_FLOOR
            higher = bool(limb.line[0, 1] > lowest.line[0, 1])
            if above and higher and abs(limb.line[0, 0]) > abs(lowest.line[0, 0]):
                limb = replace(limb, kind="arm")
        sorted_out.append(limb)
    return [_like_its_twin(limb, sorted_out) for limb in sorted_out]


def _like_its_twin(limb: Limb, limbs: list[Limb]) -> Limb:
    """What reaches down like a leg and mirrors an arm of the other side is the other arm."""
    if limb.kind != "leg" or any(o.kind == "arm" and o.side == limb.side for o in limbs):
        return limb
    mirrored = limb.line[[0, -1]] * [-1.0, 1.0, 1.0]
    for other in limbs:
        far = np.linalg.norm(other.line[[0, -1]] - mirrored, axis=1).max()
        if other.kind == "arm" and other.side != limb.side and far < TWIN_NEAR:
            return replace(limb, kind="arm")
    return limb


def _without_armour(limbs: list[Limb]) -> list[Limb]:
    """The limbs, no legs what hangs in a pair beside two legs that stand, clear of the floor:
    plates over the thighs and the skirts of a coat lead down like these."""
    legs = [limb for limb in limbs if limb.kind == "leg"]
    if {limb.side for limb in legs if limb.on_floor} != {"left", "right"}:
        return limbs
    clear = [limb for limb in legs if not limb.on_floor]
    hung = [
        limb for limb in clear if any(are_twins(hanging(limb), hanging(other)) for other in clear)
    ]
    return _told(limbs, "other", _among(limbs, hung))


def _over_belt(
    limbs: list[Limb], solid: Solid, neck: float, parting: float | None
) -> tuple[list[Limb], float]:
    """The limbs, what hangs from a belt no arms, and the neck's height, unknown where what passed
    for it is below the arms."""
    arms = [limb for limb in limbs if limb.kind == "arm"]
    outlines = [hanging(limb) for limb in arms]
    hung = belted(outlines, outlines, solid, neck, parting)
    flaps = [limb for limb, low in zip(arms, hung, strict=True) if low]
    if not flaps:
        return limbs, neck
    arms = [limb for limb, low in zip(arms, hung, strict=True) if not low]
    waist = neck < np.inf and min((limb.line[0, 1] for limb in arms), default=0.0) > neck
    limbs = _told(limbs, "other", _among(limbs, flaps))
    return limbs, _throat_over(arms, solid) if waist else neck


def _throat_over(arms: list[Limb], solid: Solid) -> float:
    """Height of the narrowest place over the arms that reach farthest."""
    farthest = max(arms, key=lambda limb: hanging(limb).reach)
    y, _, _, clear = breadths(solid)
    above = y > farthest.line[0, 1]
    if not above.any():
        return np.inf
    return float(y[np.argmax(np.where(above, clear, 0.0))])


def _below_neck(limbs: list[Limb], neck: float) -> list[Limb]:
    """Of several arms on a side only those that begin below the neck: the cheek plates of a helmet
    and ears that hang are none."""
    arms = [limb for limb in limbs if limb.kind == "arm"]
    low = {limb.side for limb in arms if limb.line[0, 1] <= neck and not _on_another(limb, arms)}
    high = [limb for limb in arms if limb.side in low and limb.line[0, 1] > neck]
    return _told(limbs, "other", _among(limbs, high))


def _on_another(limb: Limb, arms: list[Limb]) -> bool:
    """Does a limb leave an arm and not the trunk, as a finger does?"""
    lines = [arm.line for arm in arms if arm is not limb]
    return any(np.linalg.norm(line - limb.junction, axis=1).min() < BAND for line in lines)
