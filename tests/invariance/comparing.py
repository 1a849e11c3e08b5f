"""Places a character in a state and compares with its joints in the unchanged state."""

from __future__ import annotations

import time
import traceback
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from autoplace.mesh.character import Character
from tests.invariance.states import Changed, moved

__all__ = ["TARGET", "Followed", "Subject", "follow", "placed_joints", "subjects"]

TARGET = 0.3
"""Percent of height that a joint may move by when the mesh's state changes."""


@dataclass(frozen=True)
class Subject:
    """A character that is put into the states."""

    name: str
    character: Character
    known: dict[str, np.ndarray]
    """(3,) known joints, used to cut it up and never to judge it."""


@dataclass(frozen=True)
class Followed:
    """How the joints of one character followed one state."""

    subject: str
    state: str
    moved: dict[str, float] = field(default_factory=dict)
    """By joint: distance from where it lies in the unchanged mesh, percent of height."""
    problems: tuple[str, ...] = ()
    """An error, joints missing, joints too many."""
    seconds: float = 0.0

    @property
    def worst(self) -> float:
        return np.inf if self.problems else max(self.moved.values())

    @property
    def holds(self) -> bool:
        return self.worst <= TARGET


BODIES = (
    ("male", "young", "rest"),
    ("female", "child", "t_pose"),
    ("female", "old", "a_pose"),
    ("male", "child", "arms_down"),
    ("male", "old", "one_up"),
    ("female", "baby", "t_pose"),
    ("male", "baby", "random"),
    ("male", "young", "random"),
)
"""Bodies of the open dataset: the first of each group in that pose."""
FROM_Z_UP = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])
DEMO = ("keeper", "lamplighter", "ferryman", "bell_child")


def subjects(names: tuple[str, ...] | None = None) -> list[Subject]:
    """Bodies of the open dataset and the demo characters; those whose name holds one of `names`."""
    from tests.bad_input.shapes import demo_character
    from tests.dataset.bodies import build, report_list

    def wanted(name: str) -> bool:
        return names is None or any(part in name for part in names)

    found = []
    for sex, age, pose in BODIES:
        if wanted(f"{sex}_{age}_{pose}"):
            spec = next(s for s in report_list() if (s.sex, s.age, s.pose) == (sex, age, pose))
            body = build(spec)
            found.append(Subject(f"{sex}_{age}_{pose}", body.character, body.joints))
    found += [_upright(Subject(name, *demo_character(name))) for name in DEMO if wanted(name)]
    return found


def _upright(subject: Subject) -> Subject:
    """A demo character turned to stand on +Y, as the states expect; one of them stands on +Z."""
    rise = subject.known["head"] - subject.known["left_ankle"]
    if rise[1] > rise[2]:
        return subject
    return Subject(
        subject.name,
        moved(FROM_Z_UP)(subject.character, subject.known).character,
        {name: FROM_Z_UP @ place for name, place in subject.known.items()},
    )


def placed_joints(character: Character) -> dict[str, np.ndarray]:
    """(3,) by name; an equal character is placed once in a run."""
    from tests.placed_once import place_once

    return {joint.name: np.asarray(joint.position) for joint in place_once(character).skeleton}


def follow(
    subject: str,
    state: str,
    changed: Changed,
    joints: Mapping[str, np.ndarray],
    height: float,
) -> Followed:
    """Place a changed character and compare with the joints of the unchanged one."""
    start = time.perf_counter()
    try:
        placed = placed_joints(changed.character)
    except Exception as error:  # whatever it is, it belongs in the table
        where = traceback.extract_tb(error.__traceback__)[-1]
        said = f"{type(error).__name__}: {error} ({Path(where.filename).name}:{where.lineno})"
        return Followed(subject, state, problems=(said,))
    seconds = time.perf_counter() - start
    moved = {}
    missing = []
    for name, position in joints.items():
        there = placed.pop(_other_side(name) if changed.swapped else name, None)
        if there is None:
            missing.append(name)
            continue
        moved[name] = 100.0 * float(np.linalg.norm(changed.back(there) - position)) / height
    problems = []
    if missing:
        problems.append(f"{len(missing)} joints missing: {', '.join(missing[:4])}")
    if placed:
        problems.append(f"{len(placed)} joints too many: {', '.join(list(placed)[:4])}")
    return Followed(subject, state, moved, tuple(problems), seconds)


def _other_side(name: str) -> str:
    for side, other in (("left_", "right_"), ("right_", "left_")):
        if name.startswith(side):
            return other + name.removeprefix(side)
    return name
