"""Eyes of a face without eyeballs: from its bulges, sockets or openings where they show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.eye_bulges import EyeBulges, find_eye_bulges
from autoplace.measure.eye_hollows import EyeHollows, find_eye_hollows
from autoplace.measure.trunk_shape import TrunkShape
from autoplace.place.eyes import GLOBE_RADIUS, EyePlace, EyesFound, eyes_from_head
from autoplace.skeleton.model import Evidence, Finding

__all__ = ["eyes_from_face", "face_eyes_finding", "guessed_eyes"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ACROSS_SD = 0.02
"""How far an eye lies across the face from the middle of its hollow, fraction of the head's height
(own synthetic faces: half within .01, nine in ten within .04)."""
BEHIND_SD = 0.02
"""The same along the line of sight: a globe's radius behind the skin over the hollow, which stands
where the cornea does."""


BULGE_SD = 0.1
"""How far the middle of a ball in the skin lies from the eye's, in its radii: lids lie over the one
side of it more than over the other (common practice, no source)."""
TALL = ((1.0, 1.0), (0.85, 0.5), (0.7, 0.5), (0.55, 0.5))
"""Shares of the measured head that may be head under hair, spikes, horns or a hat, and how far a
hollow is believed that needs them (common practice, no source)."""


def guessed_eyes(trunk: TrunkShape) -> tuple[EyePlace, EyePlace]:
    """Left and right eye by published head proportions. Working frame."""
    low, high = _head_box(trunk)
    return eyes_from_head(low, high)


def _head_box(trunk: TrunkShape, tall: float = 1.0) -> tuple[FloatArray, FloatArray]:
    """Corners (3,) of the head's box from chin to crown, ears in it where they are wide.

    `tall` is the share of the measured height that is believed to be head."""
    chin = float(trunk.chin[1])
    crown = chin + tall * (float(trunk.crown[1]) - chin)
    inside = (trunk.y > chin + 0.2 * (crown - chin)) & (trunk.y < crown)
    width = float(np.max(trunk.width[inside])) if inside.any() else 0.1
    middle = float(trunk.crown[0])
    eye_level = chin + 0.5 * (crown - chin)
    low = np.array([middle - 0.5 * width, chin, trunk.depth_at(eye_level, 0.0)])
    high = np.array([middle + 0.5 * width, crown, trunk.depth_at(eye_level, 1.0)])
    return low, high


def eyes_from_face(
    eyes: EyesFound, vertices: FloatArray, faces: IntArray, trunk: TrunkShape
) -> EyesFound:
    """The same eyes, or, when there are none, those that the face's sockets or openings show.

    Args:
        eyes: from eyeballs. vertices: (n, 3), faces: (m, 3): the body, working frame.
        trunk: its level cuts.
    """
    if eyes.left or eyes.right or eyes.others:
        return eyes
    for tall, _ in TALL[::2]:
        low, high = _head_box(trunk, tall)
        bulges = find_eye_bulges(vertices, faces, low, high)
        if isinstance(bulges, EyeBulges):
            return _from_bulges(bulges)
    best: tuple[float, EyeHollows, FloatArray, FloatArray] | None = None
    for tall, trust in TALL:
        low, high = _head_box(trunk, tall)
        found = find_eye_hollows(vertices, faces, low, high)
        if isinstance(found, EyeHollows) and (best is None or trust * found.score > best[0]):
            best = (trust * found.score, found, low, high)
    if best is None:
        return eyes
    _, hollows, low, high = best
    size = float(high[1] - low[1])
    places = {}
    for guess, skin in zip(eyes_from_head(low, high), (hollows.left, hollows.right), strict=True):
        center = skin - [0.0, 0.0, GLOBE_RADIUS * size]
        spread = float(np.sqrt(2 * ACROSS_SD**2 + BEHIND_SD**2)) * size
        note = (
            f"hollow in the face, {100 * hollows.depth:.1f} percent of the head's height deep; "
            "no eyeball was found"
        )
        evidence = Evidence("face_hollow", center, spread, 1.0, note)
        places[guess.side] = replace(
            guess, center=center, spread=spread, evidence=(evidence,), shape="face"
        )
    return EyesFound(places["left"], places["right"])


def _from_bulges(bulges: EyeBulges) -> EyesFound:
    """Eyes that are of one skin with the face."""
    places = []
    for side, fit in (("left", bulges.left), ("right", bulges.right)):
        spread = float(np.hypot(fit.center_spread, BULGE_SD * fit.radius))
        note = (
            f"ball of radius {fit.radius:.4f} of height that bulges from the face, "
            f"{bulges.shown:.0%} of it; it is no piece of its own"
        )
        evidence = Evidence("face_bulge", fit.center, spread, 1.0, note)
        places.append(
            EyePlace(
                side,
                fit.center,
                fit.radius,
                spread,
                None,
                "",
                bulges.shown,
                (evidence,),
                fit.residual,
                "face",
            )
        )
    return EyesFound(places[0], places[1])


def face_eyes_finding(eyes: EyesFound) -> tuple[Finding, ...]:
    """What to say of eyes that were placed by the face alone."""
    findings = []
    for side in ("left", "right"):
        eye = eyes.of(side)
        if isinstance(eye, EyePlace) and eye.shape == "face":
            findings.append(
                Finding(
                    "eye_from_face",
                    f"{side}_eye",
                    "warning",
                    f"No {side} eyeball was found; its place is read from the socket, opening or "
                    "bulge in the face, with a wide spread.",
                    "Check it, or, if a part is the eye, say so with --role PART=eyeball.",
                )
            )
    return tuple(findings)
