"""Which finger is the thumb, in which order the others follow, and whether the hand is a left one.

Seen from the back of a left hand with its fingers up, the thumb is on the right. So side, palm and
the thumb's side hang together: two of them give the third. The thumb's side shows in where the
thumb begins. The palm shows in where the thumb points and whither the fingers bend, since no finger
bends backward much.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from autoplace.measure.finger_branches import BEGIN_FOLDED
from autoplace.measure.finger_line import FingerLine

__all__ = ["FingerOrder", "HandSide", "PalmSigns", "bend_towards", "order_fingers", "palm_signs"]

FloatArray = NDArray[np.float64]

TIP_SHARE = 0.25
"""Weight of the thumb's tip beside that of its root, in which side it is on: a thumb laid across
the palm begins on its own side."""
BEND_WORTH = 0.1
"""Bend of the fingers, radians, against how far the thumb points to the palm, in hand lengths: a
relaxed hand bends by about one, and its thumb points a tenth to a half palmward (own invented
hands)."""
END_WORTH = 1.5
"""Weight of how near to the wrist a finger ends, beside how near to it its web is: a thumb laid
along the hand has its web where those of the others are (own invented hands of even number)."""
VISIBLE = 0.445
"""Finger from its web on, share of the hand (references: ANSUR II palm / hand .60)."""
RISE = 2.0
"""Length of a line below its finger, in radii, that shows a direction."""
WAYPOINTS = (0.25, 0.5, 0.7, 0.85)
"""Shares of a finger at which its direction is followed; from the last but one on its end."""
FOLDED_AIM = 0.5
"""Cosine of the angle between a finger and what is below it, under which it is folded there: the
knuckles and middle joints of an open hand bend by less than 60 degrees (references: 45 and 30)."""
NOISE = 0.05
"""One standard deviation of what speaks for the thumb's side and for the palm, in hand lengths (own
invented hands: flat hands with the thumb along have .08)."""
ROUGH = 0.1
"""The same before the wrist and the webs are known."""
MISLED, SIDE_WORTH = 0.02, 0.2
"""Chance that a thumb seems to be on the wrong side of a hand whose side is known, and how much a
chance e times as large counts beside what a finger looks like by itself (own invented hands of even
number and of two further deals: with .1 to .4, four of seven thumbs are mended that were taken for
little fingers, and none is lost)."""
CLEAR_LEAD = 0.3
"""Lead of a thumb below which it is doubtful (own invented hands of even number)."""
LIKE_A_THUMB, CLEAR_THUMB = 0.6, 0.85
"""One of four fingers is as much like a thumb as the first, the side of the hand counted, or as the
second by its looks alone, lest a side that is wrongly told hide it: where it was not, none was (own
invented hands of even number and of two further deals: .46 and .75 at most on five hands of five
whose thumb is grown to the palm, with the side .73 and more on 150 of four)."""
SURE = 6.0
"""A finger that looks more like a thumb by this share of one is e times as likely to be it (the
same hands: where it told left from right best)."""

PLACES = 9
"""Places along a finger whose mean is its middle."""
LOOSE, BESIDE = 0.1, 0.05
"""Least distances from a row that tell, in its own spread: smaller ones are as good as none."""
UNEVEN, LOW = 0.5, 4.0
"""Weight of how far the other fingers lie from one row, and of how much lower a finger's line
begins, in ways from the arm to the farthest end, beside how far it lies from their row (own
invented fists of further deals: every weight from 3 to 4 is right in 52 of 56)."""
ROW_WORTH = 1.5
"""Weight of that beside what else a finger of a folded hand looks like (the same fists: with 1.5 to
2, 52 are right; without it 35)."""
OPEN = 0.65
"""Where all fingers but one begin farther out than this share of the way, they may be folded; from
`BEGIN_FOLDED` on they are (webs of an open hand lie .63 of the way; the index finger alone begins
as far out as a thumb is grown to it)."""


@dataclass(frozen=True)
class HandSide:
    """Which hand it is, as its shape shows it."""

    side: str
    """'left' or 'right'."""
    sure: float
    """Chance that it is: .5 when nothing shows, 1 when it is certain."""


@dataclass(frozen=True)
class PalmSigns:
    """What speaks for a direction across the hand being the thumb's side; negative speaks against
    it. Shares of the hand's length."""

    lateral: float
    """From where the thumb is."""
    palmward: float
    """From where the thumb points and the fingers bend: these tell the palm, and with the side of
    the hand that tells the thumb's side."""

    def side(self, assumed: str, noise: float = NOISE) -> HandSide:
        """Which hand it is, when it was measured as the one assumed: the two must agree."""
        other = "right" if assumed == "left" else "left"
        agree = self.lateral * self.palmward > 0.0
        sure = ndtr(min(abs(self.lateral), abs(self.palmward)) / noise)
        return HandSide(assumed if agree else other, float(sure))


