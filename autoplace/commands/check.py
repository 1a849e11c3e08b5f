"""The command `check`: is a skeleton fit for animation, and what of it mends itself?"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.commands.options import (
    add_directions,
    add_overwrite,
    add_report_options,
    add_skeleton,
    print_data,
    print_text,
)
from autoplace.errors import SettingsError
from autoplace.progress import Progress

if TYPE_CHECKING:
    from autoplace.jobs.check import CheckJob

__all__ = ["add_check"]

FOUND_ERRORS = 1
"""Exit code when the skeleton has errors."""


def add_check(commands: Any) -> None:
    """Add the command to the parser."""
    check = commands.add_parser(
        "check",
        usage="autoplace check SKELETON [--mesh MESH] [options]",
        help="say what is wrong with a skeleton, and mend what has one right answer",
        description="Check SKELETON: hierarchy, sides, symmetry, axes, bends, proportions and "
        "hands, and with --mesh also whether it fits the character. Every finding says what was "
        "measured, what the limit is, and how to mend it. The exit code is 1 when there are "
        "errors.",
        allow_abbrev=False,
    )
    check.set_defaults(run=_run, parser=check)
    add_skeleton(check)
    check.add_argument(
        "--mesh",
        metavar="MESH",
        type=Path,
        help="the character it stands in, in the same frame and units",
    )
    add_directions(check, bake=False)
    mending = check.add_argument_group("mending")
    mending.add_argument(
        "--mend",
        action="store_true",
        help="repair what has one right answer: order of joints, names of sides, axes that are no "
        "frame, tips, values that mirror but for rounding",
    )
    mending.add_argument(
        "-o",
        "--out",
        metavar="JSON",
        type=Path,
        help="where the mended skeleton goes, file or folder (default: beside the one given, as "
        "*.mended.skeleton.json)",
    )
    add_overwrite(mending)
    add_report_options(check)


def _run(options: argparse.Namespace, progress: Progress) -> int:
    if options.out is not None and not options.mend:
        raise SettingsError("-o says where the mended skeleton goes; give --mend with it.")
    from autoplace.jobs.check import run_check

    job = run_check(
        options.skeleton,
        options.mesh,
        mending=options.mend,
        out=options.out,
        up=options.up,
        forward=options.forward,
        overwrite=options.overwrite,
        progress=progress,
    )
    seconds = progress.finish()
    if options.json:
        print_data(_as_data(job, options.mend, progress.timings))
    elif not options.quiet:
        from autoplace.reports.check_text import check_text

        print_text(check_text(job, seconds))
    errors = any(finding.level == "error" for finding in job.survey.findings)
    return FOUND_ERRORS if errors else 0


def _as_data(job: CheckJob, mending: bool, timings: dict[str, float]) -> dict[str, Any]:
    """The report as plain data; lengths in shares of the height unless a unit is named."""
    found, facts = job.survey.findings, job.facts
    levels = ("error", "warning", "note")
    data: dict[str, Any] = {
        "skeleton": str(job.skeleton),
        "mesh": None if job.mesh is None else str(job.mesh),
        "joints": len(job.opened.skeleton),
        "counts": {level: sum(f.level == level for f in found) for level in levels},
        "findings": [vars(finding) for finding in found],
        "ran": list(job.survey.ran),
        "not_run": dict(job.survey.not_run),
        "guess": [vars(row) for row in job.opened.guess],
        "notes": list(job.notes),
    }
    if facts is not None:
        data["mesh_measures"] = {
            "symmetry_residual": facts.symmetry_residual,
            "whole_residual": facts.whole_residual,
            "floor": facts.floor,
            "depths": dict(job.depths),
        }
    if mending:
        data["mended"] = [vars(change) for change in job.changes]
        data["files"] = {} if job.written is None else {"skeleton": str(job.written.skeleton)}
        data["kept_files"] = [str(path) for path in job.kept]
    data["timings"] = {stage: round(seconds, 4) for stage, seconds in timings.items()}
    return data
