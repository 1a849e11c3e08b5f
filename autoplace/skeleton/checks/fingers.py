"""Do the fingers lie in order, side by side, without crossing?"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.checks.figure import Figure, Limit, finding, percent
from autoplace.skeleton.model import Finding
from autoplace.skeleton.names import FINGERS, LONG_FINGERS, SIDES

__all__ = ["check_finger_distances", "check_fingers_in_order"]

FloatArray = NDArray[np.float64]

REVERSED = Limit(0.0, "height", "by the meaning of the names")
APART = Limit(
    0.5, "", "common practice: fingers are about as thick as their knuckles lie apart, and as deep"
)
"""Of the distance between knuckles. Closed fingers lie a whole thickness apart from middle to
middle; at half of it, each would reach into the other's bone."""
THUMB_APART = Limit(
    0.25, "", "common practice: soft as it is, a thumb's ball does not reach a finger's bone"
)
INSIDE = 0.02
"""How far inside of a chain's ends a crossing must lie, in shares of a bone, to be one; a shared
end is none. Common practice, no source."""


def check_fingers_in_order(figure: Figure) -> list[Finding]:
    """Knuckles in a row from the thumb's side outward."""
    found: list[Finding] = []
    for side in SIDES:
        palm = figure.bends.palms.get(side)
        names = [f"{side}_{f}_1" for f in LONG_FINGERS if f"{side}_{f}_1" in figure.index]
        wrist = f"{side}_wrist"
        if wrist not in figure.index or len(names) < 2:
            continue
        across = figure.place(names[-1]) - figure.place(names[0])
        size = float(np.linalg.norm(across))
        if size > 0:
            places = [float((figure.place(n) - figure.place(names[0])) @ across) for n in names]
            for k in range(1, len(names)):
                if places[k] <= places[k - 1]:
                    back = (places[k - 1] - places[k]) / size / figure.height
                    found.append(
                        finding(
                            "finger_order",
                            names[k],
                            "error",
                            f"'{names[k]}' does not follow '{names[k - 1]}' in the row of "
                            f"knuckles but lies {percent(back)} before it.",
                            "Swap the names of the two fingers, or move the knuckle.",
                            -back,
                            REVERSED,
                        )
                    )
        thumb = f"{side}_thumb_1"
        if palm is not None and thumb in figure.index and palm.source == "knuckles":
            # the palm's side follows from the names, so the thumb's place is a test of them
            toward = float((figure.place(thumb) - figure.place(wrist)) @ palm.thumbward)
            if toward < REVERSED.value:
                found.append(
                    finding(
                        "finger_order",
                        thumb,
                        "error",
                        f"'{thumb}' lies {percent(-toward / figure.height)} to the little finger's "
                        "side of the hand's middle.",
                        "Check the names of the fingers and of the sides.",
                        toward / figure.height,
                        REVERSED,
                    )
                )
    return found


def check_finger_distances(figure: Figure) -> list[Finding]:
    """Bones of neighbouring fingers no nearer than fingers are thick, and not across one another.

    Measured against the distance between the knuckles of the same hand. Fingers that cross in the
    view on the palm, but well apart, are a pose and a warning; a thumb may cross them.
    """
    found: list[Finding] = []
    for side in SIDES:
        chains = _chains(figure, side)
        spacing = _spacing(figure, side)
        palm = figure.bends.palms.get(side)
        if spacing is None or spacing <= 0 or palm is None:
            continue
        for one, two in pairwise(chains):
            nearest, where = _nearest(chains[one], chains[two])
            share = nearest / spacing
            thumb = one == "thumb"
            limit = THUMB_APART if thumb else APART
            # a thumb that folds into the palm passes in front of the fingers
            crossed = not thumb and _cross_on(chains[one], chains[two], palm.facing)
            if not crossed and share >= limit.value:
                continue
            name = f"{side}_{two}_{where}"
            what = "crosses" if crossed else "comes close to"
            touching = share < limit.value
            found.append(
                finding(
                    "fingers_cross" if crossed else "fingers_apart",
                    name if name in figure.index else f"{side}_{two}_1",
                    "error" if crossed and touching else "warning",
                    f"The {side} {two} finger {what} the {one}{'' if thumb else ' finger'}: their "
                    f"bones come to {share:.2f} of the distance between knuckles, and the least is "
                    f"{limit}.",
                    "Check the places of the joints of both fingers, and their names.",
                    share,
                    limit,
                )
            )
    return found


def _chains(figure: Figure, side: str) -> dict[str, FloatArray]:
    """Finger -> (k, 3) its joints from the knuckle to the tip; of the thumb without its base."""
    chains = {}
    for finger in FINGERS:
        first = 2 if finger == "thumb" else 1
        ends = [str(n) for n in range(first, 4)] + ["tip"]
        names = [n for end in ends if (n := f"{side}_{finger}_{end}") in figure.index]
        if len(names) >= 2:
            chains[finger] = np.array([figure.place(name) for name in names])
    return chains


def _spacing(figure: Figure, side: str) -> float | None:
    """The usual distance between neighbouring knuckles of a hand; None with fewer than two."""
    names = [n for f in LONG_FINGERS if (n := f"{side}_{f}_1") in figure.index]
    gaps = [float(np.linalg.norm(figure.place(a) - figure.place(b))) for a, b in pairwise(names)]
    return float(np.median(gaps)) if gaps else None


def _nearest(one: FloatArray, two: FloatArray) -> tuple[float, int]:
    """Least distance between two chains (k, 3), and the number, from 1, of the second's bone."""
    best = (np.inf, 1)
    for a, b in pairwise(one):
        for number, (c, d) in enumerate(pairwise(two), start=1):
            best = min(best, (_between(a, b, c, d), number))
    return best


def _between(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> float:
    """Distance between two line segments, from a to b and from c to d.

    By the closest points of the lines, held to the segments one after the other (Ericson, Real-Time
    Collision Detection, 2005, section 5.1.9; from memory).
    """
    u, v, w = b - a, d - c, a - c
    uu, uv, vv, uw, vw = float(u @ u), float(u @ v), float(v @ v), float(u @ w), float(v @ w)
    if uu <= 0 or vv <= 0:
        return float(np.linalg.norm(w))
    area = uu * vv - uv * uv
    s = np.clip((uv * vw - vv * uw) / area, 0.0, 1.0) if area > 1e-12 * uu * vv else 0.0
    t = (uv * s + vw) / vv
    if t < 0.0 or t > 1.0:
        t = np.clip(t, 0.0, 1.0)
        s = np.clip((uv * t - uw) / uu, 0.0, 1.0)
    return float(np.linalg.norm(w + s * u - t * v))


def _cross_on(one: FloatArray, two: FloatArray, facing: FloatArray) -> bool:
    """Whether two chains cross in the view along `facing`, seen flat."""
    across = np.eye(3) - np.outer(facing, facing)
    for a, b in pairwise(one @ across):
        for c, d in pairwise(two @ across):
            s, t = _crossing(b - a, d - c, c - a, facing)
            if INSIDE < s < 1.0 - INSIDE and INSIDE < t < 1.0 - INSIDE:
                return True
    return False


def _crossing(
    u: FloatArray, v: FloatArray, w: FloatArray, normal: FloatArray
) -> tuple[float, float]:
    """Where two lines of a plane meet, in shares of u and of v; nowhere (nan) if parallel."""
    area = float(np.cross(u, v) @ normal)
    if abs(area) <= 1e-9 * float(np.linalg.norm(u) * np.linalg.norm(v)):
        return np.nan, np.nan
    return float(np.cross(w, v) @ normal) / area, float(np.cross(w, u) @ normal) / area
