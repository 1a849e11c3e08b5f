"""What a figure wears, and the parts this makes of it."""

from __future__ import annotations

from collections.abc import Callable

from .bones import FRONT, UP
from .clothes import breeches, cuffs, jersey, shorts, tee, trousers, tunic
from .combine import Blend, Keep
from .outerwear import belt, cloak, cloak_floor, scarf, waistcoat
from .robot import robot_parts
from .shapes import HalfSpace, Loft, Shape
from .skirts import cape, coat, gown, skirt, skirt_floor, skirt_long
from .wearer import Wearer

__all__ = ["GARMENTS", "dressed"]

GARMENTS: dict[str, tuple[str, Callable[[Wearer], Shape], float]] = {
    "belt": ("belt", belt, 0.05),
    "breeches": ("body", breeches, 0.0),
    "cape": ("cape", cape, 0.10),
    "cloak": ("cloak", cloak, 0.20),
    "cloak_floor": ("cloak", cloak_floor, 0.20),
    "coat": ("coat", coat, 0.22),
    "cuffs": ("body", cuffs, 0.0),
    "gown": ("gown", gown, 0.22),
    "jersey": ("body", jersey, 0.0),
    "scarf": ("scarf", scarf, 0.10),
    "shorts": ("shorts", shorts, 0.08),
    "skirt": ("skirt", skirt, 0.10),
    "skirt_floor": ("skirt", skirt_floor, 0.14),
    "skirt_long": ("skirt", skirt_long, 0.12),
    "tee": ("shirt", tee, 0.14),
    "trousers": ("body", trousers, 0.0),
    "tunic": ("body", tunic, 0.0),
    "waistcoat": ("waistcoat", waistcoat, 0.16),
}


_CLOTHES = 0.3
"""Share of the face budget for clothes that belong to the body where the body has no skin part."""


def dressed(who: Wearer) -> dict[str, tuple[Shape, float]]:
    """The parts of the figure by name: shape and share of the face budget.

    A garment whose part is "body" becomes one skin with it.
    """
    parts: dict[str, tuple[Shape, float]] = {}
    skin = who.params.skin
    if skin == "robot":
        parts = robot_parts(who)
    elif skin in ("one", "gloves"):
        parts["body"] = (who.whole(hands=skin == "one"), 1.0)
        if skin == "gloves":
            for i, side in enumerate(("left", "right")):
                parts[f"{side}_hand"] = (who.hands[i], 0.14)
    else:
        collar = who.bones.trunk["neck"] - 0.035 * UP
        core = Blend([who.trunk, who.neck_and_head()], 0.020)
        parts["head"] = (Keep(Keep(core, HalfSpace(collar, -UP), 0.01), _tall(who), 0.006), 0.40)
        for i, side in enumerate(("left", "right")):
            a, b = who.along_arm(i, 0.30), who.along_arm(i, 0.0)
            parts[f"{side}_arm"] = (Keep(who.arm(i), HalfSpace(a, b - a), 0.006), 0.16)
        for i, side in enumerate(("left", "right")):
            a, b = who.along_leg(i, 0.30), who.along_leg(i, 0.0)
            parts[f"{side}_leg"] = (Keep(who.leg(i), HalfSpace(a, b - a), 0.006), 0.12)
    for name in who.params.outfit:
        part, maker, share = GARMENTS[name]
        shape = maker(who)
        part = part if part != "body" or skin != "robot" else "clothes"
        if part in parts:
            old, old_share = parts[part]
            parts[part] = (Blend([old, shape], 0.0), old_share)
        else:
            parts[part] = (shape, share or _CLOTHES)
    return parts


def _tall(who: Wearer) -> Shape:
    """A column that holds head and neck but not the shoulders."""
    neck, r = who.bones.trunk["neck"], 0.050 * who.params.neck_girth
    h = 0.6 * who.bones.head.scale
    rows = [[t, 0, 0, v, v, v, v] for t, v in ((0, r), (0.10, r), (0.30, h), (1.0, h))]
    return Loft(neck - 0.06 * UP, neck + 1.6 * who.bones.head.scale * UP, FRONT, rows)
