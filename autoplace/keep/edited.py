"""A placing with what a person decided in it: edits applied, and all checked anew.

In the mesh that the edits were made in, a skeleton is placed and corrected, and every joint stands
where the edits say. In a model that has changed, the numbers in the edits mean little: there the
skeleton of the earlier model is made again, with its corrections, and its locked joints keep their
place in the flesh (`keep.py`); all others are placed anew.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from autoplace.errors import SettingsError, SkeletonError
from autoplace.keep.findings_anew import placed_with
from autoplace.keep.locked_joints import far_outside, place_keeping
from autoplace.pipeline import place
from autoplace.refit.recorded import settings_for
from autoplace.result import Settings
from autoplace.settings import checked
from autoplace.skeleton.decided import as_placed
from autoplace.skeleton.edits import Edits, apply_edits
from autoplace.skeleton.model import Skeleton

if TYPE_CHECKING:
    from autoplace.keep.locked_joints import KeepResult
    from autoplace.mesh.character import Character
    from autoplace.result import PlaceResult

__all__ = ["CorrectedJoint", "EditResult", "must_agree", "must_lock", "place_edited", "with_edits"]


@dataclass(frozen=True)
class CorrectedJoint:
    """What a person decided about one joint, and how far that is from where it would be placed."""

    name: str
    locked: bool
    moved: float
    """From where it would be placed, in units of the mesh."""
    share: float
    """The same in shares of the character's height."""

    def as_data(self) -> dict[str, Any]:
        """Plain data; the share as percent of the height."""
        return {
            "name": self.name,
            "locked": self.locked,
            "moved": self.moved,
            "moved_percent": 100.0 * self.share,
        }


@dataclass(frozen=True)
class EditResult:
    """A placing with edits in it."""

    placed: PlaceResult
    """As `place` gives it, with the corrected skeleton. `report["edits"]` says what was corrected,
    as plain data."""
    corrected: tuple[CorrectedJoint, ...] = ()
    """One a joint that was decided, in the skeleton's order; none where the model has changed."""
    keeping: KeepResult | None = None
    """Where the model has changed, what was kept of the corrected skeleton of the earlier one."""
    not_kept: tuple[str, ...] = ()
    """Joints that were moved but not locked, and so were placed anew in the changed model."""


def place_edited(
    character: Character,
    edits: Edits,
    old_character: Character | None = None,
    *,
    progress: Callable[[str], None] | None = None,
    **changes: Any,
) -> EditResult:
    """Place a skeleton with what a person decided about it.

    Args:
        character: the mesh, any frame and units.
        edits: in the frame and units of the mesh that they were made in.
        old_character: that mesh, where `character` is another; None where it is the same.
        progress: called with each stage's name as it begins.
        changes: settings by name, as `place` takes them. Up and forward are those that the edits
            record, unless they are given or the model has changed.

    Raises:
        SkeletonError: an edit is of no joint, or lies far outside the mesh; or the model has
            changed and no joint is locked.
        NotACharacter: no upright figure with limbs can be found in a mesh.
        AutoplaceError: a setting is impossible, or contradicts the edits.
    """
    must_agree(edits, changes)
    if old_character is None:
        placed = _placed_as(edits, character, checked(Settings(**changes)), progress)
        if progress is not None:
            progress("edits")
        return with_edits(character, placed, edits)
    must_lock(edits)
    known = Skeleton((), settings=Settings(**changes).as_dict())
    named = {key: value for key, value in changes.items() if key in ("template", "spine", "neck")}
    settings = settings_for(old_character, known, named)
    earlier = _placed_as(edits, old_character, settings, progress)
    old = with_edits(old_character, earlier, edits).placed.skeleton
    keeping = place_keeping(character, old, old_character, progress=progress, **changes)
    anew = tuple(edit.name for edit in edits.joints if not edit.locked)
    told = {"mesh": edits.source.mesh, "joints": [], "placed_anew": list(anew)}
    result = replace(keeping.placed, report={**keeping.placed.report, "edits": told})
    return EditResult(result, keeping=keeping, not_kept=anew)


def with_edits(character: Character, placed: PlaceResult, edits: Edits) -> EditResult:
    """A placing in the mesh that the edits were made in, corrected by them and checked anew.

    Raises SkeletonError when an edit is of no joint, or lies far outside the mesh.
    """
    places = {e.name: e.position for e in edits.joints if e.position is not None}
    astray = far_outside(character, places)
    if astray is not None:
        raise SkeletonError(
            f"The edits put '{astray}' far outside the mesh '{character.name}'; give the edits of "
            "this mesh, in its units."
        )
    skeleton = apply_edits(placed.skeleton, edits)
    height = placed.frame.height
    decided = {edit.name for edit in edits.joints}
    corrected = []
    for joint in skeleton:
        if joint.name in decided:
            moved = float(np.linalg.norm(joint.position - as_placed(joint).position))
            corrected.append(CorrectedJoint(joint.name, joint.locked, moved, moved / height))
    told = {
        "mesh": edits.source.mesh,
        "spine": edits.spine,
        "neck": edits.neck,
        "joints": [joint.as_data() for joint in corrected],
        "placed_anew": [],
    }
    result = placed_with(skeleton, placed, character, edits=told)
    return EditResult(result, tuple(corrected))


def must_agree(edits: Edits, changes: Mapping[str, Any]) -> None:
    """Raises SettingsError for a number of joints that is not the one the edits ask for."""
    for chain, asked in (("spine", edits.spine), ("neck", edits.neck)):
        given = changes.get(chain)
        if asked is not None and given is not None and given != asked:
            raise SettingsError(
                f"The edits ask for {asked} {chain} joint{'s' * (asked != 1)} and --{chain} for "
                f"{given}; leave --{chain} out, or space the {chain} anew in the edits."
            )


def must_lock(edits: Edits) -> None:
    """Raises SkeletonError for edits that have nothing to carry over to a changed model."""
    if not edits.locked:
        raise SkeletonError(
            "The model has changed since the edits were made, and they lock no joint, so nothing "
            'can be carried over: set "locked": true where a person decided, or place the new '
            "model without them."
        )


def _placed_as(
    edits: Edits,
    character: Character,
    settings: Settings,
    progress: Callable[[str], None] | None,
) -> PlaceResult:
    """A placing that stands as the edits record, where neither up nor forward was said."""
    placed = place(character, settings, progress=progress)
    recorded = (edits.source.up, edits.source.forward)
    if (placed.frame.up, placed.frame.forward) == recorded or settings.up or settings.forward:
        return placed
    up, forward = recorded
    return place(character, settings, up=up, forward=forward, progress=progress)
