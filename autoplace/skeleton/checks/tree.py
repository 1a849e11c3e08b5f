"""Checks of the hierarchy alone; they also run on trees that nothing else can be done with."""

from __future__ import annotations

from collections import Counter

import numpy as np

from autoplace.skeleton.checks.figure import Figure, Limit, finding, percent
from autoplace.skeleton.model import Finding, Joint, Skeleton
from autoplace.skeleton.names import (
    AIM_TARGETS,
    family,
    finger_of,
    is_tip,
    mirror_name,
    side_of,
    stem,
    twist_of,
)

__all__ = ["FATAL", "check_bone_lengths", "check_parentage", "check_tree", "parents_first"]

FATAL = ("tree", "unique_names", "parent_exists", "no_cycles", "finite_position")
"""Findings of `check_tree` that leave nothing else to be checked."""

SHORTEST = Limit(0.001, "height", "a tenth of the shortest phalanx, Buchholz et al. 1992")


def check_tree(skeleton: Skeleton) -> list[Finding]:
    """One root, names used once, parents that exist and come first, no cycles, finite places, and
    aims at children."""
    found: list[Finding] = []
    if not skeleton.joints:
        return [finding("tree", None, "error", "The skeleton holds no joints.", "Place it anew.")]
    names = list(skeleton.names)
    parent = {j.name: j.parent for j in skeleton}
    for name, count in sorted(Counter(names).items()):
        if count == 1:
            continue
        found.append(
            finding(
                "unique_names",
                name,
                "error",
                f"{count} joints are named '{name}'.",
                "Rename all but one of them.",
                count,
            )
        )
    roots = [j.name for j in skeleton if j.parent is None]
    wrists = bool(skeleton.source.part) and all(stem(name) == "wrist" for name in roots)
    if len(roots) != 1 and not (roots and wrists):
        listed = ", ".join(f"'{name}'" for name in roots[:4]) + ", ..." * (len(roots) > 4)
        told = "no joint is" if not roots else f"{len(roots)} joints are ({listed})"
        found.append(
            finding(
                "one_root",
                roots[1] if roots else None,
                "error",
                f"A skeleton has one root, a joint without a parent; here {told}.",
                "Give every joint but the topmost, the pelvis, a parent.",
                len(roots),
            )
        )
    circles = _in_circles(parent)
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
        elif joint.name in circles:
            found.append(
                finding(
                    "no_cycles",
                    joint.name,
                    "error",
                    f"Going up from '{joint.name}' by its parents comes back to it.",
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
        if joint.aim is not None and parent.get(joint.aim) != joint.name:
            found.append(
                finding(
                    "aim_target",
                    joint.name,
                    "error",
                    f"'{joint.name}' should aim at '{joint.aim}', which is not one of its "
                    "children.",
                    "Name one of its children to aim at, or none.",
                )
            )
        seen.add(joint.name)
    return found


def _in_circles(parent: dict[str, str | None]) -> set[str]:
    """Names of joints that are their own ancestors."""
    circles: set[str] = set()
    done: set[str] = set()
    for name in parent:
        way: dict[str, int] = {}
        at: str | None = name
        while at is not None and at in parent and at not in done and at not in way:
            way[at] = len(way)
            at = parent[at]
        if at in way:
            circles |= {other for other, step in way.items() if step >= way[at]}
        done.update(way)
    return circles


def parents_first(skeleton: Skeleton) -> Skeleton:
    """The skeleton with every parent before its children, else in the order it has.

    A joint that comes too early waits until right after its parent. For a tree without circles
    whose parents all exist; the positions of joints in it do not matter.
    """
    waiting: dict[str, list[Joint]] = {}
    placed: set[str] = set()
    ordered: list[Joint] = []

    for joint in skeleton:
        if joint.parent is not None and joint.parent not in placed:
            waiting.setdefault(joint.parent, []).append(joint)
            continue
        ready = [joint]
        while ready:
            one = ready.pop()
            ordered.append(one)
            placed.add(one.name)
            ready += reversed(waiting.pop(one.name, []))
    return skeleton.with_joints(tuple(ordered))


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
                    "warning" if family(joint.name) else "note",  # a pouch hangs where it likes
                    f"'{joint.name}' has no counterpart '{mirror_name(joint.name)}'.",
                    f"If the character has that limb, add '{mirror_name(joint.name)}' (and what "
                    "hangs from it); if it has not, nothing is to be done.",
                )
            )
        wanted = _expected_parent(figure, joint.name)
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


def _expected_parent(figure: Figure, name: str) -> str | None:
    """The joint of ours that must stand somewhere above a joint, by name; None where free."""
    side, own = side_of(name), stem(name)
    if finger_of(name):
        finger, last = own.rsplit("_", 1)
        if last == "tip":
            return f"{side}_{finger}_3"
        return f"{side}_wrist" if last in ("0", "1") else f"{side}_{finger}_{int(last) - 1}"
    if family(name) == "metacarpal":
        return f"{side}_wrist"
    if family(name) == "eye":
        return "head"
    if family(name) == "clavicle":
        return "chest"
    if own == "hip":
        return "pelvis"
    if family(name) in ("trunk", "head") and not is_tip(name):
        return _below_in_column(figure, name)
    for above, targets in AIM_TARGETS.items():
        if own in targets[:1] and above != "pelvis":
            return f"{side}_{above}" if side else above
    return None


def _below_in_column(figure: Figure, name: str) -> str | None:
    """The joint of trunk and neck that comes before this one, by the meaning of the names."""

    def numbered(stem: str) -> list[str]:
        found = [n for n in figure.index if n.startswith(f"{stem}_") and family(n) == "trunk"]
        return sorted(found, key=lambda n: int(n.rsplit("_", 1)[1]))

    necks = ["neck", *numbered("neck")]
    column = ["pelvis", *numbered("spine"), "chest", *necks, "head"]
    present = [n for n in column if n in figure.index]
    place = present.index(name)
    return present[place - 1] if place else None


def _is_above(figure: Figure, wanted: str | None, name: str) -> bool:
    above = figure.parents[figure.index[name]]
    while above >= 0:
        if figure.skeleton.joints[above].name == wanted:
            return True
        above = figure.parents[above]
    return False


def check_bone_lengths(figure: Figure) -> list[Finding]:
    """No joint on top of its parent, save helpers that share a bone with it."""
    found: list[Finding] = []
    for i, joint in enumerate(figure.skeleton):
        above = int(figure.parents[i])
        if above < 0 or twist_of(joint.name):
            continue
        length = float(np.linalg.norm(figure.at[i] - figure.at[above])) / figure.height
        if length >= SHORTEST.value:
            continue
        ours = family(joint.name) and family(figure.skeleton.joints[above].name)
        level = ("error" if length < 1e-6 else "warning") if ours else "note"
        found.append(
            finding(
                "bone_length",
                joint.name,
                level,
                f"The bone from '{joint.parent}' to '{joint.name}' is {percent(length)} long; "
                f"the least is {SHORTEST}.",
                f"Move '{joint.name}' to the end of its bone, or take it out.",
                length,
                SHORTEST,
            )
        )
    return found
