"""Where the limbs of a figure are in a tree of joints: by names, and by lengths that come in pairs.

A pair of limbs is two chains of about the same length from one joint. Legs and arms are told apart
by what hangs on them (fingers, feet), by what their names say, and by the head, which is where the
arms are. Bone lengths do not change with the pose, so a posed skeleton is read the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.roles.bends import ARM, LEG, LimbKind, best_triple
from autoplace.skeleton.roles.tree import JointTree

__all__ = ["Limb", "find_limbs", "finger_count", "limb_from"]

FloatArray = NDArray[np.float64]

LEAST_LENGTH = 0.12
"""A limb is at least this share of the tree's extent; a child's arm is 0.25 of its height
and a cartoon's may be half as long (common practice, no source)."""
ALIKE = 0.6
"""Two chains of a pair differ in length by at most this share: one hand may hold a sword. How far
their bones agree is judged after that. Common practice, no source."""
UNLIKE = -0.5
"""Points of `_alike` under which two limbs are no pair: bones that differ by 30 percent."""
LONG = 3.0
"""What the length of a limb, as a share of the tree's extent, counts for: legs and arms are longer
than the chains of skirts and hair. Common practice, no source."""
MOST_CHILDREN = 12
"""Longest chains of a joint that are looked at as limbs."""
MOST_PAIRS = 40
"""Pairs of chains, the longest first, that are set against one another."""


@dataclass(frozen=True)
class Limb:
    """One limb: the joints of its main path, and which three of them bend it."""

    kind: LimbKind
    path: tuple[int, ...]
    """From the first joint that is not of the trunk to the end."""
    middle: tuple[int, int, int]
    """Places in `path` of hip, knee, ankle, or of shoulder, elbow, wrist."""
    score: float
    side: str | None
    """As the names say."""

    @property
    def joints(self) -> tuple[int, int, int]:
        """The three joints that bend it."""
        a, b, c = self.middle
        return self.path[a], self.path[b], self.path[c]


def find_limbs(tree: JointTree, up: FloatArray | None) -> dict[str, tuple[Limb, ...]]:
    """Limbs by kind ('leg', 'arm'): a pair, one, or none of each.

    `up` (3,) is which way is up, if the file says it.
    """
    named = {kind.name: _named_limbs(tree, kind) for kind in (LEG, ARM)}
    if all(len(limbs) == 2 for limbs in named.values()):
        return named
    found = _paired_limbs(tree, up)
    taken = {j for limbs in named.values() for limb in limbs for j in limb.path}
    result = {}
    for kind in ("leg", "arm"):
        free = [limb for limb in found.get(kind, ()) if not taken & set(limb.path)]
        if len(named[kind]) == 2 or (named[kind] and len(found.get(kind, ())) < 2):
            result[kind] = named[kind]
        elif named[kind]:  # one side is named: the pair, if the named one is of it
            whole = {j for limb in found[kind] for j in limb.path}
            same = set(named[kind][0].joints) <= whole
            result[kind] = found[kind] if same else named[kind]
        else:
            result[kind] = tuple(free) if len(free) == 2 else ()
    return result


def _named_limbs(tree: JointTree, kind: LimbKind) -> tuple[Limb, ...]:
    """Limbs of which at least two of the three bending joints are named, with a side."""
    tops: dict[str, int] = {}
    for side in ("left", "right"):
        mine = [
            j
            for j, r in enumerate(tree.readings)
            if r.side == side and any(r.says(p) for p in (*kind.parts, *kind.before))
        ][:MOST_PAIRS]
        if not mine:
            continue
        # the first of them from which most of the others hang
        counts = [sum(tree.under(j, k) for k in mine) for j in mine]
        top = mine[int(np.argmax(counts))]
        said = {
            part
            for j in mine
            if tree.under(top, j)
            for part in kind.parts
            if tree.readings[j].says(part)
        }
        if max(counts) >= 3 or len(said) >= 2:
            tops[side] = top
    if len(tops) == 2:
        base = tree.meet(tops["left"], tops["right"])
        for side, top in tops.items():
            way = tree.above(top)
            lifted = way[way.index(base) - 1] if base in way and way.index(base) else top
            # what lies between must belong to this limb alone
            helpers = way[: way.index(lifted) + 1]
            if not any(tree.readings[j].says(p) for j in helpers for p in ("spine", "pelvis")):
                tops[side] = lifted
    limbs = []
    for side, top in tops.items():
        limb = limb_from(tree, kind, top)
        if limb is not None:
            limbs.append(Limb(limb.kind, limb.path, limb.middle, limb.score, side))
    return tuple(limbs)


