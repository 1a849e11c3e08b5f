"""A hand as the bend test measures it: its length, its fingers, and where its palm is.

The palm is the flat between the wrist and the knuckles. With a mesh it is the skin over that flat
on the side the fingers curl to; without one, the flat itself, raised by how deep a hand usually is
below its knuckles. Distances to it are taken in the rest of the hand, which does not move when
only fingers do.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.skeleton.bend_axes import arm_forward
from autoplace.skeleton.bending.subject import Subject
from autoplace.skeleton.hand import Palm, find_palm
from autoplace.skeleton.names import FINGERS, LONG_FINGERS, family, finger_of, side_of, stem

__all__ = ["Hand", "find_hand", "thumbward"]

FloatArray = NDArray[np.float64]

PALM_DEPTH = 0.08
"""From the plane of wrist and knuckles to the palm's skin, share of the hand's length: half the
thickness of a hand at its third metacarpal (about 30 of 190 mm; from memory)."""
BEYOND = 0.08
"""How far the palm's skin is looked for outside the flat between wrist and knuckles, share of the
hand's length: half the breadth that a finger takes of the palm's; common practice, no source."""
FACES_PALM = 0.3
"""Skin belongs to the palm when its normal is within about 70 degrees (cosine 0.3) of the way the
palm faces; common practice, no source."""
OF_PALM = 0.5
"""... and when the wrist and the metacarpals have more than this share of it: what the fingers
carry with them is no palm; common practice, no source."""
FLAT_STEPS, SKIN_STEPS = 32, 4
"""The flat's few triangles, and those of the skin, are measured to at the points of a grid with
this many steps a side: no point of the palm is then farther from one than about 1 percent of the
hand's length."""


@dataclass(frozen=True)
class Hand:
    """One hand at rest. Frame of the subject, heights."""

    side: str
    palm: Palm
    length: float
    """From the wrist along the bones to the tip of the longest finger."""
    fingers: dict[str, tuple[str, ...]]
    """By finger, from the thumb on: its joints from the knuckle (the thumb's base) to the tip."""
    surface: FloatArray
    """(k, 3) points all over the palm."""
    by_skin: bool
    """True when these points are on the mesh."""

    @cached_property
    def long_fingers(self) -> tuple[str, ...]:
        """The fingers that have a knuckle, from the thumb's side outward."""
        return tuple(finger for finger in LONG_FINGERS if finger in self.fingers)

    def from_palm(self, point: FloatArray) -> float:
        """Distance of a point (3,) from the palm, share of the hand's length."""
        return float(self._nearest.query(point)[0]) / self.length

    @cached_property
    def _nearest(self) -> cKDTree:
        return cKDTree(self.surface)


def thumbward(subject: Subject, side: str) -> FloatArray | None:
    """(3,) across the palm to the thumb's side; None without a wrist."""
    palm = _palm(subject, side)
    return None if palm is None else palm.thumbward


def find_hand(subject: Subject, side: str) -> Hand | None:
    """The hand of one side; None without a wrist or without fingers."""
    if side not in subject.found:
        subject.found[side] = _find_hand(subject, side)
    return subject.found[side]


def _find_hand(subject: Subject, side: str) -> Hand | None:
    palm = _palm(subject, side)
    if palm is None:
        return None
    fingers = {}
    for finger in FINGERS:
        chain = tuple(
            joint.name
            for joint in subject.skeleton
            if side_of(joint.name) == side and finger_of(joint.name) == finger
        )
        if len(chain) >= 2:
            fingers[finger] = chain
    if not fingers:
        return None
    wrist = subject.place(f"{side}_wrist")
    lengths = []
    for chain in fingers.values():
        at = np.array([wrist, *(subject.place(name) for name in chain)])
        lengths.append(float(np.linalg.norm(np.diff(at, axis=0), axis=1).sum()))
    length = max(lengths)
    if length <= 0:
        return None
    corners = [wrist] + [
        subject.place(fingers[finger][0]) for finger in LONG_FINGERS if finger in fingers
    ]
    if len(corners) < 3 and "thumb" in fingers:
        corners.append(subject.place(fingers["thumb"][0]))
    flat = _flat(np.array(corners))
    skin = _skin(subject, side, palm, flat, length)
    surface = skin if len(skin) else flat + PALM_DEPTH * length * palm.facing
    return Hand(side, palm, length, fingers, surface, len(skin) > 0)


def _palm(subject: Subject, side: str) -> Palm | None:
    wrist = f"{side}_wrist"
    if not subject.has(wrist):
        return None
    along = subject.bone(wrist)
    if not np.any(along):
        return None
    points = {
        stem(joint.name): subject.place(joint.name)
        for joint in subject.skeleton
        if side_of(joint.name) == side and (joint.name == wrist or finger_of(joint.name))
    }
    return find_palm(points, side, along, arm_forward(along, side))


def _flat(corners: FloatArray) -> FloatArray:
    """(k, 3) points all over the fan of triangles from the first corner to the others."""
    if len(corners) < 3:
        share = np.linspace(0.0, 1.0, FLAT_STEPS + 1)[:, None]
        return corners[0] + share * (corners[-1] - corners[0])
    first = np.repeat(corners[:1], len(corners) - 2, axis=0)
    return _over(first, corners[1:-1], corners[2:], FLAT_STEPS)


def _over(a: FloatArray, b: FloatArray, c: FloatArray, steps: int) -> FloatArray:
    """(k, 3) a grid of points over each triangle, from its corners (m, 3)."""
    shares = np.array(
        [(steps - i - j, i, j) for i in range(steps + 1) for j in range(steps + 1 - i)],
        dtype=np.float64,
    )
    corners = np.stack([a, b, c], axis=1)
    points: FloatArray = np.einsum("sk,mkx->msx", shares / steps, corners)
    return points.reshape(-1, 3)


def _skin(subject: Subject, side: str, palm: Palm, flat: FloatArray, length: float) -> FloatArray:
    """(k, 3) points over the triangles of the palm's skin; none without a mesh."""
    flesh = subject.flesh
    if flesh is None:
        return np.zeros((0, 3))
    carriers = [
        i
        for i, joint in enumerate(subject.skeleton)
        if side_of(joint.name) == side and family(joint.name) in ("hand", "metacarpal")
    ]
    share = np.where(np.isin(flesh.binding.joints, carriers), flesh.binding.weights, 0.0)
    of_palm = share.sum(axis=1) > OF_PALM
    faces = flesh.faces[of_palm[flesh.faces].all(axis=1)]
    a, b, c = (flesh.vertices[faces[:, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=1)
    middle = (a + b + c) / 3.0
    facing = normal @ palm.facing > FACES_PALM * size
    # outside the flat, along it: how far to its nearest point when both are laid on the plane
    plane = np.array([palm.along, palm.thumbward])
    within = cKDTree(flat @ plane.T).query(middle @ plane.T)[0] < BEYOND * length
    ahead = (middle - flat[0]) @ palm.facing
    kept = facing & within & (np.abs(ahead) < 0.5 * length)
    return _over(a[kept], b[kept], c[kept], SKIN_STEPS)
