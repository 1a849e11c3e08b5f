"""Which islands are eyeballs? Judged by shape and place; a name only tips the scale.

An eye is a compact island, round for preference, at the front of the head, and nearly always one
of a pair in mirror. What also comes in round pairs is told apart by place: earrings hang at the
side below the eyes, buttons and beads lie on the trunk, ears are not compact, brows are long.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.eye_scene import Candidate, EyeScene
from autoplace.mesh.slices import HeadBox, Span
from autoplace.mesh.spheres import IslandMeasures

__all__ = ["LOWEST_EYE", "RADIUS_RANGE", "Eyeball", "find_eyeballs"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ROUND_MISFIT = 0.35
"""Sphere misfit at which roundness speaks neither for nor against: between a coarse ball with an
iris dish (0.15, measured on our own spheres) and a cube (0.47)."""
COMPACT_ASPECT = 1.8
"""Longest over shortest side of an eyeball's box at most: whole balls 1, the front half of one 2
along a single axis only (that axis is left out), drawn-out cartoon eyes between."""
OVAL_MISFIT = 0.18
"""The same of an island whose box is made a cube, up to which it is an oval or a lens: between a
coarse ball (0.15) and a rod twice as long as thick (0.2, own synthetic shapes)."""
RADIUS_RANGE = (0.0015, 0.12)
"""Fraction of height. Adult 0.0069 (12 mm of 1.74 m, references section 6); the limits are a
quarter of it, and half a head of a two-heads-tall figure."""
SPREAD_RANGE = (1.5, 11.0)
"""Distance between the eyes over their radius. Adult 63 / 12 = 5.25 (references section 6);
cartoon eyes overlap a little, button eyes are small."""
LOWEST_EYE = 0.42
"""Fraction of height: eyes sit at half the head height, and no head is taller than about half the
figure; a tall hat takes the rest."""
SHOWN_MISFIT = 0.25
"""A lone eye has no mirror image to speak for it and must be rounder than one of a pair."""
CROWD = 4
"""More candidates than this of one size are beads, not eyes (common practice, no source)."""
SUNK_LEVEL = (0.25, 0.65)
"""Height in the head, from the chin, of eyes that may overrule the facing: half, .49 +- .02
(ANSUR2; references section 6), and room for hair and stylised faces."""
MIDDLE = 0.75
"""A ball less than this many of its radii beside the middle may be a nose: half the least distance
of two eyes."""
LARGEST = (0.8, 0.7)
"""Radius of an eye over half the breadth of the head around it at most, of one of a pair and alone:
what is broader is the head itself in its hair or hat, or an arm. Half of it of what is not round:
plates and discs are small, sleeves and boxes are not (common practice, no source)."""
HIGHEST = 0.8
"""Height in the head from which on eyes are round, a crown's spikes not (common practice)."""
LEAST_SCORE = 0.05
"""Scores below this are no eyes."""
SHELL_REACH = 1.3
"""Islands wholly within this many radii of the centre belong to the eye (cornea, iris, lens)."""


@dataclass(frozen=True)
class Eyeball:
    """One eye: an island, and those that lie in or on it."""

    islands: tuple[int, ...]
    """The first is the ball itself."""
    side: str | None
    """'left', 'right', or None for an eye on the middle or beside a pair."""
    centre: FloatArray
    """(3,) rough centre, working frame."""
    radius: float
    reason: str
    confidence: float


