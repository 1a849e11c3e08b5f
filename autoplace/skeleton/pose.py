"""Moves a skeleton: turns about the joints' own axes in, where everything goes out.

A turn is given as an animator keys it: degrees about the joint's own axes, which a convention names
(the bend axis, the aim axis, and the third one at right angles to both). The joint is turned about
its bend axis, then about its third axis as that lies then, then about its aim axis as that lies
then, which is the sequence of Grood and Suntay 1983 (flexion, sideways, own length; from memory)
that Wu et al. 2002 and 2005 recommend for most joints.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.skeleton.convention import DEFAULT, Convention, recorded
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.skin.binding import Binding
from autoplace.skeleton.structure import parent_indices

__all__ = [
    "AXIS_ROLES",
    "Pose",
    "Posed",
    "Turn",
    "axis_turns",
    "named_axes",
    "pose_skeleton",
    "skin",
    "turn_for",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

AXIS_ROLES = ("bend", "third", "aim")
AT_ONCE = 200_000
"""Vertices moved in one go; bounds the memory on large meshes."""


@dataclass(frozen=True)
class Turn:
    """Degrees about a joint's own axes, by the right-hand rule."""

    bend: float = 0.0
    third: float = 0.0
    """About bend x aim: where a positive turn about the bend axis carries the aim axis to."""
    aim: float = 0.0


Pose = Mapping[str, Turn]
"""Joint name -> turn; joints without one keep their rest."""


@dataclass(frozen=True)
class Posed:
    """Where a pose takes the joints. Frame and units of the skeleton, order of its joints."""

    turn: FloatArray
    """(n, 3, 3) what carries along with joint i goes from x at rest to turn[i] @ x + shift[i]."""
    shift: FloatArray
    """(n, 3)"""
    positions: FloatArray
    """(n, 3)"""
    axes: FloatArray
    """(n, 3, 3) unit rows: where each joint's X, Y and Z point."""

    @property
    def matrices(self) -> FloatArray:
        """(n, 4, 4) the same motions, for column vectors (x, y, z, 1)."""
        whole = np.zeros((len(self.turn), 4, 4))
        whole[:, :3, :3], whole[:, :3, 3], whole[:, 3, 3] = self.turn, self.shift, 1.0
        return whole

    def of(self, skeleton: Skeleton) -> Skeleton:
        """The skeleton as it stands in the pose: positions, axes and looks moved."""
        joints = []
        for i, joint in enumerate(skeleton.joints):
            look = None if joint.look is None else self.turn[i] @ np.asarray(joint.look)
            moved = {"position": self.positions[i], "axes": self.axes[i], "look": look}
            joints.append(replace(joint, **moved))
        return skeleton.with_joints(tuple(joints))


def pose_skeleton(skeleton: Skeleton, pose: Pose, convention: Convention | None = None) -> Posed:
    """The skeleton in a pose, parents carrying their children along.

    Without `convention` the one recorded in the skeleton's settings names the axes, else the
    default. Raises SkeletonError for a broken tree or a joint that the skeleton does not have.
    """
    parents = parent_indices(skeleton)
    convention = convention or recorded(skeleton.settings) or DEFAULT
    index = {joint.name: i for i, joint in enumerate(skeleton.joints)}
    degrees = np.zeros((len(parents), 3))
    for name, turn in pose.items():
        if name not in index:
            raise SkeletonError(
                f"The pose turns '{name}', which the skeleton does not have: leave it out."
            )
        degrees[index[name]] = (turn.bend, turn.third, turn.aim)
    axes = np.array([joint.axes for joint in skeleton.joints], dtype=np.float64)
    own = _own_turns(named_axes(axes, convention), degrees)
    rest = skeleton.positions()

    world = np.empty_like(own)
    shift = np.empty_like(rest)
    for level in _levels(parents):
        above = parents[level]
        carried = np.where((above >= 0)[:, None, None], world[above], np.eye(3))
        moved = np.where((above >= 0)[:, None], shift[above], 0.0)
        pivot = np.einsum("nij,nj->ni", carried, rest[level]) + moved
        world[level] = carried @ own[level]
        shift[level] = pivot - np.einsum("nij,nj->ni", world[level], rest[level])
    positions = np.einsum("nij,nj->ni", world, rest) + shift
    return Posed(world, shift, positions, axes @ np.swapaxes(world, 1, 2))