@dataclass(frozen=True)
class FingerOrder:
    """Fingers from the thumb on."""

    order: list[int]
    """Numbers of the lines, thumb first."""
    lead: float
    """How much more than the runner-up one finger looks like a thumb."""
    own: float = 1.0
    """Chance, by what the fingers look like, that the thumb is the right one."""
    otherwise: float = 0.0
    """Chance that it is another one and the hand of the side that it was taken for."""
    seen: bool = True
    """False where four fingers stand in a row and none is the thumb: the first is the index."""

    @property
    def doubtful(self) -> bool:
        """Whether the thumb stands out by little, or by less than another finger would."""
        return self.lead < CLEAR_LEAD or self.own < 0.5

    def side(self, told: HandSide, assumed: str) -> HandSide:
        """Which hand it is, when the thumb may be another finger.

        Args:
            told: which one it is if the thumb is the right one. assumed: as it was measured.
        """
        chance = self.own * (told.sure if told.side == assumed else 1.0 - told.sure)
        chance += self.otherwise
        other = "right" if assumed == "left" else "left"
        return HandSide(assumed if chance > 0.5 else other, max(chance, 1.0 - chance))


def order_fingers(lines: Sequence[FingerLine], side: str, seen: bool = False) -> FingerOrder:
    """Find the thumb and the order of the others.

    Args:
        lines: two or more fingers of one hand, any frame.
        side: 'left' or 'right'.
        seen: one of them is known to be the thumb.
    """
    scores = np.array(_thumb_scores(lines))
    if len(lines) == 2:
        thumb = int(np.argmax(scores))
        return FingerOrder([thumb, 1 - thumb], float(scores[thumb] - scores[1 - thumb]))
    rows = [_row(lines, k, side) for k in range(len(lines))]
    agree = np.array([chance for _, chance in rows])
    by_side = SIDE_WORTH * np.log(MISLED + (1.0 - MISLED) * agree)
    hidden = scores.max() < CLEAR_THUMB and float((scores + by_side).max()) < LIKE_A_THUMB
    if len(lines) == 4 and hidden and not seen:
        return FingerOrder(_row(lines, None, side)[0], 0.0, seen=False)
    folded = _folded(lines)
    looks = scores + folded * ROW_WORTH * np.array(_beside_row(lines))
    # a fist shows little of its side
    thumb = int(np.argmax(looks + (1.0 - folded) * by_side))
    likely = np.exp(SURE / (1.0 + folded * ROW_WORTH) * (looks - looks.max()))
    likely /= likely.sum()
    return FingerOrder(
        [thumb, *rows[thumb][0]],
        float(np.diff(np.sort(scores)[-2:])[0]),
        float(likely[thumb]),
        float(np.delete(likely, thumb) @ np.delete(agree, thumb)),
    )


def _row(lines: Sequence[FingerLine], thumb: int | None, side: str) -> tuple[list[int], float]:
    """The other fingers in their order, if one is the thumb or none, and the chance that a hand
    with such a thumb is of the side."""
    rest = [j for j in range(len(lines)) if j != thumb]
    spot = np.array([lines[j].at(0.25 * lines[j].length) for j in rest])
    _, _, axes = np.linalg.svd(spot - spot.mean(axis=0))
    along = np.mean([_rise(lines[j]) for j in rest], axis=0)
    across = axes[0] - along * (axes[0] @ along) / (along @ along)
    first = None if thumb is None else lines[thumb]
    signs = palm_signs(first, [lines[j] for j in rest], along, across, side)
    toward = spot @ across * np.sign(signs.lateral + signs.palmward or 1.0)
    row = [rest[j] for j in np.argsort(-toward, kind="stable")]
    told = signs.side(side, ROUGH)
    return row, told.sure if told.side == side else 1.0 - told.sure


def palm_signs(
    thumb: FingerLine | None,
    others: Sequence[FingerLine],
    along: FloatArray,
    across: FloatArray,
    side: str,
) -> PalmSigns:
    """What speaks for `across` being the thumb's side.

    Args:
        thumb: its line, or None. others: lines of the other fingers.
        along: (3,) direction of the hand. across: (3,) candidate, square to it.
        side: 'left' or 'right'.
    """
    along = along / np.linalg.norm(along)
    across = across / np.linalg.norm(across)
    palm = np.cross(along, across) * (1.0 if side == "left" else -1.0)
    length = float(np.median([line.length for line in others])) / VISIBLE
    middle = np.mean([line.at(0.0) for line in others], axis=0)
    bend = BEND_WORTH * float(np.mean([bend_towards(line, _rise(line), palm) for line in others]))
    if thumb is None:
        return PalmSigns(0.0, bend)
    root, tip = thumb.at(0.0) - middle, thumb.tip - middle
    lateral = float((root + TIP_SHARE * tip) @ across) / (1.0 + TIP_SHARE) / length
    return PalmSigns(lateral, float(tip @ palm) / length + bend)


