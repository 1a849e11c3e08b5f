"""Distances between what curls: from bone to bone, and from the thumb's tip to what it lies on."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.bending.hand_shape import Hand
from autoplace.skeleton.bending.subject import Subject
from autoplace.skeleton.pose import Posed

__all__ = ["segment_gap", "thumb_gap"]

FloatArray = NDArray[np.float64]

BREADTH = 0.44
"""Breadth of a hand over its length (ANSUR II: 0.457 in men, 0.432 in women), which its fingers
share between them: half of a mitten's one finger is broader than half of one of four."""


def segment_gap(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> float:
    """Least distance between the segments from a to b and from c to d, points (3,).

    The point of each nearest to the other's line, clamped to its ends in turn (Ericson 2005,
    "Real-Time Collision Detection", 5.1.9; from memory).
    """
    u, v, w = b - a, d - c, a - c
    uu, vv, uv = float(u @ u), float(v @ v), float(u @ v)
    wu, wv = float(w @ u), float(w @ v)
    if uu == 0 and vv == 0:
        return float(np.linalg.norm(w))
    if uu == 0:
        s, t = 0.0, float(np.clip(wv / vv, 0.0, 1.0))
    elif vv == 0:
        s, t = float(np.clip(-wu / uu, 0.0, 1.0)), 0.0
    else:
        across = uu * vv - uv * uv
        # on parallel segments any point will do to begin with
        parallel = across <= 1e-15 * uu * vv
        s = 0.0 if parallel else float(np.clip((uv * wv - wu * vv) / across, 0.0, 1.0))
        t = (uv * s + wv) / vv
        if t < 0.0:
            s, t = float(np.clip(-wu / uu, 0.0, 1.0)), 0.0
        elif t > 1.0:
            s, t = float(np.clip((uv - wu) / uu, 0.0, 1.0)), 1.0
    return float(np.linalg.norm(w + s * u - t * v))


def thumb_gap(subject: Subject, posed: Posed, hand: Hand) -> float:
    """How far the thumb's tip is from the palm or from the skin of the nearest finger, on which it
    lies in a fist; share of the hand's length."""
    tip = posed.positions[subject.index[hand.fingers["thumb"][-1]]]
    half = 0.5 * BREADTH / len(hand.long_fingers)
    gaps = [hand.from_palm(tip)]
    for finger in hand.long_fingers:
        at = [subject.place(name, posed) for name in hand.fingers[finger]]
        gaps += [
            max(segment_gap(tip, tip, start, end) / hand.length - half, 0.0)
            for start, end in pairwise(at)
        ]
    return min(gaps)
