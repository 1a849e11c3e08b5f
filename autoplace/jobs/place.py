"""The whole job on one character, from its file to the files a user keeps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from autoplace.errors import SettingsError
from autoplace.files.export import export_format, refuse_unit
from autoplace.jobs.outputs import Outputs, check_outputs, write_together
from autoplace.jobs.sheet_writers import sheet_writers
from autoplace.settings import checked

if TYPE_CHECKING:
    from autoplace.keep.edited import EditResult
    from autoplace.keep.locked_joints import KeepResult
    from autoplace.mesh.character import Character
    from autoplace.result import PlaceResult, Settings
    from autoplace.skeleton.model import Skeleton
    from autoplace.skeleton.name_tables import NameTable

__all__ = ["ExportOptions", "Job", "export_options", "run_job", "write_job"]


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
    """Earlier skeletons set aside: one had joints that the new one lacks, or was the one to keep
    joints of."""
    export_notes: tuple[str, ...] = ()
    """What the exported file took for granted or could not carry."""
    keeping: KeepResult | None = None
    """What was kept of an old skeleton, if there was one to keep."""
    editing: EditResult | None = None
    """What a person's edits changed, if there were any."""


@dataclass(frozen=True)
class ExportOptions:
    """What the exported file was asked to be like."""

    table: NameTable | None = None
    """What joints are called in it."""
    metres_per_unit: float | None = None
    """What one unit of the mesh is in it; None is told by the height."""


def run_job(
    mesh: Path,
    outputs: Outputs,
    settings: Settings,
    *,
    names: str | None = None,
    metres_per_unit: float | None = None,
    overwrite: bool = False,
    progress: Callable[[str], None] = lambda stage: None,
) -> Job:
    """Read, place, draw, and write all files at once at the end.

    Args:
        mesh: The character's file.
        outputs: Where the results go.
        settings: The user's choices.
        names: What joints are called in the export, by a table of names or a TOML file.
        metres_per_unit: What one unit of the mesh is in the export; unsaid, told by the height.
        overwrite: Replace even what a person may have worked on.
        progress: Called with the name of each stage when it starts.

    Raises:
        AutoplaceError: whatever is the user's to mend; nothing is written then.
    """
    settings = checked(settings)
    export = export_options(outputs.export, names, metres_per_unit)
    if mesh.is_file():  # if it is not, that is what the user should hear about
        check_outputs(outputs, mesh, overwrite)
    progress("read")
    # the heavy libraries are loaded only once the options are known to be sound
    from autoplace.mesh.load import load

    character = load(mesh)
    from autoplace.pipeline import place

    result = place(character, settings, progress=progress)
    return write_job(character, result, outputs, export, progress=progress)


def write_job(
    character: Character,
    result: PlaceResult,
    outputs: Outputs,
    export: ExportOptions,
    *,
    progress: Callable[[str], None],
    skeleton: Skeleton | None = None,
    notes: tuple[str, ...] | None = None,
    keep: tuple[Path, ...] = (),
    keeping: KeepResult | None = None,
    editing: EditResult | None = None,
) -> Job:
    """Draw a placing and write its files, all or none.

    Args:
        character, result: what was read, and what was placed in it.
        outputs: where the results go.
        export: what the exported file was asked to be like.
        progress: called with the name of each stage when it starts.
        skeleton: the same under the names it is written with; None writes that of `result`.
        notes: what to tell of reading; None tells the character's notes.
        keep: skeletons among the outputs to set aside whenever they change.
        keeping: what was kept of an old skeleton.
        editing: what a person's edits changed.
    """
    written = result.skeleton if skeleton is None else skeleton
    writers = sheet_writers(
        outputs,
        character,
        result.roles,
        result.frame,
        result.skeleton,
        progress,
        template_sure=result.report["template"]["confidence"],
    )
    progress("write")
    export_notes: list[str] = []
    if outputs.export is not None:
        from autoplace.files.export import export_skeleton
        from autoplace.skeleton.name_tables import named_by_table

        own = written.names
        called = None if own == result.skeleton.names else own
        if export.table is not None:
            called, unnamed = named_by_table(result.skeleton, own, export.table)
            export_notes += unnamed
        writers[outputs.export] = lambda path: export_notes.extend(
            export_skeleton(
                result.skeleton,
                path,
                character,
                names=called,
                metres_per_unit=export.metres_per_unit,
            )
        )
    from autoplace.files.skeleton_json import write_skeleton

    writers[outputs.skeleton] = lambda path: write_skeleton(written, path)
    kept = write_together(writers, keep=keep)
    return Job(
        result=result,
        face_count=character.face_count,
        part_count=len(character.parts),
        notes=character.notes if notes is None else notes,
        written=outputs,
        kept=kept,
        export_notes=tuple(export_notes),
        keeping=keeping,
        editing=editing,
    )


def export_options(
    export: Path | None, names: str | None, metres_per_unit: float | None
) -> ExportOptions:
    """What was asked of the export; SettingsError for options that mean nothing there."""
    if export is None:
        if names is not None or metres_per_unit is not None:
            raise SettingsError(
                "--names and --metres-per-unit are about the exported file: give --export with "
                "them."
            )
        return ExportOptions()
    from autoplace.skeleton.name_tables import load_names

    refuse_unit(export_format(export), metres_per_unit)
    return ExportOptions(None if names is None else load_names(names), metres_per_unit)
