"""A changed model placed with the locked joints of its old skeleton, from file to file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from autoplace.jobs.old_mesh import find_old_mesh
from autoplace.jobs.outputs import Outputs, check_outputs
from autoplace.jobs.place import Job, export_options, write_job
from autoplace.settings import checked

__all__ = ["run_keep"]


def run_keep(
    mesh: Path,
    outputs: Outputs,
    skeleton: Path,
    changes: Mapping[str, Any],
    *,
    old_mesh: Path | None = None,
    names: str | None = None,
    metres_per_unit: float | None = None,
    overwrite: bool = False,
    progress: Callable[[str], None] = lambda stage: None,
) -> Job:
    """Read all files, place, carry over, draw, and write all files at once at the end.

    Args:
        mesh: The new model.
        outputs: Where the results go.
        skeleton: The old skeleton. It may be replaced, since its locked joints are kept.
        changes: Settings by name that the user gave, over those that the old skeleton records.
        old_mesh: The model that the old skeleton was made in; unsaid, the file of that name and
            content beside the skeleton, or beside the new model.
        names, metres_per_unit: As `run_job` takes them for the export.
        overwrite: Replace even what a person may have worked on.
        progress: Called with the name of each stage when it starts.

    Raises:
        AutoplaceError: whatever is the user's to mend; nothing is written then.
    """
    from autoplace.result import Settings

    checked(replace(Settings(), **changes))
    export = export_options(outputs.export, names, metres_per_unit)
    if mesh.is_file():  # if it is not, that is what the user should hear about
        check_outputs(outputs, mesh, overwrite, fitted=skeleton)
        if old_mesh is not None:
            check_outputs(outputs, old_mesh, overwrite, fitted=skeleton)
    progress("read")
    from autoplace.files.open_skeleton import open_skeleton
    from autoplace.mesh.load import load

    character = load(mesh)
    opened = open_skeleton(skeleton)
    notes = (*character.notes, *opened.notes)
    earlier, odd = find_old_mesh(opened.skeleton.source, skeleton, character, old_mesh)
    notes += odd
    from autoplace.keep.locked_joints import place_keeping

    keeping = place_keeping(character, opened.skeleton, earlier, progress=progress, **changes)
    named = opened.under_own_names(keeping.placed.skeleton)
    return write_job(
        character,
        keeping.placed,
        outputs,
        export,
        progress=progress,
        skeleton=named,
        notes=notes,
        keep=(skeleton,),
        keeping=keeping,
    )
