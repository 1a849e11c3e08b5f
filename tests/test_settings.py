"""`autoplace.settings`: slips in the options are told at once and say what would be right."""

from __future__ import annotations

import pytest

from autoplace import settings as module
from autoplace.errors import AutoplaceError, TemplateError
from autoplace.mesh.pieces import ROLES
from autoplace.result import Settings
from autoplace.settings import ROLE_NAMES, checked, recorded_settings


def told(settings: Settings) -> str:
    with pytest.raises(AutoplaceError) as caught:
        checked(settings)
    return str(caught.value)


def test_defaults_pass_unchanged():
    """What nobody touched needs no correction."""
    assert checked(Settings()) == Settings()


@pytest.mark.parametrize(
    ("given", "meant"), [("y", "+Y"), ("+z", "+Z"), ("-X", "-X"), ("-y", "-Y"), ("Z", "+Z")]
)
def test_axes_may_be_written_loosely(given, meant):
    """Case and a missing plus sign do not matter."""
    assert checked(Settings(up=given)).up == meant


@pytest.mark.parametrize("given", ["", "+", "w", "+YZ", "up", "--y", "y+"])
def test_a_bad_axis_names_the_six_good_ones(given):
    """The message lists what may be given."""
    text = told(Settings(forward=given))
    assert "forward" in text
    assert "+X, -X, +Y, -Y, +Z or -Z" in text


@pytest.mark.parametrize("forward", ["+Y", "-Y"])
def test_up_and_forward_must_differ(forward):
    """A character cannot face up."""
    assert "right angle" in told(Settings(up="+Y", forward=forward))


@pytest.mark.parametrize("spine", [-1, 0, 18, 1000])
def test_spine_out_of_range_names_the_range(spine):
    """The message says which numbers are possible."""
    assert "from 1 to 17" in told(Settings(spine=spine))


@pytest.mark.parametrize("spine", [1, 3, 17])
def test_spine_in_range_passes(spine):
    """Both ends of the range are allowed."""
    assert checked(Settings(spine=spine)).spine == spine


def test_unknown_template_lists_the_known_ones_and_the_nearest(monkeypatch):
    """A misspelt template is answered with the list and a guess at what was meant."""
    monkeypatch.setattr(module, "template_names", lambda: ("adult", "child"))
    with pytest.raises(TemplateError, match="did you mean 'adult'") as caught:
        checked(Settings(template="adlut"))
    assert "adult, child" in str(caught.value)
    assert checked(Settings(template="child")).template == "child"


def test_unknown_role_lists_the_known_ones():
    """A misspelt role is answered with the list."""
    text = told(Settings(roles={"coat": "garmet"}))
    assert "did you mean 'garment'" in text
    assert all(role in text for role in ROLES)


def test_role_names_are_those_of_the_records():
    """The list that loads no numpy is the list of the records."""
    assert ROLE_NAMES == ROLES


@pytest.mark.parametrize("neck", [-1, 0, 8])
def test_neck_out_of_range_names_the_range(neck):
    """A neck that no body has is refused with the numbers that are possible."""
    assert "from 1 to 7" in told(Settings(neck=neck))


def test_fingers_may_be_named_for_both_sides_or_one():
    """A list, a text and a side's own list all become names by side."""
    three = ("thumb", "index", "pinky")
    assert checked(Settings(fingers=three)).fingers == {"left": three, "right": three}
    assert checked(Settings(fingers="thumb,index,pinky")).fingers["right"] == three
    assert checked(Settings(fingers={"left": list(three)})).fingers == {"left": three}
    assert checked(Settings(fingers={"left": three})).fingers_on("right") is None


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("thumb", "pointer"), "'pointer' is not a finger"),
        (("thumb", "indx"), "did you mean 'index'"),
        (("index", "thumb"), "from the thumb's side on: thumb,index"),
        (("thumb", "thumb"), "name each once"),
        ({"leftt": ("thumb",)}, "did you mean 'left'"),
        ({"left": ()}, "not in order"),
        ({"left": 3}, "no fingers of the left hand"),
        ("", None),
    ],
)
def test_a_slip_in_the_fingers_is_told(given, said):
    """Unknown names, a wrong order, one name twice and unknown sides are refused in a sentence."""
    if said is None:
        assert checked(Settings(fingers=given)).fingers == {}
    else:
        assert said in told(Settings(fingers=given))


def test_what_a_skeleton_records_comes_back():
    """Settings written into a skeleton file are read back; what is none of them is passed over."""
    given = checked(
        Settings(leave_out=("cloak*",), roles={"a": "hair"}, fingers=("thumb",), metacarpals=True)
    )
    assert recorded_settings({**given.as_dict(), "orientation": {"aim": "+Y"}}) == given
    assert recorded_settings({"leave_out": 3, "roles": None, "fingers": [1]}) == Settings()
