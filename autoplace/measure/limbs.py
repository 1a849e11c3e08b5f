"""Which branch of the body is which limb: two legs, two arms, a head, and what is left over."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.branches import BandTree, band_tree
from autoplace.measure.held_plates import without_plates
from autoplace.measure.held_sticks import without_sticks
from autoplace.measure.limb_kinds import HIGHEST_SHOULDER, LOWEST_SHOULDER, seen_together
from autoplace.measure.limb_record import BAND, Limb, Limbs
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_ends import neck_height, parting_of_legs

__all__ = ["LEAST_BRANCH", "branches_of", "classify", "find_limbs"]

FloatArray = NDArray[np.float64]

LEAST_BRANCH = 0.07
"""Shortest branch taken for a limb, fraction of height; a big-headed figure's arm is about twice
as long, an adult's finger two thirds of it (references: hand length .11 S)."""
LEAST_OF_SHORT = 0.05
"""The same on a figure whose legs part below `LOW_PARTING`: of its short arms no more may be clear
of the trunk (further deals of the box family: .06)."""
FINGER_SHARE = 0.35
"""Where a branch splits and less than this share of its length is left, fingers part: an adult's
fingers are a sixth of the arm, a cartoon hand's up to a third (own synthetic characters)."""
LOW_PARTING = 0.26
"""Legs that part below this height belong to a figure whose head may reach down to its middle: at
two heads tall the legs part at a quarter (own synthetic characters)."""
ABOVE_PARTING = (0.06, 0.16)
"""The trunk of such a figure, above where its legs part, fraction of height; its arms may begin as
low."""
LEG_FALLS = (0.1, 0.6)
"""A leg leads down by this share of the height, or of the height at which the legs part."""
HIGHEST_LEG = 0.75
"""Nor does a leg begin higher, where its parting from the other is hidden."""
LEG_TIP = 0.3
"""A leg ends below this height even with its knee bent to a right angle (shank .25 S)."""


def find_limbs(solid: Solid) -> Limbs:
    """Find legs, arms and head of a body that stands in the working frame.

    Args:
        solid: the body, working frame, height = 1.

    Returns:
        All branches of at least `LEAST_BRANCH`, or `LEAST_OF_SHORT`, with what they were taken
        for. Which limbs are missing is for the caller to judge.
    """
    parting, neck = parting_of_legs(solid), neck_height(solid)
    if parting is not None and parting < LOW_PARTING:
        found = _limbs_about(solid, trunk_seed(solid, parting), parting, neck)
        legs = [limb for limb in found.limbs if limb.kind == "leg"]
        stand = [limb for limb in legs if limb.on_floor]
        # else it is no figure with a large head: a hand has more than two fingers, and what hangs
        # from a belt is clear of the floor
        if any(sorted(str(o.side) for o in some) == ["left", "right"] for some in (legs, stand)):
            return found
    return _limbs_about(solid, trunk_seed(solid), parting, neck)


def _limbs_about(solid: Solid, seed: FloatArray, parting: float | None, neck: float) -> Limbs:
    """The limbs as they branch off from a point of the trunk."""
    tree = without_plates(without_sticks(band_tree(solid, seed, BAND, middle=0.0)), solid.cell)
    points = solid.to_points(tree.cells)
    highest_leg = HIGHEST_LEG
    if parting is not None:
        highest_leg = min(HIGHEST_LEG, parting + ABOVE_PARTING[1])
    least, lowest_arm, least_fall = LEAST_BRANCH, LOWEST_SHOULDER, LEG_FALLS[0]
    if parting is not None and parting < LOW_PARTING:
        least = LEAST_OF_SHORT
        lowest_arm = min(lowest_arm, parting + ABOVE_PARTING[0])
        least_fall = min(least_fall, LEG_FALLS[1] * parting)
    limbs = []
    for nodes in branches_of(tree, least):
        line = tree.centre[nodes]
        volume = tree.count[nodes] * solid.cell**3
        radius = np.sqrt(volume / (np.pi * BAND))
        kind, side = classify(line, highest_leg, lowest_arm, least_fall)
        above = int(tree.parent[nodes[0]])
        junction = tree.centre[above] if above >= 0 else line[0]
        cells = points[tree.subtree(nodes[0])[tree.node_of_cell]]
        limbs.append(Limb(kind, side, line, radius, junction, cells))
    told = seen_together(limbs, solid, seed, parting, neck)
    return Limbs(told, seed, parting=parting, neck=neck)


