"""The bones of a skeleton as lines, how far they are through the flesh, and who shares flesh.

Flesh lies between a bone and the skin over it, so the way from a vertex to a bone of its own leads
inward. A way that leads outward goes through the air, to the bone of another limb: from the flank
to the arm that hangs beside it, from one finger or leg to the next. Ways that do not lead in are
counted longer, the more so the straighter they leave the skin. That needs no closed surface, and it
holds where limbs touch and nothing but the way the skin faces tells them apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import SIDES, family, metacarpal_of, side_of, stem

__all__ = ["BoneLines", "bone_lines", "distances", "leads_in", "relatives"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

INWARD = 0.35
"""A way through the flesh leads in from the skin at a slope of this at least (20 degrees); sine of
the angle between way and skin."""
THROUGH_AIR = 2.0
"""A way that leads in by less than `INWARD` of its length, or out, counts as longer by this many
times what is missing. Of slopes 0, .25, .35 and .5 and of 1, 1.5, 2, 3, 4 and 8 times, these let
the fewest vertices bleed on the bodies of the open dataset that may be looked at, the ribs and the
order of the skin left aside: with less arms drag the trunk, with more the chest takes the mouth."""
RIBS = 0.5
"""How far aside the bones of the ribs lie, as a share of the way to the shoulder joint. Half way
between them and that joint is then 0.75 of the way, which is the side of the chest: chest breadth
289 and 269 mm (ANSUR II, men and women), shoulder joints 16 mm inside half the biacromial breadth
of 416 and 365 mm (ANSUR II; the 16 is from memory), so that shares of 0.51 and 0.61 put it
there."""
AT_ONCE = 400_000
"""Vertex-bone pairs handled in one go; bounds the memory on large meshes."""


@dataclass(frozen=True)
class BoneLines:
    """Lines from each joint to each of its children, and some more."""

    owner: IntArray
    """(k,) joint that moves the line."""
    start: FloatArray
    """(k, 3)"""
    end: FloatArray
    """(k, 3)"""
    joints: int
    """Joints of the skeleton."""


def bone_lines(skeleton: Skeleton, parents: IntArray) -> BoneLines:
    """All bones of a skeleton whose joints hang on `parents` (n,), -1 for a root.

    Heels and chins lie behind the joint they turn about, and ribs beside it, where no bone goes;
    each gets a bone of its own. A skeleton of one joint is one bone of no length.
    """
    at = skeleton.positions()
    below = np.flatnonzero(parents >= 0)
    if not len(below):
        return BoneLines(np.zeros(1, dtype=np.int64), at[:1], at[:1], len(at))
    owner, start, end = [parents[below]], [at[parents[below]]], [at[below]]
    extra = [_jaw(skeleton), *(_heel(skeleton, side) for side in SIDES), *_ribs(skeleton, parents)]
    for joint, tail, tip in [bone for bone in extra if bone is not None]:
        owner.append(np.array([skeleton.names.index(joint)]))
        start.append(tail[None])
        end.append(tip[None])
    return BoneLines(np.concatenate(owner), np.concatenate(start), np.concatenate(end), len(at))


def distances(
    points: FloatArray, normals: FloatArray, lines: BoneLines
) -> Iterator[tuple[slice, FloatArray]]:
    """Rows of `points`, and their (v, joints) distance to the bones of each joint, a batch a time.

    `points` (n, 3) in the frame of the bones, `normals` (n, 3) out of the flesh, of length one or
    less where that is doubtful. A joint without a bone is infinitely far.
    """
    for rows, length, outward in _ways(points, normals, lines):
        through = length + THROUGH_AIR * np.maximum(outward + INWARD * length, 0.0)
        distance = np.full((len(length), lines.joints), np.inf)
        for bone, joint in enumerate(lines.owner):
            np.minimum(distance[:, joint], through[:, bone], out=distance[:, joint])
        yield rows, distance


def leads_in(points: FloatArray, normals: FloatArray, lines: BoneLines) -> NDArray[np.bool_]:
    """(n,) True where the straight way to the nearest bone goes in through the skin."""
    inward = np.empty(len(points), dtype=bool)
    for rows, length, outward in _ways(points, normals, lines):
        nearest = np.argmin(length, axis=1)
        inward[rows] = outward[np.arange(len(nearest)), nearest] < 0.0
    return inward


def _ways(
    points: FloatArray, normals: FloatArray, lines: BoneLines
) -> Iterator[tuple[slice, FloatArray, FloatArray]]:
    """Rows of `points`, lengths (v, k) of the ways to every bone, and how far out they lead."""
    along = lines.end - lines.start
    squared = np.maximum(np.sum(along**2, axis=1), 1e-300)
    step = max(1, AT_ONCE // len(lines.owner))
    for low in range(0, len(points), step):
        rows = slice(low, min(low + step, len(points)))
        some = points[rows]
        # (v, k): how far along each bone its nearest point lies, 0 to 1
        ahead = (some @ along.T - np.sum(lines.start * along, axis=1)) / squared
        ahead = np.clip(ahead, 0.0, 1.0)
        gap, outward = np.zeros_like(ahead), np.zeros_like(ahead)
        for axis in range(3):
            way = lines.start[:, axis] + ahead * along[:, axis] - some[:, axis, None]
            gap += way**2
            outward += way * normals[rows, axis, None]
        yield rows, np.sqrt(gap), outward


def relatives(skeleton: Skeleton, parents: IntArray) -> NDArray[np.bool_]:
    """(n, n) True where one joint is the other or at most two steps above or below it.

    Two, because the bones of a spine are shorter than the trunk is thick. Joints side by side, such
    as two fingers or the two hips, are no relatives; metacarpals are, since one palm covers them.
    The head moves no flesh below the neck, and neck and clavicles none below the chest, on which
    they ride.
    """
    count = len(parents)
    names = skeleton.names
    related = np.eye(count, dtype=bool)
    for low, middle in enumerate(parents):
        if middle < 0:
            continue
        related[low, middle] = related[middle, low] = True
        high = parents[middle]
        past_neck = family(names[low]) == "head" and not stem(names[high]).startswith("neck")
        past_ribs = stem(names[middle]) == "chest"
        if high >= 0 and not past_neck and not past_ribs:
            related[low, high] = related[high, low] = True
    palms = np.array([metacarpal_of(name) is not None for name in names])
    sides = np.array([side_of(name) == "left" for name in names])
    return related | (palms[:, None] & palms & (sides[:, None] == sides))


def _ribs(skeleton: Skeleton, parents: IntArray) -> list[tuple[str, FloatArray, FloatArray]]:
    """Bones beside those of the spine from above the pelvis to the chest, on either side.

    A trunk is broad and its bones lie in the middle and far back, so that clavicles and arms would
    be nearer to the side of a breast.
    """
    shoulders = [f"{side}_shoulder" for side in SIDES]
    if any(name not in skeleton for name in shoulders):
        return []
    left, right = (np.asarray(skeleton[name].position) for name in shoulders)
    aside = 0.5 * RIBS * (left - right)
    names = skeleton.names
    spine = [family(name) == "trunk" and not stem(name).startswith("neck") for name in names]
    bones = []
    for lower, upper in zip(parents, range(len(names)), strict=True):
        if lower >= 0 and spine[lower] and spine[upper] and names[lower] != "pelvis":
            start, end = (np.asarray(skeleton.joints[i].position) for i in (lower, upper))
            bones += [(names[lower], start + way, end + way) for way in (aside, -aside)]
    return bones


def _jaw(skeleton: Skeleton) -> tuple[str, FloatArray, FloatArray] | None:
    """The head's bone from between the eyes to the chin.

    Eyes lie at half the height of the head (ANSUR II: ectocanthus at 0.48 of it from the top); in
    small children they lie lower, but no chin lies lower than the root of the neck.
    """
    if any(name not in skeleton for name in ("head", "head_top", "left_eye", "right_eye")):
        return None
    eyes = 0.5 * (skeleton["left_eye"].position + skeleton["right_eye"].position)
    rise = skeleton["head_top"].position - skeleton["head"].position
    rise = rise / max(float(np.linalg.norm(rise)), 1e-300)
    drop = float((skeleton["head_top"].position - eyes) @ rise)
    if "neck" in skeleton:
        drop = min(drop, float((eyes - skeleton["neck"].position) @ rise))
    return "head", eyes, eyes - max(drop, 0.0) * rise


def _heel(skeleton: Skeleton, side: str) -> tuple[str, FloatArray, FloatArray] | None:
    """The ankle's bone to the heel, at the height of the ball.

    The ankle stands 0.20 of the foot's length before the heel and the ball 0.69 (HAnim, Manal et
    al. 2013; the middle of the row of toe joints), so the heel is 0.20 / 0.49 of that way behind.
    """
    names = [f"{side}_{base}" for base in ("knee", "ankle", "ball")]
    if any(name not in skeleton for name in names):
        return None
    knee, ankle, ball = (np.asarray(skeleton[name].position) for name in names)
    down = (ankle - knee) / max(float(np.linalg.norm(ankle - knee)), 1e-300)
    drop = float((ball - ankle) @ down) * down
    return names[1], ankle, ankle + drop - (0.20 / 0.49) * (ball - ankle - drop)
