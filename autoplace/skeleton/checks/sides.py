"""Do the joints named left lie on the character's left, and does it face where it is said to?"""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.checks.figure import Figure, Limit, finding, percent
from autoplace.skeleton.model import Finding
from autoplace.skeleton.names import SIDES, family, mirror_name, side_of

__all__ = ["below", "check_facing", "check_sides", "faces_otherwise", "swapped_tops"]

SIDES_APART = Limit(0.0, "height", "by the meaning of the names")
UPRIGHT = Limit(
    0.5, "", "common practice: a figure is modelled standing, bent by less than 60 degrees"
)
TOPS = ("clavicle", "shoulder", "hip", "eye")
"""Pairs that no pose crosses, each the top of what hangs from it."""
LIMBS = {"elbow": "arms", "wrist": "arms", "knee": "legs", "ankle": "legs"}
"""Pairs that a pose may cross."""
BACKWARD = Limit(
    0.5, "", "common practice: a foot turned out by more than 60 degrees points nowhere"
)


def check_facing(figure: Figure) -> list[Finding]:
    """The trunk stands upright, and the feet do not point backward with the sides crosswise."""
    upright = _upright(figure)
    if upright is not None and upright < UPRIGHT.value:
        how = "hangs upside down" if upright < -UPRIGHT.value else "lies"
        return [
            finding(
                "facing",
                None,
                "warning",
                f"The trunk {how}: from hips to head it goes up by {upright:.2f} of its length; "
                f"the least is {UPRIGHT}.",
                f"Nothing, if the figure {how}; else say where up is with --up.",
                upright,
                UPRIGHT,
            )
        ]
    if not faces_otherwise(figure):
        return []
    toes = _toes_forward(figure)
    return [
        finding(
            "facing",
            None,
            "error",
            f"The feet point backward ({toes:.2f} of their length forward; the limit is "
            f"-{BACKWARD}) and what is named left lies on the right: the character faces the "
            "other way than is said.",
            "Say where it faces with --forward.",
            toes,
            Limit(-BACKWARD.value, "", BACKWARD.source),
        )
    ]


def faces_otherwise(figure: Figure) -> bool:
    """Whether the trunk, or the feet and the sides of all pairs, contradict up and forward."""
    upright = _upright(figure)
    if upright is not None and upright < UPRIGHT.value:
        return True
    toes = _toes_forward(figure)
    pairs = [_apart(figure, f"left_{base}") for base in TOPS]
    told = [apart for apart in pairs if apart is not None]
    return toes is not None and toes < -BACKWARD.value and bool(told) and max(told) < 0


def _upright(figure: Figure) -> float | None:
    """How much of the way from hips to head goes up, -1 to 1; None without either."""
    lower = [n for n in ("pelvis", "left_hip", "right_hip") if n in figure.index]
    upper = [n for n in ("head", "neck", "chest") if n in figure.index]
    if not lower or not upper:
        return None
    trunk = figure.place(upper[0]) - np.mean([figure.place(n) for n in lower], axis=0)
    length = float(np.linalg.norm(trunk))
    return float(trunk[1]) / length if length > 0 else None


def check_sides(figure: Figure) -> list[Finding]:
    """Joints of the left on the left: told at the top of a limb, and for all that hangs from it."""
    found: list[Finding] = []
    for top in swapped_tops(figure):
        count = len(below(figure, top)) - 1
        with_it = f" with the {count} joints below it" if count > 1 else ""
        pair = mirror_name(top) in figure.index
        apart = _apart(figure, top) if pair else _off_middle(figure, top)
        where = f"'{mirror_name(top)}'" if pair else "the middle"
        other = "right" if top.startswith("left_") else "left"
        found.append(
            finding(
                "sides_swapped",
                top,
                "error",
                f"'{top}'{with_it} lies {percent(-(apart or 0.0))} to the {other} of {where}, seen "
                "by the character itself.",
                "Swap the names of the sides.",
                apart,
                SIDES_APART,
            )
        )
    swapped = {f.joint for f in found}
    crossed: set[str] = set()
    for base, limb in LIMBS.items():
        left = f"left_{base}"
        apart = _apart(figure, left)
        if apart is None or apart >= 0 or limb in crossed:
            continue
        if any(_hangs_from(figure, left, str(top)) for top in swapped):
            continue
        crossed.add(limb)
        found.append(
            finding(
                "sides_crossed",
                left,
                "warning",
                f"'{left}' lies {percent(-apart)} to the right of '{mirror_name(left)}', though "
                f"the {limb} begin on their own sides.",
                f"Nothing, if the {limb} are crossed; else swap the places of the two joints.",
                apart,
                SIDES_APART,
            )
        )
    return found


def swapped_tops(figure: Figure) -> list[str]:
    """The topmost joints of the left whose names say the other side than their places do.

    Of a pair the left one is given; a joint without its counterpart by itself.
    """
    found: list[str] = []
    for name in figure.index:
        side, base = side_of(name), family(name)
        if side is None or (name[len(side) + 1 :] not in TOPS and base != "eye"):
            continue
        if any(_hangs_from(figure, name, top) for top in (*found, *map(mirror_name, found))):
            continue
        if mirror_name(name) in figure.index:
            apart = _apart(figure, name) if side == "left" else 0.0
        else:
            apart = _off_middle(figure, name)
        if apart is not None and apart < 0:
            found.append(name)
    return found


def below(figure: Figure, top: str) -> list[str]:
    """Names of a joint and of all that hangs from it, in order."""
    return [name for name in figure.index if _hangs_from(figure, name, top)]


def _apart(figure: Figure, left: str) -> float | None:
    """How far the left joint of a pair lies left of the right one, in heights."""
    if left not in figure.index or mirror_name(left) not in figure.index:
        return None
    return float(figure.place(left)[0] - figure.place(mirror_name(left))[0]) / figure.height


def _off_middle(figure: Figure, name: str) -> float:
    """How far a joint lies on its own side of the middle plane, in heights."""
    own = 1.0 if side_of(name) == "left" else -1.0
    return own * float(figure.place(name)[0] - figure.middle) / figure.height


def _hangs_from(figure: Figure, name: str, top: str) -> bool:
    """Whether a joint is `top` or stands below it."""
    at = figure.index[name]
    while at >= 0:
        if figure.skeleton.joints[at].name == top:
            return True
        at = int(figure.parents[at])
    return False


def _toes_forward(figure: Figure) -> float | None:
    """How much of their length the feet point forward, -1 to 1; None without feet."""
    shares = []
    for side in SIDES:
        toes = [f"{side}_{end}" for end in ("toe_tip", "ball") if f"{side}_{end}" in figure.index]
        if toes and f"{side}_ankle" in figure.index:
            foot = figure.place(toes[0]) - figure.place(f"{side}_ankle")
            level = float(np.hypot(foot[0], foot[2]))
            shares.append(float(foot[2]) / level if level > 0 else 0.0)
    return float(np.mean(shares)) if shares else None
