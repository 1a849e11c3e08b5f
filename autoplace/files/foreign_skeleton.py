"""A skeleton of ours from the joints of a foreign file: names, directions, height, and notes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.files.joint_record import MOST_JOINTS, JointRecord, parents_first
from autoplace.skeleton.angles import angle_between
from autoplace.skeleton.convention import AXIS_NAMES, axis_vector
from autoplace.skeleton.hand import HAND_SHARE
from autoplace.skeleton.model import Joint, Skeleton, Source
from autoplace.skeleton.names import family
from autoplace.skeleton.roles import RoleGuess, Roles, guess_roles
from autoplace.skeleton.roles.flat import is_flat, parents_by_names

__all__ = ["RecognisedSkeleton", "as_vector", "recognise", "recognise_record", "unlike"]

FloatArray = NDArray[np.float64]
Direction = str | Sequence[float] | FloatArray | None

NEAR_AXIS = 20.0
"""Degrees: a direction from hips to head or from side to side that is nearer to an axis is meant to
be that axis, since files are made upright; common practice, no source."""
CONTRADICTED = 60.0
"""Degrees between what the format says and what the joints show, over which the joints decide."""


@dataclass(frozen=True)
class RecognisedSkeleton:
    """A skeleton under our names as far as they were recognised."""

    skeleton: Skeleton
    own_names: Mapping[str, str]
    """Name in `skeleton` -> the file's name."""
    guess: tuple[RoleGuess, ...] = ()
    notes: tuple[str, ...] = ()
    turned: Mapping[str, float] = field(default_factory=dict)
    """Name in `skeleton` -> degrees, of the joints that are turned."""
    scaled: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)


def recognise_record(
    record: JointRecord, path: Path, *, up: Direction = None, forward: Direction = None
) -> RecognisedSkeleton:
    """The joints of a file as a skeleton of ours; `up` and `forward` go before all else.

    Raises SkeletonError when the joints hang side by side and no name tells their parents.
    """
    notes = list(record.notes)
    parents = record.parents
    order = list(range(len(record.names)))
    if is_flat(parents):
        by_name = parents_by_names(record.names)
        order = parents_first(by_name)
        place_of = {old: new for new, old in enumerate(order)} | {-1: -1}
        parents = np.array([place_of[by_name[i]] for i in order], dtype=np.int64)
        notes.append("The joints hang side by side; what hangs from what was told by their names.")
    names = [record.names[i] for i in order]
    tips = [record.tips[i] for i in order] if record.tips else []
    said_up = as_vector(record.up if up is None else up)
    said_forward = as_vector(record.forward if forward is None else forward)
    roles = guess_roles(
        names,
        parents,
        record.positions[order],
        tips=tips,
        up=said_up,
        forward=said_forward,
        side=_side_in(path.stem),
    )
    ours = _distinct(names, roles.guesses)
    joints = tuple(
        Joint(
            name,
            ours[parents[i]] if parents[i] >= 0 else None,
            record.positions[order[i]].copy(),
            record.axes[order[i]].copy(),
        )
        for i, name in enumerate(ours)
    )
    source, settings = _directions(roles, record, up, forward, notes)
    upward = settings["orientation"]["up"] if settings else axis_vector(source.up)
    height = float(np.ptp(record.positions @ np.asarray(upward)))
    if not height > 0:
        height = float(np.linalg.norm(np.ptp(record.positions, axis=0))) or 1.0
    hands = _lone_hands(joints)
    if hands:
        height = max(_hand_length(joints, wrist) for wrist in hands) / HAND_SHARE
        part = "hand" if len(hands) == 1 else "hands"
        source = replace(source, part=part)
        notes.append(f"The height, {height:.4g}, is that of a person with such a hand.")
    else:
        notes.append(
            "The height of the character is not said; that of its joints along up, "
            f"{height:.4g}, is taken."
        )
    notes += roles.notes
    skeleton = Skeleton(joints, source=replace(source, height=height), settings=settings)
    own = dict(zip(ours, names, strict=True))
    turned = {n: float(record.turned[i]) for n, i in zip(ours, order, strict=True)}
    factors = {n: record.scaled[i].tolist() for n, i in zip(ours, order, strict=True)}
    return RecognisedSkeleton(
        skeleton,
        own,
        roles.guesses,
        tuple(notes),
        {name: degrees for name, degrees in turned.items() if degrees > 0},
        {name: (x, y, z) for name, (x, y, z) in factors.items() if (x, y, z) != (1.0, 1.0, 1.0)},
    )


def _lone_hands(joints: Sequence[Joint]) -> list[str]:
    """The wrists, if what was recognised is hands and nothing else."""
    known = [j.name for j in joints if family(j.name) is not None]
    fingers = [name for name in known if family(name) in ("finger", "metacarpal", "hand")]
    wrists = [name for name in known if family(name) == "hand"]
    return wrists if wrists and len(fingers) == len(known) > len(wrists) else []


def _hand_length(joints: Sequence[Joint], wrist: str) -> float:
    """From the wrist along the longest finger to its end."""
    way: dict[str, float] = {wrist: 0.0}
    at = {joint.name: joint.position for joint in joints}
    for joint in joints:
        if joint.parent in way:
            way[joint.name] = way[joint.parent] + float(
                np.linalg.norm(joint.position - at[joint.parent])
            )
    return max(way.values()) or 1.0


