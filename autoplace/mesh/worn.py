"""Which islands are worn or carried, and which are the figure? Told by what the rest covers.

The body is what the figure cannot do without: take it away and limbs fall off, end short, or the
skull is open. What can go is hair or a hat when it sits on the head, a garment when it lies over
the body, and an accessory when it is carried. Clothes that replace skin are needed: they stay body.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.mesh.contacts import Contacts, find_contacts
from autoplace.mesh.eyeballs import Eyeball
from autoplace.mesh.figure_scene import FigureScene, make_scene
from autoplace.mesh.head_pieces import judge_head_pieces
from autoplace.mesh.layers import LayerGrid
from autoplace.mesh.machine import is_machine
from autoplace.mesh.separate_head import separate_head
from autoplace.mesh.slices import find_head
from autoplace.mesh.spheres import IslandMeasures
from autoplace.mesh.twins import TWIN_AREA, is_copy
from autoplace.mesh.verdict import Verdict

__all__ = ["find_worn"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SMALL_SHARE = 0.004
"""Islands under this share of the whole area are judged together with their small neighbours of
the same part, and cannot break the figure when they go."""
GARMENT_SHARE = 0.02
"""Share of the whole area that a worn piece needs to be called a garment rather than an accessory:
a sleeve or a scarf has about a twentieth, a bracelet a thousandth (common practice, no source)."""
TIGHT_SHARE = 0.6
"""A piece with this share lying close outside others is worn; an arm stuck into a trunk has about
a tenth, a hand over the end of a forearm about half."""
LOOSE_SHARE = 0.2
"""A piece that hides others' cells (from three sides or more) of this share of its own is worn."""
BACK_SHARE = 0.3
"""The same for a sheet that hides others from one side only, as a cloak does."""
FLAT_GROUND = 0.02
"""Thickness of a ground plane at most, fraction of height."""
BASE_TALL, BASE_WIDE, SUNK = 0.2, 0.15, 0.01
"""A base that a figurine stands on: no taller and no narrower, fraction of height, and under all
the rest, of which soles may sink in so far (common practice, no source)."""
TWIN_NEAR, POSED_NEAR = 0.02, 0.1
"""Fraction of height within which a piece's mirror image lies at its twin; and of one made of as
many triangles, such as a sleeve over an arm in another pose (common practice, no source)."""
HINT_GAIN = {"garment": 1.5, "hair": 1.5, "accessory": 1.5, "carried": 1.5, "body": 0.7}
"""How a part's name tips the measured cover, so that it decides only near the limit."""
ACCESSORIES = ("accessory", "carried")
"""Names that speak for an accessory."""

LIKE_NEAR, LIKE_SHARE = 0.01, 0.7
"""How near to a unit's mirror image the rest of the figure is, fraction of height, and of how much
of the unit, for its like to be there (common practice, no source)."""
STICK_LONG, STICK_THIN = 0.14, 0.15
"""Length of what is held as a stick at least, fraction of height (`measure.held_sticks`), and its
breadth over its length at most: a forearm has a third, a thin arm with its hand .18 (further deals
of the box family)."""

NEEDED = "the figure is not whole without it"
"""Why a piece that could be worn is body, as long as what hangs on it is taken for body, too."""

Unit = tuple[int, ...]
"""Islands that are judged as one."""


def find_worn(
    candidates: list[int],
    fixed: list[int],
    measures: IslandMeasures,
    grid: LayerGrid,
    corners: FloatArray,
    label: IntArray,
    hints: Sequence[str | None],
    home: Sequence[int],
    eyes: Sequence[Eyeball],
) -> dict[int, Verdict]:
    """A verdict for every candidate island. All measures in the working frame.

    Args:
        candidates: islands still open (not eyeballs, not decided by the user).
        fixed: islands that are body by the user's word; the others are judged against them.
        measures: of all islands.
        grid: surface cells of all islands.
        corners: (m, 3, 3) triangles; label: (m,) their islands.
        hints: per island, the role its part's name hints at.
        home: per island, the part that most of it belongs to.
        eyes: the eyeballs found before.
    """
    verdicts: dict[int, Verdict] = {}
    rest = sorted(candidates)
    for island in _ground(rest, measures):
        verdicts[island] = Verdict("accessory", "a flat piece under the feet", 0.9)
    rest = [i for i in rest if i not in verdicts]
    for island in _bases(rest, sorted([*rest, *fixed]), measures):
        verdicts[island] = Verdict("accessory", "a base that all the rest stands on", 0.9)
    rest = [i for i in rest if i not in verdicts]
    if len(rest) == 1 and not fixed:
        verdicts[rest[0]] = Verdict("body", "all there is of the figure", 0.95)
        return verdicts
    if not rest:
        return verdicts
    rest = sorted([*rest, *fixed])
    head = separate_head(rest, measures, corners, label)
    head = head or find_head(corners[np.isin(label, rest)])
    scene = make_scene(rest, fixed, measures, grid, corners, label, hints, home, head, eyes)
    inside = judge_head_pieces(rest, scene.face, measures, corners, label, head, eyes, hints)
    verdicts |= {i: verdict for i, verdict in inside.items() if i not in fixed}
    rest = [i for i in rest if i not in verdicts]
    _peel(rest, scene, verdicts)
    for island in rest:
        if island not in verdicts:
            verdicts[island] = Verdict("body", "carries the face", 0.95)
    _agree_with_twins(verdicts, measures)
    return {i: verdict for i, verdict in verdicts.items() if i not in fixed}


