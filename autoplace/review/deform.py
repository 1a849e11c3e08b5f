"""The mesh that follows the skeleton: what a page needs to bend it in the browser.

A bone here is a joint as the skinning sees it: a turn and a place, both nought turned and at the
joint's place when the mesh was bound. Local axes do not enter, so orienting anew changes nothing.
Moving a joint changes neither the weights nor the rest of its bone, for a motion x -> R x + s takes
any rest r to R r + s: `bones_of` tells where that is. Only other joints, such as another number
in the spine, ask for another binding.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from autoplace.files.bound_mesh import bind_character
from autoplace.review.shapes import quaternions

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.mesh.pieces import Roles
    from autoplace.skeleton.model import Skeleton
    from autoplace.skeleton.pose import Posed

__all__ = ["BoundPart", "Skin", "bind_parts", "bones_of"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class BoundPart:
    """One part of the mesh with what moves it, in the mesh's frame and units."""

    name: str
    index: int
    """Of the part in the character."""
    vertices: NDArray[np.float32]
    """(n, 3)"""
    faces: NDArray[np.uint32]
    """(m, 3)"""
    joints: IntArray
    """(n, 4) joints of each vertex, as numbers of the skin's `names`."""
    weights: NDArray[np.float32]
    """(n, 4) their shares, of sum one, largest first."""
    bones: IntArray
    """(b,) the joints that move this part at all, ascending; often a few."""

    @property
    def dense(self) -> NDArray[np.float32]:
        """(n, b) shares of `bones` in each vertex."""
        whole = np.zeros((len(self.vertices), len(self.bones)), dtype=np.float32)
        column = np.searchsorted(self.bones, self.joints).clip(max=len(self.bones) - 1)
        rows = np.arange(len(whole))
        for share, place in zip(self.weights.T, column.T, strict=True):
            # a share of nought names joint 0, which need not be one of the bones
            some = share > 0.0
            whole[rows[some], place[some]] += share[some]
        return whole


@dataclass(frozen=True)
class Skin:
    """All parts of a character bound to a skeleton."""

    parts: tuple[BoundPart, ...]
    names: tuple[str, ...]
    """The joints by number."""
    rest: FloatArray
    """(j, 3) where the joints stood when the mesh was bound: the rest of the bones."""

    def fits(self, skeleton: Skeleton) -> bool:
        """Whether the skeleton has the joints that the mesh was bound to, in their order."""
        return self.names == skeleton.names

    def bones(self, posed: Posed) -> tuple[FloatArray, FloatArray]:
        """Quaternions (j, 4) and places (j, 3) of all bones in a pose of such a skeleton."""
        return bones_of(posed, self.rest)


def bind_parts(character: Character, skeleton: Skeleton, roles: Roles | None = None) -> Skin:
    """Binds every part with triangles to a skeleton in the same frame and units.

    Args:
        character: the mesh as it is drawn.
        skeleton: under our own names, which tell eyes and fingers.
        roles: of the pieces of this mesh, where they were found; they tell what is rigid and what
            is worn. Without them the parts count as the skeleton records them.

    Raises SkeletonError for a broken tree.
    """
    drawn = [(i, part) for i, part in enumerate(character.parts) if len(part.faces)]
    if not drawn:
        return Skin((), skeleton.names, skeleton.positions())
    bound = bind_character(character, skeleton, roles)
    parts = []
    for number, (index, part) in enumerate(drawn):
        mine = bound.of_part(number)
        joints, weights = bound.binding.joints[mine], bound.binding.weights[mine]
        parts.append(
            BoundPart(
                part.name,
                index,
                part.vertices.astype(np.float32),
                part.faces.astype(np.uint32),
                joints,
                weights.astype(np.float32),
                np.unique(joints[weights > 0.0]),
            )
        )
    return Skin(tuple(parts), skeleton.names, skeleton.positions())


def bones_of(posed: Posed, rest: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where the bones of a skinned mesh go in a pose.

    A bone with no turn at rest and the place `rest` there moves its vertices by
    x -> R (x - rest) + place, which is the joint's own motion when the place is where that takes
    the rest. So the mesh moves as `pose.skin` has it, wherever the rest is taken.

    Args:
        posed: n joints in a pose.
        rest: (n, 3) places of the bones at rest, in the frame of the skeleton.

    Returns:
        (n, 4) unit quaternions w, x, y, z with w not negative, and (n, 3) places.
    """
    return quaternions(posed.turn), np.einsum("nij,nj->ni", posed.turn, rest) + posed.shift