def find_eyeballs(
    measures: IslandMeasures,
    label: IntArray,
    corners: FloatArray,
    named: Sequence[float],
    excluded: Collection[int] = (),
    *,
    sunk_only: bool = False,
) -> tuple[Eyeball, ...]:
    """Eyeballs among the islands, best pair first; empty when there are none.

    Args:
        measures: of the islands, working frame.
        label: (m,) island of each triangle; below 0 for triangles to pass over.
        corners: (m, 3, 3) corners of each triangle, working frame.
        named: per island 1 when its part's name says eye, -1 when it says something else.
        excluded: islands that are decided already.
        sunk_only: take only a pair that is sunk in the head at half its height: buns and tanks
            on the back of a head stand off it or sit high.
    """
    candidates = [c for c in _candidates(measures, named) if c.island not in excluded]
    if not candidates:
        return ()
    upper = (label >= 0) & (measures.face_centre[:, 1] > LOWEST_EYE - 0.05)
    scene = EyeScene(corners[upper], label[upper], candidates)
    found: list[tuple[float, Candidate, Candidate]] = []
    for i, first in enumerate(candidates):
        for second in candidates[i + 1 :]:
            score = _pair_score(first, second) * _crowd_score(first, candidates)
            if score > LEAST_SCORE:
                score *= _place_score(first, second, scene)
            if sunk_only and score > LEAST_SCORE and not _is_sunk(first, second, scene):
                continue
            if score > LEAST_SCORE:
                found.append((score, first, second))
    if not found:
        if sunk_only:
            return ()
        return _lone_eye(scene, measures, named)
    found.sort(key=lambda f: (-f[0], f[1].island))
    best = next((pair for pair in found if scene.at_head(pair[1], pair[2])), None)
    if best is None:
        return () if sunk_only else _lone_eye(scene, measures, named)
    score, one, two = best
    left, right = (one, two) if one.centre[0] > two.centre[0] else (two, one)
    round_words = "round" if max(one.misfit, two.misfit) < ROUND_MISFIT else "compact"
    reason = f"a pair of {round_words} pieces in mirror at the front of the head"
    eyes: list[tuple[Candidate, str | None, str, float]] = [
        (left, "left", reason, score),
        (right, "right", reason, score),
    ]
    for extra in _further_eyes(candidates, left, right):
        eyes.append((extra, None, "as round and as far forward as the pair beside it", 0.6 * score))
    return tuple(
        Eyeball(
            (c.island, *_shells(c, measures, {e[0].island for e in eyes}, named)),
            side,
            c.centre,
            c.radius,
            why,
            float(np.clip(value, 0.0, 1.0)),
        )
        for c, side, why, value in eyes
    )


def _candidates(measures: IslandMeasures, named: Sequence[float]) -> list[Candidate]:
    """Compact islands of sane size in the upper part of the figure, biggest of concentric ones."""
    sides = np.sort(measures.high - measures.low, axis=1)
    centre = 0.5 * (measures.high + measures.low)
    radius = 0.25 * (sides[:, 1] + sides[:, 2])
    ball = (
        (measures.ball_misfit < ROUND_MISFIT)
        & (measures.ball_share > 0.08)
        & (np.abs(measures.ball_radius) > 0.4 * radius)
        & (np.abs(measures.ball_radius) < 2.5 * radius)
    )
    centre[ball] = measures.ball_centre[ball]
    radius[ball] = np.abs(measures.ball_radius[ball])
    oval = measures.oval_misfit < OVAL_MISFIT
    compact = (sides[:, 2] < COMPACT_ASPECT * sides[:, 1]) & (
        ball | oval | (sides[:, 2] < COMPACT_ASPECT * np.maximum(sides[:, 0], 1e-12))
    )
    good = compact & (radius > RADIUS_RANGE[0]) & (radius < RADIUS_RANGE[1])
    good &= centre[:, 1] > LOWEST_EYE
    chosen: list[Candidate] = []
    for island in np.flatnonzero(good)[np.argsort(-radius[good], kind="stable")]:
        one = Candidate(
            int(island),
            centre[island],
            float(radius[island]),
            float(min(measures.ball_misfit[island], measures.oval_misfit[island])),
            named[island],
        )
        inside = any(
            np.linalg.norm(other.centre - one.centre) < 0.6 * other.radius
            for other in chosen
            if other.misfit < ROUND_MISFIT
        )
        if not inside:
            chosen.append(one)
    return chosen[:40]