def _agree_with_twins(verdicts: dict[int, Verdict], measures: IslandMeasures) -> None:
    """Of two pieces in mirror of which one was taken for body, the other is body too."""
    islands = sorted(verdicts)
    body = [i for i in islands if verdicts[i].role == "body"]
    for island in islands:
        if verdicts[island].role == "body":
            continue
        image = measures.centroid[island] * [-1.0, 1.0, 1.0]
        for other in body:
            area = measures.area[other] / max(measures.area[island], 1e-12)
            gap = float(np.linalg.norm(measures.centroid[other] - image))
            twin = gap < TWIN_NEAR and abs(area - 1) < TWIN_AREA
            twin |= gap < POSED_NEAR and is_copy(measures, island, other, islands)
            if twin and abs(image[0]) > TWIN_NEAR:
                verdicts[island] = Verdict("body", "its twin on the other side is body", 0.6)
                break


def _ground(islands: list[int], measures: IslandMeasures) -> list[int]:
    """Flat pieces at the floor that are wider than feet."""
    size = measures.high - measures.low
    return [
        i
        for i in islands
        if size[i, 1] < FLAT_GROUND
        and measures.low[i, 1] < 0.05
        and min(size[i, 0], size[i, 2]) > 0.2
    ]


def _bases(candidates: list[int], figure: list[int], measures: IslandMeasures) -> list[int]:
    """Pieces at the floor that everything else lies above, from below: a disc, a plinth on it.

    Feet and legs are two, and neither lies below the other.
    """
    found: list[int] = []
    left = list(figure)
    while len(left) > 1:
        lowest = min(left, key=lambda i: float(measures.high[i, 1]))
        others = [i for i in left if i != lowest]
        size = measures.high[lowest] - measures.low[lowest]
        tall = float(measures.high[lowest, 1])
        under = float(measures.low[others, 1].min()) > tall - SUNK
        across = measures.low[lowest, 0] < 0.0 < measures.high[lowest, 0]
        wide = min(size[0], size[2]) > max(BASE_WIDE, size[1])
        if lowest not in candidates or not (under and across and wide and tall < BASE_TALL):
            break
        found.append(lowest)
        left = others
    return found


