"""The command `review`: a page on this machine to turn, bend and correct a skeleton."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from autoplace.commands.options import add_part_options, add_telling, roles
from autoplace.progress import Progress

__all__ = ["add_review"]


def add_review(commands: Any) -> None:
    """Add the command `review` to the parser."""
    review = commands.add_parser(
        "review",
        usage="autoplace review MESH [--skeleton FILE] [options]",
        help="see a skeleton in its character, bend it and correct it, on a page in the browser",
        description="Open a page in the browser, served on this machine only, that shows the "
        "character with its skeleton: turn it, bend it, move and lock joints, see the findings. "
        "Unsaid, the skeleton beside the mesh is opened, and where there is none one is placed. "
        "Saving writes the skeleton and the corrections (*.edits.json). Ctrl-C ends it.",
        allow_abbrev=False,
    )
    review.set_defaults(run=_run, parser=review)
    review.add_argument("mesh", metavar="MESH", type=Path, help="OBJ, PLY, STL, GLB or glTF file")
    files = review.add_argument_group("files")
    files.add_argument(
        "--skeleton",
        metavar="FILE",
        type=Path,
        help="*.skeleton.json, or a glTF, USD, X3D or BVH file",
    )
    files.add_argument(
        "--edits", metavar="FILE", type=Path, help="corrections to start from (*.edits.json)"
    )
    files.add_argument(
        "-o", "--out", metavar="JSON", type=Path, help="where saving writes (file or folder)"
    )
    page = review.add_argument_group("the page")
    page.add_argument("--port", metavar="N", type=int, help="to serve on (default: a free one)")
    page.add_argument("--no-open", action="store_true", help="do not open the browser")
    known = review.add_argument_group("what you know better, where a skeleton is placed")
    known.add_argument("--template", metavar="NAME", help="proportions to start from")
    add_part_options(known)
    known.add_argument("--up", metavar="AXIS", help="where up is in the file, such as +Y or +Z")
    known.add_argument("--forward", metavar="AXIS", help="where the character faces, such as -Y")
    add_telling(review.add_argument_group("what is printed"))


def _run(options: argparse.Namespace, progress: Progress) -> None:
    from autoplace.jobs.review import open_review
    from autoplace.jobs.review_page import run_page

    changes = {
        "template": options.template,
        "leave_out": tuple(options.leave_out) or None,
        "roles": roles(options) or None,
        "up": options.up,
        "forward": options.forward,
    }
    review = open_review(
        options.mesh,
        options.skeleton,
        out=options.out,
        edits=options.edits,
        changes={name: value for name, value in changes.items() if value is not None},
        progress=progress,
    )
    run_page(
        review,
        port=options.port,
        browser=not options.no_open,
        quiet=options.quiet,
        progress=progress,
    )
