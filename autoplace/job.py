"""The whole job on one character, from its file to the files a user keeps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from autoplace.outputs import Outputs, check_outputs, write_together
from autoplace.settings import checked
from autoplace.sheet_writers import sheet_writers

if TYPE_CHECKING:
    from autoplace.result import PlaceResult, Settings

__all__ = ["Job", "run_job"]


@dataclass(frozen=True)
class Job:
    """What one run found and wrote."""

    result: PlaceResult
    face_count: int
    """Triangles of the character."""
    part_count: int
    notes: tuple[str, ...]
    """What the reader of the mesh had to repair or pass over."""
    written: Outputs
    kept: tuple[Path, ...]
    """Earlier skeletons set aside because they had joints that the new one lacks."""
    export_notes: tuple[str, ...] = ()
    """What the exported file took for granted or could not carry."""


def run_job(
    mesh: Path,
    outputs: Outputs,
    settings: Settings,
    *,
    overwrite: bool = False,
    progress: Callable[[str], None] = lambda stage: None,
) -> Job:
    """Read, place, draw, and write all files at once at the end.

    Args:
        mesh: The character's file.
        outputs: Where the results go.
        settings: The user's choices.
        overwrite: Replace even what a person may have worked on.
        progress: Called with the name of each stage when it starts.

    Raises:
        AutoplaceError: whatever is the user's to mend; nothing is written then.
    """
    settings = checked(settings)
    if mesh.is_file():  # if it is not, that is what the user should hear about
        check_outputs(outputs, mesh, overwrite)
    progress("read")
    # the heavy libraries are loaded only once the options are known to be sound
    from autoplace.mesh.load import load

    character = load(mesh)
    from autoplace.pipeline import place

    result = place(character, settings, progress=progress)

    writers = sheet_writers(
        outputs, character, result.roles, result.frame, result.skeleton, progress
    )
    progress("write")
    export_notes: list[str] = []
    if outputs.export is not None:
        from autoplace.files.export import export_skeleton

        writers[outputs.export] = lambda path: export_notes.extend(
            export_skeleton(result.skeleton, path, character)
        )
    from autoplace.files.skeleton_json import write_skeleton

    writers[outputs.skeleton] = lambda path: write_skeleton(result.skeleton, path)
    kept = write_together(writers)
    return Job(
        result=result,
        face_count=character.face_count,
        part_count=len(character.parts),
        notes=character.notes,
        written=outputs,
        kept=kept,
        export_notes=tuple(export_notes),
    )
