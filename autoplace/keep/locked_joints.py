"""A skeleton for a changed model that keeps what a person decided on the earlier one.

A joint that is locked in the old skeleton stays where it was in the flesh around it; every other
joint is placed anew in the new mesh. Absolute coordinates are not kept: the whole figure may have
moved, grown or come in other units. How a locked joint is carried over depends on the two meshes:

- By vertices: where the body's vertices correspond (as many, with the same triangles between them),
  the surface around the joint says where it goes (`measure/local_map.py`).
- By bones: where they do not, a skeleton is placed anew in the old mesh too, and the joint keeps
  its place beside the bones that both have (`skeleton/bone_map.py`). Whatever both placings have
  wrong in the same way cancels.
  Fitting the old surface to the new one about each joint was tried instead, on some of the bodies
  that may be looked at: 95 of 100 known joints came within 0.75 percent of the height against 0.65,
  points 1.5 percent beside them (0.4 in fingers) within 0.64 against 0.91.

All joints are oriented together afterwards, so a locked joint's axes follow its neighbours. Only
locked joints are kept: the rest of a finger with a locked joint is placed anew, as `hands` does it,
and a neighbour's evidence is not touched. A locked joint that the new placing has no place for,
such as one that a person added, is hung from its old parent.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.keep.findings_anew import placed_with
from autoplace.keep.matching import same_vertices, shared_bones
from autoplace.keep.moves import KeptJoint, far_from_anew, moves_of, other_frame
from autoplace.measure.local_map import carry_by_vertices
from autoplace.pipeline import place
from autoplace.refit.recorded import settings_for
from autoplace.skeleton.bone_map import carry_by_bones
from autoplace.skeleton.convention import recorded
from autoplace.skeleton.decided import decided
from autoplace.skeleton.model import Evidence, Finding, Joint
from autoplace.skeleton.orient import orient

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.result import PlaceResult
    from autoplace.skeleton.model import Skeleton

__all__ = ["KeepResult", "far_outside", "place_keeping"]

FloatArray = NDArray[np.float64]

ASIDE = 0.25
"""How far from the old mesh's box, in shares of its largest extent, a locked joint may lie; beyond
that the mesh is another (common practice, no source)."""
HOW = {
    "vertices": "by the vertices of the surface around it",
    "bones": "by its place beside the bones of both figures",
}


@dataclass(frozen=True)
class KeepResult:
    """A placing in a new model that keeps locked joints of an old one."""

    placed: PlaceResult
    """As `place` gives it; the skeleton holds the kept joints, locked and with the evidence 'kept'.
    `report["keeping"]` says the same as the fields below, as plain data."""
    carried_by: str
    """'vertices' or 'bones': how the locked joints were carried over."""
    moves: tuple[KeptJoint, ...]
    """One a joint, in the skeleton's order: how far it moved."""
    lost: tuple[str, ...]
    """Joints of the old skeleton that the new one lacks."""
    note: str = ""
    """A sentence when the two files are in different frames or units, else empty."""


