"""The command `convert`: a skeleton written as another kind of file."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from autoplace.commands.options import (
    add_directions,
    add_export_options,
    add_overwrite,
    add_report_options,
    add_skeleton,
    print_data,
    print_text,
)
from autoplace.progress import Progress

__all__ = ["add_convert"]


def add_convert(commands: Any) -> None:
    """Add the command to the parser."""
    convert = commands.add_parser(
        "convert",
        usage="autoplace convert SKELETON OUT [--mesh MESH] [options]",
        help="write a skeleton as another kind of file, with its mesh if you like",
        description="Write SKELETON as OUT, whose ending says which kind of file: .glb or .gltf, "
        ".usda, .usdc or .usdz (OpenUSD), .x3d (X3D with HAnim), .bvh, .csv or .skeleton.json. "
        "What that kind of file cannot carry is said.",
        allow_abbrev=False,
    )
    convert.set_defaults(run=_run, parser=convert)
    add_skeleton(convert)
    convert.add_argument("out", metavar="OUT", type=Path, help="the file to write")
    content = convert.add_argument_group("what is written")
    content.add_argument(
        "--mesh",
        metavar="MESH",
        type=Path,
        help="write this character too, bound to the joints; in the skeleton's frame and units",
    )
    add_export_options(content)
    add_directions(convert, bake=True)
    files = convert.add_argument_group("files")
    add_overwrite(files)
    add_report_options(convert)


def _run(options: argparse.Namespace, progress: Progress) -> None:
    from autoplace.jobs.convert import run_convert

    job = run_convert(
        options.skeleton,
        options.out,
        mesh=options.mesh,
        names=options.names,
        metres_per_unit=options.metres_per_unit,
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
                "skeleton": str(job.skeleton),
                "mesh": None if job.mesh is None else str(job.mesh),
                "from": job.opened.format,
                "to": job.format,
                "joints": [
                    {"name": name, "joint": own}
                    for name, own in zip(job.names, job.opened.skeleton.names, strict=True)
                ],
                "guess": [vars(row) for row in job.opened.guess],
                "notes": list(job.notes),
                "files": {"out": str(job.written)},
                "kept_files": [str(path) for path in job.kept],
                "timings": {stage: round(s, 4) for stage, s in progress.timings.items()},
            }
        )
    elif not options.quiet:
        from autoplace.reports.convert_text import convert_text

        print_text(convert_text(job, seconds))
