"""Prints what reading, placing and the whole command cost on one body of the open dataset.

Every figure is the best of some runs, since the noise of a shared machine only adds.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.dataset.bodies import build, report_list
from tests.dataset.cost import COMMAND_LIMIT, PLACING_LIMIT, run_python, write_obj


def best(runs: int, action: Callable[[], object]) -> float:
    """Seconds of the quickest of some runs."""
    seconds = []
    for _ in range(runs):
        start = time.perf_counter()
        action()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def line(what: str, seconds: float, limit: float | None = None) -> None:
    allowed = f"   (at most {limit:.1f} s)" if limit is not None else ""
    print(f"  {what:<34}{seconds:7.3f} s{allowed}")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--mesh", type=Path, help="another character than the dataset's body")
    parser.add_argument("--runs", type=int, default=5, metavar="N")
    options = parser.parse_args()

    import trimesh

    import autoplace

    with tempfile.TemporaryDirectory() as folder:
        mesh = options.mesh
        if mesh is None:
            mesh = Path(folder) / "body.obj"
            spec = next(s for s in report_list() if s.pose == "a_pose" and s.age == "old")
            write_obj(build(spec).character, mesh)
        character = autoplace.load(mesh)
        size = mesh.stat().st_size / 2**20
        print(
            f"{mesh.name}: {character.face_count:,} triangles, {size:.1f} MB; "
            f"{os.cpu_count()} cores, Python {platform.python_version()}"
        )
        line("trimesh reads the file", best(options.runs, lambda: trimesh.load(mesh)))
        line(
            "trimesh reads it, clean-up off",
            best(options.runs, lambda: trimesh.load(mesh, process=False)),
        )
        line("autoplace reads the file", best(options.runs, lambda: autoplace.load(mesh)))
        autoplace.place(character)  # pays for the imports
        results = [autoplace.place(character) for _ in range(options.runs)]
        for stage in results[0].timings:
            line(f"  stage {stage}", min(result.timings[stage] for result in results))
        line("placing", best(options.runs, lambda: autoplace.place(character)), limit=PLACING_LIMIT)
        result = results[0]
        line(
            "picture sheet",
            best(
                2,
                lambda: autoplace.render_sheet(
                    character, result.roles, result.frame, result.skeleton
                ),
            ),
        )
        line("import autoplace", best(options.runs, lambda: run_python("-c", "import autoplace")))
        line("autoplace --help", best(options.runs, lambda: run_python("-m", "autoplace", "-h")))
        out = Path(folder) / "out.json"
        command = ["-m", "autoplace", "place", str(mesh), "-o", str(out), "--quiet"]
        line(
            "whole command",
            best(options.runs, lambda: run_python(*command, "--overwrite")),
            limit=COMMAND_LIMIT,
        )
        line(
            "whole command without picture",
            best(options.runs, lambda: run_python(*command, "--overwrite", "--no-sheet")),
        )
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 2**10
        print(f"  {'peak memory of the command':<34}{peak:7.0f} MB")


if __name__ == "__main__":
    main()
