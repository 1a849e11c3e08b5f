"""Which branch of the body is which limb: two legs, two arms, a head, and what is left over."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.belted import Hanging, are_twins, belted, breadths
from autoplace.measure.branches import BandTree, band_tree
from autoplace.measure.held_sticks import without_sticks
from autoplace.measure.leg_join import legs_join
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_gaps import HEM_LOSS, hangs_behind, loss_below, lowest_of_trunk

__all__ = [
    "BAND",
    "CLEAR_OF_FLOOR",
    "HIDDEN_PARTING",
    "HIGHEST_SHOULDER",
    "LOWEST_SHOULDER",
    "Limb",
    "Limbs",
    "begins_as_tail",
    "find_limbs",
    "hanging",
    "neck_height",
    "parting_of_legs",
]

FloatArray = NDArray[np.float64]

BAND = 0.02
"""Width of a distance band, fraction of height: three cells of the body's grid."""
LEAST_BRANCH = 0.07
"""Shortest branch taken for a limb, fraction of height; a big-headed figure's arm is about twice
as long, an adult's finger two thirds of it (references: hand length .11 S)."""
FINGER_SHARE = 0.35
"""Where a branch splits and less than this share of its length is left, fingers part: an adult's
fingers are a sixth of the arm, a cartoon hand's up to a third (own synthetic characters)."""
LOW_PARTING = 0.26
"""Legs that part below this height belong to a figure whose head may reach down to its middle: at
two heads tall the legs part at a quarter (own synthetic characters)."""
ABOVE_PARTING = (0.06, 0.16)
"""The trunk of such a figure, above where its legs part, fraction of height; its arms may begin as
low."""
HIDDEN_PARTING, LOWEST_PARTING = 0.12, 0.05
"""Legs that part below the first height are hidden by a skirt (common practice, no source), unless
they together are as thick as what is above them: those of a figure two heads tall in a high hat.
Below the second there are feet at most, soles and shoes (common practice, no source)."""
LEG_FALLS = (0.1, 0.6)
"""A leg leads down by this share of the height, or of the height at which the legs part."""
LOWEST_SHOULDER, HIGHEST_SHOULDER = 0.3, 0.9
"""Heights between which an arm begins: the head of the humerus is at .79 to .80 of an adult
(references 1.1), .84 at nine heads tall; what begins above is an ear, a horn or a pigtail."""
CLEAR_OF_FLOOR = 0.05
"""A hand that hangs low is this much above the feet, fraction of height (own synthetic
characters)."""
TWIN_NEAR = 0.04
"""Base and tip of a limb lie this near to the mirror image of its twin's, fraction of height (own
synthetic characters)."""
THROAT_CLEAR = 1.5
"""How many times broader a figure is above and below a neck, at least: what begins above it is no
arm if another begins below (common practice, no source)."""
IN_MIDDLE = 0.05
"""Farthest from the middle plane that a tail begins, fraction of height (common practice, no
source)."""
OVER_SEED = 0.08
"""How far above the trunk's middle a tail begins, at most, fraction of height: half of a trunk of
two heads (common practice, no source)."""
LEG_TIP = 0.3
"""A leg ends below this height even with its knee bent to a right angle (shank .25 S)."""


@dataclass(frozen=True)
class Limb:
    """One branch, working frame (height = 1)."""

    kind: str
    """'leg', 'arm', 'head' or 'other'."""
    side: str | None
    """'left' or 'right', the character's own; None for the head."""
    line: FloatArray
    """(n, 3) rough centreline, from the trunk to the tip."""
    radius: FloatArray
    """(n,) rough radius along the line."""
    junction: FloatArray
    """(3,) centre of the trunk's band that the branch leaves from."""
    cells: FloatArray
    """(m, 3) centres of all the solid's cells that belong to the limb, tip and side shoots too."""


@dataclass(frozen=True)
class Limbs:
    """The branches of one body."""

    limbs: tuple[Limb, ...]
    seed: FloatArray
    """(3,) trunk point that distances start from."""
    notes: tuple[str, ...] = ()
    """What a person should know of how they were told apart, as sentences without a stop."""

    def one(self, kind: str, side: str | None = None) -> Limb | None:
        """The limb of a kind and side; the longest where several claim it; None if missing."""
        mine = [limb for limb in self.limbs if limb.kind == kind and limb.side == side]
        return max(mine, key=lambda limb: _length(limb.line)) if mine else None


def _length(line: FloatArray) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


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


