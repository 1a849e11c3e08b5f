"""Are the axes sound: right-handed, aimed at the child, eyes forward, tips like their parents?"""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.angles import angles_between
from autoplace.skeleton.checks.figure import Figure, Limit, finding
from autoplace.skeleton.model import Finding
from autoplace.skeleton.names import family, side_of

__all__ = ["AIM", "check_aims", "check_oriented", "check_rest", "check_rotations", "check_tips"]

UNIT = Limit(1e-6, "", "common practice: rounding of single-precision files")
AIM = Limit(0.01, "deg", "common practice")
TIP = Limit(0.01, "deg", "common practice")
TURNED = Limit(0.01, "deg", "common practice: as for the aim")
ORIENT = "Orient it with autoplace orient, which keeps the convention in the file."
BAKE = "Run autoplace orient with --bake, which makes the way the joints stand their rest."


def check_rest(figure: Figure) -> list[Finding]:
    """No joint turned or scaled on top of its rest."""
    found: list[Finding] = []
    for name, degrees in figure.turned.items():
        found.append(
            finding(
                "rest_rotation",
                name,
                "error",
                f"'{name}' is turned by {degrees:.3g} degrees on top of its rest; the limit is "
                f"{TURNED}.",
                BAKE,
                degrees,
                TURNED,
            )
        )
    scaled = dict(figure.scaled)
    for i, joint in enumerate(figure.skeleton):
        lengths = np.linalg.norm(figure.axes[i], axis=1)
        if joint.name not in scaled and np.any(np.abs(lengths - 1.0) > UNIT.value):
            scaled[joint.name] = (float(lengths[0]), float(lengths[1]), float(lengths[2]))
    for name, factors in scaled.items():
        off = float(np.max(np.abs(np.asarray(factors) - 1.0)))
        if not np.isfinite(off):
            continue  # told as axes that are no axes
        found.append(
            finding(
                "rest_scale",
                name,
                "error",
                f"'{name}' is scaled by {' by '.join(f'{factor:.4g}' for factor in factors)}; "
                f"a scale other than one is off by at most {UNIT}.",
                BAKE,
                off,
                UNIT,
            )
        )
    return found


def check_rotations(figure: Figure) -> list[Finding]:
    """Three axes at right angles, right-handed; how long they are is told as a scale."""
    found: list[Finding] = []
    for i, joint in enumerate(figure.skeleton):
        axes = figure.axes[i]
        lengths = np.linalg.norm(axes, axis=1)
        rows = axes / np.where(lengths > 0, lengths, 1.0)[:, None]
        off = float(np.abs(rows @ rows.T - np.eye(3)).max())
        if not off <= UNIT.value:
            number = off if np.isfinite(off) else None
            told = (
                "are not finite" if number is None else f"are not at right angles: off by {off:.2g}"
            )
            found.append(
                finding(
                    "axes_orthonormal",
                    joint.name,
                    "error",
                    f"The axes of '{joint.name}' {told}, limit {UNIT}.",
                    "Orient the skeleton again.",
                    number,
                    UNIT,
                )
            )
        elif np.linalg.det(rows) < 0:
            found.append(
                finding(
                    "axes_right_handed",
                    joint.name,
                    "error",
                    f"The axes of '{joint.name}' are left-handed: their determinant is "
                    f"{np.linalg.det(rows):.2g}, not 1.",
                    "Orient the skeleton again, or turn one of its axes round.",
                    float(np.linalg.det(rows)),
                )
            )
    return found


def check_oriented(figure: Figure) -> list[Finding]:
    """The skeleton says by which convention its axes were made, or they show it."""
    guess = figure.guessed
    if figure.convention is not None and guess is None:
        return []
    if guess is None:
        return [
            finding(
                "oriented",
                None,
                "warning",
                "The skeleton does not say by which convention its axes were made, and they follow "
                "none, so aims, bend axes and mirrored axes were not checked.",
                ORIENT,
            )
        ]
    convention = guess.convention
    bend = f", {convention.bend} bends" if guess.bends else ", no one axis bends"
    return [
        finding(
            "oriented",
            None,
            "note",
            "The skeleton does not say by which convention its axes were made; "
            f"{100 * guess.share:.0f} % of its joints show that {convention.aim} aims at the "
            f"child{bend}, mirror = {convention.mirror}, and they were checked by that.",
            ORIENT,
            guess.share,
        )
    ]


def check_aims(figure: Figure) -> list[Finding]:
    """The aim axis along the bone; on the right side of mirrored motion, away from the child."""
    found: list[Finding] = []
    convention = figure.convention
    if convention is None:
        return found
    for i, joint in enumerate(figure.skeleton):
        bone = figure.bends.bone[i]
        if not np.any(bone):
            continue
        eye = family(joint.name) == "eye"
        if eye and joint.look is None and figure.guessed is not None:
            continue  # where it looks is known from its axes alone
        together = eye and convention.eyes == "together"
        away = convention.mirror == "motion" and side_of(joint.name) == "right" and not together
        aim = convention.bone(figure.axes[i]) * (-1.0 if away else 1.0)
        off = float(angles_between(aim, bone))
        target = int(figure.bones.target[i])
        at = "where it looks" if eye else f"'{figure.skeleton.joints[target].name}'"
        if off > AIM.value:
            found.append(
                finding(
                    "aim",
                    joint.name,
                    "warning",
                    f"'{joint.name}' aims {off:.3g} degrees past {at}; the limit is {AIM}.",
                    "Orient the skeleton again.",
                    off,
                    AIM,
                )
            )
    return found


def check_tips(figure: Figure) -> list[Finding]:
    """A joint without a child has its parent's axes."""
    found: list[Finding] = []
    for i, joint in enumerate(figure.skeleton):
        above = int(figure.parents[i])
        if above < 0 or figure.bones.target[i] >= 0 or family(joint.name) == "eye":
            continue
        off = float(angles_between(figure.axes[i], figure.axes[above]).max())
        if off > TIP.value:
            found.append(
                finding(
                    "tip_aligned",
                    joint.name,
                    "warning",
                    f"The axes of '{joint.name}' are turned {off:.3g} degrees from those of its "
                    f"parent '{joint.parent}'; the limit is {TIP}.",
                    "Copy the parent's axes, or orient the skeleton again.",
                    off,
                    TIP,
                )
            )
    return found
