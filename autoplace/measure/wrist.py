"""The wrist of an arm: where, going outward, it begins to broaden into a hand."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.sections import Sections

__all__ = ["Wrist", "find_wrist", "wrists_alike"]

FloatArray = NDArray[np.float64]

WRIST_FROM = 0.35
"""The wrist lies beyond this share of the way from shoulder to longest fingertip: an adult's hand
is a quarter of it (references 1.2), a cartoon hand up to half."""
PALM_FROM = 0.55
"""The broadest part of the palm lies beyond this share of the way."""
LEAST_BROADENING = 1.15
"""A hand that is less than this much broader than the forearm's end shows no wrist; hand breadth
over wrist breadth is 1.4 to 1.5 (from memory)."""
LEAST_PALM = 0.5
"""The palm is at least this share as broad as the broadest place beyond `PALM_FROM`, which is the
forearm's bulge or the elbow; fingertips are narrower (even members of the box family: a fist or a
mitten has .6 to .75 of a sleeve's or a thick forearm's breadth, and a stump .85 without broadening
again)."""
LEAST_IN_CUFF = 0.5
"""A hand beyond a cuff or in the mouth of a wide sleeve is at least this share as broad as what
broadened first; a finger has a third of its hand's breadth at most (common practice, no source)."""
ONSET = 0.2
"""Share of the broadening at which the hand begins; lower levels move with the forearm's taper,
higher ones with the thumb (tuned on the dataset's young women, 2026-11-25)."""
WRIST_BEFORE_ONSET = 0.06
"""The pivot lies before the onset by this share of the hand's length (same tuning group). The
carpometacarpal joints lie .073 of it beyond the wrist (Buchholz et al. 1992), where the hand is
already broad."""
CUFF_OVER_WRIST = 1.1
"""A cuff is broader than the wrist beyond it by this much at least (common practice, no source)."""
HAND_SHARE = 0.26
"""Share of the way that the hand takes where no wrist shows: .11 S of .42 S (references 1.2)."""
HAND_SHARE_SPREAD = 0.1
"""Its spread: a cartoon hand takes up to half of the way, a stump without fingers an eighth."""
SLEEVE_SHARE = (0.55, 0.015)
"""Share of the way from which what broadens is sooner a sleeve or a bracer than a hand, and how
fast that turns: the largest hands take half (common practice, no source)."""
ELBOW_TURN, ELBOW_TO = 30.0, 0.65
"""Degrees by which an arm's line turns at an elbow within four stations and nowhere else, and share
of the way up to which that is the elbow and not the hand: an elbow is at .42, with a large hand and
without a shoulder at .6 (common practice, no source)."""
FIST_OVER_BREADTH = 1.32
"""Length of a hand with its fingers closed or made as one block, which is that of its palm, over
its breadth: 116.5 of 88.3 mm (ANSUR2; references section 10)."""
FIST_OVER_BREADTH_SPREAD = 0.3
"""Its spread downward (common practice, no source)."""

MISREAD = 0.02
"""Share of arms whose sections show a wrist where there is none: a strap, a bent elbow, what is
held (common practice, no source)."""
LOPSIDED = 0.02
"""Share of figures whose two hands are of different size, as with a claw on one arm (common
practice, no source)."""
SIDES_DIFFER = (0.03, 0.015)
"""How far the wrists of a figure's two arms differ, shares of the arm, measured from the guess of
the shoulder and from the fingertips: about twice what two thirds of even members of the box family
show (.009 and .003) and half of what one in twenty does (.075 and .035), for arms posed apart."""
ALIKE_LONG = 0.75
"""Shorter arm over the longer one from which on they tell of each other: what a hand holds makes an
arm longer, and where it is lost shorter (common practice, no source)."""
ANYWHERE = 0.65
"""Share of an arm in which a wrist may lie."""


@dataclass(frozen=True)
class Wrist:
    """Where an arm's wrist may be: the last of its places is where it does not show."""

    total: float
    """Length of the arm's line to the fingertip, in what all lengths here are in."""
    places: FloatArray
    """(k,) distances along the line."""
    spreads: FloatArray
    """(k,) one standard deviation of each."""
    likely: FloatArray
    """(k,) how likely each is; they add up to one."""
    misfit: FloatArray
    """(k,) squares by which a hand that begins there is unlike a hand's share of the arm."""
    by_other: bool = False
    """Whether the last of the places was read from the figure's other arm."""

    @property
    def arc(self) -> float:
        """Distance along the line to the wrist."""
        return float(self.likely @ self.places)

    @property
    def spread(self) -> float:
        """One standard deviation of `arc`: a cuff that may be the hand makes it less sure."""
        return float(np.sqrt(self.likely @ (self.spreads**2 + (self.places - self.arc) ** 2)))

    @property
    def seen(self) -> bool:
        """Whether the wrist shows as a narrowing between forearm and hand."""
        return bool(self.likely[-1] < 0.5)


