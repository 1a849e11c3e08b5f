"""`autoplace.place_lone_hands`: a skeleton of wrist and fingers for a hand alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace import check, load, place, place_lone_hands, refit_hands
from autoplace.data import data_folder
from autoplace.errors import InputError, NotACharacter, SettingsError
from autoplace.files.skeleton_json import dump_skeleton, read_skeleton, write_skeleton
from autoplace.refit.lone_hands import HAND_SHARE
from autoplace.result import Settings
from autoplace.show.hand_sheet import compose_hand_sheet
from tests.lone_meshes import character_of, cut, known_hand, turn

FIVE, FOUR = 9, 5


def spun(number: int, seed: int = 2, below: float = 0.1):
    """A known hand in a frame and units of its own, and its joints there."""
    hand = known_hand(number)
    move = 120.0 * turn(seed)
    character = character_of("hand", (hand.vertices @ move.T + 7.0, cut(hand, below)))
    joints = {name: chain @ move.T + 7.0 for name, chain in hand.joints.items()}
    return hand, character, joints, 120.0 * hand.plan.length


@pytest.fixture(scope="module")
def four():
    return spun(FOUR)


@pytest.fixture(scope="module")
def placed(four):
    return place_lone_hands(four[1])


def test_wrist_and_fingers_of_the_right_side(four, placed):
    """The side is told, the wrist is the root, and the finger ends lie where they were made."""
    hand, _, joints, length = four
    skeleton = placed.skeleton
    side = hand.plan.side
    assert skeleton.joints[0].name == f"{side}_wrist"
    assert skeleton.joints[0].parent is None
    assert len(skeleton) == 1 + 4 * len(joints)
    for name, chain in joints.items():
        tip = skeleton[f"{side}_{name}_tip"].position
        assert np.linalg.norm(tip - chain[3]) < 0.03 * length, name
        for joint, at in zip(("1", "2", "3"), chain, strict=False):
            assert np.linalg.norm(skeleton[f"{side}_{name}_{joint}"].position - at) < 0.15 * length
    assert placed.report["hands"][side]["names"] == list(joints)


def test_the_record_says_that_it_is_a_hand(placed, tmp_path):
    """Units are the file's, the height is a person's with such a hand, and it reads back so."""
    skeleton = placed.skeleton
    (side,) = placed.report["hands"]
    length = placed.report["hands"][side]["length"]
    assert skeleton.source.part == "hand"
    assert skeleton.source.height == pytest.approx(length / HAND_SHARE)
    assert placed.frame.height == skeleton.source.height
    path = write_skeleton(skeleton, tmp_path / "hand.skeleton.json")
    assert dump_skeleton(read_skeleton(path)) == dump_skeleton(skeleton)


def test_it_is_sound(placed):
    """No errors and no warnings, and none about a missing other hand; it can be oriented again."""
    assert not [f for f in placed.skeleton.findings if f.level != "note"]
    assert not [f for f in check(placed.skeleton) if f.level != "note"]


def test_it_can_be_fitted_again(four, placed):
    """`refit_hands` takes the skeleton of a hand alone and finds the same fingers."""
    character, length = four[1], four[3]
    again = refit_hands(character, placed.skeleton)
    for joint in placed.skeleton:
        assert np.linalg.norm(again.skeleton[joint.name].position - joint.position) < 0.05 * length


def test_a_side_that_is_told_counts(four):
    """Against what shows, the hand becomes what the user says, and no guess is reported."""
    other = "left" if four[0].plan.side == "right" else "right"
    told = place_lone_hands(four[1], side=other)
    assert list(told.report["hands"]) == [other]
    assert not [f for f in told.skeleton.findings if f.check == "hand_side"]


def test_names_and_metacarpals(four):
    """Settings for fingers and metacarpals count here too, and are recorded."""
    names = ("thumb", "index", "middle", "ring")
    told = place_lone_hands(four[1], Settings(fingers=names, metacarpals=True))
    side = four[0].plan.side
    assert told.report["hands"][side]["names"] == list(names)
    assert told.skeleton[f"{side}_ring_1"].parent == f"{side}_ring_metacarpal"
    assert told.skeleton.settings["metacarpals"] is True
    with pytest.raises(NotACharacter, match="4 fingers found, but 2 names given"):
        place_lone_hands(four[1], Settings(fingers=("thumb", "middle")))


def both_hands():
    """A hand and its mirror image, one part each."""
    hand = known_hand(FIVE)
    faces = cut(hand, 0.2)
    image = hand.vertices * [-1.0, 1.0, 1.0]
    return character_of("hands", (hand.vertices, faces), (image, faces[:, ::-1]))


def test_both_hands_in_one_file():
    """Two pieces are the two hands, in mirror image, each with its root."""
    result = place_lone_hands(both_hands())
    skeleton = result.skeleton
    assert list(result.report["hands"]) == ["left", "right"]
    assert skeleton.source.part == "hands"
    assert [j.name for j in skeleton if j.parent is None] == ["left_wrist", "right_wrist"]
    height = skeleton.source.height
    for name in skeleton.names:
        if name.startswith("left"):
            image = skeleton[name].position * [-1.0, 1.0, 1.0]
            other = skeleton[name.replace("left", "right")].position
            assert np.linalg.norm(image - other) < 0.01 * height, name
    assert not [f for f in skeleton.findings if f.level == "error"]
    one = place_lone_hands(both_hands(), Settings(leave_out=("part1",)))
    assert len(one.report["hands"]) == 1


def test_one_side_for_both_hands_is_refused():
    """A single side cannot be true of two hands."""
    with pytest.raises(SettingsError, match="Both hands"):
        place_lone_hands(both_hands(), side="left")


def test_what_is_no_hand_is_refused():
    """A whole figure, a part that is not there and a wrong side are told in a sentence."""
    figure = load(data_folder("meshes") / "keeper.obj")
    with pytest.raises(NotACharacter, match="autoplace place"):
        place_lone_hands(figure)
    with pytest.raises(InputError, match="No part is named"):
        place_lone_hands(figure, Settings(leave_out=("sleeve",)))
    with pytest.raises(NotACharacter, match="Every part is left out"):
        place_lone_hands(figure, Settings(leave_out=("*",)))
    with pytest.raises(SettingsError, match="give left or right"):
        place_lone_hands(figure, side="up")


def test_who_says_the_side_is_believed_that_it_is_a_hand(four, monkeypatch):
    """What has no thumb that stands out is refused, unless the user says which hand it is."""
    monkeypatch.setattr("autoplace.refit.lone_hands.has_thumb", lambda shape: False)
    with pytest.raises(NotACharacter, match="--side"):
        place_lone_hands(four[1])
    assert place_lone_hands(four[1], side="right").changed


@pytest.mark.parametrize("number", [FIVE, pytest.param(FOUR, marks=pytest.mark.wide)])
def test_place_points_to_it(number):
    """A hand alone is no figure, and the refusal names the command for it."""
    with pytest.raises(NotACharacter, match="autoplace hands"):
        place(spun(number)[1])


def test_a_guessed_side_is_told(four, monkeypatch):
    """Where neither fingers nor thumb show the side, a warning asks to look."""
    monkeypatch.setattr("autoplace.refit.lone_hands.side_shown", lambda shape: 0.1)
    (told,) = [f for f in place_lone_hands(four[1]).skeleton.findings if f.check == "hand_side"]
    assert "--side" in told.fix


def test_the_picture_names_every_joint(four, placed):
    """The sheet of a hand alone has one hand with all its joints named."""
    character = replace(four[1], name="hand")
    assert placed.roles is not None
    sheet = compose_hand_sheet(character, placed.roles, placed.frame, placed.skeleton, width=1200)
    assert [panel.title for panel in sheet.panels[:-1]] == [
        f"{four[0].plan.side.capitalize()} hand"
    ]
    assert set(sheet.panels[0].joints) == set(placed.skeleton.names)
