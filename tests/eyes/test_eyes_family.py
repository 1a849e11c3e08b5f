"""Every way of modelling eyes: one head each always, two hundred heads and more when asked for."""

from __future__ import annotations

import numpy as np
import pytest

from tests.eyes.cases import CASES, PLAIN_ONLY
from tests.eyes.hosts import light_host, plain_host
from tests.eyes.judging import Judged, judge
from tests.eyes.report import cases, table

EXACT = 0.001
"""Radii: what is asked of whole spheres."""
CAP = 0.02
"""Radii: what is asked of a third of a sphere with one percent of noise."""
BY_FACE = ("sockets_only", "lids_cut_open", "one_with_the_skin")
BY_BALLS = [name for name in CASES if name not in BY_FACE]
"""The others run the whole placing and are tested with it."""
NOISY = ("third_cap", "uneven_ball")
WRONG_TODAY = 4
"""Of some 500 eyes, when this was last looked at: heads of which the face alone tells. May only go
down."""


def limit(name: str) -> float:
    """Of the centre's error in radii."""
    return CAP if name in NOISY else EXACT


@pytest.mark.parametrize("name", [n for n in BY_BALLS if n != "nothing_shows"])
def test_one_head(name):
    """Eyes are found, nothing else is taken for one, and centre and look are as close as asked."""
    host = plain_host(1.2) if name in PLAIN_ONLY else light_host()
    rows = judge(CASES[name](host, np.random.default_rng(11)))
    assert [row for row in rows if row.problem] == []
    for row in rows:
        if row.eye != "none":
            assert row.error < limit(name)
            assert row.error < 2 * row.spread + 1e-6
            assert not row.look > 3


@pytest.fixture(scope="module")
def whole() -> list[Judged]:
    return [row for case in cases(False, 10, None) for row in judge(case)]


@pytest.mark.family
def test_all_heads(whole):
    """No more eyes are missed or made up than today, and none where there are eyeballs."""
    wrong = [row for row in whole if row.problem]
    told = "\n".join(table(whole) + [str(row) for row in wrong])
    assert len(wrong) <= WRONG_TODAY, told
    assert {row.case for row in wrong} <= set(BY_FACE), told


@pytest.mark.family
def test_centres_of_all_heads(whole):
    """Whole balls within a thousandth of the radius, noisy thirds within two hundredths."""
    for name in BY_BALLS:
        errors = [row.error for row in whole if row.case == name and row.error == row.error]
        if errors:
            assert max(errors) < limit(name), name


@pytest.mark.family
def test_looks_of_all_heads(whole):
    """Where the shape shows the look it is read to two degrees."""
    looks = [row.look for row in whole if row.look == row.look]
    assert len(looks) > 150
    assert max(looks) < 2
