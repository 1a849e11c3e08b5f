"""Which finger is which, and which joint of it: by name, else by the order from the thumb."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.angles import angle_between
from autoplace.skeleton.names import FINGERS
from autoplace.skeleton.roles.ledger import Ledger
from autoplace.skeleton.roles.tree import JointTree

__all__ = ["finger_chains", "fingers_have_tips", "name_fingers", "side_of_hand"]

FloatArray = NDArray[np.float64]

BY_COUNT = {
    1: ("middle",),
    2: ("thumb", "middle"),
    3: ("thumb", "index", "pinky"),
    4: ("thumb", "index", "middle", "pinky"),
    5: FINGERS,
}
"""Fingers of a hand with fewer, as everywhere in this project."""
METACARPAL_RATIO = 0.9
"""From the wrist to the first joint of a finger, in lengths of its first bone: about 1.6 where that
is the knuckle, about 0.4 where it is the base of the metacarpal (Buchholz et al. 1992)."""
LEAST_CURL = 2.0
"""Degrees a finger is bent at a joint, in the mean, before the bend tells where the palm is;"""
THUMB_BEFORE = 0.1
"""and share of the fingers' length that the tip of the thumb lies before the palm, before it does.
The two add up. Common practice, no source."""
ASIDE = 45.0
"""Degrees between the thumb and the other fingers of a relaxed hand; common practice, no source."""
LEAST_ASIDE = 25.0
"""Degrees, seen from the wrist, between the thumb's joint and the row of knuckles, which is
some 25 to either side wide; twice that for a joint as far from the wrist as these. Common practice,
no source."""
TOO_LONG = 2.5
"""A chain so many times as long as the middle one of a hand is no finger; common practice."""
DEEPEST_BRANCH = 3
"""Joints between wrist and fingers, such as one in the palm."""


def finger_chains(tree: JointTree, wrist: int) -> list[list[int]]:
    """Chains of at least two joints that hang from the wrist, or from joints of the palm."""
    found: list[list[int]] = []
    alone: list[list[int]] = []
    waiting = [(child, 0) for child in tree.children[wrist]]
    while waiting:
        top, depth = waiting.pop(0)
        reading = tree.readings[top]
        if reading.says("other") or reading.says("twist"):
            continue
        chain = tree.main_path(top, ("finger",))
        fork = next((i for i, j in enumerate(chain) if _forks(tree, j)), None)
        if fork is not None and depth < DEEPEST_BRANCH:
            waiting += [(child, depth + 1) for child in tree.children[chain[fork]]]
        elif len(chain) >= 2 or reading.finger:
            found.append(chain)
        elif reading.parts in ((), ("finger",)) and not tree.tips[top]:
            alone.append(chain)
    thumbs = [chain for chain in alone if _thumb_of_one(tree, wrist, chain[0], found)]
    return found + (thumbs if len(thumbs) == 1 else [])


def _thumb_of_one(tree: JointTree, wrist: int, joint: int, fingers: list[list[int]]) -> bool:
    """Whether a single joint beside fingers of several lies like a thumb: low and aside."""
    if len(fingers) < 2:
        return False
    steps = np.array([tree.at[c[0]] - tree.at[wrist] for c in fingers])
    own, along = tree.at[joint] - tree.at[wrist], steps.mean(axis=0)
    share = float(np.linalg.norm(own)) / float(np.median(np.linalg.norm(steps, axis=1)) or 1.0)
    aside = angle_between(own, along)
    return LEAST_ASIDE * max(1.0, 2.0 * share) < aside < 120.0


def _forks(tree: JointTree, joint: int) -> bool:
    """Whether at least two fingers hang from the joint."""
    return sum(bool(tree.children[c]) for c in tree.children[joint]) >= 2


def name_fingers(ledger: Ledger, wrist: int, side: str) -> None:
    """Names the fingers of one hand, thumb to pinky, and the joints of each."""
    tree = ledger.tree
    chains = finger_chains(tree, wrist)
    named: dict[str, list[int]] = {}
    rest: list[list[int]] = []
    for chain in chains:
        said = [f for j in chain for f in (tree.readings[j].finger,) if f]
        finger = max(sorted(set(said)), key=said.count) if said else None
        if finger and finger not in named:
            named[finger] = chain
        elif not finger:
            rest.append(chain)
    how = "name"
    if not named:
        how = "place"
        named = _by_place(tree, wrist, rest)
    for finger, chain in named.items():
        for joint, part in zip(chain, _parts(tree, wrist, finger, chain), strict=True):
            if part:
                ledger.give(joint, f"{side}_{finger}_{part}", "hierarchy" if how == "name" else how)


def fingers_have_tips(tree: JointTree, wrist: int) -> bool | None:
    """Whether most fingers of a hand end in a tip helper; None for a hand without fingers."""
    ends = [
        _parts(tree, wrist, tree.readings[chain[-1]].finger or "middle", chain)[-1] == "tip"
        for chain in finger_chains(tree, wrist)
        if len(chain) > 1
    ]
    return 2 * sum(ends) > len(ends) if ends else None


def _parts(tree: JointTree, wrist: int, finger: str, chain: Sequence[int]) -> list[str | None]:
    """What each joint of a finger is: 'metacarpal', '1', '2', '3', 'tip' or None."""
    count = len(chain)
    tip = count >= 2 and tree.tips[chain[-1]]
    body = count - tip
    has_metacarpal = False
    if finger != "thumb":
        words = [tree.readings[j].metacarpal for j in chain]
        if any(words):
            has_metacarpal = words[0]
        elif body >= 4:
            has_metacarpal = tree.length(wrist, chain[0]) < METACARPAL_RATIO * tree.length(
                chain[0], chain[1]
            )
    first = ["metacarpal"] if has_metacarpal else []
    parts: list[str | None] = [*first, "1", "2", "3", "tip"]
    if tip and body < len(first) + 3:
        parts = [*parts[:body], "tip"]
    spare = max(0, count - len(parts))
    if tip:
        return [*parts[:-1], *[None] * spare, "tip"][:count]
    return [*parts, *[None] * spare][:count]


def _by_place(tree: JointTree, wrist: int, chains: list[list[int]]) -> dict[str, list[int]]:
    """Fingers by their order from the thumb, which starts low, is short and points aside.

    What orders them does not change when the fingers are bent.
    """
    chains = _like_fingers(tree, chains)
    if not 2 <= len(chains) <= 5:
        return {}
    starts = np.array([tree.at[c[0]] for c in chains])
    ways = np.array([tree.at[c[-1]] - tree.at[c[0] if len(c) > 1 else wrist] for c in chains])
    sizes = np.linalg.norm(ways, axis=1)
    if not np.all(sizes > 0):
        return {}
    ways /= sizes[:, None]
    low = np.linalg.norm(starts - tree.at[wrist], axis=1)
    reach = low + [tree.reach[c[0]] for c in chains]
    signs = []
    for i in range(len(chains)):
        others = np.delete(ways, i, axis=0).mean(axis=0)
        size = float(np.linalg.norm(others))
        cosine = float(ways[i] @ others) / size if size > 0 else 1.0
        aside = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))) / ASIDE
        lower = 1.0 - low[i] / (float(np.median(np.delete(low, i))) or 1.0)
        signs.append(min(1.0, aside) + 2.0 * max(0.0, lower) + 2.0 * (1.0 - reach[i] / reach.max()))
    thumb = int(np.argmax(signs))
    long = [i for i in range(len(chains)) if i != thumb]
    if len(long) > 1:
        middle = starts[long].mean(axis=0)
        along = middle - tree.at[wrist]
        along /= float(np.linalg.norm(along)) or 1.0
        level = starts[long] - middle
        level = level - np.outer(level @ along, along)
        across = np.linalg.svd(level)[2][0]
        across *= 1.0 if (middle - tree.at[chains[thumb][:2]].mean(axis=0)) @ across >= 0 else -1.0
        long = [long[k] for k in np.argsort(level @ across, kind="stable")]
    order = [chains[thumb], *[chains[i] for i in long]]
    return dict(zip(BY_COUNT[len(order)], order, strict=True))


def _like_fingers(tree: JointTree, chains: list[list[int]]) -> list[list[int]]:
    """Without chains that are far longer than the others, such as what the hand holds."""
    if len(chains) < 3:
        return chains
    lengths = np.array([float(tree.reach[c[0]]) for c in chains])
    kept = [c for c, n in zip(chains, lengths, strict=True) if n <= TOO_LONG * np.median(lengths)]
    while len(kept) > 5:  # then those that have other numbers of joints than most
        counts = [len(c) for c in kept]
        usual = max(sorted(set(counts)), key=counts.count)
        strange = [i for i, count in enumerate(counts) if count != usual]
        if not strange:
            break
        kept.pop(strange[0])
    return kept


def side_of_hand(tree: JointTree, wrist: int) -> str | None:
    """'left' or 'right' by the thumb and the way the fingers bend; None if that does not show."""
    chains = finger_chains(tree, wrist)
    named = {f: c for c in chains for f in (tree.readings[c[-1]].finger,) if f}
    if "thumb" not in named:
        named = _by_place(tree, wrist, chains)
    thumb = named.pop("thumb", None)
    long = [np.array([tree.at[j] for j in c]) for c in named.values() if len(c) >= 3]
    if thumb is None or not long:
        return None
    bones = []
    for chain in long:
        steps = np.diff(chain, axis=0)
        sizes = np.linalg.norm(steps, axis=1)
        if not np.all(sizes > 0):
            return None
        bones.append(steps / sizes[:, None])
    along = np.mean([c[-1] - c[0] for c in long], axis=0)
    aside = tree.at[thumb[1 if len(thumb) > 1 else 0]] - np.mean([c[0] for c in long], axis=0)
    across = _across(np.array([c[min(1, len(c) - 2)] for c in long]), along, aside)
    if across is None:
        return None
    palm = np.cross(along, across)  # out of the palm of a left hand, out of the back of a right
    palm /= float(np.linalg.norm(palm)) or 1.0
    bend = np.degrees(np.mean([(b[1:] - b[:-1]).mean(axis=0) @ palm for b in bones]))
    knuckle = long[int(np.argmin([abs((c[0] - tree.at[thumb[0]]) @ across) for c in long]))][0]
    before = float((tree.at[thumb[-1]] - 0.5 * (knuckle + tree.at[wrist])) @ palm)
    sign = bend / LEAST_CURL + before / (THUMB_BEFORE * float(np.linalg.norm(along)))
    if abs(sign) < 1.0:
        return None
    return "left" if sign > 0 else "right"


def _across(knuckles: FloatArray, along: FloatArray, aside: FloatArray) -> FloatArray | None:
    """(3,) toward the thumb, at right angles to the fingers, in the plane of the knuckles."""
    if len(knuckles) > 1:
        level = knuckles - knuckles.mean(axis=0)
        row = np.linalg.svd(level)[2][0]
        row = row if row @ aside >= 0 else -row
    else:
        row = aside
    along = along / (float(np.linalg.norm(along)) or 1.0)
    row = row - (row @ along) * along
    size = float(np.linalg.norm(row))
    return row / size if size > 0 else None
