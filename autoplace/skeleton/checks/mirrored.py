"""Are left and right mirror images of each other, in place and in axes?"""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.angles import angles_between
from autoplace.skeleton.checks.figure import Figure, Limit, finding, percent
from autoplace.skeleton.model import Finding
from autoplace.skeleton.names import family, mirror_name, side_of

__all__ = [
    "EXACT",
    "MIRRORED",
    "ROUNDING",
    "SYMMETRIC",
    "check_middle",
    "check_mirrored_axes",
    "check_mirrored_places",
]

MIRRORED = Limit(0.005, "height", "common practice: half of a good joint's own error")
SYMMETRIC = Limit(0.003, "height", "common practice: a mesh modelled by mirroring lies far below")
ROUNDING = Limit(1e-4, "height", "common practice: four decimals of a character's height")
EXACT = Limit(1e-6, "height", "common practice: rounding of single-precision files")
SPREADS = 2.0
"""So many standard deviations of the joints' own places say nothing: 95 percent lie within."""
SAME_LENGTH = Limit(0.05, "", "common practice: bones of the two sides differ by less")
AXES = Limit(0.5, "deg", "common practice: below what is seen in a mirrored pose")

IMAGE = np.array([-1.0, 1.0, 1.0])


def check_mirrored_places(figure: Figure) -> list[Finding]:
    """Each joint of a pair at the mirror image of the other, as far as the mesh is symmetric.

    A difference that leaves the bones' lengths alone is a pose, one that changes them a mistake
    or an asymmetric body. Where most pairs mirror one another to the rounding of a file, the
    others' rounding is told too: equal values then should move both sides alike.
    """
    pairs = figure.pairs()
    offs = {
        (i, j): float(np.linalg.norm(figure.mirrored(figure.at[i]) - figure.at[j])) / figure.height
        for i, j in pairs
    }
    symmetric = sum(off <= ROUNDING.value for off in offs.values()) * 2 > len(pairs)
    found: list[Finding] = []
    told: set[int] = set()
    for (i, j), off in offs.items():
        if int(figure.parents[i]) in told:  # what hangs from a shifted joint shifts with it
            told.add(i)
        elif off > MIRRORED.value:
            told.add(i)
            found.append(_unmirrored(figure, i, j, off))
        elif symmetric and EXACT.value < off <= ROUNDING.value:
            found.append(_rounded(figure, i, j, off))
    return found


def _unmirrored(figure: Figure, i: int, j: int, off: float) -> Finding:
    name, other = figure.skeleton.joints[i].name, figure.skeleton.joints[j].name
    lengths = [_length(figure, k) for k in (i, j)]
    differ = abs(lengths[0] - lengths[1])
    expected = SPREADS * np.sqrt(sum(_spread(figure, k) ** 2 for k in (i, j)))
    alike = differ <= max(SAME_LENGTH.value * max(lengths), expected)
    if alike and _may_be_posed(figure, name, off):
        return finding(
            "mirrored_places",
            name,
            "note",
            f"'{name}' and '{other}' are {percent(off)} away from mirror images, with bones of "
            f"equal length: the sides are posed differently. The limit is {MIRRORED}.",
            "Nothing, if the character stands like that.",
            off,
            MIRRORED,
        )
    residual = figure.symmetry_residual
    mesh = "how symmetric the mesh is was not given"
    if residual is not None:
        mesh = f"the mesh is symmetric to {percent(residual)}"
    share = differ / max(max(lengths), 1e-12)
    spreads = [figure.skeleton.joints[k].spread for k in (i, j)]
    unsure = off * figure.height <= SPREADS * float(np.linalg.norm(spreads))
    known = family(name) is not None
    strict = known and residual is not None and residual <= SYMMETRIC.value and not unsure
    return finding(
        "mirrored_places",
        name,
        "warning" if strict else "note",
        f"'{name}' and '{other}' are {percent(off)} away from mirror images, and their bones "
        f"differ by {100 * share:.0f} %; {mesh}. The limit is {MIRRORED}.",
        "Move the worse of the two, or copy one side to the other.",
        off,
        MIRRORED,
    )


