"""Are the bones of plausible length, and do the fingers lie in order?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from autoplace.skeleton.checks.figure import Figure, Limit, finding, percent
from autoplace.skeleton.model import Finding
from autoplace.skeleton.names import LONG_FINGERS, SIDES

__all__ = ["check_fingers_in_order", "check_proportions"]


@dataclass(frozen=True)
class Proportion:
    """A bone's length as published, or the ratio of two bones."""

    what: str
    bone: tuple[str, str]
    """Stems of the joints at its ends."""
    over: tuple[str, str] | None
    """Bone it is divided by; None for the character's height."""
    value: float
    source: str
    factor: float
    """How many times larger or smaller is worth a note."""


HEIGHT_FACTOR = 1.6
"""Drawn figures go from 3 to 9 heads tall where people have 7.5, so bones a third larger or smaller
than people's are usual; common practice, no source."""
RATIO_FACTOR = 1.4
"""Neighbouring bones keep their ratio far better; common practice, no source."""

PROPORTIONS = (
    Proportion("thigh", ("hip", "knee"), None, 0.245, "Winter 2009", HEIGHT_FACTOR),
    Proportion("shank", ("knee", "ankle"), None, 0.246, "Winter 2009", HEIGHT_FACTOR),
    Proportion("upper arm", ("shoulder", "elbow"), None, 0.162, "de Leva 1996", HEIGHT_FACTOR),
    Proportion("forearm", ("elbow", "wrist"), None, 0.154, "de Leva 1996", HEIGHT_FACTOR),
    Proportion(
        "shank against thigh",
        ("knee", "ankle"),
        ("hip", "knee"),
        1.04,
        "de Leva 1996, men",
        RATIO_FACTOR,
    ),
    Proportion(
        "forearm against upper arm",
        ("elbow", "wrist"),
        ("shoulder", "elbow"),
        0.95,
        "de Leva 1996",
        RATIO_FACTOR,
    ),
    *(
        Proportion(
            f"middle against first phalanx of the {finger} finger",
            (f"{finger}_2", f"{finger}_3"),
            (f"{finger}_1", f"{finger}_2"),
            ratio,
            "Buchholz et al. 1992",
            HEIGHT_FACTOR,
        )
        for finger, ratio in (("index", 0.54), ("middle", 0.61), ("ring", 0.64), ("pinky", 0.57))
    ),
    # .378 / .505, .373 / .555, .338 / .531, .306 / .416 of the hand's length; against the whole
    # finger: modelled knuckles lie nearer to the web, which shortens the first phalanx most
    *(
        Proportion(
            f"metacarpal against the {finger} finger",
            (f"{finger}_metacarpal", f"{finger}_1"),
            (f"{finger}_1", f"{finger}_tip"),
            ratio,
            "Buchholz et al. 1992",
            HEIGHT_FACTOR,
        )
        for finger, ratio in (("index", 0.75), ("middle", 0.67), ("ring", 0.64), ("pinky", 0.74))
    ),
)
REVERSED = Limit(0.0, "", "by the meaning of the names")


def check_proportions(figure: Figure) -> list[Finding]:
    """Bones far from a person's, as notes: a drawn character may be meant so."""
    found: list[Finding] = []
    for side in SIDES:
        for one in PROPORTIONS:
            length = _length(figure, side, one.bone)
            base = figure.height if one.over is None else _length(figure, side, one.over)
            if length is None or not base:
                continue
            ratio = length / base
            if not one.value / one.factor <= ratio <= one.value * one.factor:
                unit = " of the height" if one.over is None else ""
                found.append(
                    finding(
                        "proportions",
                        f"{side}_{one.bone[1]}",
                        "note",
                        f"{side.capitalize()} {one.what}: {ratio:.2g}{unit}; people have "
                        f"{one.value:g} ({one.source}), and a factor of more than "
                        f"{one.factor:g} is told.",
                        "Nothing, if the character is drawn like that; else check both ends of "
                        "the bone.",
                    )
                )
    return found


def check_fingers_in_order(figure: Figure) -> list[Finding]:
    """Knuckles in a row from the thumb's side outward, and joints one behind the other."""
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
                    )
                )
    return found


def _length(figure: Figure, side: str, ends: tuple[str, str]) -> float | None:
    names = [f"{side}_{end}" for end in ends]
    if any(name not in figure.index for name in names):
        return None
    return float(np.linalg.norm(figure.place(names[1]) - figure.place(names[0])))
