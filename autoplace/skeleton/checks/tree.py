"""Checks of the hierarchy alone; they also run on trees that nothing else can be done with."""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.checks.figure import Figure, Limit, finding, percent
from autoplace.skeleton.model import Finding, Skeleton
from autoplace.skeleton.names import AIM_TARGETS, family, finger_of, mirror_name, side_of, stem

__all__ = ["check_bone_lengths", "check_parentage", "check_tree"]

SHORTEST = Limit(0.001, "height", "a tenth of the shortest phalanx, Buchholz et al. 1992")


def check_tree(skeleton: Skeleton) -> list[Finding]:
    """One root, names used once, parents that exist and come first, no cycles, finite places."""
    found: list[Finding] = []
    if not skeleton.joints:
        return [finding("tree", None, "error", "The skeleton holds no joints.", "Place it anew.")]
    names = list(skeleton.names)
    parent = {j.name: j.parent for j in skeleton}
    for name in sorted({n for n in names if names.count(n) > 1}):
        found.append(
            finding(
                "unique_names",
                name,
                "error",
                f"{names.count(name)} joints are named '{name}'.",
                "Rename all but one of them.",
            )
        )
    roots = [j.name for j in skeleton if j.parent is None]
    wrists = bool(skeleton.source.part) and all(stem(name) == "wrist" for name in roots)
    if len(roots) != 1 and not (roots and wrists):
        told = "no joint is" if not roots else f"{len(roots)} joints are ({', '.join(roots[:4])})"
        found.append(
            finding(
                "one_root",
                roots[1] if roots else None,
                "error",
                f"A skeleton has one root, a joint without a parent; here {told}.",
                "Give every joint but the topmost, the pelvis, a parent.",
            )
        )
    seen: set[str] = set()
    for joint in skeleton:
        if joint.parent is not None and joint.parent not in parent:
            found.append(
                finding(
                    "parent_exists",
                    joint.name,
                    "error",
                    f"The parent of '{joint.name}' is '{joint.parent}', which does not exist.",
                    "Name an existing joint as its parent.",
                )
            )
        elif joint.parent is not None and _runs_in_a_circle(joint.name, parent):
            found.append(
                finding(
                    "no_cycles",
                    joint.name,
                    "error",
                    f"Going up from '{joint.name}' by parents comes back to '{joint.name}'.",
                    "Hang one joint of the circle from a joint outside it.",
                )
            )
        elif joint.parent is not None and joint.parent not in seen:
            found.append(
                finding(
                    "parents_first",
                    joint.name,
                    "error",
                    f"'{joint.name}' is listed before its parent '{joint.parent}'.",
                    "List every parent before its children.",
                )
            )
        position = np.asarray(joint.position, dtype=np.float64)
        if position.shape != (3,) or not np.all(np.isfinite(position)):
            found.append(
                finding(
                    "finite_position",
                    joint.name,
                    "error",
                    f"The position of '{joint.name}' is not three finite numbers.",
                    "Place the joint anew.",
                )
            )
        seen.add(joint.name)
    return found


def _runs_in_a_circle(name: str, parent: dict[str, str | None]) -> bool:
    above, steps = parent.get(name), 0
    while above is not None and steps <= len(parent):
        if above == name:
            return True
        above, steps = parent.get(above), steps + 1
    return False


def check_parentage(figure: Figure) -> list[Finding]:
    """Every pair whole, and every joint of ours below the joint its name asks for."""
    found: list[Finding] = []
    for joint in figure.skeleton:
        side = side_of(joint.name)
        alone = figure.skeleton.source.part == "hand"
        if side and not alone and mirror_name(joint.name) not in figure.index:
            above = joint.parent
            if above and side_of(above) and mirror_name(above) not in figure.index:
                continue  # told once, at the top of the missing limb
            found.append(
                finding(
                    "paired_sides",
                    joint.name,
                    "warning",
                    f"'{joint.name}' has no counterpart '{mirror_name(joint.name)}'.",
                    f"If the character has that limb, add '{mirror_name(joint.name)}' (and what "
                    "hangs from it); if it has not, nothing is to be done.",
                )
            )
        wanted = _expected_parent(joint.name)
        if wanted in figure.index and not _is_above(figure, wanted, joint.name):
            found.append(
                finding(
                    "parentage",
                    joint.name,
                    "error",
                    f"'{joint.name}' does not hang from '{wanted}' but from '{joint.parent}'.",
                    f"Make '{wanted}' its parent.",
                )
            )
    return found


def _expected_parent(name: str) -> str | None:
    """The joint of ours that must stand somewhere above a joint, by name; None where free."""
    side = side_of(name)
    own = stem(name)
    if finger_of(name):
        finger, last = own.rsplit("_", 1)
        if last == "tip":
            return None
        return f"{side}_wrist" if last in ("0", "1") else f"{side}_{finger}_{int(last) - 1}"
    if family(name) == "metacarpal":
        return f"{side}_wrist"
    if family(name) == "eye":
        return "head"
    if family(name) == "clavicle":
        return "chest"
    if own == "hip":
        return "pelvis"
    for above, targets in AIM_TARGETS.items():
        if own in targets[:1] and above != "pelvis":
            return f"{side}_{above}" if side else above
    return None


def _is_above(figure: Figure, wanted: str | None, name: str) -> bool:
    above = figure.parents[figure.index[name]]
    while above >= 0:
        if figure.skeleton.joints[above].name == wanted:
            return True
        above = figure.parents[above]
    return False


def check_bone_lengths(figure: Figure) -> list[Finding]:
    """No joint on top of its parent."""
    found: list[Finding] = []
    for i, joint in enumerate(figure.skeleton):
        above = int(figure.parents[i])
        if above < 0:
            continue
        length = float(np.linalg.norm(figure.at[i] - figure.at[above])) / figure.height
        if length < SHORTEST.value:
            found.append(
                finding(
                    "bone_length",
                    joint.name,
                    "error" if length < 1e-6 else "warning",
                    f"The bone from '{joint.parent}' to '{joint.name}' is {percent(length)} long; "
                    f"the least is {SHORTEST}.",
                    f"Move '{joint.name}' to the end of its bone, or take it out.",
                )
            )
    return found
