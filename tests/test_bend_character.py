"""The bend test of a character: with its mesh, and alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace import bend
from autoplace.bend_character import bend_character
from autoplace.errors import SettingsError, SkeletonError
from tests.bent_files import tube_character
from tests.figures import moved


def test_with_its_mesh_eyeballs_are_turned_and_palms_felt():
    """Tubes along the bones have eyeballs that stay, and palms that the fingers close on."""
    character, skeleton = tube_character()
    result = bend_character(skeleton, character)
    assert result.report.passed
    flesh = result.subject.flesh
    assert set(flesh.eyeballs) == {"left_eye", "right_eye"}
    assert len(flesh.vertices) == sum(len(part.vertices) for part in character.parts)
    assert {k: len(v) > 0 for k, v in result.layers.items()} == {
        "body": True,
        "veil": False,
        "eye": True,
    }
    assert any(m.of == "stays" for m in result.report["eyes"].measures)
    assert not any(m.of == "stays" for m in bend(skeleton)["eyes"].measures)


def test_only_the_named_tests_are_run():
    """In their usual order, whatever the order they are named in; a wrong name lists the right."""
    _, skeleton = tube_character()
    report = bend(skeleton, only=("fist", "elbow"))
    assert [result.test for result in report.results] == ["elbow", "fist"]
    with pytest.raises(SettingsError, match="no bend test 'feast'; the tests are elbow, knee"):
        bend(skeleton, only=("feast",))


def test_the_mesh_may_stand_anywhere_in_any_units():
    """A character in centimetres, moved off the origin, gives the same numbers."""
    character, skeleton = tube_character()
    parts = tuple(
        replace(part, vertices=170 * part.vertices + [9, 0, -4]) for part in character.parts
    )
    there = replace(
        moved(skeleton, {j.name: 170 * j.position + [9, 0, -4] for j in skeleton}),
        source=replace(skeleton.source, height=170.0),
    )
    here, far = bend(skeleton, character), bend(there, replace(character, parts=parts))
    for one, other in zip(here.results, far.results, strict=True):
        assert [m.value for m in one.measures] == pytest.approx(
            [m.value for m in other.measures], abs=1e-6
        )


def test_a_mesh_in_other_units_is_refused():
    """A skeleton of height one with a mesh of 170 is told before anything is measured."""
    character, skeleton = tube_character()
    parts = tuple(replace(part, vertices=170 * part.vertices) for part in character.parts)
    with pytest.raises(SkeletonError, match="bring both to the same units"):
        bend(skeleton, replace(character, parts=parts))


def test_the_input_is_left_as_it_is():
    """Neither positions nor vertices are changed by bending."""
    character, skeleton = tube_character()
    before = skeleton.positions().copy(), character.vertices.copy()
    bend(skeleton, character)
    assert np.array_equal(before[0], skeleton.positions())
    assert np.array_equal(before[1], character.vertices)
