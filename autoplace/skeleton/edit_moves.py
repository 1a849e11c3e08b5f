"""What a person does to joints, as edits: move, lock, put back, and space a chain anew.

Every function takes the skeleton as placed, without edits, and gives other edits; `apply_edits`
makes the corrected skeleton of them.

With `mirror`, the joint across the body does the same in mirror image:

- Two joints that mirror one another, to 1e-6 of the height, do so exactly afterwards. Of others
  the partner moves by the mirror image of the displacement.
- A joint that lies in the symmetry plane and has no partner stays in it: the sideways part of the
  displacement is dropped.
- A locked partner stays where it is, unless the joint that is moved is locked too: then the pair
  was decided as one.

With `follow`, what hangs from the joint is carried along by the same displacement. A locked joint
stays where it is then, and what hangs from it stays with it. A joint may be moved itself though it
is locked: that is the person's own act, and it stays locked.

The symmetry plane is that of the skeleton as placed, so that edits do not shift it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.counts import with_asked_counts
from autoplace.skeleton.edits import Edits, JointEdit, missing_joint
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.names import mirror_name
from autoplace.skeleton.respacing import chain_joints, evenly_spaced, must_be_possible
from autoplace.skeleton.symmetry_plane import symmetry_plane

__all__ = ["lock_joint", "move_joint", "reset_all", "reset_joint", "respace"]

FloatArray = NDArray[np.float64]

MIRRORED = 1e-6
"""Of the height: joints that mirror one another to this do so but for the rounding of
single-precision files (common practice, as `checks.mirrored.EXACT`)."""


class _State:
    """Where every joint stands under some edits."""

    def __init__(self, skeleton: Skeleton, edits: Edits) -> None:
        self.skeleton = with_asked_counts(skeleton, edits.spine, edits.neck)
        self.edits = edits
        self.placed: dict[str, Joint] = {joint.name: joint for joint in self.skeleton}
        given = {edit.name: edit for edit in edits.joints}
        self.at: dict[str, FloatArray] = {}
        self.locked: set[str] = set()
        for name, joint in self.placed.items():
            edit = given.get(name)
            moved = edit is not None and edit.position is not None
            place = edit.position if edit is not None and moved else joint.position
            self.at[name] = np.asarray(place, dtype=np.float64)
            if joint.locked if edit is None else edit.locked:
                self.locked.add(name)

    def require(self, name: str) -> None:
        if name not in self.placed:
            raise missing_joint(name, self.skeleton)

    def partner(self, name: str) -> str | None:
        """The joint across the body, if there is one."""
        other = mirror_name(name)
        return other if other != name and other in self.placed else None

    def below(self, name: str) -> list[str]:
        """What hangs from the joint, but for locked joints and what hangs from these."""
        carried = {name}
        for joint in self.skeleton:
            if joint.parent in carried and joint.name not in self.locked:
                carried.add(joint.name)
        return [joint.name for joint in self.skeleton if joint.name in carried - {name}]

    def edit(self, name: str, place: FloatArray, locked: bool) -> JointEdit:
        """The edit that puts a joint there; one that says nothing where it stands as placed."""
        if not locked and np.array_equal(place, self.placed[name].position):
            return JointEdit(name)
        return JointEdit(name, place, locked)


def move_joint(
    skeleton: Skeleton,
    edits: Edits,
    name: str,
    position: FloatArray,
    *,
    mirror: bool = True,
    follow: bool = False,
) -> Edits:
    """The edits with a joint at another place.

    Args:
        skeleton: as placed, without edits.
        edits: what was decided before.
        name: of the joint; a tip may be moved like any other.
        position: (3,) in the frame and units of the mesh file.
        mirror: whether the joint across the body moves in mirror image.
        follow: whether what hangs from the joint is carried along, else it stays.

    Raises:
        SkeletonError: there is no such joint, or the position is not three finite numbers.
    """
    state = _State(skeleton, edits)
    state.require(name)
    checked = JointEdit(name, position).position
    assert checked is not None
    plane = symmetry_plane(skeleton)
    near = MIRRORED * skeleton.source.height
    goal, start = checked, state.at[name]
    other = state.partner(name) if mirror else None
    if mirror and mirror_name(name) == name and abs(plane.beside(start)) <= near:
        goal = plane.at_side_of(goal, start)
    shift = goal - start

    places = {name: goal}
    if follow:
        places |= {child: state.at[child] + shift for child in state.below(name)}
    if other is not None and (other not in state.locked or name in state.locked):
        back = plane.image_of_shift(shift)
        carried = [other, *(state.below(other) if follow else ())]
        for opposite in carried:
            twin = mirror_name(opposite)
            alike = twin in places and _apart(plane.image(state.at[twin]), state.at[opposite])
            mirrored = twin in places and alike <= near
            places[opposite] = plane.image(places[twin]) if mirrored else state.at[opposite] + back
    return edits.with_joints(
        state.edit(joint, place, joint in state.locked) for joint, place in places.items()
    )


def lock_joint(
    skeleton: Skeleton, edits: Edits, name: str, locked: bool, *, mirror: bool = True
) -> Edits:
    """The edits with a joint locked where it stands, or free again where it stands.

    The place is written down with the lock, since a person decided it. Arguments and errors as of
    `move_joint`; with `mirror` the joint across the body is locked or freed too, where it stands.
    """
    state = _State(skeleton, edits)
    state.require(name)
    return edits.with_joints(
        state.edit(joint, state.at[joint], locked) for joint in _pair(state, name, mirror)
    )


def reset_joint(skeleton: Skeleton, edits: Edits, name: str, *, mirror: bool = True) -> Edits:
    """The edits without that of a joint: it goes back to where it is placed, and is not locked.

    In a chain that has another number of joints than placed, it goes back to where even spacing
    puts it. Arguments and errors as of `move_joint`; with `mirror` the joint across the body goes
    back too.
    """
    state = _State(skeleton, edits)
    state.require(name)
    return edits.without(*_pair(state, name, mirror))


def reset_all(skeleton: Skeleton, edits: Edits) -> Edits:
    """Edits that decide nothing, of the same mesh."""
    return Edits(edits.source)


def respace(skeleton: Skeleton, edits: Edits, chain: str, count: int) -> Edits:
    """The edits with so many joints in the spine or the neck, spaced evenly along its curve.

    The chain is spaced as `skeleton/respacing.py` says, along where it stands under the edits.
    A joint of the chain that does not stand where one of that name was placed gets an edit; edits
    of joints that are gone are dropped. Joints that keep their names keep their locks, also where
    they move: spacing the chain is the person's own act.

    Args:
        skeleton: as placed, without edits.
        edits: what was decided before.
        chain: 'spine' or 'neck'.
        count: number of its joints, for a spine the chest counted.

    Raises:
        SkeletonError: there is no such chain, it is not in the skeleton, or it cannot have so many
            joints.
    """
    must_be_possible(chain, count)
    state = _State(skeleton, edits)
    before = {joint.name for joint in chain_joints(state.skeleton, chain)}
    places = evenly_spaced(state.skeleton, chain, count, state.at)
    kept = edits.without(*before)
    after = replace(kept, spine=count) if chain == "spine" else replace(kept, neck=count)
    new = _State(skeleton, after)
    placed = {joint.name: joint.position for joint in skeleton}
    changed = []
    for joint, place in zip(chain_joints(new.skeleton, chain), places, strict=True):
        locked = joint.name in before and joint.name in state.locked
        same = joint.name in placed and np.array_equal(placed[joint.name], place)
        if locked or not same:
            changed.append(JointEdit(joint.name, place, locked))
    return after.with_joints(changed)


def _pair(state: _State, name: str, mirror: bool) -> tuple[str, ...]:
    other = state.partner(name) if mirror else None
    return (name,) if other is None else (name, other)


def _apart(first: FloatArray, second: FloatArray) -> float:
    return float(np.linalg.norm(first - second))