def _unseen(total: float) -> Wrist:
    """The wrist of an arm that shows none."""
    place, spread = (1.0 - HAND_SHARE) * total, HAND_SHARE_SPREAD * total
    return Wrist(total, np.array([place]), np.array([spread]), np.ones(1), np.zeros(1))


def find_wrist(sections: Sections) -> Wrist:
    """Where an arm's wrist may be, and how likely each place is.

    The hand shows by its breadth: going outward, the section begins to broaden at the wrist and is
    broadest at the palm. The pivot lies a little before the broadening.
    """
    arc = sections.arc
    total = float(arc[-1])
    missing = _unseen(total)
    breadth = ndimage.gaussian_filter1d(sections.breadth, 0.7)
    sound = sections.area > 0
    beyond = np.flatnonzero(sound & (arc > WRIST_FROM * total))
    outer = arc[beyond] > PALM_FROM * total
    if outer.sum() < 4:
        return missing
    # a cut across a bent elbow slants and is broad
    outer &= ~_turns(sections.centre, ELBOW_TURN)[beyond] | (arc[beyond] > ELBOW_TO * total)
    # the palm is what broadens most over what lies before it: on a stump the elbow is broader still
    broadening = breadth[beyond] / np.minimum.accumulate(breadth[beyond])
    outer &= breadth[beyond] > LEAST_PALM * breadth[beyond][outer].max()
    palm = int(beyond[np.argmax(np.where(outer, broadening, 0.0))])
    before = np.flatnonzero(sound & (arc > WRIST_FROM * total) & (arc < arc[palm]))
    if len(before) < 3:
        return missing
    thin = int(before[np.argmin(breadth[before])])
    if breadth[palm] < LEAST_BROADENING * breadth[thin]:
        return missing
    hands = [(thin, palm), *_beyond_cuffs(breadth, sound, thin, LEAST_IN_CUFF * breadth[palm])]
    onsets = np.array([_onset(arc, breadth, *hand) for hand in hands])
    lengths = total - onsets
    short = np.minimum(lengths / breadth[[hand[1] for hand in hands]] - FIST_OVER_BREADTH, 0.0)
    misfit = ((lengths / total - HAND_SHARE) / HAND_SHARE_SPREAD) ** 2
    misfit += (short / FIST_OVER_BREADTH_SPREAD) ** 2
    likely = np.exp(0.5 * (misfit.min() - misfit))
    likely /= likely.sum()
    # or all that broadens is a sleeve or a bracer, and the wrist does not show
    share = float(likely @ lengths) / total
    sleeve = 1.0 / (1.0 + np.exp((SLEEVE_SHARE[0] - share) / SLEEVE_SHARE[1]))
    places = np.append(onsets - WRIST_BEFORE_ONSET * lengths, missing.places)
    own = np.append(np.maximum(0.04 * lengths, 0.5 * total / len(arc)), missing.spreads)
    likely = np.append((1.0 - sleeve) * likely, sleeve)
    return Wrist(total, places, own, likely, np.append(misfit, 0.0))


def wrists_alike(one: Wrist, other: Wrist) -> Wrist:
    """The wrist of one arm, judged again by that of the same figure's other arm.

    A figure's two hands are alike, so a wrist that does not show lies where the other arm has it,
    and of two that disagree the one is misread whose hand is less like a hand.

    Args:
        one, other: of the two arms, in the same unit.
    """
    hidden = _by_other(one, other)
    lengths = sorted((one.total, other.total))
    if hidden is None or lengths[0] < ALIKE_LONG * lengths[1]:
        return one
    places = np.append(one.places[:-1], hidden[0])
    spreads = np.append(one.spreads[:-1], hidden[1])
    told = replace(one, places=places, spreads=spreads, by_other=True)
    if len(one.places) == 1:
        return told
    square, wide = _apart(one, other)
    agree = np.exp(-0.5 * square)
    weights = [_before(one)[:, None], _before(other)[None, :]]
    same = ANYWHERE * one.total * agree / (np.sqrt(2.0 * np.pi) * wide)
    pairs = weights[0] * weights[1] * (LOPSIDED + same)
    again = pairs.sum(axis=1) / pairs.sum()
    # what the other arm agrees with stays, however odd the hands are
    kept = one.likely * (agree @ other.likely)
    return replace(told, likely=kept + (1.0 - kept.sum()) * again)


