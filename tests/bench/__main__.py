"""Prints what reading, placing and the whole command cost on bodies of the open dataset.

First one body as it is, stage by stage; then the same body from 7,000 to 1.75 million faces, beside
trimesh reading the same file and skeletor making a skeleton of the same mesh, with peak memory.
Every figure is the best of some runs, since the noise of a shared machine only adds.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import tempfile
from pathlib import Path

from tests.bench import growth
from tests.bench.review import best, drag_costs, open_costs
from tests.bench.sizes import SIZES, sized_body
from tests.dataset.cost import COMMAND_LIMIT, PLACING_LIMIT, run_python, write_obj


def line(what: str, seconds: float, limit: float | None = None) -> None:
    allowed = f"   (at most {limit:g} s)" if limit is not None else ""
    print(f"  {what:<34}{seconds:7.3f} s{allowed}")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--mesh", type=Path, help="only this character, stage by stage")
    parser.add_argument("--review", action="store_true", help="only the review page")
    parser.add_argument("--runs", type=int, default=5, metavar="N")
    parser.add_argument(
        "--sizes",
        nargs="*",
        choices=tuple(SIZES),
        default=tuple(SIZES),
        help="sizes of mesh to compare at; none leaves the comparison out",
    )
    parser.add_argument("--no-skeletor", action="store_true", help="leave skeletor out")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if not options.review:
            one_body(options.mesh, options.runs, Path(folder))
        if options.mesh is None:
            review(options.runs, Path(folder))
        names = [name for name in SIZES if name in options.sizes]
        if names and options.mesh is None and not options.review:
            compare(names, options.runs, not options.no_skeletor, Path(folder))


def review(runs: int, folder: Path) -> None:
    """What the review page costs."""
    print("\nThe review page of the demo character")
    for costs in (open_costs, drag_costs):
        for what, seconds, limit in costs(runs, folder):
            line(what, seconds, limit)


def compare(names: list[str], runs: int, skeletor: bool, folder: Path) -> None:
    """The table of sizes and what it says about the targets."""
    if skeletor and not growth.has_skeletor():
        print("\nskeletor is not installed (pip install -e '.[bench]'), so it is left out below.")
        skeletor = False
    print(
        f"\nSeconds and peak megabytes as the mesh grows; best of {runs} runs (above "
        f"{growth.LARGE:,} faces {min(runs, growth.RUNS_OF_LARGE)}),\neach in a process of its "
        "own after one of 7,000 faces. skeletor's seconds are without its reading."
    )
    print(growth.header())
    sizes = []
    for size in growth.measure_sizes(names, runs, skeletor, folder):
        print(growth.row(size), flush=True)
        sizes.append(size)
    print()
    for said, met in growth.verdicts(sizes):
        print(f"{ {True: 'met', False: 'MISSED', None: 'open'}[met]:>8}  {said}")


def one_body(mesh: Path | None, runs: int, folder: Path) -> None:
    """The costs of one character, stage by stage."""
    import trimesh

    import autoplace

    if mesh is None:
        mesh = folder / "body.obj"
        write_obj(sized_body("27k"), mesh)
    character = autoplace.load(mesh)
    size = mesh.stat().st_size / 2**20
    print(
        f"{mesh.name}: {character.face_count:,} triangles, {size:.1f} MB; "
        f"{os.cpu_count()} cores, Python {platform.python_version()}"
    )
    line("trimesh reads the file", best(runs, lambda: trimesh.load(mesh)))
    line(
        "trimesh reads it, clean-up off",
        best(runs, lambda: trimesh.load(mesh, process=False)),
    )
    line("autoplace reads the file", best(runs, lambda: autoplace.load(mesh)))
    autoplace.place(character)  # pays for the imports
    results = [autoplace.place(character) for _ in range(runs)]
    for stage in results[0].timings:
        line(f"  stage {stage}", min(result.timings[stage] for result in results))
    line("placing", best(runs, lambda: autoplace.place(character)), limit=PLACING_LIMIT)
    result = results[0]
    line(
        "picture sheet",
        best(
            2,
            lambda: autoplace.render_sheet(character, result.roles, result.frame, result.skeleton),
        ),
    )
    line("import autoplace", best(runs, lambda: run_python("-c", "import autoplace")))
    line("autoplace --help", best(runs, lambda: run_python("-m", "autoplace", "-h")))
    out = folder / "out.json"
    command = ["-m", "autoplace", "place", str(mesh), "-o", str(out), "--quiet"]
    line(
        "whole command",
        best(runs, lambda: run_python(*command, "--overwrite")),
        limit=COMMAND_LIMIT,
    )
    line(
        "whole command without picture",
        best(runs, lambda: run_python(*command, "--overwrite", "--no-sheet")),
    )
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 2**10
    print(f"  {'peak memory of the command':<34}{peak:7.0f} MB")


if __name__ == "__main__":
    main()