def trunk_seed(solid: Solid, parting: float | None = None) -> FloatArray:
    """(3,) a point inside the trunk: middle of the body's cells near the symmetry plane, a little
    above mid-height, where a figure has its trunk unless its head takes half of it; then a little
    above where its legs part, if that is given. A mean, which noise moves little."""
    points = solid.to_points(np.argwhere(solid.inside))
    ranges = [(0.03, 0.5, 0.6), (0.06, 0.4, 0.7), (0.5, 0.3, 0.8)]
    if parting is not None:
        ranges.insert(0, (0.03, parting + ABOVE_PARTING[0], parting + ABOVE_PARTING[1]))
    for half_width, low, high in ranges:
        # a cell at an end of the range counts by how far it lies inside
        within = np.minimum(half_width - np.abs(points[:, 0]), points[:, 1] - low)
        within = np.minimum(within, high - points[:, 1])
        weight = np.clip(within / solid.cell + 0.5, 0.0, 1.0)
        if weight.any():
            return np.asarray(weight @ points / weight.sum())
    return np.asarray(np.mean(points, axis=0))


def branches_of(tree: BandTree, least: float) -> list[list[int]]:
    """Node lists of branches at least so long, heights, from the trunk outward, longest first; each
    node in one list at most."""
    leaves = sorted(tree.leaves(), key=lambda node: (-tree.farthest[node], node))
    taken = tree.parent < 0
    found = []
    for leaf in leaves:
        path = []
        node = leaf
        while not taken[node]:
            path.append(node)
            node = int(tree.parent[node])
        if not path:
            continue
        length = tree.node_distance[leaf] - tree.node_distance[path[-1]]
        if length < least:
            continue
        taken[path] = True
        found.append(path[::-1])
    return [_trim(tree, path, least) for path in found]


def _trim(tree: BandTree, path: list[int], least: float) -> list[int]:
    """The branch without its first nodes that still lie within the trunk.

    The longest branches claim the trunk nodes they pass; those hold the cells of several limbs,
    so the branch proper begins after the last node from which another long branch leaves.
    """
    lengths = _longest_below(tree)
    below = tree.children()
    end = tree.node_distance[path[-1]]
    start, stem = 0, 0.0
    for index, node in enumerate(path):
        here = tree.node_distance[node]
        long_children = [child for child in below[node] if lengths[child] - here > least]
        if len(long_children) < 2:
            continue
        few = end - here < FINGER_SHARE * (end - stem)
        if few and not _head_parts(tree, path, index, long_children):
            break  # the fingers of a hand part here, not the limbs of a body
        start, stem = index + 1, here
    return path[start:] if start < len(path) else path


def _head_parts(tree: BandTree, path: list[int], index: int, children: list[int]) -> bool:
    """Does a head go from this node of a path, larger than what is left of the path, which ends
    below it? Where an upper arm clings to the trunk no more of the arm is left beyond the neck than
    fingers are of a hand."""
    left = int(tree.count[path[index + 1 :]].sum())
    for node in children:
        below = np.flatnonzero(tree.subtree(node))
        tip = tree.centre[below[int(np.argmax(tree.farthest[below]))]]
        base = tree.centre[node]
        lower = tree.centre[path[-1], 1] < base[1]
        if lower and _is_head(base, tip) and tree.count[below].sum() > left:
            return True
    return False


def _longest_below(tree: BandTree) -> FloatArray:
    """(k,) greatest distance of any node in each subtree."""
    reach = tree.node_distance.copy()
    for node in np.argsort(-tree.node_distance, kind="stable"):
        parent = tree.parent[node]
        if parent >= 0:
            reach[parent] = max(reach[parent], reach[node])
    return reach


def classify(
    line: FloatArray,
    highest_leg: float = HIGHEST_LEG,
    lowest_arm: float = LOWEST_SHOULDER,
    least_fall: float = LEG_FALLS[0],
) -> tuple[str, str | None]:
    """Limb kind from where the branch begins and ends: no leg begins above `highest_leg` or leads
    down by less than `least_fall`, and no arm begins below `lowest_arm`."""
    tip, base = line[-1], line[0]
    side = "left" if float(np.median(line[:, 0])) > 0 else "right"
    falls = base[1] - tip[1]
    if tip[1] < LEG_TIP and falls > least_fall and base[1] < highest_leg:
        return "leg", side
    if _is_head(base, tip):
        return "head", None
    if lowest_arm < base[1] < HIGHEST_SHOULDER and abs(line[len(line) // 2, 0]) > 0.04:
        return "arm", side
    return "other", side


def _is_head(base: FloatArray, tip: FloatArray) -> bool:
    """Does a branch rise in the middle to where heads are?"""
    return bool(base[1] < tip[1] > 0.6 and abs(tip[0]) < 0.12 and abs(base[0]) < 0.08)
