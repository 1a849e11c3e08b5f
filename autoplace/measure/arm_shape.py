"""One arm as a line of sections from the shoulder to the fingertips, its wrist and its armpit."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.limbs import Limb
from autoplace.measure.sections import (
    ROUGH_GRID,
    Sections,
    cut_sections,
    over_gaps,
    resample_line,
    smooth_line,
)
from autoplace.measure.solid import Solid

__all__ = ["ArmShape", "find_armpit", "fit_axis", "measure_arm"]

FloatArray = NDArray[np.float64]

STATIONS = 56
CENTRED_SHARE = 0.8
"""Share of the line that is moved to the middle of its sections; the rest is fingers."""
ARM_SHARE = 0.85
"""Share of the line in which a gap may part rigid parts; beyond it, fingers do."""
WRIST_FROM = 0.35
"""The wrist lies beyond this share of the way from shoulder to longest fingertip: an adult's hand
is a quarter of it (references 1.2), a cartoon hand up to half."""
PALM_FROM = 0.55
"""The broadest part of the palm lies beyond this share of the way."""
LEAST_BROADENING = 1.15
"""A hand that is less than this much broader than the forearm's end shows no wrist; hand breadth
over wrist breadth is 1.4 to 1.5 (from memory)."""
LEAST_PALM = 0.7
"""The palm is at least this share as broad as the broadest place beyond `PALM_FROM`, which on an
arm without fingers is the elbow (own synthetic stump: 0.85); fingertips are narrower."""
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
LEAST_RADIUS = 0.004
"""Of an arm that is thinner than cells can tell, fraction of height: half a body cell."""
OPEN_RADII = 1.7
"""The armpit is where the arm's underside is this many arm radii away: trunk, not arm."""
WIDE_OPEN_RADII = 2.4
"""Where the underside is farther, between two places looked at, it counts as so many radii: the
step is about halfway then."""


@dataclass(frozen=True)
class ArmShape:
    """One arm, working frame."""

    side: str
    sections: Sections
    """From the first guess of the shoulder to the longest finger's tip."""
    wrist_arc: float
    """Distance along the sections to the wrist."""
    wrist_spread: float
    """One standard deviation of `wrist_arc`."""
    wrist_seen: bool
    """True when the wrist shows as a narrowing between forearm and hand."""
    cells: FloatArray
    """(m, 3) cell centres of the arm beyond the trunk."""

    @property
    def tip(self) -> FloatArray:
        """(3,) end of the longest finger."""
        return np.asarray(self.sections.centre[-1])

    def at(self, arc: float) -> FloatArray:
        """(3,) point of the line of section centres at an arc length."""
        line, total = self.sections.centre, self.sections.arc
        return np.array([np.interp(arc, total, line[:, a]) for a in range(3)])


