"""The joints of the middle: pelvis, spine, chest, neck, head, and the eyes in it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.roles.fingers import fingers_have_tips
from autoplace.skeleton.roles.ledger import Ledger
from autoplace.skeleton.roles.limbs import Limb
from autoplace.skeleton.roles.tree import JointTree

__all__ = ["name_eyes", "name_trunk"]

FloatArray = NDArray[np.float64]

TOP_OF_HEAD = 0.55
"""Height above the shoulders, in lengths from hip to shoulder, over which the last joint of a neck
is the top of the head: the head's joint lies 0.38 up and its top 0.72 (heights of shoulder, hip,
head and vertex in Winter 2009, figure 4.1)."""
IN_FRONT = 0.5
"""An eye lies in front of the head's joint by more than this share of what it lies aside (0.9 on
the nominal figure of HAnim); ears and horns do not."""
PAIR = 0.05
"""Difference of cosines to the neck under which two joints of the head are a pair; common
practice."""
ASIDE = 2.0
"""What a chain goes aside counts so many times against what it rises: a head is no wing. Common
practice, no source."""
UPRIGHT = 0.7
"""Cosine to the trunk of a joint that continues the head upward; common practice."""


def name_trunk(ledger: Ledger, legs: Sequence[Limb], arms: Sequence[Limb]) -> None:
    """Names pelvis, spine, chest, neck, head and the top of the head, as far as they are found."""
    tree = ledger.tree
    low = _base(tree, [limb.path[0] for limb in legs])
    high = _base(tree, [limb.path[0] for limb in arms])
    if low is None or (high is not None and low == high):
        low = _first_named(tree, "pelvis") if low is None else low
    pelvis = _pelvis(tree, low, high)
    head_way = _way_to_head(tree, pelvis, high, legs, arms)
    if high is None and head_way:
        spines = [i for i, j in enumerate(head_way) if tree.readings[j].says("spine")]
        high = head_way[spines[-1]] if spines else None
        head_way = head_way[spines[-1] + 1 :] if spines else head_way
    spine = _between(tree, pelvis, high)
    while head_way and high is not None and tree.readings[head_way[0]].says("spine"):
        spine.append(high)
        high = head_way.pop(0)
    if pelvis is not None:
        ledger.give(pelvis, "pelvis", "hierarchy")
    if high is not None and high != pelvis:
        ledger.give(high, "chest", "hierarchy")
        plain = [j for j in spine if not tree.readings[j].says("other")]
        for number, joint in enumerate(plain, start=1):
            ledger.give(joint, f"spine_{number}", "hierarchy")
    _name_neck_and_head(ledger, head_way, legs, arms)


def _base(tree: JointTree, tops: Sequence[int]) -> int | None:
    """The joint from which all of these hang; for one alone, its parent."""
    if not tops:
        return None
    base = int(tree.parents[tops[0]])
    for top in tops[1:]:
        base = tree.meet(base, int(tree.parents[top])) if base >= 0 else -1
    return base if base >= 0 else None


def _first_named(tree: JointTree, part: str) -> int | None:
    found = [j for j, r in enumerate(tree.readings) if r.parts == (part,)]
    return found[0] if found else None


def _pelvis(tree: JointTree, low: int | None, high: int | None) -> int | None:
    """Where legs and trunk both hang from, or what is named so and lies below it."""
    if low is None:
        return _first_named(tree, "pelvis")
    joined = tree.meet(low, high) if high is not None else low
    if joined < 0 or joined == high:  # the root is in the chest
        return low
    way = tree.down(joined, low)
    named = [j for j in way if tree.readings[j].parts == ("pelvis",)]
    return named[0] if named else joined


def _between(tree: JointTree, pelvis: int | None, high: int | None) -> list[int]:
    """The joints strictly between pelvis and chest, from the pelvis on."""
    if pelvis is None or high is None or pelvis == high:
        return []
    joined = tree.meet(pelvis, high)
    if joined < 0:
        return []
    down = tree.down(joined, pelvis)[::-1]  # from the pelvis up to where they meet
    way = down[:-1] + tree.down(joined, high)
    if joined not in (pelvis, high):  # what both hang from is the root and no part of the spine
        way.remove(joined)
    return [j for j in way if j not in (pelvis, high)]


def _way_to_head(
    tree: JointTree,
    pelvis: int | None,
    high: int | None,
    legs: Sequence[Limb],
    arms: Sequence[Limb],
) -> list[int]:
    """From the joint above the chest to the end of the head's chain; empty if there is none."""
    heads = [j for j, r in enumerate(tree.readings) if r.parts == ("head",)]
    start = high if high is not None else pelvis
    if heads:
        head = heads[0]
        way = tree.down(start, head)[1:] if start is not None else tree.above(head)[::-1]
        if not way:  # the head hangs elsewhere, such as from the root itself
            way = [head]
        return way + _crown(tree, head, way)
    if high is None or not legs or not arms:
        return []
    limbs = {j for limb in (*legs, *arms) for j in limb.path}
    up = _trunk_up(tree, legs, arms)
    across = tree.at[arms[0].joints[0]] - tree.at[arms[-1].joints[0]]
    across = across / (float(np.linalg.norm(across)) or 1.0)
    best, top = -np.inf, None
    for child in tree.children[high]:
        if child in limbs or (pelvis is not None and tree.under(child, pelvis)):
            continue
        if tree.readings[child].says("other"):
            continue
        steps = tree.at[tree.below(child)] - tree.at[high]
        highest = steps[int(np.argmax(steps @ up))]
        rise = float(highest @ up)
        upright = rise - ASIDE * abs(float(highest @ across))
        if rise > 0 and upright > best:
            best, top = upright, child
    if top is None:
        return []
    way = [top]
    while tree.children[way[-1]]:
        here = way[-1]
        if _face(tree, here):
            return way + _crown(tree, here, way)
        rises = {c: float((tree.at[c] - tree.at[here]) @ up) for c in tree.children[here]}
        above = max(rises, key=lambda c: rises[c])
        if rises[above] <= 0:
            break
        way.append(above)
    return way


