"""What the review page costs: to open, and for every picture while a joint is dragged."""

from __future__ import annotations

import os
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import trimesh

import autoplace
from autoplace.data import data_folder
from autoplace.jobs.review import open_review
from autoplace.jobs.review_page import serve
from autoplace.mesh.character import Character
from autoplace.skeleton.edit_moves import lock_joint, move_joint
from tests.dataset.cost import write_obj

__all__ = ["DRAG_LIMIT", "OPEN_LIMIT", "best", "drag_costs", "open_costs"]

OPEN_LIMIT = 4.0
"""Seconds until a character of 110,000 faces can be reviewed (the project's own target)."""
DRAG_LIMIT = 0.05
"""Seconds for a joint that is dragged: 20 pictures a second (the project's own target)."""

Row = tuple[str, float, float | None]


def best(runs: int, action: Callable[[], object]) -> float:
    """Seconds of the quickest of some runs."""
    seconds = []
    for _ in range(runs):
        start = time.perf_counter()
        action()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def large_keeper(folder: Path) -> Path:
    """The demo character with every triangle cut into four: 115,000 faces."""
    keeper = autoplace.load(data_folder("meshes") / "keeper.obj")
    parts = []
    for part in keeper.parts:
        vertices, faces = trimesh.remesh.subdivide(part.vertices, part.faces)
        parts.append(replace(part, vertices=vertices, faces=faces))
    path = folder / "large.obj"
    write_obj(Character("large", tuple(parts)), path)
    return path


def open_costs(runs: int, folder: Path) -> Iterator[Row]:
    """Seconds from the command to a page that answers: placed, and with a skeleton beside."""
    mesh = large_keeper(folder)
    yield "open 115k faces, placed first", best(runs, lambda: open_command(mesh)), OPEN_LIMIT
    review = open_review(mesh)
    review.save(review.placed, review.edits)
    yield "open 115k faces with a skeleton", best(runs, lambda: open_command(mesh)), OPEN_LIMIT


def open_command(mesh: Path) -> None:
    """Runs the command until its page has been fetched, as a browser would."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    command = [sys.executable, "-m", "autoplace", "review", str(mesh), "--no-open", "--quiet"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as process:
        assert process.stdout is not None
        with urllib.request.urlopen(process.stdout.readline().split()[0]) as page:
            page.read()
        process.kill()


def drag_costs(runs: int, folder: Path) -> Iterator[Row]:
    """Seconds of one place of a dragged knuckle: mirror image, all axes, and the scene."""
    mesh = large_keeper(folder)
    review = open_review(mesh)
    placed = review.placed
    start = placed["left_index_1"].position
    edits = lock_joint(placed, review.edits, "left_wrist", True)
    goals = iter(start + np.linspace(1e-4, 1e-2, 3 * runs)[:, None] * np.array([0.0, 1.0, 0.5]))

    def step(follow: bool) -> None:
        moved = move_joint(placed, edits, "left_index_1", next(goals), follow=follow)
        autoplace.apply_edits(placed, moved)

    yield "drag a joint", best(runs, lambda: step(False)), DRAG_LIMIT
    yield "drag with what hangs from it", best(runs, lambda: step(True)), DRAG_LIMIT
    served = serve(review)
    try:
        served.page.choose("left_index_1")
        served.page.wait()

        def picture() -> None:
            served.page.drag(served.review.frame.to_working(next(goals)))

        yield "drag on the page of 115k faces", best(runs, picture), DRAG_LIMIT
    finally:
        served.stop()