def limb_from(tree: JointTree, kind: LimbKind, top: int) -> Limb | None:
    """The limb that begins at `top`, or None when fewer than three joints hang in a row there."""
    path = tree.main_path(top, (*kind.parts, *kind.before, *kind.after))
    if len(path) < 3:
        return None
    hand = _hand_place(tree, path) if kind is ARM else None
    best, middle = best_triple(tree, kind, path, hand)
    if not best > 0.0:  # chains of very uneven bones, or whose joints are named otherwise
        return None
    sides = [r.side for j in path for r in (tree.readings[j],) if r.side]
    side = max(sorted(set(sides)), key=sides.count) if sides else None
    return Limb(kind, tuple(path), middle, best, side)


def _hand_place(tree: JointTree, path: Sequence[int]) -> int | None:
    """Place in the path of the joint from which at least three chains hang, like fingers."""
    for place, joint in enumerate(path[:16]):
        if place >= 2 and finger_count(tree, joint) >= 3:
            return place
    return None


def finger_count(tree: JointTree, joint: int) -> int:
    """How many chains of at least two joints hang from the joint."""
    return sum(bool(tree.children[c]) for c in tree.children[joint])


def _paired_limbs(tree: JointTree, up: FloatArray | None) -> dict[str, tuple[Limb, ...]]:
    """The best pair of legs and pair of arms by shape, or nothing."""
    legs: list[tuple[float, int, Limb, Limb]] = []
    arms: list[tuple[float, int, Limb, Limb]] = []
    for base, one, two in _alike_chains(tree):
        for kind, found in ((LEG, legs), (ARM, arms)):
            a, b = limb_from(tree, kind, one), limb_from(tree, kind, two)
            if a is not None and b is not None and not (a.side and a.side == b.side):
                alike = _alike(tree, a, b)
                if alike <= UNLIKE:
                    continue
                score = 0.5 * (a.score + b.score) + alike
                score += LONG * min(_bend_length(tree, a), _bend_length(tree, b)) / tree.extent
                found.append((score, base, a, b))
    best = -np.inf
    chosen: dict[str, tuple[Limb, ...]] = {}
    for leg in legs:
        for arm in arms:
            fit = _together(tree, leg, arm, up)
            if fit is not None and fit > best:
                best, chosen = fit, {"leg": leg[2:], "arm": arm[2:]}
    if not chosen:
        with_hands = [
            arm for arm in arms if all(finger_count(tree, limb.joints[2]) >= 2 for limb in arm[2:])
        ]
        if with_hands:
            chosen["arm"] = max(with_hands, key=lambda arm: arm[0])[2:]
        elif legs and up is not None:
            leg = max(legs, key=lambda leg: leg[0])
            chosen["leg"] = leg[2:] if _downward(tree, leg[2:], up) else ()
    return chosen


def _downward(tree: JointTree, legs: Sequence[Limb], up: FloatArray) -> bool:
    """Whether limbs point down within 45 degrees, taken together."""
    ways = [tree.at[limb.joints[2]] - tree.at[limb.joints[0]] for limb in legs]
    way = np.sum(ways, axis=0)
    return float(way @ up) < -np.sqrt(0.5) * float(np.linalg.norm(way))


