"""Places the bodies and the demo characters and scores what comes out."""

from __future__ import annotations

import json
import time
import traceback
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from autoplace.mesh.character import Character
from tests.dataset.bodies import BodySpec, build
from tests.dataset.pictures import sheet
from tests.dataset.scores import Outcome, misses_of, problems_of
from tests.report_options import at_once

MESHES = Path(__file__).resolve().parents[2] / "meshes"
MESH_ENDINGS = (".obj", ".glb", ".ply", ".stl", ".gltf")


def place_and_score(
    character: Character,
    known: dict[str, np.ndarray],
    height: float,
    labels: dict[str, str],
    bone_turns: dict[str, np.ndarray] | None = None,
    pictures: Path | None = None,
    place: Callable[[Character], Any] | None = None,
) -> Outcome:
    """One character through the public `place`; any error it raises is a failure, not a crash."""
    start = time.perf_counter()
    try:
        if place is None:
            from autoplace import place
        result = place(character)
    except Exception as error:  # whatever it is, it belongs in the list of failures
        where = traceback.extract_tb(error.__traceback__)[-1]
        problem = f"{type(error).__name__}: {error} ({Path(where.filename).name}:{where.lineno})"
        return Outcome(character.name, labels, problems=(problem,))
    seconds = time.perf_counter() - start
    placed = {
        joint.name: (np.asarray(joint.position), float(joint.spread)) for joint in result.skeleton
    }
    misses = misses_of(placed, known, height, bone_turns)
    if pictures is not None:
        ours = {name: position for name, (position, _) in placed.items()}
        views = ("front", "side", "top")
        sheet(
            pictures / f"{character.name}.png",
            [(character.name, character, known, ours, None)],
            views,
        )
    problems = problems_of(placed, known, misses)
    return Outcome(character.name, labels, misses, problems, seconds)


def score_body(spec: BodySpec, pictures: Path | None = None) -> Outcome:
    """One dataset body."""
    body = build(spec)
    labels = {
        "group": body.spec.group,
        "age": spec.age,
        "pose": spec.pose,
        "weight": spec.weight,
        "muscle": spec.muscle,
        "proportions": "its own" if spec.proportions else "of its group",
    }
    return place_and_score(
        body.character, body.joints, body.height, labels, body.bone_turns, pictures
    )


def score_bodies(
    specs: list[BodySpec], workers: int = 2, pictures: Path | None = None
) -> list[Outcome]:
    """Dataset bodies, in the order given, several at once."""
    return at_once(partial(score_body, pictures=pictures), specs, workers)


def demo_truths() -> list[tuple[Path, Path]]:
    """Mesh and known joints of every demo character."""
    pairs = []
    for truth in sorted(MESHES.glob("*.truth.json")):
        stem = truth.name.removesuffix(".truth.json")
        meshes = [
            truth.with_name(stem + ending)
            for ending in MESH_ENDINGS
            if truth.with_name(stem + ending).exists()
        ]
        if meshes:
            pairs.append((meshes[0], truth))
    return pairs


def score_demo(
    mesh: Path,
    truth: Path,
    pictures: Path | None = None,
    place: Callable[[Character], Any] | None = None,
) -> Outcome:
    """One demo character, read from its file as a user would; through the public `place`, if no
    other is given."""
    import autoplace

    record = json.loads(truth.read_text(encoding="utf-8"))
    known = {name: np.array(place, dtype=float) for name, place in record["joints"].items()}
    try:
        character = autoplace.load(mesh)
    except Exception as error:
        return Outcome(mesh.stem, problems=(f"not read: {type(error).__name__}: {error}",))
    height = float(record["height"])
    return place_and_score(character, known, height, {}, pictures=pictures, place=place)
