"""What reading and placing cost as the mesh grows, beside other programs' work on the same file."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.bench.probe import CONTESTANTS
from tests.bench.sizes import sized_body
from tests.dataset.cost import write_obj

LARGE = 200_000
"""Faces above which fewer runs are made, for each takes long enough to even out noise."""
RUNS_OF_LARGE = 2
TIMES_READING = 2.0
TIMES_MEMORY = 2.5
"""Allowed at the largest size, over trimesh's reading with its merging of vertices."""
LINEAR = 1.0
"""Largest exponent of the growth of seconds with faces."""


@dataclass(frozen=True)
class Cost:
    """The best of some runs."""

    reading: float
    working: float
    """Placing or skeletonising a mesh that is read already; 0 where there is only reading."""
    peak: float
    """Most megabytes the process held."""

    @property
    def both(self) -> float:
        return self.reading + self.working


@dataclass(frozen=True)
class Size:
    name: str
    faces: int
    costs: dict[str, Cost]
    """By contestant; one that is not installed is missing."""


def has_skeletor() -> bool:
    return importlib.util.find_spec("skeletor") is not None


def measure_sizes(names: Iterable[str], runs: int, skeletor: bool, folder: Path) -> Iterable[Size]:
    """The costs at each size, every single one measured in a process of its own.

    The contestants take turns, so that a busy hour of the machine meets them all alike.
    """
    small = folder / "small.obj"
    write_obj(sized_body("7k"), small)
    contestants = [c for c in CONTESTANTS if c != "skeletor" or skeletor]
    for name in names:
        character = sized_body(name)
        mesh = folder / f"{name}.obj"
        write_obj(character, mesh)
        found: dict[str, list[Cost]] = {c: [] for c in contestants}
        for _ in range(runs if character.face_count < LARGE else min(runs, RUNS_OF_LARGE)):
            for contestant in contestants:
                found[contestant].append(_probe(contestant, mesh, small))
        mesh.unlink()
        yield Size(name, character.face_count, {c: _best(all_of) for c, all_of in found.items()})


def _best(costs: list[Cost]) -> Cost:
    """Each figure for itself, so that `both` is of a run that was not disturbed at all."""
    return Cost(
        min(cost.reading for cost in costs),
        min(cost.working for cost in costs),
        min(cost.peak for cost in costs),
    )


def _probe(contestant: str, mesh: Path, small: Path) -> Cost:
    command = [sys.executable, "-m", "tests.bench.probe", contestant, str(mesh), str(small)]
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=False)
    if done.returncode:
        raise RuntimeError(f"{contestant} failed on {mesh.name}:\n{done.stderr}")
    return Cost(**json.loads(done.stdout))


HEAD = ("faces", "read", "place", "both", "MB", "merging", "MB", "as is", "MB", "skeleton", "MB")


def header() -> str:
    over = f"{'':>11}{'autoplace':^32}{'trimesh, ':>16}{'trimesh,':>15}{'skeletor':>16}"
    return f"{over}\n" + _columns(HEAD)


def row(size: Size) -> str:
    own = size.costs["autoplace"]
    cells = [f"{size.faces:,}", f"{own.reading:.2f}", f"{own.working:.2f}", f"{own.both:.2f}"]
    cells.append(f"{own.peak:.0f}")
    for contestant in CONTESTANTS[1:]:
        cost = size.costs.get(contestant)
        if cost is None:
            cells += ["-", "-"]
        else:
            seconds = cost.working if contestant == "skeletor" else cost.reading
            cells += [f"{seconds:.2f}", f"{cost.peak:.0f}"]
    return _columns(cells)


def _columns(cells: Iterable[str]) -> str:
    widths = (11, 8, 8, 8, 8, 10, 6, 9, 6, 10, 6)
    return "".join(f"{cell:>{width}}" for cell, width in zip(cells, widths, strict=True))


def exponent(faces: Iterable[float], seconds: Iterable[float]) -> float:
    """The power of the faces that the seconds grow with, by least squares of the logarithms."""
    return float(np.polyfit(np.log(list(faces)), np.log(list(seconds)), 1)[0])


def verdicts(sizes: list[Size]) -> list[tuple[str, bool | None]]:
    """A sentence for each target, and whether it is met; None where it cannot be told."""
    lines: list[tuple[str, bool | None]] = []
    by_name = {size.name: size for size in sizes}
    if size := by_name.get("110k"):
        lines.append(_beside_skeletor(size))
    if size := by_name.get("1.75M"):
        lines += _beside_reading(size)
    if len(sizes) > 1:
        lines.append(_growing(sizes))
    return lines


def _beside_skeletor(size: Size) -> tuple[str, bool | None]:
    own, other = size.costs["autoplace"], size.costs.get("skeletor")
    start = f"{size.faces:,} faces: placing takes {own.working:.2f} s"
    if other is None:
        return f"{start}, nothing to compare it with", None
    said = f"{start}, a skeleton by skeletor {other.working:.2f} s (no longer is asked)"
    return said, own.working <= other.working


def _beside_reading(size: Size) -> list[tuple[str, bool | None]]:
    own, merging = size.costs["autoplace"], size.costs["trimesh merging"]
    plain = size.costs["trimesh as it is"]
    times, more = own.both / merging.reading, own.peak / merging.peak
    start = f"{size.faces:,} faces: reading and placing"
    return [
        (
            f"{start} take {times:.2f} of trimesh's reading with merging, "
            f"{own.both / plain.reading:.2f} of that without (at most {TIMES_READING:g} of the "
            "first is asked)",
            times <= TIMES_READING,
        ),
        (
            f"{start} hold {more:.2f} of its peak memory, {own.peak / plain.peak:.2f} of that "
            f"without (at most {TIMES_MEMORY:g} of the first is asked)",
            more <= TIMES_MEMORY,
        ),
    ]


def _growing(sizes: list[Size]) -> tuple[str, bool | None]:
    faces = [size.faces for size in sizes]
    seconds = [size.costs["autoplace"].both for size in sizes]
    power = exponent(faces, seconds)
    last = exponent(faces[-2:], seconds[-2:])
    said = (
        f"{faces[0]:,} to {faces[-1]:,} faces: seconds grow with the faces to the power of "
        f"{power:.2f}, {last:.2f} in the last step (at most {LINEAR:g} is asked)"
    )
    return said, power <= LINEAR
