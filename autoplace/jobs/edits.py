"""A character placed with the edits of a person, from file to file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from autoplace.jobs.outputs import Outputs, check_outputs
from autoplace.jobs.place import Job, export_options, write_job
from autoplace.settings import checked

__all__ = ["run_edits"]


def run_edits(
    mesh: Path,
    outputs: Outputs,
    edits_file: Path,
    changes: Mapping[str, Any],
    *,
    old_mesh: Path | None = None,
    names: str | None = None,
    metres_per_unit: float | None = None,
    overwrite: bool = False,
    progress: Callable[[str], None] = lambda stage: None,
) -> Job:
    """Read all files, place, correct, draw, and write all files at once at the end.

    Args:
        mesh: The character's file.
        outputs: Where the results go. A skeleton may be replaced whose joints that a person
            decided are all in the edits, since nothing is lost.
        edits_file: What a person decided.
        changes: Settings by name that the user gave.
        old_mesh: The model that the edits were made in, where `mesh` is another; unsaid, the file
            of that name and content beside the edits, or beside the mesh.
        names, metres_per_unit: As `run_job` takes them for the export.
        overwrite: Replace even what a person may have worked on.
        progress: Called with the name of each stage when it starts.

    Raises:
        AutoplaceError: whatever is the user's to mend; nothing is written then.
    """
    from autoplace.result import Settings

    checked(replace(Settings(), **changes))
    export = export_options(outputs.export, names, metres_per_unit)
    from autoplace.files.edits_json import read_edits

    edits = read_edits(edits_file)
    named = [edit.name for edit in edits.joints]
    inputs = {edits_file: "the edits file"}
    if old_mesh is not None:
        inputs[old_mesh] = "the earlier model"
    if mesh.is_file():  # if it is not, that is what the user should hear about
        check_outputs(outputs, mesh, overwrite, inputs=inputs, carried=named)
    progress("read")
    # the heavy libraries are loaded only once the options are known to be sound
    from autoplace.jobs.old_mesh import find_old_mesh
    from autoplace.keep.edited import must_agree, must_lock, place_edited
    from autoplace.mesh.load import load

    must_agree(edits, changes)
    character = load(mesh)
    notes: tuple[str, ...] = character.notes
    made_in, earlier = edits.source.sha256, None
    if made_in == character.sha256 or (made_in is None and old_mesh is None):
        if made_in is None:
            notes += (
                f"{edits_file.name} does not say which file it was made in; {mesh.name} is taken "
                "for it.",
            )
        elif old_mesh is not None:
            notes += (f"{mesh.name} is the file that {edits_file.name} was made in; no other is.",)
    else:
        must_lock(edits)
        earlier, odd = find_old_mesh(edits.source, edits_file, character, old_mesh)
        notes += odd
    editing = place_edited(character, edits, earlier, progress=progress, **changes)
    if editing.not_kept:
        notes += (
            "Moved by a person but not locked, so placed anew in the changed model: "
            f"{', '.join(editing.not_kept)}.",
        )
    return write_job(
        character,
        editing.placed,
        outputs,
        export,
        progress=progress,
        notes=notes,
        keeping=editing.keeping,
        editing=editing,
    )
