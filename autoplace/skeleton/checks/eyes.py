"""Do the eyes turn about the middle of their balls, and do they look forward?"""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.angles import angles_between
from autoplace.skeleton.checks.figure import Figure, Limit, finding
from autoplace.skeleton.model import Finding
from autoplace.skeleton.names import family

__all__ = ["check_eye_centres", "check_eye_directions"]

CENTRE = Limit(
    0.1, "radius", "common practice: half of the 2 mm to which a fitted ball is an eye's pivot"
)
"""Of a globe of 12 mm (Bekerman et al. 2014) whose middle and pivot differ by 1 to 3 mm (Fry & Hill
1962, from memory; Ohlendorf et al. 2022)."""
LOST = Limit(0.5, "radius", "common practice: the ball then leaves its socket when it turns")
SPREADS = 2.0
"""So many standard deviations of the fit are allowed besides: 95 percent of them."""
GAZE = Limit(45.0, "deg", "common practice: about as far as an eye turns")


def check_eye_centres(figure: Figure) -> list[Finding]:
    """Eye joints at the centre of the ball that the eye is a part of."""
    found: list[Finding] = []
    for name, ball in (figure.eyeballs or {}).items():
        if name not in figure.index or ball.radius <= 0:
            continue
        off = float(np.linalg.norm(figure.own_positions[figure.index[name]] - ball.center))
        share, doubt = off / ball.radius, SPREADS * ball.spread / ball.radius
        if share <= CENTRE.value + doubt:
            continue
        far = share > LOST.value + doubt
        found.append(
            finding(
                "eye_centre",
                name,
                "error" if far else "warning",
                f"'{name}' stands {100 * share:.0f} % of the eyeball's radius away from its "
                f"centre, which the fit knows to {100 * ball.spread / ball.radius:.2g} %; the "
                f"limit is {LOST if far else CENTRE}.",
                "Snap it to the eyeball with autoplace eyes.",
                share,
                LOST if far else CENTRE,
            )
        )
    return found


def check_eye_directions(figure: Figure) -> list[Finding]:
    """Eyes that look forward, as far as an eye turns."""
    found: list[Finding] = []
    for i, joint in enumerate(figure.skeleton):
        bone = figure.bends.bone[i]
        if family(joint.name) != "eye" or not np.any(bone):
            continue
        gaze = float(angles_between(bone, np.array([0.0, 0.0, 1.0])))
        if gaze > GAZE.value:
            found.append(
                finding(
                    "eye_direction",
                    joint.name,
                    "warning",
                    f"'{joint.name}' looks {gaze:.0f} degrees away from straight ahead; the limit "
                    f"is {GAZE}.",
                    "Check where its pupil was found, or take its look direction out.",
                    gaze,
                    GAZE,
                )
            )
    return found
