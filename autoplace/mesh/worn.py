"""Which islands are worn or carried, and which are the figure? Told by what the rest covers.

The body is what the figure cannot do without: take it away and limbs fall off, end short, or the
face is gone. What can go is a garment when it lies over the body, hair when it lies over the head,
and an accessory when it lies beside. Clothes that replace skin are needed, so they stay body.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.mesh.eyeballs import Eyeball
from autoplace.mesh.head_pieces import judge_head_pieces
from autoplace.mesh.layers import LayerGrid
from autoplace.mesh.slices import HeadBox, find_head
from autoplace.mesh.spheres import IslandMeasures
from autoplace.mesh.verdict import Verdict

__all__ = ["find_worn"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SMALL_SHARE = 0.004
"""Islands under this share of the whole area are not asked whether the figure needs them: they
change no limb whichever way they are taken."""
FEET_LOSS = 0.03
ARM_LOSS = 0.05
"""How much shorter the figure may get at the feet or at a hand without a worn thing, fraction of
height: the thickness of a sole, a glove's overhang (common practice, no source)."""
APART_LOSS = 0.02
"""Share of the rest's surface that may lose its hold on the main part."""
TIGHT = 0.025
"""Cloth this close outside the skin counts as lying on it, fraction of height."""
TIGHT_SHARE = 0.4
"""A piece with this share lying close outside others is worn; an arm stuck into a trunk has about
a tenth."""
LOOSE_SHARE = 0.2
"""A piece that hides others' cells (from three sides or more) of this share of its own is worn."""
BACK_SHARE = 0.3
"""The same for a sheet that hides others from one side only, as a cloak does."""
FLAT_GROUND = 0.02
"""Thickness of a ground plane at most, fraction of height."""
PAIR_ALIKE = 0.1
"""Relative difference in area and box of two pieces that are left and right of one another."""


@dataclass(frozen=True)
class _Scene:
    measures: IslandMeasures
    grid: LayerGrid
    normals: FloatArray
    """(s, 3) of the grid's samples."""
    hints: Sequence[str | None]
    head: HeadBox
    face: frozenset[int]
    """Islands that carry the face and must stay."""


def find_worn(
    candidates: list[int],
    measures: IslandMeasures,
    grid: LayerGrid,
    corners: FloatArray,
    label: IntArray,
    hints: Sequence[str | None],
    eyes: Sequence[Eyeball],
) -> dict[int, Verdict]:
    """A verdict for every candidate island. All measures in the working frame.

    Args:
        candidates: islands still open (not eyeballs, not decided by the user).
        measures: of all islands.
        grid: surface cells of all islands.
        corners: (m, 3, 3) triangles; label: (m,) their islands.
        hints: per island, the role its part's name hints at.
        eyes: the eyeballs found before.
    """
    verdicts: dict[int, Verdict] = {}
    rest = sorted(candidates)
    for island in _ground(rest, measures):
        verdicts[island] = Verdict("accessory", "a flat piece under the feet", 0.9)
    rest = [i for i in rest if i not in verdicts]
    if len(rest) == 1:
        verdicts[rest[0]] = Verdict("body", "all there is of the figure", 0.95)
        return verdicts
    if not rest:
        return verdicts
    mine = np.isin(label, rest)
    head = find_head(corners[mine])
    face = _face_islands(rest, measures, grid, head, eyes)
    verdicts |= judge_head_pieces(rest, face, measures, corners, label, head, eyes, hints)
    rest = [i for i in rest if i not in verdicts]
    scene = _Scene(measures, grid, measures.normals[grid.face], hints, head, face)
    _peel(rest, scene, verdicts)
    for island in rest:
        if island not in verdicts:
            verdicts[island] = Verdict("body", "the figure is not whole without it", 0.8)
    return verdicts


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


def _face_islands(
    islands: list[int],
    measures: IslandMeasures,
    grid: LayerGrid,
    head: HeadBox,
    eyes: Sequence[Eyeball],
) -> frozenset[int]:
    """The island that carries the face: beside the eyes, or the innermost big one of the head."""
    open_island = np.isin(grid.island, islands)
    if eyes:
        near = np.zeros(len(grid.points), dtype=bool)
        for eye in eyes:
            near |= np.linalg.norm(grid.points - eye.centre, axis=1) < 2.0 * eye.radius + grid.cell
        count = np.bincount(grid.island[near & open_island], minlength=len(measures.area))
        if count.max(initial=0) > 0:
            return frozenset([int(np.argmax(count))])
    inside = open_island & np.all((grid.points >= head.low) & (grid.points <= head.high), axis=1)
    count = np.bincount(grid.island[inside], minlength=len(measures.area))
    big = [i for i in islands if count[i] >= 0.3 * count.max() and count[i] > 0]
    if not big:
        return frozenset()

    def covers(island: int) -> float:
        others = [i for i in big if i != island]
        if not others:
            return 0.0
        hidden = grid.covered(others, grid.occupied([island]))
        return float((hidden[:, [0, 1, 3, 4, 5]].sum(axis=1) >= 4).mean())

    return frozenset([min(big, key=lambda i: (round(covers(i), 2), -count[i]))])