def parting_of_legs(solid: Solid) -> float | None:
    """Height at which the middle plane, followed down from mid-height, leaves the body, or at which
    two legs join above that; None where it runs to the floor, as in a skirt."""
    column = round(float(-solid.origin[0] / solid.cell))
    middle: NDArray[np.bool_] = np.asarray(
        solid.inside[max(column - 1, 0) : column + 1].all(axis=0)
    )
    filled: NDArray[np.bool_] = middle.any(axis=1) & ~hangs_behind(solid.inside, middle)
    row = min(round(float((0.55 - solid.origin[1]) / solid.cell)), len(filled) - 1)
    area = solid.inside.sum(axis=(0, 2)).astype(np.float64)
    row = lowest_of_trunk(filled, area, row, solid.cell)
    joined = legs_join(solid.inside, row, solid.cell)
    row = row if joined is None else joined
    height = float(solid.origin[1] + row * solid.cell)
    y = solid.origin[1] + np.arange(len(area)) * solid.cell
    if LOWEST_PARTING < height <= HIDDEN_PARTING and loss_below(area, y, height) < HEM_LOSS:
        return height
    return height if height > HIDDEN_PARTING else None


def find_limbs(solid: Solid) -> Limbs:
    """Find legs, arms and head of a body that stands in the working frame.

    Args:
        solid: the body, working frame, height = 1.

    Returns:
        All branches of at least `LEAST_BRANCH` with what they were taken for. Which limbs are
        missing is for the caller to judge.
    """
    parting, neck = parting_of_legs(solid), neck_height(solid)
    if parting is not None and parting < LOW_PARTING:
        found = _limbs_about(solid, trunk_seed(solid, parting), parting, neck)
        legs = [limb for limb in found.limbs if limb.kind == "leg"]
        stand = [limb for limb in legs if limb.cells[:, 1].min() < CLEAR_OF_FLOOR]
        # else it is no figure with a large head: a hand has more than two fingers, and what hangs
        # from a belt is clear of the floor
        if any(sorted(str(o.side) for o in some) == ["left", "right"] for some in (legs, stand)):
            return found
    return _limbs_about(solid, trunk_seed(solid), parting, neck)


def _limbs_about(solid: Solid, seed: FloatArray, parting: float | None, neck: float) -> Limbs:
    """The limbs as they branch off from a point of the trunk."""
    tree = without_sticks(band_tree(solid, seed, BAND, middle=0.0))
    branches = _branches(tree)
    points = solid.to_points(tree.cells)
    highest_leg = 0.75 if parting is None else min(0.75, parting + ABOVE_PARTING[1])
    lowest_arm, least_fall = LOWEST_SHOULDER, LEG_FALLS[0]
    if parting is not None and parting < LOW_PARTING:
        lowest_arm = min(lowest_arm, parting + ABOVE_PARTING[0])
        least_fall = min(least_fall, LEG_FALLS[1] * parting)
    limbs = []
    for nodes in branches:
        line = tree.centre[nodes]
        volume = tree.count[nodes] * solid.cell**3
        radius = np.sqrt(volume / (np.pi * BAND))
        kind, side = _classify(line, highest_leg, lowest_arm, least_fall)
        above = int(tree.parent[nodes[0]])
        junction = tree.centre[above] if above >= 0 else line[0]
        cells = points[tree.subtree(nodes[0])[tree.node_of_cell]]
        limbs.append(Limb(kind, side, line, radius, junction, cells))
    limbs = [replace(o, kind="other") if _is_tail(o, limbs, seed) else o for o in limbs]
    wings = [limb.kind == "arm" and _is_behind(limb, seed) for limb in limbs]
    limbs = [replace(o, kind="other") if w else o for o, w in zip(limbs, wings, strict=True)]
    limbs = _low_arms(limbs, neck)
    # where nothing else is an arm of that side, an arm may be held to the back
    beside = {limb.side for limb in limbs if limb.kind == "arm"}
    held = [w and o.side not in beside for o, w in zip(limbs, wings, strict=True)]
    limbs = [replace(o, kind="arm") if w else o for o, w in zip(limbs, held, strict=True)]
    limbs, neck = _over_belt(_without_armour(limbs), solid, neck, parting)
    return Limbs(tuple(_below_neck(limbs, neck)), seed)


def neck_height(solid: Solid) -> float:
    """Height of the neck, where the figure is clearly broader above and below; infinite where no
    neck shows."""
    y, _, _, clear = breadths(solid)
    rows = np.flatnonzero(clear >= THROAT_CLEAR)
    if not len(rows):
        return np.inf
    # the uppermost such place: below it there may be a waist, or a gap between a robot's parts
    breaks = np.flatnonzero(np.diff(rows) > 1)
    rows = rows[breaks[-1] + 1 :] if len(breaks) else rows
    return float(y[rows[int(np.argmax(clear[rows]))]])


