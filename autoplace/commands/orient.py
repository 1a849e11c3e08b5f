"""The command `orient`: the axes of an existing skeleton made anew by a convention."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.commands.options import (
    add_directions,
    add_overwrite,
    add_report_options,
    add_skeleton,
    file_names,
    print_data,
    print_text,
)
from autoplace.errors import SettingsError
from autoplace.progress import Progress

if TYPE_CHECKING:
    from autoplace.skeleton.convention import Convention

__all__ = ["add_orient"]


def add_orient(commands: Any) -> None:
    """Add the command to the parser."""
    orient = commands.add_parser(
        "orient",
        usage="autoplace orient SKELETON [options]",
        help="turn the joints of a skeleton so that they aim and bend by a convention",
        description="Orient the joints of SKELETON: one local axis aims at the child, one bends. "
        "Places are untouched. Unsaid, a skeleton keeps the convention it was oriented by.",
        allow_abbrev=False,
    )
    orient.set_defaults(run=_run, parser=orient)
    add_skeleton(orient, optional=True)
    axes = orient.add_argument_group("what the axes mean")
    axes.add_argument(
        "--convention", metavar="NAME", help="one that comes along, or a TOML file of your own"
    )
    axes.add_argument(
        "--list-conventions", action="store_true", help="show those that come along, and stop"
    )
    axes.add_argument("--aim", metavar="AXIS", help="local axis that points at the child")
    axes.add_argument("--bend", metavar="AXIS", help="local axis that a positive turn flexes about")
    axes.add_argument(
        "--facing",
        metavar="CHAIN=WHERE",
        action="append",
        default=[],
        help="where the remaining axis of a chain faces, such as foot=up, finger=back_of_hand or "
        "all=+Z; repeatable",
    )
    axes.add_argument(
        "--mirror",
        choices=("motion", "axes"),
        help="equal values move both sides in mirror image, or axes of both sides are parallel",
    )
    axes.add_argument(
        "--eyes", choices=("together", "mirror"), help="equal values turn both eyes one way, or not"
    )
    add_directions(orient, bake=True)
    files = orient.add_argument_group("files")
    files.add_argument(
        "-o",
        "--out",
        metavar="JSON",
        type=Path,
        help="where the result goes, file or folder (default: in place of the one given, which is "
        "kept as *.previous.json; beside it for another kind of file)",
    )
    sheet = files.add_mutually_exclusive_group()
    sheet.add_argument("--sheet", metavar="PNG", type=Path, help="where the picture of axes goes")
    sheet.add_argument("--no-sheet", action="store_true", help="draw no picture")
    add_overwrite(files)
    add_report_options(orient)


def _run(options: argparse.Namespace, progress: Progress) -> None:
    if options.list_conventions:
        from autoplace.files.convention_file import describe_conventions
        from autoplace.reports.orient_text import conventions_text

        print_text(conventions_text(describe_conventions()))
        return
    if options.skeleton is None:
        raise SettingsError("Which skeleton? Write autoplace orient SKELETON.")
    from autoplace.jobs.orient import run_orient
    from autoplace.jobs.outputs import plan_orient

    facing = _facing(options.facing)
    outputs = plan_orient(
        options.skeleton, options.out, sheet=options.sheet, no_sheet=options.no_sheet
    )
    job = run_orient(
        options.skeleton,
        outputs,
        lambda recorded: _convention(options, facing, recorded),
        up=options.up,
        forward=options.forward,
        bake=options.bake,
        overwrite=options.overwrite,
        progress=progress,
    )
    seconds = progress.finish()
    if options.json:
        print_data(
            {
                "skeleton": job.file,
                **job.report,
                "guess": [vars(row) for row in job.opened.guess],
                "notes": list(job.opened.notes),
                "files": file_names(job.written),
                "kept_files": [str(path) for path in job.kept],
                "timings": {stage: round(s, 4) for stage, s in progress.timings.items()},
            }
        )
    elif not options.quiet:
        from autoplace.reports.orient_text import orient_text

        print_text(orient_text(job, seconds))


def _convention(
    options: argparse.Namespace, facing: dict[str, str], recorded: Convention | None
) -> Convention:
    """The convention named, else the recorded one, else the default; single options over it."""
    from autoplace.files.convention_file import load_convention
    from autoplace.skeleton.convention import DEFAULT

    base = load_convention(options.convention) if options.convention else recorded or DEFAULT
    words = {key: getattr(options, key) for key in ("aim", "bend", "mirror", "eyes")}
    changes = {key: word for key, word in words.items() if word is not None}
    if not (changes or facing):
        return base
    changed = replace(base, **changes, facing={**base.facing, **facing})
    return changed if changed == base else replace(changed, name="")


def _facing(given: list[str]) -> dict[str, str]:
    """Chain to where it faces, from `--facing CHAIN=WHERE`."""
    found = {}
    for text in given:
        chain, _, where = text.partition("=")
        if not (chain and where):
            raise SettingsError(
                f"--facing {text!r} is not of the form CHAIN=WHERE; write for instance "
                "--facing foot=up."
            )
        found[chain] = where
    return found
