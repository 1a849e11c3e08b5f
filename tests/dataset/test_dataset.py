"""The placing on bodies whose joints are known: a few each time, all of them when asked for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.skeleton.names import family
from tests.dataset import scores
from tests.dataset.bodies import BodySpec, report_list
from tests.dataset.placing import demo_truths, score_bodies, score_demo
from tests.placed_once import place_once

QUICK = (
    ("female", "baby", "a_pose"),
    ("male", "young", "t_pose"),
    ("male", "child", "random"),
    ("female", "old", "arms_down"),
)


def quick_specs() -> list[BodySpec]:
    specs = report_list()
    return [
        next(spec for spec in specs if (spec.sex, spec.age, spec.pose) == wanted)
        for wanted in QUICK
    ]


def assert_targets(outcomes: list[scores.Outcome], targets: dict[str, scores.Target]) -> None:
    lines, met = scores.group_table(outcomes, {}, targets)
    failures = [outcome for outcome in outcomes if outcome.problems]
    table = "\n".join(lines + scores.failure_lines(outcomes) + scores.worst_lines(outcomes))
    assert not failures, table
    assert met, table


@pytest.mark.usefixtures("_dataset")
def test_few_bodies_are_within_the_targets() -> None:
    """Four bodies of different sex, age and pose meet what is held of all of them."""
    assert_targets(score_bodies(quick_specs(), workers=1), scores.HELD_TARGETS)


@pytest.mark.usefixtures("_dataset")
def test_hands_against_the_thighs_are_read_by_their_skin() -> None:
    """Three bodies with hanging arms: no joint is missing, the fingers' are within the target, and
    none of an arm is farther off than a fat shoulder is anyway."""
    specs = [replace(spec, pose="hanging", seed=0) for spec in quick_specs()[1:]]
    outcomes = score_bodies(specs, workers=1)
    assert not [outcome.problems for outcome in outcomes if outcome.problems]
    for outcome in outcomes:
        fingers = [m.distance for name, m in outcome.misses.items() if family(name) == "finger"]
        arms = [m.distance for name, m in outcome.misses.items() if family(name) == "arm"]
        assert np.median(fingers) < 0.22
        assert max(arms) < 3.0


@pytest.fixture(scope="module")
def outcomes() -> list[scores.Outcome]:
    specs = report_list()
    assert len(specs) >= 80
    return score_bodies(specs)


@pytest.mark.dataset
@pytest.mark.usefixtures("_dataset")
def test_all_bodies_are_placed_as_well_as_is_held(outcomes) -> None:
    """Every body reported on is placed without failure, as near as it is today."""
    assert_targets(outcomes, scores.HELD_TARGETS)


@pytest.mark.dataset
@pytest.mark.usefixtures("_dataset")
@pytest.mark.xfail(
    strict=True, reason="hips and elbows of the fattest and thinnest bodies, eyes of old women"
)
def test_all_bodies_are_within_the_targets(outcomes) -> None:
    """Every body reported on is placed without failure, and together they meet the targets."""
    assert_targets(outcomes, scores.DATASET_TARGETS)


@pytest.mark.dataset
@pytest.mark.usefixtures("_dataset")
def test_spreads_are_honest(outcomes) -> None:
    """About two thirds of the limbs' and trunk's errors lie within one standard deviation along
    each axis, and about 95 of 100 within two."""
    for group in ("limbs", "trunk"):
        one, two = scores.within_spreads(outcomes, group)
        assert 0.6 < one < 0.85, group
        assert two > 0.92, group


def test_demo_characters_are_within_the_targets() -> None:
    """The invented characters, read from their files, meet their own targets."""
    pairs = demo_truths()
    assert len(pairs) >= 4
    outcomes = [score_demo(mesh, truth, place=place_once) for mesh, truth in pairs]
    assert np.isfinite(scores.errors(outcomes)).all()
    assert_targets(outcomes, scores.DEMO_TARGETS)
