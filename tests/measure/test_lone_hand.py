"""`autoplace.measure.lone_hand`: the arm's end, the wrist and the side of a hand alone."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.hand_shape import HandShape
from autoplace.measure.lone_hand import (
    as_side,
    find_lone_hand,
    hand_solid,
    has_thumb,
    lone_pieces,
    side_shown,
)
from autoplace.measure.not_found import NotFound
from meshes.hand_clay import build_hand
from meshes.hand_family import hand_family
from tests.examples import each_time
from tests.lone_meshes import cut, known_hand, turn
from tests.measure.blocks import block_meshes
from tests.mesh.capsule_figures import box, joined

CUTS = [
    (1, None),
    (2, 0.25),
    (3, 0.0),
    *(
        pytest.param(number, below, marks=pytest.mark.wide)
        for number, below in ((1, 0.25), (1, 0.0), (2, None), (2, 0.0), (3, None), (3, 0.25))
    ),
]
"""Numbers of hands, and how many hands of forearm there are below the wrist; None is all of it."""


def found(number: int, below: float | None, seed: int | None = None) -> tuple[object, HandShape]:
    hand = known_hand(number)
    faces = hand.faces if below is None else cut(hand, below)
    spin = np.eye(3) if seed is None else turn(seed)
    shape = find_lone_hand(hand.vertices @ spin.T, faces, hand.plan.side)
    assert isinstance(shape, HandShape), shape
    return hand, shape


@pytest.mark.parametrize(("number", "below"), CUTS)
def test_the_hand_is_found_however_much_forearm_there_is(number, below):
    """Fingers by name with their ends within 3 % of the hand, the wrist within a sixth of it."""
    hand, shape = found(number, below)
    assert list(shape.fingers) == list(hand.joints)
    for name, line in shape.fingers.items():
        assert np.linalg.norm(line.tip - hand.joints[name][3]) < 0.03 * hand.plan.length
    assert np.linalg.norm(shape.wrist_hint.position - hand.wrist) < 0.17 * hand.plan.length
    assert shape.palm_normal @ hand.palm > 0.95


def test_a_mitten_is_not_taken_for_its_own_arm():
    """A mitten and its stump are about as thick; the stump is the blunt one."""
    hand, shape = found(4, 0.25)
    assert np.linalg.norm(shape.fingers["middle"].tip - hand.joints["middle"][3]) < 0.005


def test_which_way_it_points_does_not_matter():
    """A turned hand gives the same length and fingers."""
    _, shape = found(3, 0.1)
    _, turned = found(3, 0.1, seed=4)
    assert list(turned.fingers) == list(shape.fingers)
    assert turned.length == pytest.approx(shape.length, rel=0.05)


@pytest.mark.parametrize("number", each_time((0, 5), (4, 7)))
def test_the_side_shows(number):
    """Bent fingers and a thumb before the palm tell left from right, whatever was asked."""
    hand = known_hand(number)
    faces = cut(hand, 0.1)
    for side in ("left", "right"):
        shape = find_lone_hand(hand.vertices, faces, side)
        assert isinstance(shape, HandShape)
        assert (side_shown(shape) > 0.25) == (side == hand.plan.side)
        other = as_side(shape, hand.vertices, faces, "right" if side == "left" else "left")
        assert isinstance(other, HandShape)
        assert side_shown(other) == pytest.approx(-side_shown(shape), abs=0.1)


def test_two_hands_are_two_pieces():
    """Faces go with the hand they belong to; a small piece goes with the nearest."""
    hand = known_hand(3)
    faces = cut(hand, 0.1)
    aside = np.add(hand.vertices, [0.0, 0.0, 0.3])
    chip = box((0.43, 0.80, 0.33), (0.44, 0.805, 0.335))
    vertices = np.concatenate([hand.vertices, aside, chip[0]])
    count = len(hand.vertices)
    both = np.concatenate([faces, faces + count, chip[1] + 2 * count])
    pieces = lone_pieces(vertices, both, hand_solid(vertices, both))
    assert sorted(len(p) for p in pieces) == [len(faces), len(faces) + len(chip[1])]
    with_chip = max(pieces, key=len)
    assert with_chip.min() >= count


def test_limbs_are_no_fingers():
    """A hand has a thumb and a row of other fingers; a figure's arms and legs make no row."""
    assert has_thumb(found(3, 0.25)[1])
    assert has_thumb(found(4, None)[1])
    vertices, faces = joined(*block_meshes())
    figure = find_lone_hand(0.11 * vertices, faces, "left")
    assert isinstance(figure, NotFound) or not has_thumb(figure)


@pytest.mark.parametrize("corner", [(1.0, 2.0, 0.5), (1.0, 1.0, 1.0), (0.1, 0.1, 3.0)])
def test_a_block_is_no_hand(corner):
    """A lump is refused at once, without measuring."""
    vertices, faces = box((0.0, 0.0, 0.0), corner)
    told = find_lone_hand(np.asarray(vertices) * 0.1, np.asarray(faces), "left")
    assert isinstance(told, NotFound)
    assert "lump" in told.why


def test_a_hand_of_no_known_side_keeps_its_thumb(monkeypatch):
    """A right hand whose thumb would pass for a finger of a left one is taken for a right one.

    Looks alone tell most thumbs, so here they are made to count less."""
    monkeypatch.setattr("autoplace.measure.finger_order.CLEAR_THUMB", 1.2)
    hand = build_hand(hand_family(12)[66])
    vertices, faces = hand.vertices * [-1.0, 1.0, 1.0], hand.faces[:, ::-1]
    as_left = find_lone_hand(vertices, faces, "left")
    assert isinstance(as_left, HandShape)
    assert as_left.hidden_thumb
    shape = find_lone_hand(vertices, faces, None)
    assert isinstance(shape, HandShape)
    assert shape.side == "right"
    assert list(shape.fingers) == ["thumb", "index", "middle", "pinky"]
    assert side_shown(shape) > 0.0
