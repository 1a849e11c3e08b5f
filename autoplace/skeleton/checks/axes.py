"""Are the axes sound: right-handed, aimed at the child, eyes forward, tips like their parents?"""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.checks.figure import Figure, Limit, angle_between, finding
from autoplace.skeleton.model import Finding
from autoplace.skeleton.names import family, side_of

__all__ = ["check_aims", "check_rotations", "check_tips"]

UNIT = Limit(1e-6, "", "common practice: rounding of single-precision files")
AIM = Limit(0.01, "deg", "common practice")
TIP = Limit(0.01, "deg", "common practice")
GAZE = Limit(45.0, "deg", "common practice: about as far as an eye turns")


def check_rotations(figure: Figure) -> list[Finding]:
    """Three unit axes at right angles, right-handed."""
    found: list[Finding] = []
    for i, joint in enumerate(figure.skeleton):
        axes = figure.axes[i]
        off = float(np.abs(axes @ axes.T - np.eye(3)).max())
        if not off <= UNIT.value:
            found.append(
                finding(
                    "axes_orthonormal",
                    joint.name,
                    "error",
                    f"The axes of '{joint.name}' are not unit vectors at right angles: off by "
                    f"{off:.2g}, limit {UNIT}.",
                    "Orient the skeleton again.",
                )
            )
        elif np.linalg.det(axes) < 0:
            found.append(
                finding(
                    "axes_right_handed",
                    joint.name,
                    "error",
                    f"The axes of '{joint.name}' are left-handed.",
                    "Orient the skeleton again, or turn one of its axes round.",
                )
            )
    if figure.convention is None:
        found.append(
            finding(
                "oriented",
                None,
                "warning",
                "The skeleton does not say by which convention its axes were made, so aims and "
                "mirrored axes were not checked.",
                "Orient it, or name the convention.",
            )
        )
    return found


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
        together = eye and convention.eyes == "together"
        away = convention.mirror == "motion" and side_of(joint.name) == "right" and not together
        aim = convention.bone(figure.axes[i]) * (-1.0 if away else 1.0)
        off = float(angle_between(aim, bone))
        target = int(figure.bones.target[i])
        at = "where it looks" if eye else f"'{figure.skeleton.joints[target].name}'"
        if off > AIM.value:
            found.append(
                finding(
                    "aim",
                    joint.name,
                    "warning",
                    f"'{joint.name}' aims {off:.2g} degrees past {at}; the limit is {AIM}.",
                    "Orient the skeleton again.",
                )
            )
        gaze = float(angle_between(bone, np.array([0.0, 0.0, 1.0])))
        if eye and gaze > GAZE.value:
            found.append(
                finding(
                    "eye_direction",
                    joint.name,
                    "warning",
                    f"'{joint.name}' looks {gaze:.0f} degrees away from straight ahead; the limit "
                    f"is {GAZE}.",
                    "Check where its pupil was found, or take its look direction out.",
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
        off = float(angle_between(figure.axes[i], figure.axes[above]).max())
        if off > TIP.value:
            found.append(
                finding(
                    "tip_aligned",
                    joint.name,
                    "warning",
                    f"The axes of '{joint.name}' are turned {off:.2g} degrees from those of its "
                    f"parent '{joint.parent}'; the limit is {TIP}.",
                    "Copy the parent's axes, or orient the skeleton again.",
                )
            )
    return found