def hanging(limb: Limb) -> Hanging:
    """A limb as what leaves the trunk to its side."""
    leaves = float(limb.junction[1])
    reach = float(np.linalg.norm(limb.line[-1] - [0.0, leaves, limb.junction[2]]))
    aside = float(np.abs(limb.cells[:, 0]).max())
    return Hanging(limb.side, float(limb.line[0, 1]), leaves, reach, aside, len(limb.cells))


def begins_as_tail(line: FloatArray, limbs: Iterable[Limb], seed: FloatArray) -> bool:
    """Does a branch (n, 3) begin in the middle plane, behind the trunk's middle, low on the trunk
    and below the arms? A pack, a plume or a braid begins higher, and so does a head."""
    x, y, z = line[0]
    shoulders = [limb.line[0, 1] for limb in limbs if limb.kind == "arm"]
    low = min([seed[1] + OVER_SEED, *shoulders])
    return bool(abs(x) < IN_MIDDLE and z < seed[2] and y < low)


def _is_tail(limb: Limb, limbs: list[Limb], seed: FloatArray) -> bool:
    """Does a limb that leads down like a leg, or up like a head, begin behind the trunk in the
    middle plane, where others are the legs and the head?"""
    if limb.kind not in ("leg", "head") or not begins_as_tail(limb.line, limbs, seed):
        return False
    others = [o for o in limbs if o.kind == limb.kind and o is not limb]
    if limb.kind == "head":
        return any(o.line[0, 1] > limb.line[0, 1] for o in others)
    beside = {o.side for o in others if abs(o.line[0, 0]) > abs(limb.line[0, 0])}
    return beside == {"left", "right"}


def _is_behind(limb: Limb, seed: FloatArray) -> bool:
    """Does a limb begin farther behind the trunk's middle than to its side, as a wing or a pack
    does?"""
    return bool(seed[2] - limb.line[0, 2] > abs(limb.line[0, 0]))


def _over_belt(
    limbs: list[Limb], solid: Solid, neck: float, parting: float | None
) -> tuple[list[Limb], float]:
    """The limbs, what hangs from a belt no arms, and the neck's height, unknown where what passed
    for it is below the arms."""
    arms = [limb for limb in limbs if limb.kind == "arm"]
    outlines = [hanging(limb) for limb in arms]
    hung = belted(outlines, outlines, solid, neck, parting)
    flaps = [limb for limb, low in zip(arms, hung, strict=True) if low]
    if not flaps:
        return limbs, neck
    arms = [limb for limb, low in zip(arms, hung, strict=True) if not low]
    waist = neck < np.inf and min((limb.line[0, 1] for limb in arms), default=0.0) > neck
    limbs = [replace(o, kind="other") if any(o is one for one in flaps) else o for o in limbs]
    return limbs, _throat_over(arms, solid) if waist else neck


def _without_armour(limbs: list[Limb]) -> list[Limb]:
    """The limbs, no legs what hangs in a pair beside two legs that stand, clear of the floor:
    plates over the thighs and the skirts of a coat lead down like these."""
    legs = [limb for limb in limbs if limb.kind == "leg"]
    stand = [limb.cells[:, 1].min() < CLEAR_OF_FLOOR for limb in legs]
    if {limb.side for limb, on in zip(legs, stand, strict=True) if on} != {"left", "right"}:
        return limbs
    clear = [limb for limb, on in zip(legs, stand, strict=True) if not on]
    hung = [
        limb for limb in clear if any(are_twins(hanging(limb), hanging(other)) for other in clear)
    ]
    return [replace(o, kind="other") if any(o is one for one in hung) else o for o in limbs]


def _throat_over(arms: list[Limb], solid: Solid) -> float:
    """Height of the narrowest place over the arms that reach farthest."""
    farthest = max(arms, key=lambda limb: hanging(limb).reach)
    y, _, _, clear = breadths(solid)
    above = y > farthest.line[0, 1]
    if not above.any():
        return np.inf
    return float(y[np.argmax(np.where(above, clear, 0.0))])


