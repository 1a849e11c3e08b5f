"""A changed model placed with the locked joints of its old skeleton, from file to file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.errors import SkeletonError
from autoplace.job import Job, export_options, write_job
from autoplace.outputs import Outputs, check_outputs
from autoplace.settings import checked

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.skeleton.model import Skeleton

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
    from autoplace.mesh.load import load
    from autoplace.open_skeleton import open_skeleton

    character = load(mesh)
    opened = open_skeleton(skeleton)
    notes = (*character.notes, *opened.notes)
    if old_mesh is None:
        earlier = _found(opened.skeleton, skeleton, character)
    else:
        earlier = load(old_mesh)
        known = opened.skeleton.source.sha256
        if known and known != earlier.sha256:
            notes += (
                f"{old_mesh.name} is not the very file that {skeleton.name} was made in (their "
                "sha256 differ); joints are right only if the model in it is the same.",
            )
    from autoplace.keep import place_keeping

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


def _found(skeleton: Skeleton, path: Path, character: Character) -> Character:
    """The mesh that the old skeleton was made in, looked for beside it and beside the new one."""
    from autoplace.mesh.load import load

    source = skeleton.source
    if source.sha256 and source.sha256 == character.sha256:
        return character
    if not (source.mesh and source.sha256):
        raise SkeletonError(
            f"'{path}' does not record the mesh it was made in; give that with --old-mesh."
        )
    name = Path(source.mesh).name
    folders = [path.parent, *([character.path.parent] if character.path else [])]
    changed = None
    for folder in dict.fromkeys(folders):
        candidate = folder / name
        if not candidate.is_file():
            continue
        earlier = load(candidate)
        if earlier.sha256 == source.sha256:
            return earlier
        changed = candidate
    if changed is not None:
        raise SkeletonError(
            f"'{changed}' has changed since '{path}' was made in it; give the earlier file with "
            "--old-mesh."
        )
    raise SkeletonError(
        f"The mesh '{name}' that '{path}' was made in is not beside it; say where it is with "
        "--old-mesh."
    )
