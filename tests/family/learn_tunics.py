"""Learns what tells a tunic's hem from a crotch: `python -m tests.family.learn_tunics`.

Learns from invented figures of boxes in three further deals, one of them of figures in tunics, and
from the dataset's bodies that may be looked at while tuning, none of which is reported on. Prints
the odds that `autoplace/place/tunic.py` holds, rounded there, and how many figures of another deal,
from which nothing was learned, these tell wrongly.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from unittest import mock

import numpy as np
from sklearn.linear_model import LogisticRegression

import autoplace
from autoplace import pipeline
from autoplace.errors import AutoplaceError
from autoplace.measure.hem_step import HemStep, measure_hem_step
from autoplace.mesh.character import Character
from autoplace.place.tunic import ODDS, TALLEST, arms_sign, hem_for_crotch, hem_odds
from meshes.box_family import COUNT, box_family
from meshes.box_kinds import TUNICS
from tests.dataset.bodies import build, tuning_list
from tests.family.built import built
from tests.report_options import at_once

DEALS = (12, 41, TUNICS)
TRIED = TUNICS + 1
EVERY = 3
"""Of the dataset's bodies every so many one is taken."""
MILDNESS = 3.0
"""Inverse weight of the ridge (common practice, no source)."""


@dataclass(frozen=True)
class Example:
    """Where the legs of one figure part."""

    step: HemStep
    heads_tall: float
    parting: float
    hem: bool
    """Whether they part at a tunic's hem."""

    def signs(self) -> list[float]:
        """What the odds are sums of, in the order of `ODDS` without the last."""
        return [
            hem_for_crotch(self.heads_tall, self.parting),
            float(np.log(self.step.area)),
            float(np.log(max(self.step.broad, 1.0))),
            self.step.gap,
            1.0 / min(self.heads_tall, TALLEST),
            arms_sign(self.step),
        ]


class _SeenError(Exception):
    """Ends a placing when what is learned from is known."""


def seen(character: Character, hem: bool) -> Example | None:
    """Where the legs part, as `place` measures it; None where it finds no two legs below."""
    found: list[Example] = []

    def measured(solid, limbs, trunk):
        step = measure_hem_step(solid, limbs, trunk)
        if step is not None:
            found.append(Example(step, trunk.heads_tall, float(trunk.crotch[1]), hem))
        raise _SeenError

    with (
        mock.patch.object(pipeline, "find_hem", measured),
        suppress(_SeenError, AutoplaceError),
    ):
        autoplace.place(character)
    return found[0] if found else None


def of_box(deal: int, number: int) -> Example | None:
    member = box_family(deal)[number]
    return seen(built(member).character, member.params.hem is not None)


def of_body(number: int) -> Example | None:
    return seen(build(tuning_list()[number]).character, hem=False)


def learned(examples: Sequence[Example]) -> dict[str, float]:
    """The odds, by the names of `ODDS`; hems and crotches count alike, however many there are."""
    law = LogisticRegression(C=MILDNESS, class_weight="balanced")
    law.fit(np.array([one.signs() for one in examples]), [one.hem for one in examples])
    return dict(zip(ODDS, [*map(float, law.coef_[0]), float(law.intercept_[0])], strict=True))


def wrong(examples: Sequence[Example]) -> tuple[int, int]:
    """How many crotches the odds take for hems, and how many hems for crotches."""
    told = [hem_odds(one.step, one.heads_tall, one.parting) > 0.0 for one in examples]
    pairs = list(zip(examples, told, strict=True))
    return (
        sum(hem and not one.hem for one, hem in pairs),
        sum(one.hem and not hem for one, hem in pairs),
    )


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.family.learn_tunics")
    parser.add_argument("--workers", type=int, default=2)
    workers = parser.parse_args().workers

    def shown(of_one: Callable[[int], Example | None], numbers: range) -> list[Example]:
        return [one for one in at_once(of_one, numbers, workers) if one is not None]

    rows = [shown(partial(of_box, deal), range(COUNT)) for deal in DEALS]
    rows.append(shown(of_body, range(0, len(tuning_list()), EVERY)))
    examples = [one for row in rows for one in row]
    others = shown(partial(of_box, TRIED), range(COUNT))
    for name, value in learned(examples).items():
        print(f"{name:<8}{value:8.2f}   held {ODDS[name]:6.2f}")
    for what, some in (("learned from", examples), (f"deal {TRIED}", others)):
        false, missed = wrong(some)
        hems = sum(one.hem for one in some)
        print(
            f"{what}: {len(some)} figures, {hems} hems; {false} crotches taken for hems, "
            f"{missed} hems for crotches"
        )


if __name__ == "__main__":
    main()