def _below_neck(limbs: list[Limb], neck: float) -> list[Limb]:
    """Of several arms on a side only those that begin below the neck: the cheek plates of a helmet
    and ears that hang are none."""
    arms = [limb for limb in limbs if limb.kind == "arm"]
    low = {limb.side for limb in arms if limb.line[0, 1] <= neck and not _on_another(limb, arms)}
    return [
        replace(limb, kind="other")
        if limb.kind == "arm" and limb.side in low and limb.line[0, 1] > neck
        else limb
        for limb in limbs
    ]


def _on_another(limb: Limb, arms: list[Limb]) -> bool:
    """Does a limb leave an arm and not the trunk, as a finger does?"""
    lines = [arm.line for arm in arms if arm is not limb]
    return any(np.linalg.norm(line - limb.junction, axis=1).min() < BAND for line in lines)


def _low_arms(limbs: list[Limb], neck: float) -> list[Limb]:
    """Limbs that reach down like legs but hang outside and above a lower one are arms: those of a
    figure with a large head reach below its knees. What hangs beside the head is no arm yet."""
    arms = {limb.side for limb in limbs if limb.kind == "arm" and limb.line[0, 1] <= neck}
    sorted_out = []
    for limb in limbs:
        legs = [other for other in limbs if other.kind == "leg" and other.side == limb.side]
        if limb.kind == "leg" and limb.side not in arms:
            lowest = min(legs, key=lambda other: float(other.line[-1, 1]))
            above = float(limb.line[-1, 1] - lowest.line[-1, 1]) > CLEAR_OF_FLOOR
            higher = bool(limb.line[0, 1] > lowest.line[0, 1])
            if above and higher and abs(limb.line[0, 0]) > abs(lowest.line[0, 0]):
                limb = replace(limb, kind="arm")
        sorted_out.append(limb)
    return [_like_its_twin(limb, sorted_out) for limb in sorted_out]


def _like_its_twin(limb: Limb, limbs: list[Limb]) -> Limb:
    """What reaches down like a leg and mirrors an arm of the other side is the other arm."""
    if limb.kind != "leg" or any(o.kind == "arm" and o.side == limb.side for o in limbs):
        return limb
    mirrored = limb.line[[0, -1]] * [-1.0, 1.0, 1.0]
    for other in limbs:
        far = np.linalg.norm(other.line[[0, -1]] - mirrored, axis=1).max()
        if other.kind == "arm" and other.side != limb.side and far < TWIN_NEAR:
            return replace(limb, kind="arm")
    return limb


def _branches(tree: BandTree) -> list[list[int]]:
    """Node lists from the trunk outward, longest branch first; each node in one list at most."""
    below = tree.children()
    leaves = [node for node in range(len(below)) if not below[node]]
    leaves.sort(key=lambda node: (-tree.farthest[node], node))
    taken = np.zeros(len(below), dtype=bool)
    root = int(np.flatnonzero(tree.parent < 0)[0]) if len(below) else -1
    if root >= 0:
        taken[root] = True
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
        if length < LEAST_BRANCH:
            continue
        taken[path] = True
        found.append(path[::-1])
    return [_trim(tree, path) for path in found]


def _trim(tree: BandTree, path: list[int]) -> list[int]:
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
        long_children = [child for child in below[node] if lengths[child] - here > LEAST_BRANCH]
        if len(long_children) < 2:
            continue
        if end - here < FINGER_SHARE * (end - stem):
            break  # the fingers of a hand part here, not the limbs of a body
        start, stem = index + 1, here
    return path[start:] if start < len(path) else path


def _longest_below(tree: BandTree) -> FloatArray:
    """(k,) greatest distance of any node in each subtree."""
    reach = tree.node_distance.copy()
    for node in np.argsort(-tree.node_distance, kind="stable"):
        parent = tree.parent[node]
        if parent >= 0:
            reach[parent] = max(reach[parent], reach[node])
    return reach


def _classify(
    line: FloatArray, highest_leg: float, lowest_arm: float, least_fall: float
) -> tuple[str, str | None]:
    """Limb kind from where the branch begins and ends: no leg begins above `highest_leg` or leads
    down by less than `least_fall`, and no arm begins below `lowest_arm`."""
    tip, base = line[-1], line[0]
    side = "left" if float(np.median(line[:, 0])) > 0 else "right"
    falls = base[1] - tip[1]
    if tip[1] < LEG_TIP and falls > least_fall and base[1] < highest_leg:
        return "leg", side
    if tip[1] > 0.6 and abs(tip[0]) < 0.12 and abs(base[0]) < 0.08 and falls < 0:
        return "head", None
    if lowest_arm < base[1] < HIGHEST_SHOULDER and abs(line[len(line) // 2, 0]) > 0.04:
        return "arm", side
    return "other", side
