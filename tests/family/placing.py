"""Places the members of the family and scores what comes out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from autoplace.mesh.character import Character
from meshes.family import Member
from tests.dataset.placing import place_and_score
from tests.dataset.scores import LIMBS, Outcome, Target
from tests.family.built import Built, built
from tests.report_options import at_once

TARGETS = {"limbs": Target(0.8, 2.2)}
"""Of the joints of which something can be seen."""


@dataclass(frozen=True)
class Scored:
    """A member placed, or not."""

    outcome: Outcome
    hidden: tuple[str, ...]
    """Joints under a garment that hangs to the floor."""
    swapped: tuple[str, ...]
    """Limb joints that lie nearer to the other side's known joint than to their own."""
    findings: tuple[str, ...] = ()

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


def score(member: Member, pictures: Path | None = None) -> Scored:
    """One member through the public `place`."""
    one: Built = built(member)
    kept: list[Any] = []

    def place(character: Character) -> Any:
        import autoplace

        kept.append(autoplace.place(character))
        return kept[-1]

    turns = dict.fromkeys(one.joints, one.file_axes)
    labels = dict(member.traits)
    outcome = place_and_score(
        one.character, one.joints, one.height, labels, turns, pictures, place=place
    )
    if not kept:
        return Scored(replace(outcome, labels={**labels, "template": "-"}), member.hidden, ())
    skeleton = kept[-1].skeleton
    placed = {joint.name: np.asarray(joint.position) for joint in skeleton}
    outcome = replace(outcome, labels={**labels, "template": skeleton.template})
    findings = tuple(f"{f.check} {f.joint or ''}: {f.message}" for f in skeleton.findings)
    return Scored(outcome, member.hidden, swapped_sides(placed, one.joints), findings)


def score_all(
    members: list[Member], workers: int = 2, pictures: Path | None = None
) -> list[Scored]:
    """Members in the order given, several at once."""
    return at_once(partial(score, pictures=pictures), members, workers)
