"""Joints at the base of the metacarpals, for a palm that can cup.

A carpometacarpal joint does not show on the skin, so it is placed by published proportions between
the wrist and the knuckle that were found. That of the thumb is `thumb_1` already.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hand_shape import HandShape
from autoplace.place.hands import HandPlacement
from autoplace.place.placed_point import PlacedPoint
from autoplace.skeleton.model import Evidence
from autoplace.skeleton.names import LONG_FINGERS

__all__ = ["with_metacarpals"]

FloatArray = NDArray[np.float64]

BEYOND = 0.073 / 0.446
"""Bases beyond the wrist, share of the way to the middle knuckle: .073 of .446 of the hand's length
(Buchholz et al. 1992)."""
ASIDE = {"index": 0.126, "middle": 0.0, "ring": -0.129, "pinky": -0.223}
"""Bases to the thumb's side of the line from the wrist to the middle knuckle, share of the hand's
breadth (Buchholz et al. 1992)."""
SPREAD = 0.03
"""Of a base, share of the hand's length: the lengths of metacarpals differ by 5 to 6 mm from person
to person (Buryanov and Kotiuk 2010) in hands of 190 (US Army 2012 survey)."""
FARTHEST = 0.3
"""A base lies at most this far on the way to its own knuckle, so that no hand, however short its
palm, gets one beyond (common practice, no source)."""


def with_metacarpals(
    placement: HandPlacement, shape: HandShape, wrist: FloatArray
) -> HandPlacement:
    """The same placement with a base for the metacarpal of every finger but the thumb.

    Args:
        placement: the fingers of the hand, working frame.
        shape: the hand as measured.
        wrist: (3,) the wrist joint.
    """
    knuckles = {f: placement.chains[f][0] for f in LONG_FINGERS if f in placement.chains}
    if not knuckles:
        return placement
    # the finger that the wrist aims at
    lead = next(f for f in ("middle", "ring", "index", "pinky") if f in knuckles)
    along = knuckles[lead].position - wrist
    reach = float(np.linalg.norm(along))
    along = along / reach
    across = shape.across - along * (shape.across @ along)
    across = across / np.linalg.norm(across)
    bases = {}
    for finger, knuckle in knuckles.items():
        way = knuckle.position - wrist
        ahead = float(way @ along)
        beyond = min(BEYOND * reach, FARTHEST * ahead)
        # the row of bases is bowed like that of the knuckles
        rise = way - ahead * along - (way @ across) * across
        place = wrist + beyond * along + (beyond / ahead) * rise
        place = place + (ASIDE[finger] - ASIDE[lead]) * shape.breadth * across
        note = "carpometacarpal joint by published proportions between wrist and knuckle"
        spread = SPREAD * placement.length
        evidence = Evidence("template_prior", place, spread, 1.0, note)
        bases[finger] = PlacedPoint(place, spread, (evidence,))
    return replace(placement, metacarpals=bases)
