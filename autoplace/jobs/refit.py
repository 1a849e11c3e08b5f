"""Part of an existing skeleton fitted anew, from the files to the files a user keeps."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.jobs.outputs import Outputs, check_outputs, write_together
from autoplace.jobs.sheet_writers import sheet_writers
from autoplace.settings import checked

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.refit.recorded import RefitResult
    from autoplace.result import Settings
    from autoplace.skeleton.model import Skeleton

__all__ = ["RefitJob", "run_refit"]


@dataclass(frozen=True)
class RefitJob:
    """What one run found and wrote."""

    mesh: str
    """Name of the mesh file."""
    result: RefitResult
    face_count: int
    """Triangles of the character."""
    notes: tuple[str, ...]
    """What the reader of the mesh had to repair or pass over."""
    written: Outputs
    kept: tuple[Path, ...]
    """The earlier skeleton, set aside."""


def run_refit(
    kind: str,
    mesh: Path,
    skeleton: Path | None,
    outputs: Outputs,
    changes: Mapping[str, Any],
    *,
    side: str | None = None,
    overwrite: bool = False,
    progress: Callable[[str], None] = lambda stage: None,
) -> RefitJob:
    """Read both files, fit, draw, and write all files at once at the end.

    Args:
        kind: 'hands' or 'eyes'.
        mesh: The character's file.
        skeleton: The skeleton to fit; None for a mesh of hands alone, which gets one of its own.
        outputs: Where the results go.
        changes: Settings by name that the user gave, over those that the skeleton records.
        side: Fit only the hand of this side; of a hand alone, which one it is.
        overwrite: Replace even what a person may have worked on.
        progress: Called with the name of each stage when it starts.

    Raises:
        AutoplaceError: whatever is the user's to mend; nothing is written then.
    """
    from autoplace.result import Settings

    own = checked(replace(Settings(), **changes))
    if mesh.is_file():  # if it is not, that is what the user should hear about
        check_outputs(outputs, mesh, overwrite, fitted=skeleton)
    progress("read")
    from autoplace.files.open_skeleton import open_skeleton
    from autoplace.files.skeleton_json import write_skeleton
    from autoplace.mesh.load import load
    from autoplace.refit.recorded import settings_for

    character = load(mesh)
    notes = character.notes
    if skeleton is None:
        from autoplace.refit.lone_hands import place_lone_hands

        result = place_lone_hands(character, own, side=side, progress=progress)
    else:
        opened = open_skeleton(skeleton)
        settings = settings_for(character, opened.skeleton, changes)
        result = _fit(kind, character, opened.skeleton, settings, side, progress)
        notes = (*notes, *opened.notes)
    writers: dict[Path, Callable[[Path], object]] = {}
    if result.roles is not None:
        writers = sheet_writers(
            outputs, character, result.roles, result.frame, result.skeleton, progress
        )
    progress("write")
    named = result.skeleton if skeleton is None else opened.under_own_names(result.skeleton)
    writers[outputs.skeleton] = lambda path: write_skeleton(named, path)
    kept = write_together(writers, keep=(skeleton,) if skeleton else ())
    return RefitJob(mesh.name, result, character.face_count, notes, outputs, kept)


def _fit(
    kind: str,
    character: Character,
    skeleton: Skeleton,
    settings: Settings,
    side: str | None,
    progress: Callable[[str], None],
) -> RefitResult:
    if kind == "eyes":
        progress("eyes")
        from autoplace.refit.eyes import refit_eyes

        return refit_eyes(character, skeleton, settings)
    from autoplace.refit.hands import refit_hands
    from autoplace.skeleton.names import SIDES

    sides = (side,) if side else SIDES
    return refit_hands(character, skeleton, settings, sides=sides, progress=progress)
