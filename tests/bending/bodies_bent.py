"""Bends the open dataset's bodies and the demo characters, with placed and with known joints."""

from __future__ import annotations

import json
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from autoplace import bend, orient, place
from autoplace.bend_character import bend_character
from autoplace.mesh.character import Character
from autoplace.result import PlaceResult
from autoplace.skeleton.bending.records import BendReport
from autoplace.skeleton.model import Skeleton
from tests.dataset.bodies import BodySpec, build
from tests.dataset.placing import demo_truths
from tests.orientation.measures import skeleton_of
from tests.placed_once import demo_character, placed_demo
from tests.report_options import at_once


@dataclass(frozen=True)
class Bent:
    """One character."""

    name: str
    placed: BendReport | None
    """Its joints as they were placed; None when placing or bending broke down."""
    known: BendReport | None
    """Its own joints, oriented by us: what placing has no part in."""
    problem: str = ""
    """What broke down."""


def bend_body(spec: BodySpec, pictures: Path | None = None) -> Bent:
    """One dataset body."""
    body = build(spec)
    known = skeleton_of(body.joints, body.height)
    return _bent(body.character, known, spec.name, pictures, lambda: place(body.character))


def bend_demo(number: int, pictures: Path | None = None) -> Bent:
    """One demo character, read from its file."""

    mesh, truth = demo_truths()[number]
    record = json.loads(truth.read_text(encoding="utf-8"))
    joints = {name: np.array(place, dtype=float) for name, place in record["joints"].items()}
    known = skeleton_of(joints, float(record["height"]))
    ways = {"up": record["up"], "forward": record["forward"]}
    known = replace(known, source=replace(known.source, **ways))
    character = demo_character(mesh.stem)
    return _bent(character, known, mesh.stem, pictures, lambda: placed_demo(mesh.stem))


def bend_all(
    specs: Sequence[BodySpec],
    *,
    demo: bool = True,
    pictures: Path | None = None,
    workers: int = 2,
) -> tuple[list[Bent], list[Bent]]:
    """Bodies and demo characters, in the order given, several at once."""
    numbers = range(len(demo_truths())) if demo else range(0)
    body, figure = partial(bend_body, pictures=pictures), partial(bend_demo, pictures=pictures)
    return at_once(body, specs, workers), at_once(figure, numbers, workers)


def _bent(
    character: Character,
    known: Skeleton,
    name: str,
    pictures: Path | None,
    placing: Callable[[], PlaceResult],
) -> Bent:

    try:
        placed = placing().skeleton
        result = bend_character(placed, character)
        own = bend(orient(known), character)
    except Exception as error:  # whatever it is, it belongs in the list of failures
        where = traceback.extract_tb(error.__traceback__)[-1]
        problem = f"{type(error).__name__}: {error} ({Path(where.filename).name}:{where.lineno})"
        return Bent(name, None, None, problem)
    if pictures is not None:
        from autoplace.show.bend_strip import render_bend_strip
        from autoplace.show.sheet import write_sheet

        image = render_bend_strip(result.subject, result.layers, result.report, title=name)
        write_sheet(image, pictures / f"{name}.bend.png")
    return Bent(name, result.report, own)
