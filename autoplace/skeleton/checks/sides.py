"""Are left and right mirror images of each other, in place and in axes?"""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.checks.figure import Figure, Limit, angle_between, finding, percent
from autoplace.skeleton.model import Finding
from autoplace.skeleton.names import family, mirror_name, stem

__all__ = ["check_mirrored_axes", "check_mirrored_places", "check_sides_not_swapped"]

MIRRORED = Limit(0.005, "height", "common practice: half of a good joint's own error")
SYMMETRIC = Limit(0.003, "height", "common practice: a mesh modelled by mirroring lies far below")
SAME_LENGTH = Limit(0.05, "", "common practice: bones of the two sides differ by less")
AXES = Limit(0.5, "deg", "common practice: below what is seen in a mirrored pose")

IMAGE = np.array([-1.0, 1.0, 1.0])


def check_sides_not_swapped(figure: Figure) -> list[Finding]:
    """Hips and shoulders of the left lie on the left."""
    found: list[Finding] = []
    for base in ("hip", "shoulder", "clavicle", "eye"):
        left, right = f"left_{base}", f"right_{base}"
        if left in figure.index and right in figure.index:
            apart = (figure.place(left)[0] - figure.place(right)[0]) / figure.height
            if apart < 0:
                found.append(
                    finding(
                        "sides_swapped",
                        left,
                        "error",
                        f"'{left}' lies {percent(-apart)} to the right of '{right}', seen by the "
                        "character itself.",
                        "Swap the names of the sides, or give the axis that the character faces.",
                    )
                )
    return found


def check_mirrored_places(figure: Figure) -> list[Finding]:
    """Each joint of a pair at the mirror image of the other, as far as the mesh is symmetric.

    A difference that leaves the bones' lengths alone is a pose, one that changes them a mistake
    or an asymmetric body.
    """
    found: list[Finding] = []
    told: set[int] = set()
    for i, j in figure.pairs():
        if int(figure.parents[i]) in told:  # what hangs from a shifted joint shifts with it
            told.add(i)
            continue
        name, other = figure.skeleton.joints[i].name, figure.skeleton.joints[j].name
        off = float(np.linalg.norm(figure.mirrored(figure.at[i]) - figure.at[j])) / figure.height
        if off <= MIRRORED.value:
            continue
        told.add(i)
        lengths = [_length(figure, k) for k in (i, j)]
        differ = abs(lengths[0] - lengths[1]) / max(max(lengths), 1e-12)
        symmetric = figure.symmetry_residual is not None and (
            figure.symmetry_residual <= SYMMETRIC.value
        )
        posed = differ <= SAME_LENGTH.value and off > 2 * MIRRORED.value
        if posed:
            found.append(
                finding(
                    "mirrored_places",
                    name,
                    "note",
                    f"'{name}' and '{other}' are {percent(off)} away from mirror images (limit "
                    f"{MIRRORED}), with bones of equal length: the sides are posed differently.",
                    "Nothing, if the character stands like that.",
                )
            )
        else:
            mesh = (
                f"the mesh is symmetric to {percent(figure.symmetry_residual or 0.0)}"
                if figure.symmetry_residual is not None
                else "how symmetric the mesh is was not given"
            )
            found.append(
                finding(
                    "mirrored_places",
                    name,
                    "warning" if symmetric else "note",
                    f"'{name}' and '{other}' are {percent(off)} away from mirror images (limit "
                    f"{MIRRORED}), and their bones differ by {100 * differ:.0f} %; {mesh}.",
                    "Move the worse of the two, or copy one side to the other.",
                )
            )
    return found


def check_mirrored_axes(figure: Figure) -> list[Finding]:
    """Axes of a pair mirrored the way the convention says, where the places are mirrored."""
    found: list[Finding] = []
    convention = figure.convention
    if convention is None:
        return found
    unlike = [_unlike(figure, k) for k in range(len(figure.at))]
    for i, j in figure.pairs():
        name = figure.skeleton.joints[i].name
        looks = (figure.skeleton.joints[k].look for k in (i, j))
        if family(name) == "eye" and any(look is not None for look in looks):
            continue  # eyes that look aside do not mirror one another
        shift = max(unlike[k] for k in _neighbours(figure, i))
        bone = max(float(figure.bones.length[i]), 0.02 * figure.height)
        # joints that are a little off their mirror image turn the axes by that much
        allowed = AXES.value + 2 * np.degrees(np.arctan2(shift, bone))
        if shift > MIRRORED.value * figure.height:
            continue
        image, other = figure.axes[i] * IMAGE, figure.axes[j]
        motion = convention.mirror == "motion" and not (
            family(name) == "eye" and convention.eyes == "together"
        )
        signs = -np.ones(3) if motion else np.where(np.sum(image * other, axis=1) < 0, -1.0, 1.0)
        off = float(angle_between(signs[:, None] * image, other).max())
        wrong_hand = np.prod(signs) > 0
        if off > allowed or wrong_hand:
            found.append(
                finding(
                    "mirrored_axes",
                    name,
                    "warning",
                    f"The axes of '{name}' and '{mirror_name(name)}' are {off:.2g} degrees away "
                    f"from mirrored (mirror = {convention.mirror}; limit {AXES}).",
                    "Orient the skeleton again.",
                )
            )
    return found


def _length(figure: Figure, index: int) -> float:
    above = int(figure.parents[index])
    if above < 0 or stem(figure.skeleton.joints[index].name) in ("hip", "clavicle", "eye"):
        return abs(float(figure.at[index, 0] - figure.middle))
    return float(np.linalg.norm(figure.at[index] - figure.at[above]))


def _neighbours(figure: Figure, index: int) -> list[int]:
    """The joint, its parent, and all joints of the same chain that shape its axes."""
    joints = figure.skeleton.joints
    side = joints[index].name.split("_")[0]
    kind = family(joints[index].name)
    arm = ("arm", "hand", "metacarpal", "finger")
    kinds = {*arm, "clavicle"} if kind in arm else {kind}
    kinds |= {"leg", "foot"} if kind in ("leg", "foot") else set()
    return [
        k for k, j in enumerate(joints) if j.name.startswith(side + "_") and family(j.name) in kinds
    ]


def _unlike(figure: Figure, index: int) -> float:
    other = figure.index.get(mirror_name(figure.skeleton.joints[index].name))
    if other is None:
        return float("inf")
    return float(np.linalg.norm(figure.mirrored(figure.at[index]) - figure.at[other]))
