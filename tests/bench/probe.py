"""Does one thing once in a process of its own and says what it took: `probe WHAT MESH SMALL_MESH`.

The thing is first done on a small mesh, so that nothing is counted that a program pays once however
many characters it handles: imports, and what a library makes ready when it is first called.
"""

from __future__ import annotations

import json
import re
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

CONTESTANTS = ("autoplace", "trimesh merging", "trimesh as it is", "skeletor")


def peak_memory() -> float:
    """Most megabytes that this process ever held.

    Linux counts its parent's memory into `ru_maxrss`, from before the child became another
    program, so that the kernel's own high-water mark of the program is read where there is one.
    """
    status = Path("/proc/self/status")
    if status.exists() and (found := re.search(r"VmHWM:\s*(\d+) kB", status.read_text())):
        return int(found[1]) / 2**10
    held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return held / (2**20 if sys.platform == "darwin" else 2**10)


def timed(action: Callable[[], object]) -> tuple[float, object]:
    start = time.perf_counter()
    made = action()
    return time.perf_counter() - start, made


def placing(mesh: str) -> dict[str, float]:
    import autoplace

    read, character = timed(lambda: autoplace.load(mesh))
    place, _ = timed(lambda: autoplace.place(character))
    return {"reading": read, "working": place}


def reading(mesh: str, merging: bool) -> dict[str, float]:
    import trimesh

    return {"reading": timed(lambda: trimesh.load(mesh, process=merging))[0], "working": 0.0}


def skeletonising(mesh: str) -> dict[str, float]:
    import skeletor
    import trimesh

    read, surface = timed(lambda: trimesh.load(mesh, force="mesh"))
    # as it comes: one wave, every ring of vertices
    work, _ = timed(lambda: skeletor.skeletonize.by_wavefront(surface, progress=False))
    return {"reading": read, "working": work}


def main() -> None:
    what, mesh, small = sys.argv[1:]
    action = {
        "autoplace": placing,
        "trimesh merging": lambda path: reading(path, True),
        "trimesh as it is": lambda path: reading(path, False),
        "skeletor": skeletonising,
    }[what]
    action(small)
    print(json.dumps({**action(mesh), "peak": peak_memory()}))


if __name__ == "__main__":
    main()