def named_axes(axes: FloatArray, convention: Convention) -> FloatArray:
    """(..., 3, 3) unit rows: bend, third and aim axis, from a joint's axes (..., 3, 3)."""
    bend, aim = convention.hinge(axes), convention.bone(axes)
    return np.stack([bend, np.cross(bend, aim), aim], axis=-2)


def axis_turns(axes: FloatArray, degrees: FloatArray) -> FloatArray:
    """(n, 3, 3) right-handed turns about unit axes (n, 3), for column vectors.

    Rodrigues' formula, I + sin a [k] + (1 - cos a) [k]^2.
    """
    angle = np.radians(degrees)[:, None, None]
    x, y, z = axes[:, 0], axes[:, 1], axes[:, 2]
    zero = np.zeros_like(x)
    cross = np.stack([zero, -z, y, z, zero, -x, -y, x, zero], axis=1).reshape(-1, 3, 3)
    turns: FloatArray = np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross
    return turns


def turn_for(wanted: FloatArray, axes: FloatArray, convention: Convention) -> Turn:
    """The turn that moves what hangs on a joint by the rotation `wanted` (3, 3).

    `axes` (3, 3) are the joint's at rest, and `wanted` is in the same frame and acts on column
    vectors, with the joints above at rest. Where the turn about the third axis is a right angle,
    bend and aim act alike; the aim then gets no turn.
    """
    frame = named_axes(axes, convention)
    local = frame @ wanted @ frame.T
    # R = Rx(-bend) Ry(-third) Rz(-aim) written out: bend x third is -aim, so that this frame is
    # left-handed and all turns run the other way in it
    sine = -float(np.clip(local[0, 2], -1.0, 1.0))
    third = np.arcsin(sine)
    if abs(sine) > 1.0 - 1e-12:
        bend, aim = -np.arctan2(local[2, 1], local[1, 1]), 0.0
    else:
        bend = np.arctan2(local[1, 2], local[2, 2])
        aim = np.arctan2(local[0, 1], local[0, 0])
    return Turn(*(float(np.degrees(angle)) for angle in (bend, third, aim)))


def skin(vertices: FloatArray, binding: Binding, posed: Posed) -> FloatArray:
    """(n, 3) vertices of a mesh at rest (n, 3), carried along by linear blend skinning.

    Each vertex goes to the mean of where its joints would take it, weighted by their shares
    (Magnenat-Thalmann et al. 1988; from memory).
    """
    moved = np.zeros_like(vertices)
    for start in range(0, len(vertices), AT_ONCE):
        some = slice(start, start + AT_ONCE)
        at = vertices[some]
        for joint, share in zip(binding.joints[some].T, binding.weights[some].T, strict=True):
            gone = np.einsum("nij,nj->ni", posed.turn[joint], at) + posed.shift[joint]
            moved[some] += share[:, None] * gone
    return moved


def _own_turns(frames: FloatArray, degrees: FloatArray) -> FloatArray:
    """(n, 3, 3) each joint's own turn in the skeleton's frame, about named axes (n, 3, 3)."""
    whole = np.tile(np.eye(3), (len(degrees), 1, 1))
    for row in range(3):
        # the axes at rest in this order are the moved ones in the order of the sequence
        whole = whole @ axis_turns(frames[:, row], degrees[:, row])
    whole[~np.any(degrees, axis=1)] = np.eye(3)
    return whole


def _levels(parents: IntArray) -> list[IntArray]:
    """Joints by their depth below a root, so that each level only needs the one before."""
    depth = np.zeros(len(parents), dtype=np.int64)
    for i, above in enumerate(parents):
        depth[i] = depth[above] + 1 if above >= 0 else 0
    return [np.flatnonzero(depth == level) for level in range(int(depth.max()) + 1)]
