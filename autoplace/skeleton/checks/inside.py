"""Do the joints lie inside the body, and do the feet stand on the floor?"""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.checks.figure import Figure, Limit, finding, percent
from autoplace.skeleton.model import Finding
from autoplace.skeleton.names import SIDES, family, is_tip, stem

__all__ = ["check_floor", "check_inside"]

OUTSIDE = Limit(0.002, "height", "common practice: what a grid of 1/250 of the height can tell")
TIP_OUTSIDE = Limit(0.01, "height", "common practice: a tip helper marks an end, it turns nothing")
MOUTH = Limit(0.012, "height", "common practice: half the width of a mouth, modelled inside")
"""For head and neck, which a mouth with a throat reaches and then leaves outside the body."""
BY_THE_MOUTH = ("head", "neck")
SHALLOW = Limit(0.005, "height", "common practice: half of what lies over an ankle or elbow")
DEEP = ("trunk", "arm", "wrist", "leg", "ankle")
"""Families and joints for which it counts: fingers and toes are hardly thicker than twice this, and
the inner end of the clavicle lies under the skin."""
LEAST_REACH = 0.001
"""Of the height, how much farther than twice its depth the outside is looked for around a joint
(common practice, no source)."""
STEPS = np.stack(np.meshgrid(*[[-1.0, 0.0, 1.0]] * 3), axis=-1).reshape(-1, 3)
AROUND = np.array([step / np.linalg.norm(step) for step in STEPS if np.any(step)])
"""(26, 3) unit directions, to the faces, edges and corners of a cube; none is farther than 28
degrees from one of them."""
BESIDE = (0.15, 0.3)
"""Shares of the bones above and below a joint where the limb's thickness is looked at."""
THIN = 0.6
"""A joint is shallow that lies less than so much as deep as the bones beside it; in a thin limb all
of it is near the surface (common practice, no source)."""
FLOOR = Limit(0.05, "height", "common practice: three times the height of a metatarsal head")
UNDER_FLOOR = Limit(0.005, "height", "common practice: below what sole thickness hides")


def check_inside(figure: Figure) -> list[Finding]:
    """Joints under the surface, and how deep; tips may stand on it.

    Eye joints are passed over: they lie in the eyeball, which is often a separate part in an open
    socket, outside the body's own skin.
    """
    if figure.depth_at is None:
        return []
    depth = np.asarray(figure.depth_at(figure.own_positions), dtype=np.float64).reshape(-1)
    found: list[Finding] = []
    for joint, under in zip(figure.skeleton, depth.tolist(), strict=True):
        kind = family(joint.name)
        if kind is None or kind == "eye":
            continue
        tip = is_tip(joint.name)
        mouth = not tip and joint.name.split("_")[0] in BY_THE_MOUTH
        limit = TIP_OUTSIDE if tip else MOUTH if mouth else OUTSIDE
        deep = not mouth and (kind in DEEP or stem(joint.name) in DEEP)
        deep = deep and not figure.skeleton.source.part  # a wrist where the mesh is cut off
        if not np.isfinite(under):
            found.append(
                finding(
                    "inside_body",
                    joint.name,
                    "note",
                    f"How deep '{joint.name}' lies could not be measured.",
                    "Look at it in the pictures.",
                )
            )
        elif under < -limit.value:
            found.append(
                finding(
                    "inside_body",
                    joint.name,
                    "warning" if tip else "error",
                    f"'{joint.name}' lies {percent(-under)} outside the body; the limit is "
                    f"{limit}.",
                    "Move it into the limb, to where the flesh turns.",
                    under,
                    Limit(-limit.value, limit.unit, limit.source),
                )
            )
        elif under < SHALLOW.value and deep and _by_the_skin(figure, joint.name, under):
            found.append(
                finding(
                    "inside_body",
                    joint.name,
                    "note",
                    f"'{joint.name}' lies only {percent(max(under, 0.0))} under the surface, much "
                    f"less than the bones beside it; the limit is {SHALLOW}.",
                    "Check that it stands where the limb turns.",
                    under,
                    SHALLOW,
                )
            )
    return found


def _by_the_skin(figure: Figure, name: str, under: float) -> bool:
    """Whether a joint `under` heights deep is near the outside, and its limb is not thin.

    Where pieces of a body overlap, a surface may lie inside it, such as the end of a glove in a
    sleeve: beyond that it is inside again.
    """
    if figure.depth_at is None:
        return False
    i = figure.index[name]
    here, ends = figure.own_positions[i], (int(figure.parents[i]), int(figure.bones.target[i]))
    reach = (2.0 * max(under, 0.0) + LEAST_REACH) * figure.height
    if not np.any(figure.depth_at(here + reach * AROUND) < 0.0):
        return False
    beside = [
        here + share * (figure.own_positions[end] - here)
        for end in ends
        if end >= 0
        for share in BESIDE
    ]
    if not beside:
        return True
    return under < THIN * float(np.nanmax(figure.depth_at(np.array(beside))))


def check_floor(figure: Figure) -> list[Finding]:
    """Balls and toes near the floor, none under it."""
    if figure.floor is None:
        return []
    found: list[Finding] = []
    names = [f"{s}_{b}" for s in SIDES for b in ("ball", "toe_tip") if f"{s}_{b}" in figure.index]
    heights = {n: (float(figure.place(n)[1]) - figure.floor) / figure.height for n in names}
    standing = [n for n, above in heights.items() if above <= FLOOR.value]
    for name, above in heights.items():
        if above < -UNDER_FLOOR.value:
            found.append(
                finding(
                    "on_floor",
                    name,
                    "error",
                    f"'{name}' lies {percent(-above)} under the floor; the limit is {UNDER_FLOOR}.",
                    "Raise it into the foot.",
                    above,
                    Limit(-UNDER_FLOOR.value, UNDER_FLOOR.unit, UNDER_FLOOR.source),
                )
            )
        elif above > FLOOR.value:
            found.append(
                finding(
                    "on_floor",
                    name,
                    "note" if standing else "warning",
                    f"'{name}' lies {percent(above)} above the floor; the limit is {FLOOR}.",
                    "Nothing, if that foot is lifted; else lower it into the foot.",
                    above,
                    FLOOR,
                )
            )
    return found