def measure_arm(solid: Solid, limb: Limb, shoulder: FloatArray) -> ArmShape:
    """Cut an arm into sections from a first guess of the shoulder to the tip, and find the wrist.

    Args:
        solid: the body, working frame. limb: the arm's branch.
        shoulder: (3,) first guess of the joint, within a few percent of the height.
    """
    rough = smooth_line(limb.line, 2)
    away = np.linalg.norm(rough - shoulder, axis=1)
    begin = int(np.argmax(away > 0.25 * away.max()))
    line = np.concatenate([shoulder[None], rough[begin:]])
    inner = slice(len(limb.radius) // 8, max(len(limb.radius) // 2, 2))
    reach = 2.3 * float(np.median(limb.radius[inner]))
    hint = np.array([0.0, 0.0, 1.0])
    line = resample_line(line, STATIONS)
    start = shoulder
    for _ in range(3):
        sections = over_gaps(cut_sections(solid, line, reach, hint, ROUGH_GRID), ARM_SHARE)
        good = (sections.area > 0) & ~sections.open_edge
        # near the trunk the cut takes in more than the arm
        good &= sections.radius < 1.5 * np.median(sections.radius[STATIONS // 4 : STATIONS // 2])
        # among fingers the nearest region may be another finger
        good &= np.arange(STATIONS) < CENTRED_SHARE * STATIONS
        moved = np.where(good[:, None], sections.centre, line)
        moved[0] = start
        line = resample_line(smooth_line(moved, 2), STATIONS)
    sections = over_gaps(cut_sections(solid, line, reach, hint), ARM_SHARE)
    # a cut that takes in the trunk has its middle there, which is no place of the arm
    typical = float(np.median(sections.radius[STATIONS // 4 : STATIONS // 2]))
    astray = np.linalg.norm(sections.centre - line, axis=1) > typical
    centre = np.where((astray | sections.open_edge)[:, None], line, sections.centre)
    sections = replace(sections, centre=centre)
    arc, spread, seen = _wrist(sections)
    return ArmShape(limb.side or "left", sections, arc, spread, seen, limb.cells)


def _wrist(sections: Sections) -> tuple[float, float, bool]:
    """Arc of the wrist, its spread, and whether it shows.

    The hand shows by its breadth: going outward, the section begins to broaden at the wrist and is
    broadest at the palm. The pivot lies a little before the broadening.
    """
    arc = sections.arc
    total = float(arc[-1])
    missing = (1.0 - HAND_SHARE) * total, HAND_SHARE_SPREAD * total, False
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
    hands = [(thin, palm), *_beyond_cuffs(breadth, sound, thin, LEAST_PALM * breadth[palm])]
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
    places = np.append(onsets - WRIST_BEFORE_ONSET * lengths, missing[0])
    own = np.append(np.maximum(0.04 * lengths, 0.5 * total / len(arc)), missing[1])
    likely = np.append((1.0 - sleeve) * likely, sleeve)
    place = float(likely @ places)
    # a cuff that may be the hand, or a hand that may be a cuff, makes the wrist less sure
    spread = float(np.sqrt(likely @ (own**2 + (places - place) ** 2)))
    return place, spread, bool(sleeve < 0.5)


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


def fit_axis(
    shape: ArmShape, low: float, high: float
) -> tuple[FloatArray, FloatArray, float, float]:
    """Straight axis through the section centres between two arc lengths.

    Returns:
        Point on the axis (3,), unit direction toward the hand (3,), median radius of the sections
        used, and the number of sections used over the number asked for.
    """
    sections = shape.sections
    arc = sections.arc
    asked = (arc >= low) & (arc <= high)
    filled = sections.area > 0
    middle_third = filled & (arc > 0.3 * arc[-1]) & (arc < 0.6 * arc[-1])
    chosen = middle_third if middle_third.any() else filled
    typical = float(np.median(sections.radius[chosen])) if chosen.any() else LEAST_RADIUS
    sound = asked & filled & ~sections.open_edge & (sections.radius < 2.0 * typical)
    if sound.sum() < 3:
        a, b = shape.at(low), shape.at(high)
        direction = (b - a) / max(float(np.linalg.norm(b - a)), 1e-300)
        return 0.5 * (a + b), direction, typical, 0.0
    points = sections.centre[sound]
    middle = points.mean(axis=0)
    direction = np.linalg.svd(points - middle)[2][0]
    direction = direction * np.sign(direction @ (points[-1] - points[0]))
    radius = float(np.median(sections.radius[sound]))
    return middle, direction, radius, float(sound.sum() / max(asked.sum(), 1))


def find_armpit(
    solid: Solid, point: FloatArray, direction: FloatArray, radius: float, trunk: FloatArray
) -> FloatArray | None:
    """The hollow where the arm's underside meets the trunk.

    From the upper arm's axis, rays run toward the trunk side; where they leave the arm after about
    its radius it is arm, where they run on it is trunk. The armpit is the step between.

    Args:
        solid: the body. point, direction, radius: the upper arm's axis (toward the hand) and
            radius. trunk: (3,) a point inside the trunk.

    Returns:
        (3,) the hollow on the arm's underside, or None where no step shows (arm apart or hidden).
    """
    inward = trunk - point
    inward = inward - (inward @ direction) * direction
    inward = inward / max(float(np.linalg.norm(inward)), 1e-300)
    across = np.cross(direction, inward)
    length = 0.16
    stations = np.arange(0.06, -length, -0.0025)
    start = point + stations[:, None] * direction
    steps = np.arange(1, 41, dtype=np.float64) * (0.1 * radius)
    exits = []
    for angle in np.radians((-25.0, 0.0, 25.0)):
        ray = np.cos(angle) * inward + np.sin(angle) * across
        exits.append(_exit(solid.sample(start[:, None] + steps[None, :, None] * ray), steps))
    reach = np.min(exits, axis=0) / radius
    trunk_there = reach > OPEN_RADII
    # a step counts when the trunk goes on for a while behind it
    steady = trunk_there & np.roll(trunk_there, -1) & np.roll(trunk_there, -2)
    steady[-2:] = False
    found = np.flatnonzero(steady)
    if len(found) == 0 or found[0] == 0:
        return None
    row = int(found[0])
    before, here = (min(float(reach[k]), WIDE_OPEN_RADII) for k in (row - 1, row))
    share = float(np.clip((here - OPEN_RADII) / max(here - before, 1e-9), 0.0, 1.0))
    place = stations[row] + share * (stations[row - 1] - stations[row])
    return np.asarray(point + place * direction + radius * inward)


def _exit(cover: FloatArray, steps: NDArray[np.floating]) -> FloatArray:
    """(n,) how far along each ray coverage (n, k) first falls through one half; the last step where
    it does not."""
    outside = cover <= 0.5
    first = np.argmax(outside, axis=1)
    rows = np.arange(len(cover))
    inner, outer = cover[rows, np.maximum(first - 1, 0)], cover[rows, first]
    share = np.clip((inner - 0.5) / np.maximum(inner - outer, 1e-6), 0.0, 1.0)
    place = steps[np.maximum(first - 1, 0)] + share * (steps[1] - steps[0])
    place = np.where(first == 0, steps[0], place)
    return np.where(outside.any(axis=1), place, steps[-1])