def _peel(rest: list[int], scene: FigureScene, verdicts: dict[int, Verdict]) -> None:
    """Take away, from the outside in, what the figure stays whole without."""
    total = float(scene.measures.area[rest].sum())
    big = [i for i in rest if scene.measures.area[i] > SMALL_SHARE * total]
    small = [i for i in rest if i not in big and i not in scene.face]
    units = scene.units([i for i in big if i not in scene.face], rest)
    units, holders = _let_go(units, scene)
    kept = list(rest)
    cover = {unit: scene.cover(unit, _less(rest, unit)) for unit in units}
    # what is on one side alone first, so that a staff goes before the hand that holds it; then the
    # most covering, so that a coat goes before the shirt under it
    lone = {unit: scene.is_lone(unit[0], rest) for unit in units}
    ranked = sorted(units, key=lambda u: (not lone[u], -max(cover[u]), u))
    # one skin hangs together by itself; pieces may need a shell about their joint
    skin = any(scene.is_whole(i) for i in rest)
    contacts = None if skin else find_contacts(scene.grid, scene.measures.area, rest, big)
    machine = is_machine(scene, rest, big)
    needed: dict[Unit, int] = {}  # with how many were there when it was judged
    order = ranked
    while order:
        for unit in order:
            others = _less(kept, unit)
            holds = unit in holders and scene.hints[unit[0]] != "carried"
            # a figure in one skin has its arms, and what holds a bar there is a shield
            if holds and not _on_whole(unit, [i for i in big if not scene.is_lone(i, rest)], scene):
                verdict = Verdict("body", "holds what is carried", 0.7)
            else:
                worn = 0.0
                if not machine:
                    whole = len(kept) == len(rest)
                    worn = _worn(cover[unit] if whole else scene.cover(unit, others))
                verdict = _judge(unit, worn, others, rest, scene, total, contacts)
            for island in unit:
                verdicts[island] = verdict
            if verdict.role != "body":
                kept = others
            if verdict.reason == NEEDED:
                needed[unit] = len(kept)
            else:
                needed.pop(unit, None)
        # a cape that held a pack is not needed once the pack is taken away
        order = [unit for unit in ranked if needed.get(unit, 0) > len(kept)]
    for unit in scene.clusters(small):
        others = _less(kept, unit)
        if contacts is not None and contacts.detached(unit, others) > 0.0:
            verdict = Verdict("body", "small, and joins pieces of the figure", 0.6)
        elif machine and not _is_stick(unit, scene):
            verdict = Verdict("body", "small, and one of the many pieces of the figure", 0.6)
        else:
            verdict = _judge_small(unit, others, scene, verdicts, big)
        for island in unit:
            verdicts[island] = verdict


def _less(islands: list[int], unit: Unit) -> list[int]:
    return [i for i in islands if i not in unit]


def _worn(cover: tuple[float, float, float]) -> float:
    """1 where a piece is just about worn; from the shares of itself that cover others."""
    tight, loose, back = cover
    return max(tight / TIGHT_SHARE, loose / LOOSE_SHARE, back / BACK_SHARE)


def _let_go(units: list[Unit], scene: FigureScene) -> tuple[list[Unit], set[Unit]]:
    """The units with sticks cut from what holds them, and what does.

    An arm that is bent as the other is not has no twin, and would be judged with the blade in its
    hand; a hilt, which is smaller than its blade, goes with it.
    """
    found: list[Unit] = []
    holders: set[Unit] = set()
    for unit in units:
        sticks = [i for i in unit if len(unit) > 1 and _is_stick((i,), scene)]
        holds = [i for i in unit if i not in sticks]
        area = scene.measures.area
        if not sticks or area[holds].sum() < area[sticks].sum():
            found.append(unit)
            continue
        parts = scene.clusters(holds, by_part=False)
        holders.update(parts)
        found += [*scene.clusters(sticks, by_part=False), *parts]
    return found, holders


def _on_whole(unit: Unit, others: list[int], scene: FigureScene) -> bool:
    """Is what a unit is joined to, of some others, a figure in one skin?"""
    return bool(others) and scene.is_whole(scene.neighbour(unit, others))


def _judge(
    unit: Unit,
    worn: float,
    others: list[int],
    rest: list[int],
    scene: FigureScene,
    total: float,
    contacts: Contacts | None,
) -> Verdict:
    """What a unit of sizeable islands is."""
    hint = scene.hints[unit[0]]
    worn *= HINT_GAIN.get(hint or "", 1.0)
    on_head = scene.on_head(unit)
    held = scene.is_carried(unit, others, rest)
    # a sword has its like in the sheath on the other side, and two blades are twins; so are the
    # forearms of a robot in pieces, whatever they are named
    holders = [i for i in others if scene.hints[i] != "carried"]
    named = hint == "carried" and (held or _on_whole(unit, holders, scene))
    carried = named or (
        held and not _has_like(unit, others, scene) and not _holds_twin(unit, others, rest, scene)
    )
    alone = carried or not scene.has_twin(unit[0], rest)
    carried = carried or (alone and not on_head and scene.on_back(unit, others))
    roof = not carried and scene.is_roof(unit, others)
    if not (worn >= 1.0 or on_head or carried or roof):
        return Verdict("body", "joins on to the figure", float(np.clip(0.9 - 0.4 * worn, 0.5, 0.9)))
    apart = contacts is not None and contacts.detached(unit, others) > SMALL_SHARE * total
    if apart or not scene.whole_without(unit, others, roof):
        return Verdict("body", NEEDED, 0.9)
    sureness = float(np.clip(0.4 + 0.3 * worn, 0.4, 0.95))
    if on_head or (worn >= 1.0 and scene.share_at_head(unit) > 0.5):
        if hint in ACCESSORIES:
            return Verdict("accessory", "worn on the head, and named as such", sureness)
        return Verdict("hair", "sits on the head, which is whole without it", sureness)
    if roof and worn < 1.0:
        return Verdict("accessory", "a plate over both shoulders", 0.6)
    if worn < 1.0:
        if named:
            return Verdict("accessory", "carried, and named as such", 0.7)
        return Verdict("accessory", "carried: in a hand, with no twin, or on the back", 0.6)
    if hint == "hair":
        return Verdict("hair", "lies over the body, and named as hair", sureness)
    area = float(scene.measures.area[list(unit)].sum())
    if hint in ACCESSORIES or area < GARMENT_SHARE * total:
        return Verdict("accessory", "worn over the body, which is whole without it", sureness)
    return Verdict("garment", "worn over the body, which is whole without it", sureness)


