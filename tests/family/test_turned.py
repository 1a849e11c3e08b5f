"""Round figures that stand in their file turned about up, as exporters and posers leave them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.measure.frame import find_frame
from autoplace.mesh.prepare import prepare
from autoplace.pipeline import place
from meshes.box_family import box_family
from tests.family.built import Built, built
from tests.invariance.states import about

ROUND = ("b002", "b014", "b022", "b024", "b042", "b058")
"""A plane square to the file's axes fits their round heads and trunks, although they are turned."""
WITHIN = 3.0
"""Degrees; a plane nearer to an axis than this is put square to it."""


def member(number: str) -> Built:
    return built(next(one for one in box_family() if one.name.startswith(number)))


def about_up(figure: Built, degrees: float) -> np.ndarray:
    """(3, 3) a turn about the figure's own up, in its file's frame."""
    return figure.file_axes @ about((0, 1, 0), degrees) @ figure.file_axes.T


@pytest.mark.parametrize(
    ("number", "degrees"),
    [
        pytest.param(number, degrees, marks=[pytest.mark.wide] * (place % 2 != turn))
        for place, number in enumerate(ROUND)
        for turn, degrees in enumerate((12.0, 25.0))
    ],
)
def test_the_middle_plane_of_a_turned_figure_is_found(number, degrees):
    """Left, up and ahead lie within some degrees of where the figure was turned to."""
    figure = member(number)
    turn = about_up(figure, degrees)
    prepared = prepare(figure.character)
    character = prepared.character
    faces = character.faces[prepared.is_figure]
    frame = find_frame(character.vertices @ turn.T, faces)
    cosines = np.einsum("ij,ji->i", frame.rotation, turn @ figure.file_axes)
    assert np.degrees(np.arccos(np.clip(cosines, -1.0, 1.0))).max() < WITHIN


def placed_turned(number: str, degrees: float) -> float:
    """Degrees between where a turned figure faces and where it is found to, placed as a whole."""
    figure = member(number)
    turn = about_up(figure, degrees)
    parts = tuple(replace(part, vertices=part.vertices @ turn.T) for part in figure.character.parts)
    found = place(replace(figure.character, parts=parts)).frame.rotation[2]
    cosine = float(found @ turn @ figure.file_axes[:, 2])
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def test_a_turned_figure_without_eyes_is_no_hand():
    """Two arms that begin at one height are no thumb and little finger, nor does a hand end in
    legs."""
    assert placed_turned("b056", 24.0) < WITHIN


@pytest.mark.wide
def test_a_figure_in_clothes_is_found_turned_by_its_body():
    """Where the body is little of the surface and is measured by itself, it may be turned too."""
    assert placed_turned("b054", 24.0) < WITHIN