def _may_be_posed(figure: Figure, name: str, off: float) -> bool:
    """Whether bones of equal length may be a pose: where the mesh is not symmetric all over.

    Where that is not known, a pose is more than a slip of the hand; but eyes turn with the head,
    and by less.
    """
    if figure.whole_residual is not None:
        return figure.whole_residual > SYMMETRIC.value
    return off > 2 * MIRRORED.value or family(name) == "eye"


def _rounded(figure: Figure, i: int, j: int, off: float) -> Finding:
    name, other = figure.skeleton.joints[i].name, figure.skeleton.joints[j].name
    return finding(
        "mirrored_exactly",
        name,
        "note",
        f"'{name}' and '{other}' are {percent(off)} away from mirror images, as much as rounding "
        f"does; equal values move both sides alike to {EXACT}.",
        "Mend it with autoplace check --mend, which takes the mean of both.",
        off,
        EXACT,
    )


def check_middle(figure: Figure) -> list[Finding]:
    """Trunk, neck and head on the symmetry plane: of the mesh, else of most of these joints.

    A warning where the figure stands straight in a symmetric mesh, else a note.
    """
    middle = figure.middle if figure.mesh_middle is None else figure.mesh_middle
    straight = all(
        np.linalg.norm(figure.mirrored(figure.at[i]) - figure.at[j])
        <= MIRRORED.value * figure.height
        for i, j in figure.pairs()
    )
    residual = figure.symmetry_residual
    strict = straight and residual is not None and residual <= SYMMETRIC.value
    found: list[Finding] = []
    for i, joint in enumerate(figure.skeleton):
        if family(joint.name) not in ("trunk", "head"):
            continue
        off = float(figure.at[i, 0] - middle) / figure.height
        if abs(off) > MIRRORED.value:
            side = "left" if off > 0 else "right"
            found.append(
                finding(
                    "on_middle",
                    joint.name,
                    "warning" if strict else "note",
                    f"'{joint.name}' lies {percent(abs(off))} to the {side} of the middle plane; "
                    f"the limit is {MIRRORED}.",
                    "Nothing, if the trunk is bent sideways; else move it onto the plane.",
                    off,
                    MIRRORED,
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
        ends = [int(figure.bones.target[k]) for k in (i, j)]
        aims = [figure.skeleton.joints[k].name if k >= 0 else None for k in ends]
        if aims[1] != (None if aims[0] is None else mirror_name(aims[0])):
            continue  # one hangs otherwise than the other, which is told elsewhere
        shift = max(unlike[k] for k in (*_neighbours(figure, i), *ends) if k >= 0)
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
        off = float(angles_between(signs[:, None] * image, other).max())
        wrong_hand = np.prod(signs) > 0
        if off > allowed or wrong_hand:
            found.append(
                finding(
                    "mirrored_axes",
                    name,
                    "warning",
                    f"The axes of '{name}' and '{mirror_name(name)}' are {off:.3g} degrees away "
                    f"from mirrored (mirror = {convention.mirror}; limit {AXES}).",
                    "Orient the skeleton again.",
                    off,
                    AXES,
                )
            )
    return found


def _length(figure: Figure, index: int) -> float:
    """Of the bone from the parent, which no pose changes."""
    above = int(figure.parents[index])
    if above < 0:
        return 0.0
    return float(np.linalg.norm(figure.at[index] - figure.at[above]))


def _spread(figure: Figure, index: int) -> float:
    """Of the length of the bone from the parent, one standard deviation."""
    joints, above = figure.skeleton.joints, int(figure.parents[index])
    return float(np.hypot(joints[index].spread, joints[above].spread if above >= 0 else 0.0))


def _neighbours(figure: Figure, index: int) -> list[int]:
    """The joint and all of its chain, on both sides, which shape its axes."""
    joints = figure.skeleton.joints
    kind = family(joints[index].name)
    arm = ("arm", "hand", "metacarpal", "finger")
    kinds = {*arm, "clavicle"} if kind in arm else {kind}
    kinds |= {"leg", "foot"} if kind in ("leg", "foot") else set()
    return [k for k, j in enumerate(joints) if side_of(j.name) and family(j.name) in kinds]


def _unlike(figure: Figure, index: int) -> float:
    other = figure.index.get(mirror_name(figure.skeleton.joints[index].name))
    if other is None:
        return float("inf")
    return float(np.linalg.norm(figure.mirrored(figure.at[index]) - figure.at[other]))
