"""What a person decided about a skeleton, as a record apart from it, and put into it.

Edits are an input: the skeleton as placed and the edits give the corrected skeleton, and either can
be had back from that.

- A joint that was given a place stands there, with no spread, for a person decided it. Its
  evidence begins with 'corrected' and keeps what it was placed by (`skeleton/decided.py`).
- A joint that was locked without being given a place begins with 'confirmed' in the same way and
  keeps its spread.
- Other numbers of joints in spine or neck are recorded in `settings["edits"]`, with the chain as it
  was placed.

All joints are oriented together afterwards, by the convention that the skeleton records, so that
the axes of neighbours follow. Findings are left as they are: whoever has the mesh checks anew.

A joint that is locked without such evidence was locked elsewhere, by hand in the file or carried
over from an earlier model ('kept'). It counts as given the place where it stands. 'kept' says where
the joint would be placed, so that it can be put back there; by hand nothing says it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from difflib import get_close_matches

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.skeleton.counts import asked_counts, with_asked_counts, without_asked_counts
from autoplace.skeleton.decided import as_placed, decided
from autoplace.skeleton.model import Joint, Skeleton, Source
from autoplace.skeleton.orient import orient
from autoplace.skeleton.respacing import must_be_possible

__all__ = [
    "Edits",
    "JointEdit",
    "apply_edits",
    "edits_of",
    "missing_joint",
    "with_counts",
    "without_edits",
]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class JointEdit:
    """What a person decided about one joint."""

    name: str
    position: FloatArray | None = None
    """(3,) in the frame and units of the mesh file; None where it is placed."""
    locked: bool = False
    """Whether it keeps its place in the flesh when the model changes."""

    def __post_init__(self) -> None:
        """Take a position of its own that nobody can write to; SkeletonError for none."""
        if self.position is None:
            return
        try:
            position = np.array(self.position, dtype=np.float64)
        except (TypeError, ValueError):
            position = np.zeros(0)
        if position.shape != (3,) or not np.all(np.isfinite(position)):
            raise SkeletonError(
                f"The place given to '{self.name}' is not three finite numbers: {self.position}."
            )
        position.setflags(write=False)
        object.__setattr__(self, "position", position)

    @property
    def says_nothing(self) -> bool:
        """True when the joint is neither given a place nor locked."""
        return self.position is None and not self.locked

    def _key(self) -> tuple[object, ...]:
        place = None if self.position is None else tuple(self.position.tolist())
        return (self.name, place, self.locked)

    def __eq__(self, other: object) -> bool:
        return self._key() == other._key() if isinstance(other, JointEdit) else NotImplemented

    def __hash__(self) -> int:
        return hash(self._key())


@dataclass(frozen=True)
class Edits:
    """What a person decided about a skeleton; immutable, every change gives another.

    The order in which edits are given does not matter: they are kept by name, and those that say
    nothing are left out.
    """

    source: Source = field(default_factory=Source)
    """The mesh that they were made in."""
    joints: tuple[JointEdit, ...] = ()
    """One a joint at most, by name."""
    spine: int | None = None
    """Number of spine joints asked for, the chest counted; None as placed."""
    neck: int | None = None
    """Number of neck joints asked for; None as placed."""

    def __post_init__(self) -> None:
        """Bring the edits in order; SkeletonError for two of one joint or an impossible number."""
        count = Counter(edit.name for edit in self.joints)
        twice = [name for name, times in count.items() if times > 1]
        if twice:
            raise SkeletonError(f"Two edits are of the joint '{twice[0]}': leave one of them out.")
        for chain, asked in (("spine", self.spine), ("neck", self.neck)):
            if asked is not None:
                must_be_possible(chain, asked)
        kept = sorted((e for e in self.joints if not e.says_nothing), key=lambda edit: edit.name)
        object.__setattr__(self, "joints", tuple(kept))

    def __bool__(self) -> bool:
        """Whether anything was decided."""
        return bool(self.joints) or self.spine is not None or self.neck is not None

    def of(self, name: str) -> JointEdit | None:
        """What was decided about a joint; None when nothing was."""
        return next((edit for edit in self.joints if edit.name == name), None)

    def with_joint(self, edit: JointEdit) -> Edits:
        """The edits with this one in place of any other of the joint."""
        return self.with_joints((edit,))

    def with_joints(self, edits: Iterable[JointEdit]) -> Edits:
        """The edits with these in place of any others of their joints."""
        given = {edit.name: edit for edit in edits}
        others = tuple(edit for edit in self.joints if edit.name not in given)
        return replace(self, joints=(*others, *given.values()))

    def without(self, *names: str) -> Edits:
        """The edits without those of some joints."""
        return replace(self, joints=tuple(e for e in self.joints if e.name not in names))

    @property
    def locked(self) -> tuple[str, ...]:
        """Names of the joints that are locked."""
        return tuple(edit.name for edit in self.joints if edit.locked)


def apply_edits(skeleton: Skeleton, edits: Edits) -> Skeleton:
    """The skeleton with what a person decided, oriented anew; findings are left as they are.

    Args:
        skeleton: as placed. An edit takes the place of what is recorded of an earlier one of the
            same joint; joints without an edit are left as they are.
        edits: in the frame and units of the skeleton. That both are of the same mesh is the
            caller's to see to.

    Without edits the very skeleton is given back, its axes untouched.

    Raises:
        SkeletonError: an edit is of a joint that is not there, or the skeleton has no spine or neck
            that could get the number of joints asked for.
    """
    if not edits:
        return skeleton
    base = with_asked_counts(skeleton, edits.spine, edits.neck)
    given = {edit.name: edit for edit in edits.joints}
    missing = [name for name in given if name not in base]
    if missing:
        raise missing_joint(missing[0], base)
    return orient(
        base.with_joints(
            tuple(
                joint if joint.name not in given else _edited(joint, given[joint.name])
                for joint in base
            )
        )
    )


def missing_joint(name: str, skeleton: Skeleton) -> SkeletonError:
    """The error that an edit is of a joint which is not there, with the nearest names."""
    near = get_close_matches(name, skeleton.names, n=3)
    hint = f"; the nearest names are {', '.join(near)}" if near else ""
    return SkeletonError(
        f"There is no joint '{name}' to be edited{hint}: correct its name, or leave the edit out."
    )


def with_counts(skeleton: Skeleton, edits: Edits) -> Skeleton:
    """The skeleton as placed, but with as many spine and neck joints as the edits ask for.

    The joints are spaced evenly along the chain as placed (`skeleton/respacing.py`); where the
    number is that of the skeleton nothing moves. Oriented anew. Raises SkeletonError as
    `apply_edits` does.
    """
    return apply_edits(skeleton, replace(edits, joints=()))


def edits_of(skeleton: Skeleton) -> Edits:
    """The edits that a corrected skeleton records; none for a skeleton as placed.

    `apply_edits` of them to `without_edits` of the skeleton gives the joints where they stand.
    """
    found = []
    for joint in skeleton:
        first = joint.evidence[0] if joint.evidence else None
        if first is not None and first.kind == "confirmed":
            moved = not np.array_equal(first.position, joint.position)  # later, in the file
            place = joint.position if moved else None
        elif joint.locked or (first is not None and first.kind == "corrected"):
            place = joint.position
        else:
            continue
        found.append(JointEdit(joint.name, place, joint.locked))
    return Edits(skeleton.source, tuple(found), *asked_counts(skeleton))


def without_edits(skeleton: Skeleton) -> Skeleton:
    """The skeleton as it was placed, from what corrected joints keep of it; oriented anew.

    Nothing is locked in it. A joint that was locked by hand, of which nothing says where it would
    be placed, stays where it stands. Findings are left as they are. Where nothing moves, neither do
    the axes.
    """
    placed = without_asked_counts(skeleton)
    placed = placed.with_joints(tuple(as_placed(joint) for joint in placed))
    stood = placed.names == skeleton.names and np.array_equal(
        placed.positions(), skeleton.positions()
    )
    return placed if stood else orient(placed)


def _edited(joint: Joint, edit: JointEdit) -> Joint:
    placed = as_placed(joint)
    if edit.position is None:
        note = "locked by a person where it was placed"
        return decided(
            placed, "confirmed", placed.position, placed.spread, note, locked=edit.locked
        )
    same = np.array_equal(edit.position, placed.position)
    note = "decided by a person, where it was placed" if same else "moved by a person"
    return decided(placed, "corrected", edit.position, 0.0, note, locked=edit.locked)