def recognise(skeleton: Skeleton) -> RecognisedSkeleton:
    """A skeleton that is kept in our format under other names than ours, under ours.

    The tree must be sound. A skeleton of which at least half the names are ours is left as it is,
    and so is one of more joints than any character has.
    """
    known = sum(family(name) is not None for name in skeleton.names)
    if 2 * known >= len(skeleton) or len(skeleton) > MOST_JOINTS:
        return RecognisedSkeleton(skeleton, {name: name for name in skeleton.names})
    place_of = {name: i for i, name in enumerate(skeleton.names)}
    parents = [-1 if j.parent is None else place_of[j.parent] for j in skeleton]
    roles = guess_roles(
        skeleton.names,
        np.array(parents, dtype=np.int64),
        skeleton.positions(),
        up=axis_vector(skeleton.source.up),
        forward=axis_vector(skeleton.source.forward),
    )
    ours = _distinct(skeleton.names, roles.guesses)
    to_ours = dict(zip(skeleton.names, ours, strict=True))
    joints = tuple(
        replace(
            joint,
            name=to_ours[joint.name],
            parent=None if joint.parent is None else to_ours[joint.parent],
            aim=None if joint.aim is None else to_ours.get(joint.aim, joint.aim),
        )
        for joint in skeleton
    )
    own = dict(zip(ours, skeleton.names, strict=True))
    return RecognisedSkeleton(skeleton.with_joints(joints), own, roles.guesses, roles.notes)


def unlike(name: str, taken: set[str]) -> str:
    """The name, with a number behind it if it is taken."""
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name}_{number}"
    return free


def as_vector(direction: Direction) -> FloatArray | None:
    """(3,) of an axis name or three numbers, unit; None for None.

    Raises SkeletonError for a word that is no axis.
    """
    if direction is None:
        return None
    if isinstance(direction, str):
        return axis_vector(direction)
    vector = np.asarray(direction, dtype=np.float64)
    size = float(np.linalg.norm(vector))
    return vector / size if size > 0 else vector


def _distinct(names: Sequence[str], guesses: Sequence[RoleGuess]) -> list[str]:
    """Our name where one was given, else the file's, made unlike all others and all of ours."""
    taken = {guess.name for guess in guesses if guess.name}
    distinct = []
    for name, guess in zip(names, guesses, strict=True):
        if guess.name:
            distinct.append(guess.name)
            continue
        plain = name or "joint"
        if family(plain) is not None:  # it would be taken for what it was not recognised as
            plain += "_2"
        free = unlike(plain, taken)
        taken.add(free)
        distinct.append(free)
    return distinct


def _side_in(text: str) -> str | None:
    """'left' or 'right', if a file's name says so."""
    said = [side for side in ("left", "right") if side in text.lower()]
    return said[0] if len(said) == 1 else None


def _directions(
    roles: Roles, record: JointRecord, up: Direction, forward: Direction, notes: list[str]
) -> tuple[Source, dict[str, Any]]:
    """Up and forward: as given, as the format says, or as the joints show."""
    upward = as_vector(up)
    if upward is None:
        upward = _agreed("up", as_vector(record.up), roles.up, notes)
    if upward is None:
        upward = axis_vector("+Y")
        notes.append("Which way is up is not said and does not show; +Y is taken: --up says it.")
    ahead = as_vector(forward)
    if ahead is None:
        shown = _level(roles.forward, upward)
        ahead = _agreed("forward", _level(as_vector(record.forward), upward), shown, notes)
    if ahead is None:
        ahead = next(
            v for a in ("+Z", "-Y") for v in (_level(axis_vector(a), upward),) if v is not None
        )
        notes.append(
            f"Where the figure faces is not said and does not show; {_axis_of(ahead)} is taken: "
            "--forward says it."
        )
    source = Source(up=_axis_of(upward), forward=_axis_of(ahead))
    off = max(
        angle_between(upward, axis_vector(source.up)),
        angle_between(ahead, axis_vector(source.forward)),
    )
    if source.up[1] == source.forward[1] or off > 1e-6:
        record_of_both = {"up": [float(v) for v in upward], "forward": [float(v) for v in ahead]}
        return source, {"orientation": record_of_both}
    return source, {}


def _agreed(
    what: str, said: FloatArray | None, shown: FloatArray | None, notes: list[str]
) -> FloatArray | None:
    """What the format says unless the joints plainly show another way; snapped to an axis."""
    if shown is None:
        return said
    if said is not None and angle_between(said, shown) <= CONTRADICTED:
        return said
    axis = axis_vector(_axis_of(shown))
    taken = axis if angle_between(axis, shown) <= NEAR_AXIS else shown
    name = _axis_of(shown) if taken is axis else " ".join(f"{v:.3f}" for v in taken)
    if said is not None:
        notes.append(
            f"The file's {what} is {_axis_of(said)} by its format, but by its joints the figure's "
            f"is {name}, which is taken: --{what} says another."
        )
    else:
        notes.append(f"By its joints the figure's {what} is {name}: --{what} says another.")
    return taken


def _level(direction: FloatArray | None, up: FloatArray) -> FloatArray | None:
    """The part of a direction at right angles to up, unit; None if there is hardly any."""
    if direction is None:
        return None
    flat = direction - (direction @ up) * up
    size = float(np.linalg.norm(flat))
    return flat / size if size > 0.1 else None


def _axis_of(direction: FloatArray) -> str:
    """The axis nearest to a direction."""
    return max(AXIS_NAMES, key=lambda name: float(axis_vector(name) @ direction))
