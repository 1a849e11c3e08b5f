"""The commands `hands` and `eyes`: part of an existing skeleton fitted anew."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.commands.options import (
    add_hand_options,
    add_overwrite,
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
    from autoplace.jobs.refit import RefitJob

__all__ = ["add_eyes", "add_hands"]


def add_hands(commands: Any) -> None:
    """Add the command `hands` to the parser."""
    hands = commands.add_parser(
        "hands",
        usage="autoplace hands MESH [--skeleton FILE] [options]",
        help="fit the finger joints of an existing skeleton, or of a hand alone",
        description="Fit the finger joints of the skeleton given with --skeleton to the hands of "
        "the character MESH, and touch no other joint. Without --skeleton MESH is a hand alone, "
        "or both hands, with or without some forearm, and gets a skeleton of wrist and fingers.",
        allow_abbrev=False,
    )
    hands.set_defaults(run=_run_hands, parser=hands)
    _add_files(hands, "hands")
    known = hands.add_argument_group("what you know better than the measurement")
    known.add_argument(
        "--side",
        choices=("left", "right"),
        help="fit only this hand; of a hand alone: which one it is",
    )
    add_hand_options(known)
    add_part_options(known)
    add_report_options(hands)


def add_eyes(commands: Any) -> None:
    """Add the command `eyes` to the parser."""
    eyes = commands.add_parser(
        "eyes",
        usage="autoplace eyes MESH --skeleton FILE [options]",
        help="snap the eye joints of an existing skeleton to the eyeballs",
        description="Snap the eye joints of the skeleton given with --skeleton to the eyeballs of "
        "the character MESH, and touch no other joint.",
        allow_abbrev=False,
    )
    eyes.set_defaults(run=_run_eyes, parser=eyes)
    _add_files(eyes, "head and the eyes", needed=True)
    known = eyes.add_argument_group("what you know better than the measurement")
    add_part_options(known)
    add_report_options(eyes)


def _add_files(command: Any, pictured: str, needed: bool = False) -> None:
    command.add_argument("mesh", metavar="MESH", type=Path, help="OBJ, PLY, STL, GLB or glTF file")
    files = command.add_argument_group("files")
    files.add_argument(
        "--skeleton",
        metavar="FILE",
        type=Path,
        required=needed,
        help="the skeleton to fit: *.skeleton.json, or a glTF, USD, X3D or BVH file",
    )
    files.add_argument(
        "-o",
        "--out",
        metavar="JSON",
        type=Path,
        help="where the result goes, file or folder (default: in place of the one given, which is "
        "kept as *.previous.json)",
    )
    sheet = files.add_mutually_exclusive_group()
    sheet.add_argument(
        "--sheet", metavar="PNG", type=Path, help=f"where the picture of the {pictured} goes"
    )
    sheet.add_argument("--no-sheet", action="store_true", help="draw no picture")
    add_overwrite(files)


def _run_hands(options: argparse.Namespace, progress: Progress) -> None:
    changes = _part_changes(options)
    if options.fingers:
        changes["fingers"] = fingers(options)
    if options.metacarpals:
        changes["metacarpals"] = True
    _run("hands", options, changes, progress, side=options.side)


def _run_eyes(options: argparse.Namespace, progress: Progress) -> None:
    _run("eyes", options, _part_changes(options), progress)


def _part_changes(options: argparse.Namespace) -> dict[str, Any]:
    changes: dict[str, Any] = {}
    if options.leave_out:
        changes["leave_out"] = tuple(options.leave_out)
    if options.role:
        changes["roles"] = roles(options)
    return changes


def _run(
    kind: str,
    options: argparse.Namespace,
    changes: dict[str, Any],
    progress: Progress,
    side: str | None = None,
) -> None:
    from autoplace.jobs.outputs import plan_refit
    from autoplace.jobs.refit import run_refit

    outputs = plan_refit(
        kind,
        options.mesh,
        options.skeleton,
        options.out,
        sheet=options.sheet,
        no_sheet=options.no_sheet,
    )
    job = run_refit(
        kind,
        options.mesh,
        options.skeleton,
        outputs,
        changes,
        side=side,
        overwrite=options.overwrite,
        progress=progress,
    )
    seconds = progress.finish()
    if options.json:
        print_data(_as_data(job, progress.timings))
    elif not options.quiet:
        from autoplace.reports.place_text import refit_text

        print_text(refit_text(job, seconds))


def _as_data(job: RefitJob, timings: dict[str, float]) -> dict[str, Any]:
    """The report with the joints, the files and the seconds per stage."""
    report = dict(job.result.report)
    return {
        "mesh": job.mesh,
        **report,
        "joint_names": list(job.result.skeleton.names),
        "notes": [*report.get("notes", ()), *job.notes],
        "files": file_names(job.written),
        "kept_files": [str(path) for path in job.kept],
        "timings": {stage: round(seconds, 4) for stage, seconds in timings.items()},
    }