def _face(tree: JointTree, joint: int) -> bool:
    """Whether a face hangs from the joint: two leaves or more."""
    leaves = [c for c in tree.children[joint] if not tree.children[c]]
    return len(leaves) >= 2


def _crown(tree: JointTree, head: int, way: Sequence[int]) -> list[int]:
    """The joint at the top of the head, if one hangs from it: named so, or straight on."""
    ends = [c for c in tree.children[head] if not tree.children[c]]
    named = [c for c in ends if tree.readings[c].says("head_top")]
    if len(named) == 1:
        return named
    above = int(tree.parents[way[0]])
    if above < 0:
        return []
    along = tree.at[head] - tree.at[above]
    ends = named or [c for c in ends if not tree.readings[c].parts]
    straight = {}
    for c in ends:
        bone = tree.at[c] - tree.at[head]
        size = float(np.linalg.norm(along) * np.linalg.norm(bone))
        straight[c] = float(along @ bone) / size if size > 0 else -1.0
    if not straight:
        return []
    order = sorted(straight, key=lambda c: -straight[c])
    if len(order) > 1 and straight[order[0]] - straight[order[1]] < PAIR:
        return []  # a pair, such as eyes or horns
    return order[:1] if straight[order[0]] > UPRIGHT else []


def _trunk_up(tree: JointTree, legs: Sequence[Limb], arms: Sequence[Limb]) -> FloatArray:
    """(3,) unit vector from between the hips to between the shoulders."""
    low = np.mean([tree.at[limb.joints[0]] for limb in legs], axis=0)
    high = np.mean([tree.at[limb.joints[0]] for limb in arms], axis=0)
    size = float(np.linalg.norm(high - low))
    return (high - low) / size if size > 0 else np.zeros(3)


def _name_neck_and_head(
    ledger: Ledger, way: list[int], legs: Sequence[Limb], arms: Sequence[Limb]
) -> None:
    tree = ledger.tree
    way = [j for j in way if not tree.readings[j].says("other")]
    if not way:
        return
    heads = [i for i, j in enumerate(way) if tree.readings[j].says("head")]
    faces = [i for i, j in enumerate(way) if _face(tree, j)]
    how = "hierarchy"
    if heads:
        place = heads[0]
    elif faces:
        place = faces[0]
    else:
        last = len(way) - 1
        tip = tree.tips[way[-1]]
        none = any(fingers_have_tips(tree, limb.joints[2]) is False for limb in arms)
        if not tip and not none and last >= 1 and legs and arms:
            up, how = _trunk_up(tree, legs, arms), "place"
            shoulder = np.mean([tree.at[limb.joints[0]] for limb in arms], axis=0)
            hip = np.mean([tree.at[limb.joints[0]] for limb in legs], axis=0)
            rise = float((tree.at[way[-1]] - shoulder) @ up)
            tip = rise > TOP_OF_HEAD * float((shoulder - hip) @ up)
        place = max(0, last - 1 if tip else last)
    ledger.give(way[place], "head", how)
    for number, joint in enumerate(way[:place], start=1):
        ledger.give(joint, "neck" if number == 1 else f"neck_{number}", how)
    after = way[place + 1 :]
    if len(after) == 1 or (after and tree.tips[after[-1]]):
        ledger.give(after[-1], "head_top", how)


def name_eyes(ledger: Ledger, left: FloatArray, up: FloatArray, forward: FloatArray) -> None:
    """Names the eyes: those named so, else the one pair of leaves at the front of the head."""
    tree = ledger.tree
    for joint, reading in enumerate(tree.readings):
        if reading.parts == ("eye",) and reading.side:
            ledger.give(joint, f"{reading.side}_eye", "name")
        elif reading.parts == ("eye",) and reading.whole:
            ledger.give(joint, reading.whole, "name")
    head = ledger.joint_of("head")
    if head is None or "left_eye" in ledger.names.values():
        return
    from_head = {j: tree.at[j] - tree.at[head] for j in tree.below(head)[1:]}
    leaves = {
        j: v
        for j, v in from_head.items()
        if not tree.children[j]
        and j not in ledger.names
        and tree.readings[j].parts in ((), ("head_top",))  # ends of one head are named alike
    }
    front = {
        j: v
        for j, v in leaves.items()
        if v @ forward > IN_FRONT * abs(v @ left) > 0 and v @ up > -abs(v @ forward)
    }
    on_left = [j for j, v in front.items() if v @ left > 0]
    on_right = [j for j, v in front.items() if v @ left < 0]
    if len(on_left) == len(on_right) == 1:
        ledger.give(on_left[0], "left_eye", "place")
        ledger.give(on_right[0], "right_eye", "place")
