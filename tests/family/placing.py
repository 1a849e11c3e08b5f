"""Places the members of the invented families and scores what comes out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

from autoplace.mesh.character import Character
from meshes.box_family import BoxMember
from meshes.family import Member
from tests.dataset.bones import FINGERS
from tests.dataset.placing import place_and_score
from tests.dataset.scores import LIMBS, Outcome, Target, problems_of
from tests.family.built import Built, built
from tests.report_options import at_once

TARGETS = {"limbs": Target(0.8, 2.2)}
"""Of the joints of which something can be seen."""
BOX_TARGETS = {"limbs": Target(median=2.0, worst=5.0)}
"""Likewise for figures modelled coarsely, whose makers put joints coarsely too."""


@dataclass(frozen=True)
class Scored:
    """A member placed, or not."""

    outcome: Outcome
    hidden: tuple[str, ...]
    """Joints under a garment that hangs to the floor."""
    swapped: tuple[str, ...]
    """Limb joints that lie nearer to the other side's known joint than to their own."""
    findings: tuple[str, ...] = ()
    in_body: tuple[str, ...] = ()
    """The problems but for those of fingers."""

    @property
    def seen(self) -> Outcome:
        """Without the hidden joints."""
        misses = {n: m for n, m in self.outcome.misses.items() if n not in self.hidden}
        return replace(self.outcome, misses=misses)

    @property
    def unseen(self) -> Outcome:
        """The hidden joints only."""
        misses = {n: m for n, m in self.outcome.misses.items() if n in self.hidden}
        return replace(self.outcome, misses=misses)


def swapped_sides(placed: dict[str, np.ndarray], known: dict[str, np.ndarray]) -> tuple[str, ...]:
    """Limb joints nearer to the other side's known joint than to their own."""
    found = []
    for name, position in placed.items():
        side, _, stem = name.partition("_")
        other = f"{'right' if side == 'left' else 'left'}_{stem}"
        if stem not in LIMBS or name not in known or other not in known:
            continue
        own = np.linalg.norm(position - known[name])
        if np.linalg.norm(position - known[other]) < own:
            found.append(name)
    return tuple(found)


def told_apart(scored: list[Scored]) -> tuple[list[Scored], list[Scored]]:
    """Members of odd number, and those of even number, that readings are learned from."""
    found: tuple[list[Scored], list[Scored]] = ([], [])
    for one in scored:
        number = int(one.outcome.name.split("_")[0][1:])
        found[number % 2 == 0].append(one)
    return found


def no_finger(name: str) -> bool:
    """Whether a joint is none of a hand's beyond the wrist."""
    stem = name.removeprefix("left_").removeprefix("right_")
    return stem.split("_")[0] not in FINGERS


def score(member: Member | BoxMember, pictures: Path | None = None) -> Scored:
    """One member through the public `place`."""
    one: Built = built(member)
    kept: list[Any] = []

    def place(character: Character) -> Any:
        import autoplace

        kept.append(autoplace.place(character).skeleton)
        return SimpleNamespace(
            skeleton=[joint for joint in kept[-1] if not joint.name.startswith(untold)]
        )

    turns = dict.fromkeys(one.joints, one.file_axes)
    labels = dict(member.traits)
    untold = member.untold if isinstance(member, BoxMember) else ()
    outcome = place_and_score(
        one.character, one.joints, one.height, labels, turns, pictures, place=place
    )
    if not kept:
        outcome = replace(outcome, labels={**labels, "template": "-"})
        return Scored(outcome, member.hidden, (), in_body=outcome.problems)
    skeleton = kept[-1]
    placed = {joint.name: np.asarray(joint.position) for joint in skeleton}
    outcome = replace(outcome, labels={**labels, "template": skeleton.template})
    findings = tuple(f"{f.check} {f.joint or ''}: {f.message}" for f in skeleton.findings)
    body = {j.name: (np.asarray(j.position), 0.0) for j in skeleton if no_finger(j.name)}
    body = {name: place for name, place in body.items() if not name.startswith(untold)}
    known = {name: at for name, at in one.joints.items() if no_finger(name)}
    in_body = problems_of(body, known, outcome.misses)
    swapped = swapped_sides(placed, one.joints)
    return Scored(outcome, member.hidden, swapped, findings, in_body)


def score_all(
    members: list[Member] | list[BoxMember], workers: int = 2, pictures: Path | None = None
) -> list[Scored]:
    """Members in the order given, several at once."""
    return at_once(partial(score, pictures=pictures), members, workers)
