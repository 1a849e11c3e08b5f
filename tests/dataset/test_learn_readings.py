"""What is learned of shapes, on shapes whose law is known."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.decomposition import PCA
from sklearn.linear_model import Ridge

from autoplace.data import data_folder
from autoplace.place.readings import known_shapes
from meshes.family import family
from tests.dataset.bodies import OPEN_BUILDS, OPEN_GROUP
from tests.dataset.learn_readings import (
    COMPONENTS,
    COUNT,
    EXTREMES,
    FOLDS,
    MADE_ALIKE,
    RIDGE,
    Example,
    describe,
    fit,
    learn,
    members,
    specs,
    text_of,
)


def shapes(count=400):
    """(m, 6) shapes that differ in two ways together, and (m, 3) joints that follow these."""
    draw = np.random.default_rng(3)
    ways = draw.normal(size=(count, 2))
    values = ways @ draw.normal(size=(2, 6)) + 0.01 * draw.normal(size=(count, 6)) + 5.0
    return values, ways @ np.array([[0.02, 0.0, 0.01], [0.0, 0.03, -0.01]]) + 0.4


def test_components_are_those_of_a_reference_library():
    """The main ways and the deviation along them are scikit-learn's, up to sign."""
    values, _ = shapes()
    known = describe(values, 2)
    reference = PCA(2).fit((values - values.mean(axis=0)) / values.std(axis=0))
    assert np.abs(np.sum(known.basis * reference.components_, axis=1)) == pytest.approx([1, 1])
    expected = np.sqrt(reference.explained_variance_ * (len(values) - 1) / len(values))
    assert known.deviation == pytest.approx(expected)


def test_weights_are_those_of_a_reference_library():
    """The regression on the components is scikit-learn's ridge regression."""
    values, at = shapes()
    known = describe(values, 2)
    reader = fit(known, values, at)
    parts = known.components(values)
    reference = Ridge(alpha=RIDGE).fit(parts - parts.mean(axis=0), at)
    assert reader.weight == pytest.approx(reference.coef_, rel=1e-2, abs=1e-5)
    assert reader.middle == pytest.approx(at.mean(axis=0))


def test_a_law_that_is_linear_is_learned():
    """Joints that follow two ways of differing are read to a tenth of how far they vary."""
    values, at = shapes()
    known = describe(values, 2)
    reader = fit(known, values, at)
    error = reader.middle + known.components(values) @ reader.weight.T - at
    assert (error.std(axis=0) < 0.25 * at.std(axis=0)).all()


def test_only_open_bodies_are_learned_from():
    """No body is learned from whose build is reported on for its sex and age."""
    found = specs()
    assert all(spec.tuning for spec in found)
    assert all(
        (spec.sex, spec.age) == OPEN_GROUP or (spec.muscle, spec.weight) in OPEN_BUILDS
        for spec in found
    )
    assert len({spec.group for spec in found}) == 8
    assert len({spec.name for spec in found}) > 250


def test_extremes_are_those_of_the_group_that_may_be_looked_at():
    """Bodies in builds that are open of one group only are of that group."""
    extremes = specs()[COUNT:]
    assert len(extremes) == EXTREMES
    assert {(spec.sex, spec.age) for spec in extremes} == {OPEN_GROUP}
    assert not {(spec.muscle, spec.weight) for spec in extremes} & set(OPEN_BUILDS)


def test_only_even_members_are_learned_from():
    """Of the invented family every second member is learned from; the others are left to report
    on."""
    numbers = [int(member.params.name[1:4]) for member in members()]
    assert len(numbers) == len(family()) // 2
    assert not [number for number in numbers if number % 2]
    assert {number // 2 % FOLDS for number in numbers} == set(range(FOLDS))


@pytest.mark.parametrize("invented", [False, True])
def test_invented_figures_are_less_alike_than_they_are_made(invented, capsys):
    """What follows a law to the thousandth is read as surely of people; of invented figures, no
    surer than figures of different makers agree."""
    values = np.tile(shapes()[0], 4)
    at = np.full((len(values), 3), 0.5)
    some = [
        Example("leg", "knee", f"g{i % 4}", f"b{i % 4}", value, place, 100.0, invented)
        for i, (value, place) in enumerate(zip(values, at, strict=True))
    ]
    known = learn(some, COMPONENTS["leg"])
    assert "400 shapes" in capsys.readouterr().out
    expected = MADE_ALIKE if invented else 0.0
    assert known.joints["knee"].spread == pytest.approx(np.full(3, expected), abs=1e-9)
    assert ("invented" in known.source) == invented


@pytest.mark.parametrize(
    "kind", sorted(path.stem for path in (data_folder("templates") / "readings").glob("*.json"))
)
def test_what_is_learned_is_read_as_it_was_written(kind):
    """The file of every kind is what would be written of what is read from it."""
    module = "tests.hands.learn_thumb" if kind == "thumb" else "tests.dataset.learn_readings"
    text = (data_folder("templates") / "readings" / f"{kind}.json").read_text(encoding="utf-8")
    assert text_of(known_shapes(kind), module) == text
