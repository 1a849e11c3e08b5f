"""The command `bend`: a skeleton moved through common motions, and what comes of them."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from autoplace.commands.options import (
    add_directions,
    add_report_options,
    print_data,
    print_text,
)
from autoplace.progress import Progress

__all__ = ["add_bend"]

FAILED = 1
"""Exit code when a test failed."""


def add_bend(commands: Any) -> None:
    """Add the command `bend` to the parser."""
    bend = commands.add_parser(
        "bend",
        usage="autoplace bend MESH --skeleton FILE [options]",
        help="bend a skeleton through common motions and measure where everything goes",
        description="Move the skeleton given with --skeleton through common motions (elbows, "
        "knees, hips, arms, wrists, head, spine, fingers, thumbs, fist, toes, eyes, "
        "T-pose and A-pose), measure where everything goes, and draw the poses with the mesh as "
        "a preview. The exit code is 1 when a test failed.",
        allow_abbrev=False,
    )
    bend.set_defaults(run=_run, parser=bend)
    bend.add_argument("mesh", metavar="MESH", type=Path, help="OBJ, PLY, STL, GLB or glTF file")
    files = bend.add_argument_group("files")
    files.add_argument(
        "--skeleton", metavar="FILE", type=Path, required=True, help="the skeleton to bend"
    )
    strip = files.add_mutually_exclusive_group()
    strip.add_argument(
        "-o",
        "--out",
        metavar="PNG",
        type=Path,
        help="where the picture strip goes, file or folder (default: beside the skeleton, as "
        "*.bend.png)",
    )
    strip.add_argument("--no-strip", action="store_true", help="draw no picture")
    files.add_argument(
        "--overwrite", action="store_true", help="replace even a picture of another program"
    )
    known = bend.add_argument_group("what is bent")
    known.add_argument(
        "--only",
        metavar="TESTS",
        action="append",
        default=[],
        help="run only these tests, such as fist,elbow; repeatable",
    )
    add_directions(bend, bake=True)
    add_report_options(bend)


def _run(options: argparse.Namespace, progress: Progress) -> int:
    from autoplace.jobs.bend import bend_data, run_bend_job, strip_path

    strip = None if options.no_strip else strip_path(options.mesh, options.skeleton, options.out)
    job = run_bend_job(
        options.mesh,
        options.skeleton,
        strip,
        only=[name.strip() for text in options.only for name in text.split(",") if name.strip()],
        bake=options.bake,
        up=options.up,
        forward=options.forward,
        overwrite=options.overwrite,
        progress=progress,
    )
    seconds = progress.finish()
    if options.json:
        timings = {stage: round(spent, 4) for stage, spent in progress.timings.items()}
        print_data(bend_data(job) | {"timings": timings})
    elif not options.quiet:
        from autoplace.reports.bend_text import bend_text

        print_text(bend_text(job, seconds))
    return 0 if job.report.passed else FAILED