def _alike_chains(tree: JointTree) -> list[tuple[int, int, int]]:
    """The longest pairs of chains of about one length: the joint they hang from, and both."""
    found = []
    for base, children in enumerate(tree.children):
        if len(children) < 2:
            continue
        lengths = {c: tree.length(base, c) + float(tree.reach[c]) for c in children}
        longest = [
            c
            for c in sorted(children, key=lambda c: -lengths[c])[:MOST_CHILDREN]
            if tree.reach[c] > LEAST_LENGTH * tree.extent and not tree.readings[c].says("other")
        ]
        for one, two in combinations(longest, 2):
            shorter, longer = sorted((lengths[one], lengths[two]))
            if longer - shorter <= ALIKE * longer:
                found.append((shorter, base, one, two))
    return [f[1:] for f in sorted(found, key=lambda f: -f[0])[:MOST_PAIRS]]


def _bend_length(tree: JointTree, limb: Limb) -> float:
    """Length of the two bones that a limb bends between."""
    a, b, c = limb.joints
    return tree.length(a, b) + tree.length(b, c)


def _alike(tree: JointTree, a: Limb, b: Limb) -> float:
    """One for two limbs whose bending bones are of the same lengths, down to minus two."""
    differences = []
    for i in range(2):
        one = tree.length(a.joints[i], a.joints[i + 1])
        two = tree.length(b.joints[i], b.joints[i + 1])
        differences.append(abs(one - two) / max(one, two))
    return 1.0 - min(3.0, 5.0 * max(differences))


def _together(
    tree: JointTree,
    leg: tuple[float, int, Limb, Limb],
    arm: tuple[float, int, Limb, Limb],
    up: FloatArray | None,
) -> float | None:
    """How well two pairs make a figure's legs and arms; None if they cannot."""
    leg_joints = set(leg[2].path) | set(leg[3].path)
    arm_joints = set(arm[2].path) | set(arm[3].path)
    if leg_joints & arm_joints or leg[1] in arm_joints or arm[1] in leg_joints:
        return None
    if tree.meet(leg[1], arm[1]) < 0:
        return None
    if leg[1] == arm[1] and not all(limb.side for limb in (*leg[2:], *arm[2:])):
        return None  # the fingers of a hand, or the legs of a spider
    score = leg[0] + arm[0]
    for pair, sign in ((arm, 1.0), (leg, -1.0)):
        hands = [finger_count(tree, limb.joints[2]) for limb in pair[2:]]
        score += sign * min(2.0, 0.5 * min(hands))
    score += 0.5 * (leg[1] in tree.above(arm[1]))  # a root is nearer to the legs as a rule
    if _third_chain(tree, arm[1], leg_joints | arm_joints, leg[1]):
        score += 1.0
    trunk = tree.at[arm[1]] - tree.at[leg[1]]
    feet = np.mean([tree.at[limb.joints[2]] for limb in leg[2:]], axis=0) - tree.at[leg[1]]
    span, drop = float(np.linalg.norm(trunk)), float(np.linalg.norm(feet))
    if up is not None:
        score += 2.0 * float(trunk @ up) / span if span > 0 else 0.0
        score -= 1.0 * float(feet @ up) / drop if drop > 0 else 0.0
    length = np.mean([tree.length(*limb.joints[:2]) for limb in leg[2:]])
    other = np.mean([tree.length(*limb.joints[:2]) for limb in arm[2:]])
    score -= abs(float(np.log(length / other / 1.45)))  # thigh to upper arm, Winter 2009
    return score


def _third_chain(tree: JointTree, base: int, limbs: set[int], legs: int) -> bool:
    """Whether a chain hangs from the arms' joint that is no limb and does not lead to the legs."""
    return any(
        c not in limbs and not tree.under(c, legs) and bool(tree.children[c])
        for c in tree.children[base]
    ) or (legs not in tree.above(base) and tree.parents[base] >= 0)