def _peel(rest: list[int], scene: _Scene, verdicts: dict[int, Verdict]) -> None:
    """Take away, from the outside in, what the figure stays whole without."""
    total = float(scene.measures.area[rest].sum())
    open_islands = [
        i for i in rest if scene.measures.area[i] > SMALL_SHARE * total and i not in scene.face
    ]
    kept = list(rest)
    lying = {i: _cover(i, [k for k in rest if k != i], scene) for i in open_islands}
    # the most covering first, so that a coat goes before the shirt under it
    for island in sorted(open_islands, key=lambda i: (-max(lying[i]), i)):
        others = [i for i in kept if i != island]
        tight, loose, back = lying[island] if others == rest else _cover(island, others, scene)
        worn = max(tight / TIGHT_SHARE, loose / LOOSE_SHARE, back / BACK_SHARE)
        hint = scene.hints[island]
        if hint in ("garment", "hair", "accessory"):
            worn *= 1.5
        elif hint == "body":
            worn *= 0.7
        alone = _is_unpaired(island, rest, scene)
        if worn < 1.0 and not (alone or hint in ("accessory", "garment")):
            continue
        if not _whole_without(island, others, scene):
            continue
        sureness = float(np.clip(0.4 + 0.3 * worn, 0.4, 0.95))
        if worn >= 1.0:
            verdicts[island] = _worn_verdict(island, scene, sureness)
        else:
            verdicts[island] = Verdict(
                hint if hint == "garment" else "accessory",
                "the figure is whole without it and it has no twin on the other side",
                0.6,
            )
        kept = others


def _worn_verdict(island: int, scene: _Scene, sureness: float) -> Verdict:
    """Hair, hat or garment, for a piece that lies over others."""
    mine = scene.grid.points[scene.grid.island == island]
    at_head = float((mine[:, 1] > scene.head.low[1]).mean())
    hint = scene.hints[island]
    if at_head > 0.5:
        if hint == "accessory":
            return Verdict("accessory", "worn on the head, and named as such", sureness)
        return Verdict("hair", "lies over the head, which is whole without it", sureness)
    if hint == "accessory":
        return Verdict("accessory", "worn over the body, and named as such", sureness)
    return Verdict("garment", "worn over the body, which is whole without it", sureness)


def _cover(island: int, others: list[int], scene: _Scene) -> tuple[float, float, float]:
    """How much of others the island lies over: close, all around, from behind; shares of itself."""
    grid = scene.grid
    mine, theirs = grid.island == island, np.isin(grid.island, others)
    if not mine.any() or not theirs.any():
        return 0.0, 0.0, 0.0
    distance, nearest = cKDTree(grid.points[theirs]).query(
        grid.points[mine], distance_upper_bound=TIGHT
    )
    found = np.isfinite(distance)
    tight = 0.0
    if found.any():
        at = np.flatnonzero(theirs)[nearest[found]]
        out = np.einsum("ij,ij->i", grid.points[mine][found] - grid.points[at], scene.normals[at])
        along = np.einsum("ij,ij->i", scene.normals[mine][found], scene.normals[at])
        tight = float(((out > 0) & (along > 0.3)).sum() / mine.sum())
    shell = grid.occupied([island])
    cells = max(int(shell.sum()), 1)
    hidden = grid.covered(others, shell).astype(bool)
    back_of_mine = grid.covered([island], grid.occupied(others)).astype(bool)
    around = hidden[:, [0, 1, 4, 5]].sum(axis=1) >= 3
    inner_around = back_of_mine[:, [0, 1, 4, 5]].sum(axis=1) >= 3
    loose = max(0.0, float(around.sum() - inner_around.sum())) / cells
    behind = hidden[:, 4] & ~hidden[:, 5]
    back = float(behind.sum()) / cells * float((~back_of_mine[:, 4]).mean())
    return tight, loose, back


def _whole_without(island: int, others: list[int], scene: _Scene) -> bool:
    """Would the figure still have its feet, both hands, and hang together?"""
    if not others:
        return False
    grid = scene.grid
    low, high = grid.reach([*others, island])
    low_left, high_left = grid.reach(others)
    if low_left[1] - low[1] > FEET_LOSS:
        return False
    # a prop may reach beyond its hand, but not so that one arm ends shorter than the other
    right_loss, left_loss = low_left[0] - low[0], high[0] - high_left[0]
    uneven = high_left[0] + low_left[0]
    if left_loss > ARM_LOSS and uneven < -ARM_LOSS:
        return False
    if right_loss > ARM_LOSS and uneven > ARM_LOSS:
        return False
    if left_loss > ARM_LOSS and right_loss > ARM_LOSS:
        return False
    return grid.main_share(others) >= grid.main_share([*others, island]) - APART_LOSS


def _is_unpaired(island: int, islands: list[int], scene: _Scene) -> bool:
    """Off the middle, and without a piece of the same size elsewhere."""
    measures = scene.measures
    size = measures.high[island] - measures.low[island]
    if abs(measures.centroid[island, 0]) < 0.15 * max(float(size[0]), 0.02):
        return False
    for other in islands:
        if other == island:
            continue
        area = measures.area[other] / max(measures.area[island], 1e-12)
        if abs(area - 1) < PAIR_ALIKE:
            return False
    return True
