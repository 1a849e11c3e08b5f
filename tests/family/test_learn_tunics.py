"""What is learned of hems, on figures whose law is known."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.hem_step import HemStep
from autoplace.mesh.load import character_from_arrays
from autoplace.place.tunic import ODDS
from tests.family.learn_tunics import Example, learned, seen, wrong
from tests.measure.test_piece_legs import blocks


def examples(count: int = 4000) -> list[Example]:
    """Figures whose legs part at a hem by the odds as they are held."""
    draw = np.random.default_rng(5)
    found = []
    for _ in range(count):
        step = HemStep(
            draw.uniform(1.0, 1.5),
            np.exp(draw.uniform(0.1, 1.6)),
            draw.uniform(0, 0.4),
            draw.uniform(0.6, 1.6),
        )
        one = Example(step, draw.uniform(2.0, 8.5), draw.uniform(0.15, 0.5), hem=False)
        signs = dict(zip(ODDS, [*one.signs(), 1.0], strict=True))
        odds = sum(ODDS[name] * value for name, value in signs.items())
        hem = bool(draw.random() < 1.0 / (1.0 + np.exp(-odds)))
        found.append(Example(one.step, one.heads_tall, one.parting, hem))
    return found


def test_a_known_law_is_learned_again():
    """From figures that follow the odds the same odds are learned, but for how often hems are."""
    known = examples()
    law = learned(known)
    for name, value in ODDS.items():
        if name != "none":
            assert law[name] == pytest.approx(value, rel=0.25, abs=0.7), law


def test_what_is_told_wrongly_is_counted_by_kind():
    """A crotch with a hem's signs and a hem with a crotch's are one each."""
    hem, crotch = HemStep(1.2, 3.0, 0.3), HemStep(1.0, 1.2, 0.05)
    rows = [(hem, True), (hem, False), (crotch, True), (crotch, False)]
    assert wrong([Example(step, 7.5, 0.38, told) for step, told in rows]) == (1, 1)


def test_what_is_learned_from_is_what_placing_measures():
    """Blocks for legs are seen below the trunk's block, and what was told beforehand is kept."""
    one = seen(character_from_arrays(blocks(-0.01)), hem=False)
    assert one is not None
    assert one.parting == pytest.approx(0.36, abs=0.02)
    assert not one.hem
