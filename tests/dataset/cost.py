"""What one placing costs beside reading the same file with a general mesh library."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from autoplace.mesh.character import Character
from tests.dataset.bodies import build, report_list

PLACING_LIMIT = 1.0
COMMAND_LIMIT = 2.5
"""Seconds allowed for the placing itself, and for the whole command with its files and picture."""


@dataclass(frozen=True)
class Cost:
    """Seconds; the best of a few runs, for the noise of a shared machine only ever adds."""

    faces: int
    placing: float
    command: float
    reading: float
    """trimesh reading the same file."""


def write_obj(character: Character, path: Path) -> None:
    """The character as an OBJ file, one object for each part."""
    start = 1
    with path.open("w", encoding="utf-8", newline="\n") as file:
        for part in character.parts:
            file.write(f"o {part.name}\n")
            # one format for all lines of a kind, for a mesh of millions
            numbers = part.vertices.ravel().tolist()
            file.write("v %.6f %.6f %.6f\n" * len(part.vertices) % tuple(numbers))
            numbers = (part.faces + start).ravel().tolist()
            file.write("f %d %d %d\n" * len(part.faces) % tuple(numbers))
            start += len(part.vertices)


def run_python(*arguments: str, folder: str | Path | None = None) -> None:
    """As an installed program runs: with its compiled files kept from one run to the next."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    subprocess.run(
        [sys.executable, *arguments], check=True, capture_output=True, env=environment, cwd=folder
    )


def measure(runs: int = 5) -> Cost:
    """Times the placing, the whole command and trimesh on one dataset body of 27,000 faces."""
    import trimesh

    import autoplace

    spec = next(spec for spec in report_list() if spec.pose == "a_pose" and spec.age == "old")
    character = build(spec).character
    placing, command, reading = [], [], []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "body.obj"
        write_obj(character, path)
        # the first placing also pays for imports, which the command's time counts
        for _ in range(runs + 1):
            start = time.perf_counter()
            autoplace.place(character)
            placing.append(time.perf_counter() - start)
        for _ in range(runs):
            start = time.perf_counter()
            trimesh.load(path, process=False)
            reading.append(time.perf_counter() - start)
            start = time.perf_counter()
            run_python("-m", "autoplace", "place", str(path), "--quiet", folder=folder)
            command.append(time.perf_counter() - start)
    return Cost(character.face_count, min(placing), min(command), min(reading))