def _before(wrist: Wrist) -> FloatArray:
    """(k,) how likely each place is before the other arm is asked."""
    # a misread place may lie anywhere, a true one where hands begin
    dense = ANYWHERE / (np.sqrt(2.0 * np.pi) * HAND_SHARE_SPREAD)
    likely = wrist.likely * dense * np.exp(-0.5 * wrist.misfit)
    likely[-1] = wrist.likely[-1] + MISREAD
    return np.asarray(likely)


def _apart(one: Wrist, other: Wrist) -> tuple[FloatArray, FloatArray]:
    """(k, l) squares by which two arms' places differ, from the shoulder or from the fingertips,
    whichever is less, and the spread that they are measured by."""
    square, wide = [], []
    for share, ends in zip(SIDES_DIFFER, (0.0, 1.0), strict=True):
        away = (one.places - ends * one.total)[:, None] - (other.places - ends * other.total)
        own = one.spreads[:, None] ** 2 + other.spreads**2 + (share * one.total) ** 2
        square.append(away**2 / own)
        wide.append(np.sqrt(own))
    first = square[0] < square[1]
    return np.where(first, *square), np.where(first, *wide)


def _by_other(one: Wrist, other: Wrist) -> tuple[float, float] | None:
    """Place and spread of a wrist that does not show, from the other arm; None where that shows
    none either."""
    if len(other.places) == 1:
        return None
    place, spread = one.places[-1], one.spreads[-1]
    # as far from the shoulder as the other, or as far from the fingertips, or as if it were alone
    ends = (0.0, one.total - other.total)
    told = np.concatenate([other.places[:-1] + end for end in ends])
    wide = np.concatenate(
        [np.hypot(other.spreads[:-1], share * one.total) for share in SIDES_DIFFER]
    )
    both = wide**2 + spread**2
    weight = np.tile(other.likely[:-1], 2) * np.exp(-0.5 * (told - place) ** 2 / both)
    weight = np.append(weight / np.sqrt(both), 2.0 * other.likely[-1] / (np.sqrt(2.0) * spread))
    weight /= weight.sum()
    places = np.append((told * spread**2 + place * wide**2) / both, place)
    square = np.append(spread**2 * wide**2 / both, spread**2)
    middle = float(weight @ places)
    return middle, float(np.sqrt(weight @ (square + (places - middle) ** 2)))


def _turns(line: FloatArray, degrees: float) -> NDArray[np.bool_]:
    """(n,) whether a line of (n, 3) points turns by more than this within two points."""
    step = line[2:] - line[:-2]
    step = step / np.maximum(np.linalg.norm(step, axis=1), 1e-300)[:, None]
    sharp = np.einsum("ij,ij->i", step[2:], step[:-2]) < np.cos(np.radians(degrees))
    turns = np.zeros(len(line), dtype=bool)
    turns[2:-2] = sharp
    return np.asarray(ndimage.binary_dilation(turns))


def _beyond_cuffs(
    breadth: FloatArray, sound: NDArray[np.bool_], thin: int, least: float
) -> list[tuple[int, int]]:
    """(narrowest, broadest) station of hands that begin farther out than the first narrowing: a
    glove's cuff broadens the arm before the hand does."""
    found = []
    for valley in range(thin + 1, len(breadth) - 1):
        lowest = breadth[valley] <= min(breadth[valley - 1], breadth[valley + 1])
        cuff = float(breadth[thin:valley].max())
        if not (lowest and sound[valley] and cuff > CUFF_OVER_WRIST * breadth[valley]):
            continue
        palm = valley + 1 + int(np.argmax(np.where(sound[valley + 1 :], breadth[valley + 1 :], 0)))
        wider = breadth[palm] > max(least, LEAST_BROADENING * breadth[valley])
        if wider and palm > valley + 1:  # between two stations it is noise
            found.append((valley, palm))
    return found


def _onset(arc: FloatArray, breadth: FloatArray, thin: int, palm: int) -> float:
    """Arc at which the arm has broadened by `ONSET` from its narrowest station to the palm."""
    level = breadth[thin] + ONSET * (breadth[palm] - breadth[thin])
    row = palm
    while row > thin and breadth[row] > level:
        row -= 1
    share = (level - breadth[row]) / max(float(breadth[row + 1] - breadth[row]), 1e-12)
    return float(arc[row] + np.clip(share, 0.0, 1.0) * (arc[row + 1] - arc[row]))
