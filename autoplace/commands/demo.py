"""The command `demo`: the demo characters, and a skeleton in one of them."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from autoplace.commands.options import add_telling, print_text
from autoplace.progress import Progress

__all__ = ["add_demo"]


def add_demo(commands: Any) -> None:
    """Add the command to the parser."""
    demo = commands.add_parser(
        "demo",
        help="copy the demo characters out and place a skeleton in one",
        description="Copy the demo characters into DIR and place a skeleton in one of them.",
        allow_abbrev=False,
    )
    demo.set_defaults(run=_run, parser=demo)
    demo.add_argument(
        "folder",
        metavar="DIR",
        type=Path,
        nargs="?",
        default=Path("autoplace-demo"),
        help="made if it is missing (default: autoplace-demo)",
    )
    add_telling(demo)


def _run(options: argparse.Namespace, progress: Progress) -> None:
    from autoplace.jobs.demo import FIRST, copy_characters
    from autoplace.jobs.outputs import plan_outputs
    from autoplace.jobs.place import run_job
    from autoplace.result import Settings

    characters = copy_characters(options.folder)
    mesh = options.folder / FIRST
    outputs = plan_outputs(mesh, export=mesh.with_suffix(".glb"))
    job = run_job(mesh, outputs, Settings(), progress=progress)
    seconds = progress.finish()
    if options.quiet:
        return
    from autoplace.reports.place_text import job_text

    print_text(job_text(job, seconds))
    print(f"\nLook at the picture first: {outputs.sheet}")
    print(f"Turn it, bend it, mend it: autoplace review {mesh}")
    others = [path for path in characters if path.name != FIRST]
    if others:
        print(f"Then try another:          autoplace place {others[0]}")