def _rise(line: FingerLine) -> FloatArray:
    """(3,) unit direction in which a finger leaves the palm: that of its first bone, also where it
    is folded and told apart only beyond the fold."""
    rise = line.at(0.0) - line.points[0]
    size = float(np.linalg.norm(rise))
    if size < RISE * line.typical_radius() or rise @ line.root_aim > FOLDED_AIM * size:
        return line.root_aim
    return np.asarray(rise / size)


def bend_towards(line: FingerLine, first: FloatArray, direction: FloatArray) -> float:
    """Angle by which a finger's end is turned from a first direction to another, radians; followed
    along the finger, since those of a fist turn by more than two right angles."""
    aside = direction - first * (direction @ first)
    size = float(np.linalg.norm(aside))
    if size < 1e-9:
        return 0.0
    places = np.array([0.0, *WAYPOINTS]) * line.length
    ways = np.diff(line.at(places), axis=0)
    ways = np.concatenate([first[None], ways, (line.tip - line.at(places[-2]))[None]])
    angles = np.unwrap(np.arctan2(ways @ aside / size, ways @ first))
    return float(angles[-1])


def _thumb_scores(lines: Sequence[FingerLine]) -> list[float]:
    """How much like a thumb each finger is."""
    aims = np.array([_aim(line) for line in lines])
    reach = max(line.tip_distance for line in lines) - min(line.web for line in lines)
    webs = np.array([line.web for line in lines])
    ends = np.array([line.tip_distance for line in lines])
    girths = np.array([line.typical_radius() for line in lines])
    if len(lines) == 2:
        # both webs are one and the same; the thumb is the shorter and slimmer of the two
        return [
            float((ends[1 - k] - ends[k]) / reach + 0.5 * np.log(girths[1 - k] / girths[k]))
            for k in range(2)
        ]
    scores = []
    for k in range(len(lines)):
        rest = [j for j in range(len(lines)) if j != k]
        mean = aims[rest].mean(axis=0)
        cosine = np.dot(aims[k], mean / np.linalg.norm(mean))
        scores.append(
            float(
                # a thumb grown to the hand begins anywhere and is a slim stub: that speaks for
                # nothing, while its end stays the nearest to the wrist
                max(np.median(webs[rest]) - webs[k], 0.0) / reach
                + END_WORTH * (np.median(ends[rest]) - ends[k]) / reach
                + 0.5 * np.degrees(np.arccos(np.clip(cosine, -1, 1))) / 45.0
                + 0.3 * max(girths[k] / np.median(girths[rest]) - 1.0, 0.0)
            )
        )
    return scores


def _folded(lines: Sequence[FingerLine]) -> float:
    """How surely fingers begin so far out that only their folds stand free, from 0 to 1."""
    begin = sorted(line.web for line in lines)[1]
    share = begin / max(line.tip_distance for line in lines)
    return float(np.clip((share - OPEN) / (BEGIN_FOLDED - OPEN), 0.0, 1.0))


def _beside_row(lines: Sequence[FingerLine]) -> list[float]:
    """How much like a thumb each finger is by where it lies: the others lie in one row, and the
    thumb beside it, beginning nearer to the wrist. Of a fist, where fingers end and whither they
    point tells nothing, and this does."""
    share = np.linspace(0.0, 1.0, PLACES)
    spots = np.array([line.at(share * line.length).mean(axis=0) for line in lines])
    begin = np.array([line.points[0][1] for line in lines])
    reach = max(line.tip_distance for line in lines)
    scores = []
    for k in range(len(lines)):
        rest = np.delete(spots, k, axis=0)
        _, sizes, axes = np.linalg.svd(rest - rest.mean(axis=0))
        off = spots[k] - rest.mean(axis=0)
        beside = np.linalg.norm(off - (off @ axes[0]) * axes[0])
        length = float(sizes[0] / np.sqrt(len(rest)))
        loose = float(np.linalg.norm(sizes[1:]) / np.sqrt(len(rest)))
        low = float(np.median(np.delete(begin, k)) - begin[k]) / reach
        scores.append(
            float(
                np.log(BESIDE + beside / length)
                - UNEVEN * np.log(LOOSE + loose / length)
                + LOW * low
            )
        )
    return scores


def _aim(line: FingerLine) -> FloatArray:
    """(3,) unit direction of the first half of a finger."""
    aim = line.at(0.6 * line.length) - line.at(0.0)
    return np.asarray(aim / np.linalg.norm(aim))
