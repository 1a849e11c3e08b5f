"""The command `place`: a skeleton for a whole figure."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.commands.options import (
    add_export_options,
    add_hand_options,
    add_part_options,
    add_report_options,
    file_names,
    fingers,
    print_data,
    print_text,
    roles,
)
from autoplace.progress import Progress

if TYPE_CHECKING:
    from autoplace.jobs.place import Job

__all__ = ["add_place"]


def add_place(commands: Any) -> None:
    """Add the command to the parser."""
    place = commands.add_parser(
        "place",
        usage="autoplace place MESH [options]",
        help="place a skeleton in a character mesh",
        description="Place a skeleton in the character MESH. Prints what was found and writes "
        "the skeleton (*.skeleton.json) and a picture sheet (*.sheet.png) beside the mesh.",
        allow_abbrev=False,
    )
    place.set_defaults(run=_run, parser=place)
    place.add_argument("mesh", metavar="MESH", type=Path, help="OBJ, PLY, STL, GLB or glTF file")

    files = place.add_argument_group("files")
    files.add_argument(
        "-o", "--out", metavar="JSON", type=Path, help="where the skeleton goes (file or folder)"
    )
    files.add_argument(
        "--export",
        metavar="FILE",
        type=Path,
        help="also write the joints, with the mesh where the format holds one, as the ending says: "
        ".glb, .gltf, .usda, .usdc, .usdz, .x3d, .bvh or .csv",
    )
    add_export_options(files)
    sheet = files.add_mutually_exclusive_group()
    sheet.add_argument("--sheet", metavar="PNG", type=Path, help="where the picture sheet goes")
    sheet.add_argument("--no-sheet", action="store_true", help="draw no picture sheet")
    files.add_argument(
        "--hand-sheet", metavar="PNG", type=Path, help="also draw a sheet of the hands alone"
    )
    files.add_argument(
        "--face-sheet", metavar="PNG", type=Path, help="also draw a sheet of the head and the eyes"
    )
    files.add_argument(
        "--page",
        metavar="HTML",
        type=Path,
        help="also write a page to turn the skeleton about in a browser: one file, no network",
    )
    files.add_argument(
        "--overwrite",
        action="store_true",
        help="replace even a skeleton with joints placed by hand, or a file of another program",
    )

    decided = place.add_argument_group("what a person decided")
    decided.add_argument(
        "--edits",
        metavar="FILE",
        type=Path,
        help="edits (*.edits.json): joints go where they say, and the locked ones keep their place "
        "in the flesh when the model has changed",
    )

    model = place.add_argument_group("a model that has changed")
    model.add_argument(
        "--keep",
        metavar="FILE",
        type=Path,
        help="skeleton of the earlier model: its locked joints keep their place in the flesh, all "
        "others are placed anew",
    )
    model.add_argument(
        "--old-mesh",
        metavar="MESH",
        type=Path,
        help="the model that skeleton, or the edits, were made in (default: the mesh that they "
        "name, beside them)",
    )

    known = place.add_argument_group("what you know better than the measurement")
    known.add_argument("--template", metavar="NAME", help="proportions to start from")
    add_part_options(known)
    known.add_argument("--up", metavar="AXIS", help="where up is in the file, such as +Y or +Z")
    known.add_argument("--forward", metavar="AXIS", help="where the character faces, such as -Y")
    known.add_argument(
        "--spine",
        metavar="N",
        type=int,
        help="joints from above the pelvis to the chest (default: 3)",
    )
    known.add_argument("--neck", metavar="N", type=int, help="joints of the neck (default: 1)")
    add_hand_options(known)
    known.add_argument(
        "--convention",
        metavar="NAME",
        help="what the joints' axes mean: one that autoplace orient --list-conventions shows, or a "
        "TOML file of your own",
    )
    add_report_options(place)


def _run(options: argparse.Namespace, progress: Progress) -> None:
    from dataclasses import replace

    from autoplace.errors import SettingsError
    from autoplace.jobs.outputs import plan_outputs
    from autoplace.result import Settings

    if options.keep is not None and options.edits is not None:
        raise SettingsError(
            "--keep and --edits both say what a person decided; give --edits alone, or --keep with "
            "the skeleton that was saved with them."
        )
    if options.old_mesh is not None and options.keep is None and options.edits is None:
        raise SettingsError(
            "--old-mesh is for --keep and --edits: name the earlier skeleton, or its edits, too."
        )
    changes = _changes(options)
    outputs = plan_outputs(
        options.mesh,
        options.out,
        export=options.export,
        sheet=options.sheet,
        no_sheet=options.no_sheet,
        hand_sheet=options.hand_sheet,
        face_sheet=options.face_sheet,
        page=options.page,
    )
    shared: dict[str, Any] = {
        "names": options.names,
        "metres_per_unit": options.metres_per_unit,
        "overwrite": options.overwrite,
        "progress": progress,
    }
    if options.edits is not None:
        from autoplace.jobs.edits import run_edits

        job = run_edits(
            options.mesh, outputs, options.edits, changes, old_mesh=options.old_mesh, **shared
        )
    elif options.keep is None:
        from autoplace.jobs.place import run_job

        job = run_job(options.mesh, outputs, replace(Settings(), **changes), **shared)
    else:
        from autoplace.jobs.keep import run_keep

        job = run_keep(
            options.mesh, outputs, options.keep, changes, old_mesh=options.old_mesh, **shared
        )
    seconds = progress.finish()
    if options.json:
        print_data(_as_data(job, progress.timings))
    elif not options.quiet:
        from autoplace.reports.place_text import job_text

        print_text(job_text(job, seconds))


def _changes(options: argparse.Namespace) -> dict[str, Any]:
    """The settings that were given, by name."""
    given = {
        "template": options.template,
        "leave_out": tuple(options.leave_out) or None,
        "roles": roles(options) or None,
        "up": options.up,
        "forward": options.forward,
        "spine": options.spine,
        "neck": options.neck,
        "fingers": fingers(options) or None,
        "metacarpals": options.metacarpals or None,
        "convention": options.convention,
    }
    return {name: value for name, value in given.items() if value is not None}


def _as_data(job: Job, timings: dict[str, float]) -> dict[str, Any]:
    """The report with the joints, the files and the seconds per stage."""
    return {
        "mesh": job.result.skeleton.source.mesh,
        **job.result.report,
        "joint_names": list(job.result.skeleton.names),
        "notes": list(job.notes),
        "export_notes": list(job.export_notes),
        "files": file_names(job.written),
        "kept": [str(path) for path in job.kept],
        "timings": {stage: round(seconds, 4) for stage, seconds in timings.items()},
    }