def _pair_score(one: Candidate, two: Candidate) -> float:
    """0 to 1: are the two mirror images of each other, and eye-like in shape and distance?"""
    radius = 0.5 * (one.radius + two.radius)
    gap = one.centre - two.centre
    apart = float(np.linalg.norm(gap))
    if not SPREAD_RANGE[0] * radius < apart < SPREAD_RANGE[1] * radius:
        return 0.0
    # a turned or tilted head moves one eye forward or down, by less than it sets them apart
    if abs(gap[0]) < 0.7 * apart:
        return 0.0
    alike = abs(one.radius - two.radius) / radius
    if alike > 0.25:
        return 0.0
    middle = abs(one.centre[0] + two.centre[0]) / 2
    straight = np.exp(-((gap[1] / (2 * radius)) ** 2) - (gap[2] / (3 * radius)) ** 2)
    central = np.exp(-((middle / 0.1) ** 2))
    misfit = max(one.misfit, two.misfit)
    rounded = 1.0 / (1.0 + (misfit / ROUND_MISFIT) ** 2)
    named = {-2: 0.2, -1: 0.5, 0: 1.0, 1: 1.3, 2: 1.6}[round(one.named + two.named)]
    return float(straight * central * (1 - 2 * alike) * np.sqrt(rounded) * named)


def _crowd_score(one: Candidate, candidates: Sequence[Candidate]) -> float:
    """Less than 1 for one of many alike: beads and buttons come in rows, eyes do not."""
    alike = sum(abs(c.radius / one.radius - 1) < 0.2 for c in candidates)
    return 1.0 if alike <= CROWD else 0.3


def _place_score(one: Candidate, two: Candidate, scene: EyeScene) -> float:
    """0 to 1: are the two at the front of the head, not at its sides or on the trunk?"""
    score = 1.0
    middle = 0.5 * (one.centre[0] + two.centre[0])
    for eye in (one, two):
        span = scene.span(eye)
        if span is None:
            score *= 0.3  # stalked eyes stand above everything else
            continue
        depth = max(span.z_high - span.z_low, 1e-9)
        forward = (eye.centre[2] + eye.radius - span.z_low) / depth
        sideways = abs(eye.centre[0] - middle) / max(span.half_breadth, 1e-9)
        # a human eye: forward 0.9, sideways 0.42; a bird's eye sits on the side of the head, and
        # shows there as a big ball; small ones at the side are earrings
        big = eye.radius / max(span.half_breadth, 1e-9)
        score *= float(np.clip((forward - 0.45) / 0.3, 0.0, 1.0))
        if sideways > 0.85:
            score *= float(np.clip((big - 0.15) / 0.25, 0.0, 1.0))
        # on a trunk a pair of beads is small against the breadth
        score *= float(np.clip(big / 0.06, 0.0, 1.0))
    if score > LEAST_SCORE:
        head = scene.head(one)
        height = 0.5 * (one.centre[1] + two.centre[1]) + 0.5 * (one.radius + two.radius)
        misfit = max(one.misfit, two.misfit)
        if head is not None and head.certain:
            highest = HIGHEST * float(head.high[1]) + (1.0 - HIGHEST) * float(head.low[1])
            if height < head.low[1]:
                return 0.0  # below the chin
            if misfit > ROUND_MISFIT and min(one.centre[1], two.centre[1]) > highest:
                return 0.0  # spikes of a crown
        largest = LARGEST[0] if misfit < ROUND_MISFIT else 0.5 * LARGEST[0]
        if head is not None and _share(one, head) > largest:
            return 0.0
        if misfit > ROUND_MISFIT and one.named + two.named <= 0 and scene.beside_all(one, two):
            return 0.0  # the upper arms of a robot
    return score


def _share(one: Candidate, head: HeadBox) -> float:
    """Radius over half the breadth of the head."""
    return one.radius / max(0.5 * float(head.high[0] - head.low[0]), 1e-9)


def _is_sunk(one: Candidate, two: Candidate, scene: EyeScene) -> bool:
    """Do both centres lie in the head, at the height where eyes are?"""
    head = scene.head(one)
    if head is None or not head.certain:
        return False
    size = head.high[1] - head.low[1]
    for eye in (one, two):
        span = scene.span(eye)
        level = (eye.centre[1] - head.low[1]) / size
        if span is None or not SUNK_LEVEL[0] < level < SUNK_LEVEL[1]:
            return False
        if eye.centre[2] > span.z_high or not span.x_low < eye.centre[0] < span.x_high:
            return False
    return True


