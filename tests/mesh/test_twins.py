"""`mesh.twins`: the same piece on the other side, in whatever pose."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.mesh.character import Character
from autoplace.mesh.islands import find_islands
from autoplace.mesh.load import character_from_arrays
from autoplace.mesh.spheres import measure_islands
from autoplace.mesh.twins import find_twin
from tests.mesh.capsule_figures import box, capsule


def arm(side, bend):
    """A straight tube from (.2, .8) aside with a hinge at .36, bent forward there by degrees."""
    angles = np.arange(8) * np.pi / 4
    rings = []
    for x in (0.2, 0.26, 0.32, 0.36, 0.40, 0.46, 0.5):
        turn = np.radians(bend) * float(np.clip((x - 0.32) / 0.08, 0.0, 1.0))
        ahead = 0.035 * np.sin(angles)
        along = x - 0.36
        rings.append(
            np.stack(
                [
                    0.36 + np.cos(turn) * along - np.sin(turn) * ahead,
                    0.8 + 0.035 * np.cos(angles),
                    np.sin(turn) * along + np.cos(turn) * ahead,
                ],
                axis=1,
            )
        )
    faces = []
    for ring in range(len(rings) - 1):
        for k in range(8):
            a, b = 8 * ring + k, 8 * ring + (k + 1) % 8
            faces += [(a, b, a + 8), (b, b + 8, a + 8)]
    return np.concatenate(rings) * [side, 1.0, 1.0], np.array(faces)


def measured(*meshes):
    """Measures of pieces in their order."""
    parts = {f"Object{i:03}": mesh for i, mesh in enumerate(meshes)}
    character: Character = character_from_arrays(parts, "pieces")
    islands = find_islands(character)
    assert islands.count == len(meshes)
    return measure_islands(islands, character.vertices, character.faces)


def test_a_bent_arm_is_the_copy_of_a_straight_one():
    """One arm hangs straight on, the other is bent forward: as many triangles, nearly the area."""
    measures = measured(arm(1.0, 0.0), arm(-1.0, 80.0), box((-0.1, 0.5, -0.1), (0.1, 0.8, 0.1)))
    assert find_twin(measures, 0, [0, 1, 2]) == 1
    assert find_twin(measures, 1, [0, 1, 2]) == 0
    assert find_twin(measures, 2, [0, 1, 2]) is None


@pytest.mark.parametrize("grip", [0.11, 0.12])
def test_what_a_hand_holds_is_no_copy_of_the_other_hand(grip):
    """A grip made of as many triangles as each hand, and as large, is alone."""
    hands = [
        capsule(np.array((0.5 * x, 0.5, 0.0)), np.array((0.56 * x, 0.46, 0.0)), 0.02, 0.02)
        for x in (-1.0, 1.0)
    ]
    held = capsule(
        np.array((-0.55, 0.5, -0.02)), np.array((-0.55, 0.5, -0.02 + grip)), 0.012, 0.012
    )
    measures = measured(*hands, held)
    assert find_twin(measures, 2, [0, 1, 2]) is None


def test_two_boxes_are_no_copies():
    """Twelve triangles are those of any box: a blade is no twin of a plate on the other side."""
    plate = box((0.2, 0.6, -0.05), (0.3, 0.7, 0.05))
    blade = box((-0.32, 0.6, -0.1), (-0.28, 0.66, 0.2))
    measures = measured(plate, blade)
    assert find_twin(measures, 1, [0, 1]) is None


def test_the_two_faces_of_a_shield_are_no_twins():
    """What fills one place on one side is one thing; crossed arms fill one place and are two."""
    faces = [box((0.3 + 0.01 * i, 0.4, 0.0), (0.35 + 0.01 * i, 0.7, 0.3)) for i in range(2)]
    assert find_twin(measured(*faces), 0, [0, 1]) is None
    crossed = [
        capsule(np.array((0.16 * x, 0.7, 0.1)), np.array((-0.08 * x, 0.6, 0.14)), 0.03, 0.02)
        for x in (1.0, -1.0)
    ]
    assert find_twin(measured(*crossed), 0, [0, 1]) == 1


@pytest.mark.parametrize("gap", [0.0, 0.004, 0.01])
def test_two_flat_walls_of_a_shield_are_no_twins(gap):
    """They share no space, and yet are of one thing on one side; two boards on both sides are."""
    low, high = np.array((0.40, 0.1, -0.2)), np.array((0.404, 0.8, 0.2))
    aside = np.array((0.004 + gap, 0.0, 0.0))
    walls = box(tuple(low), tuple(high)), box(tuple(low + aside + 1e-4), tuple(high + aside + 1e-4))
    assert find_twin(measured(*walls), 0, [0, 1]) is None
    other = box(
        tuple(high * [-1.0, 0.0, 0.0] + low * [0, 1, 1]), tuple(low * [-1, 0, 0] + high * [0, 1, 1])
    )
    assert find_twin(measured(walls[0], other), 0, [0, 1]) == 1