def place_keeping(
    character: Character,
    skeleton: Skeleton,
    old_character: Character,
    *,
    progress: Callable[[str], None] | None = None,
    **changes: Any,
) -> KeepResult:
    """Place a skeleton in a new model and keep the locked joints of an old skeleton.

    Args:
        character: the new mesh, any frame and units.
        skeleton: the old skeleton, in the frame and units of `old_character`, the mesh that it was
            made in.
        progress: called with each stage's name as it begins.
        changes: settings by name, over those that the old skeleton records.

    Raises:
        SkeletonError: no joint is locked, or the locked joints do not lie in the old mesh.
        NotACharacter: no upright figure with limbs can be found in a mesh.
        AutoplaceError: a setting is impossible.
    """
    locked = tuple(joint for joint in skeleton if joint.locked)
    if not locked:
        raise SkeletonError(
            "The skeleton to keep has no locked joint, so there is nothing to keep: set "
            '"locked": true where a person decided, or place the new mesh without it.'
        )
    astray = far_outside(old_character, {joint.name: joint.position for joint in locked})
    if astray is not None:
        raise SkeletonError(
            f"The locked joint '{astray}' lies far outside the old mesh '{old_character.name}'; "
            "give the mesh that the old skeleton was made in, in its units, with --old-mesh."
        )
    convention = recorded(skeleton.settings) if changes.get("convention") is None else None
    settings = settings_for(character, skeleton, _recorded(skeleton) | changes)
    new = place(character, settings, progress=progress)
    if progress is not None:
        progress("kept joints")
    points = np.array([joint.position for joint in locked])
    correspond = same_vertices(old_character, character, new.roles)
    if correspond is not None:
        carried, spread = carry_by_vertices(points, *correspond)
        carried_by = "vertices"
    else:
        # what the old mesh leaves out need not be what the new one does
        earlier = settings_for(old_character, skeleton, _recorded(skeleton))
        old = place(old_character, earlier)
        bones = shared_bones(old, new)
        working, off = carry_by_bones(old.frame.to_working(points), *bones)
        carried, spread = new.frame.to_input(working), off * new.frame.height
        carried_by = "bones"
    at = {joint.name: (carried[i], float(spread[i])) for i, joint in enumerate(locked)}
    joints, hung = _joints(new.skeleton, locked, at, carried_by)
    kept = orient(
        new.skeleton.with_joints(joints),
        convention,
        up=new.frame.rotation[1],
        forward=new.frame.rotation[2],
    )
    moves = moves_of(skeleton, kept, new)
    lost = tuple(name for name in skeleton.names if name not in kept)
    note = other_frame(skeleton, kept)
    keeping = {
        "mesh": skeleton.source.mesh,
        "carried_by": carried_by,
        "joints": [move.as_data() for move in moves],
        "lost": list(lost),
        "note": note,
    }
    told = (*hung, *far_from_anew(kept, new))
    placed = placed_with(kept, new, character, told, keeping=keeping)
    return KeepResult(placed, carried_by, moves, lost, note)


def _recorded(skeleton: Skeleton) -> dict[str, Any]:
    """What the old skeleton was placed by that `settings_for` does not read: its joints' numbers
    and a template that was named. Up and forward are the new file's own."""
    record: Mapping[str, Any] = skeleton.settings
    found: dict[str, Any] = {
        key: record[key]
        for key in ("spine", "neck")
        if isinstance(record.get(key), int) and not isinstance(record[key], bool)
    }
    if isinstance(record.get("template"), str):
        found["template"] = record["template"]
    return found


def far_outside(character: Character, positions: Mapping[str, FloatArray]) -> str | None:
    """The first of some joints, by name and place (3,), that lies far outside the mesh."""
    used = np.concatenate([part.vertices[np.unique(part.faces)] for part in character.parts])
    low, high = used.min(axis=0), used.max(axis=0)
    room = ASIDE * float((high - low).max())
    for name, at in positions.items():
        if np.any(at < low - room) or np.any(at > high + room):
            return name
    return None


def _joints(
    skeleton: Skeleton,
    locked: tuple[Joint, ...],
    at: Mapping[str, tuple[FloatArray, float]],
    carried_by: str,
) -> tuple[tuple[Joint, ...], tuple[Finding, ...]]:
    """The newly placed joints with the locked ones in them, and what is odd about these."""
    joints = {joint.name: joint for joint in skeleton}
    told = []
    for old in locked:
        position, spread = at[old.name]
        note = f"locked by a person; carried over {HOW[carried_by]}"
        new = joints.get(old.name)
        if new is not None:
            joints[old.name] = decided(new, "kept", position, spread, note, locked=True)
        elif old.parent is None or old.parent in joints:
            joints[old.name] = replace(
                old,
                parent=old.parent if old.parent else next(iter(joints)),
                position=position,
                spread=spread,
                locked=True,
                evidence=(Evidence("kept", position, spread, 1.0, note),),
            )
        else:
            told.append(
                Finding(
                    "kept_joint",
                    None,
                    "warning",
                    f"The locked joint '{old.name}' was not kept: the new skeleton has neither it "
                    f"nor its parent '{old.parent}'.",
                    "Look at that limb in the pictures; name its fingers or parts if they were "
                    "missed, or lock the parent too.",
                )
            )
    return tuple(joints.values()), tuple(told)