def _lone_eye(
    scene: EyeScene, measures: IslandMeasures, named: Sequence[float]
) -> tuple[Eyeball, ...]:
    """The one eye of a head without a pair, if a candidate is round and sits where one would."""
    best: tuple[float, Candidate, HeadBox] | None = None
    for one in scene.candidates:
        head = scene.head(one) if _may_be_alone(one, scene.span(one)) else None
        if head is None:
            continue
        score = _lone_score(one, head) * _crowd_score(one, scene.candidates)
        if score > 0.15 and (best is None or score > best[0]):
            best = (score, one, head)
    if best is None:
        return ()
    score, eye, head = best
    offset = eye.centre[0] - 0.5 * (head.low[0] + head.high[0])
    side = None if abs(offset) < 0.5 * eye.radius else ("left" if offset > 0 else "right")
    reason = "one round piece at the front of the head, at an eye's height"
    shells = _shells(eye, measures, {eye.island}, named)
    return (Eyeball((eye.island, *shells), side, eye.centre, eye.radius, reason, min(0.8, score)),)


def _may_be_alone(one: Candidate, around: Span | None) -> bool:
    """Nothing in mirror speaks for it, but its shape or name must; a head fills its hair more."""
    fills = around is not None and one.radius > LARGEST[1] * 0.5 * (around.z_high - around.z_low)
    return not fills and (one.misfit <= SHOWN_MISFIT or one.named > 0)


def _lone_score(one: Candidate, head: HeadBox) -> float:
    size = head.high - head.low
    where = (one.centre - head.low) / np.maximum(size, 1e-9)
    share = _share(one, head)
    forward = where[2] + one.radius / max(size[2], 1e-9)
    sideways = abs(where[0] - 0.5) * 2
    # tall ears and hats put the eyes low in the box; one whose chin was not seen may end too high
    lowest = 0.18 if head.certain else -0.35
    if sideways > 0.85 or not lowest < where[1] < 0.9 or forward < 0.6 or share > LARGEST[1]:
        return 0.0
    central = sideways * 0.5 * size[0] < MIDDLE * one.radius
    if central and one.named <= 0 and (share < 0.2 or where[1] < 0.42):
        return 0.0  # a nose, or a bead
    level = float(np.exp(-(((where[1] - 0.5) / 0.25) ** 2))) if head.certain else 0.5
    size_ok = float(np.clip(share / 0.06, 0.0, 1.0))
    rounded = 1.0 / (1.0 + (one.misfit / ROUND_MISFIT) ** 2)
    return level * size_ok * rounded * (1.0 if one.named > 0 else 0.7)


def _further_eyes(
    candidates: list[Candidate], left: Candidate, right: Candidate
) -> list[Candidate]:
    """Eyes beside the pair: as round, of like size, as far forward, not below the pair."""
    radius = 0.5 * (left.radius + right.radius)
    middle = 0.5 * (left.centre + right.centre)
    found = []
    for one in candidates:
        if one.island in (left.island, right.island) or one.named < 0:
            continue
        near = np.linalg.norm(one.centre - middle) < 8 * radius
        alike = 0.6 * radius < one.radius < 1.6 * radius
        level = one.centre[1] > middle[1] - 0.5 * radius
        forward = one.centre[2] > middle[2] - 2 * radius
        as_round = one.misfit < max(SHOWN_MISFIT, 1.2 * max(left.misfit, right.misfit))
        if near and alike and level and forward and as_round and one.misfit < ROUND_MISFIT:
            found.append(one)
    return found


def _shells(
    eye: Candidate, measures: IslandMeasures, taken: set[int], named: Sequence[float]
) -> list[int]:
    """Islands that lie wholly in or on the ball and are not named otherwise (lashes)."""
    reach = SHELL_REACH * eye.radius
    inside = np.all(measures.low > eye.centre - reach, axis=1) & np.all(
        measures.high < eye.centre + reach, axis=1
    )
    return [i for i in np.flatnonzero(inside).tolist() if i not in taken and named[i] >= 0]