def _has_like(unit: Unit, others: list[int], scene: FigureScene) -> bool:
    """Does the figure reach to where a mirror shows most of a unit, whatever piece that is part of?
    A hand has no twin where the other one is of one piece with a staff."""
    mine, theirs = scene.points(unit), scene.points(others)
    if not len(mine) or not len(theirs):
        return False
    return bool(_mirrored_at(mine, theirs).mean() > LIKE_SHARE)


def _holds_twin(unit: Unit, others: list[int], rest: list[int], scene: FigureScene) -> bool:
    """Does a mirror show a limb's piece that has no twin within a unit, such as the forearm that a
    shield is of one piece with?"""
    lone = [i for i in others if scene.is_lone(i, rest)]
    mine, theirs = scene.points(unit), scene.grid.of(lone)
    if not len(mine) or not len(theirs):
        return False
    island = scene.grid.island[theirs]
    there = np.bincount(island, _mirrored_at(scene.grid.points[theirs], mine))
    share = there / np.maximum(np.bincount(island), 1)
    return bool((share > LIKE_SHARE).any())


def _mirrored_at(points: FloatArray, others: FloatArray) -> NDArray[np.bool_]:
    """(n,) Does a mirror show each point (n, 3) at one of some others (k, 3)?"""
    mirrored = points * [-1.0, 1.0, 1.0]
    away = cKDTree(others).query(mirrored, distance_upper_bound=LIKE_NEAR)[0]
    return np.asarray(np.isfinite(away))


def _judge_small(
    unit: Unit,
    others: list[int],
    scene: FigureScene,
    verdicts: dict[int, Verdict],
    big: list[int],
) -> Verdict:
    """What a cluster of small islands of one part is: hair, a trinket, or a bit of the body."""
    part = scene.home[unit[0]]
    siblings = {verdicts[i].role for i in big if scene.home[i] == part and i in verdicts}
    if len(siblings) == 1 and siblings != {"body"}:
        return Verdict(siblings.pop(), "small, and of the same part as such a piece", 0.6)
    if scene.hints[unit[0]] == "body" or not others:
        return Verdict("body", "small, and named as the body", 0.6)
    if _is_stick(unit, scene) and scene.is_carried(unit, others, [*others, *unit]):
        return Verdict("accessory", "long, thin and without a twin, as what a hand holds", 0.6)
    worn = _worn(scene.cover(unit, others)) * HINT_GAIN.get(scene.hints[unit[0]] or "", 1.0)
    if worn < 1.0:
        return Verdict("body", "small, and joins on to the figure", 0.5)
    if scene.share_at_head(unit) > 0.5:
        if scene.hints[unit[0]] == "hair" or scene.over_the_eyes(unit):
            return Verdict("hair", "small, and lies on the upper or back part of the head", 0.6)
        if scene.hints[unit[0]] not in ACCESSORIES:
            return Verdict("body", "small, and a feature of the face", 0.5)
    return Verdict("accessory", "small, and lies on the body", 0.5)


def _is_stick(unit: Unit, scene: FigureScene) -> bool:
    """Is a cluster of small islands long and thin, as a blade with its grip or a wand?"""
    points = scene.points(unit)
    if len(points) < 3:
        return False
    along = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2]
    sides = np.ptp(points @ along.T, axis=0)
    return bool(sides[0] > STICK_LONG and sides[1] < STICK_THIN * sides[0])
