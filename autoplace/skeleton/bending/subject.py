"""The skeleton that is bent, in the character's own directions, with its flesh if there is any."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.aims import Bones, find_bones
from autoplace.skeleton.convention import DEFAULT, Convention, recorded
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import SIDES, side_of
from autoplace.skeleton.orient import body_directions
from autoplace.skeleton.pose import Pose, Posed, named_axes, pose_skeleton
from autoplace.skeleton.skin.binding import Binding
from autoplace.skeleton.structure import extent, parent_indices

__all__ = ["DOWN", "FORWARD", "LEFT", "UP", "Flesh", "Subject", "subject_of"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LEFT, UP, FORWARD = np.eye(3)
DOWN = -UP


@dataclass(frozen=True)
class Flesh:
    """The character's surface in the directions and the scale of the subject."""

    vertices: FloatArray
    """(n, 3)"""
    faces: IntArray
    """(m, 3)"""
    binding: Binding
    """Which joints move each vertex: a first binding."""
    eyeballs: Mapping[str, FloatArray] = field(default_factory=dict)
    """By eye joint: (k, 3) vertices of its eyeball."""


@dataclass(frozen=True)
class Subject:
    """A skeleton along the character's directions (X to its left, Y up, Z forward), height 1."""

    skeleton: Skeleton
    parents: IntArray
    convention: Convention
    assumed: bool
    """True when the skeleton records no convention and the default was taken."""
    flesh: Flesh | None = None
    found: dict[str, Any] = field(init=False, repr=False, compare=False, default_factory=dict)
    """By side: the hand, once `hand_shape.find_hand` has measured it."""

    @cached_property
    def index(self) -> dict[str, int]:
        """Number of each joint by name."""
        return {joint.name: i for i, joint in enumerate(self.skeleton.joints)}

    @cached_property
    def at(self) -> FloatArray:
        """(n, 3) positions at rest."""
        return self.skeleton.positions()

    @cached_property
    def axes(self) -> FloatArray:
        """(n, 3, 3) named axes at rest: rows bend, third and aim."""
        own = np.array([joint.axes for joint in self.skeleton.joints])
        return named_axes(own, self.convention)

    @cached_property
    def bones(self) -> Bones:
        """Where each joint's bone points."""
        return find_bones(self.skeleton, self.parents, self.at, self.convention.aims)

    @cached_property
    def middle(self) -> float:
        """Where the symmetry plane lies along the character's left."""
        centre = [self.at[i, 0] for n, i in self.index.items() if side_of(n) is None]
        return float(np.median(centre)) if centre else 0.0

    def has(self, *names: str) -> bool:
        """True when the skeleton has all these joints."""
        return all(name in self.index for name in names)

    def place(self, name: str, posed: Posed | None = None) -> FloatArray:
        """(3,) where a joint is, at rest or in a pose."""
        return (self.at if posed is None else posed.positions)[self.index[name]]

    def between(self, start: str, end: str, posed: Posed | None = None) -> FloatArray:
        """(3,) from one joint to another."""
        return self.place(end, posed) - self.place(start, posed)

    def bone(self, name: str, posed: Posed | None = None) -> FloatArray:
        """(3,) unit direction of a joint's bone, at rest or in a pose; zero where it has none."""
        i = self.index[name]
        rest = self.bones.direction[i]
        return rest if posed is None else posed.turn[i] @ rest

    def axis(self, name: str, role: str, posed: Posed | None = None) -> FloatArray:
        """(3,) a joint's 'bend', 'third' or 'aim' axis."""
        i = self.index[name]
        rest = self.axes[i, ("bend", "third", "aim").index(role)]
        return rest if posed is None else posed.turn[i] @ rest

    def sides_with(self, *stems: str) -> list[str]:
        """The sides that have all joints of these stems."""
        return [side for side in SIDES if self.has(*(f"{side}_{stem}" for stem in stems))]

    def posed(self, pose: Pose) -> Posed:
        """The skeleton in a pose."""
        return pose_skeleton(self.skeleton, pose, self.convention)


def subject_of(
    skeleton: Skeleton, *, origin: FloatArray | None = None, flesh: Flesh | None = None
) -> Subject:
    """A skeleton ready to be bent.

    `origin` (3,) in the skeleton's frame becomes the origin; without it that of the frame stays.
    The height is that of `skeleton.source`, or the skeleton's own extent where that is not known.
    `flesh` must be in the subject's own frame. Raises SkeletonError for a broken tree.
    """
    parents = parent_indices(skeleton)
    body = body_directions(skeleton)
    height = float(skeleton.source.height)
    if not (np.isfinite(height) and height > 0):
        height = 0.0
    height = height or extent(skeleton.positions()) or 1.0
    start = np.zeros(3) if origin is None else np.asarray(origin, dtype=np.float64)
    joints = tuple(
        replace(
            joint,
            position=body @ (np.asarray(joint.position, dtype=np.float64) - start) / height,
            axes=np.asarray(joint.axes, dtype=np.float64) @ body.T,
            spread=joint.spread / height,
            look=None if joint.look is None else body @ np.asarray(joint.look, dtype=float),
        )
        for joint in skeleton.joints
    )
    convention = recorded(skeleton.settings)
    return Subject(
        skeleton=skeleton.with_joints(joints),
        parents=parents,
        convention=convention or DEFAULT,
        assumed=convention is None,
        flesh=flesh,
    )
