"""`reports.place.make_report`: plain data about what was found and what was not."""

from __future__ import annotations

import json
from functools import cache

import numpy as np
import pytest

from autoplace.measure.frame_record import Frame
from autoplace.measure.not_found import NotFound
from autoplace.mesh.character import Character, Part
from autoplace.mesh.pieces import Piece, Roles
from autoplace.place.eyes import EyePlace, EyesFound
from autoplace.place.template import TemplateChoice, load_template
from autoplace.reports.place import make_report
from autoplace.skeleton.model import Finding, Joint, Skeleton
from tests.figures import standard_skeleton

PLAIN = (dict, list, str, int, float, bool, type(None))


def a_character() -> tuple[Character, Roles]:
    """Two parts of one triangle each, and what they were taken for."""
    corners = np.eye(3)
    faces = np.array([[0, 1, 2]])
    parts = tuple(Part(n, corners, faces, np.arange(3), np.arange(1)) for n in ("skin", "cap"))
    roles = {"skin": "body", "cap": "hair"}
    pieces = tuple(
        Piece(part.name, i, np.array([0]), roles[part.name], None, "it looks so", 0.75)
        for i, part in enumerate(parts)
    )
    return Character("two", parts), Roles(pieces)


@cache
def a_report(height: float = 1.74) -> dict:
    character, roles = a_character()
    frame = Frame(np.eye(3), np.zeros(3), height, "+Y", "+Z", 0.003, ("up is clearly +Y: it is",))
    eye = EyePlace(
        side="left",
        center=np.array([0.02, 0.93, 0.04]),
        radius=0.007,
        look=np.array([0.0, 0.0, 1.0]),
        look_from="iris",
        spread=0.0004,
        share_seen=0.8,
        evidence=(),
    )
    skeleton = Skeleton(
        (Joint("pelvis", None, np.zeros(3)),),
        findings=(Finding("inside", "pelvis", "warning", "It is outside.", "Move it."),),
    )
    choice = TemplateChoice(load_template("child"), "as told", 1.0)
    hands = {side: NotFound(f"{side} hand", "there is no arm on that side") for side in SIDES}
    eyes = EyesFound(left=eye, right=NotFound("right eye", "no piece"))
    return make_report(character, roles, frame, choice, skeleton, hands, eyes)


SIDES = ("left", "right")


def leaves(value) -> list:
    """All values that hold no others."""
    if isinstance(value, dict):
        return [leaf for one in value.values() for leaf in leaves(one)]
    if isinstance(value, list):
        return [leaf for one in value for leaf in leaves(one)]
    return [value]


def test_a_report_is_plain_data():
    """Only dicts, lists, strings, numbers and nulls are in it, and JSON gives the same back."""
    assert all(type(leaf) in PLAIN for leaf in leaves(a_report()))
    assert json.loads(json.dumps(a_report())) == a_report()


def test_parts_come_with_role_reason_and_confidence():
    """Each part is listed in the file's order with what it was taken for and why."""
    assert a_report()["parts"] == [
        {"name": "skin", "role": "body", "confidence": 0.75, "reason": "it looks so"},
        {"name": "cap", "role": "hair", "confidence": 0.75, "reason": "it looks so"},
    ]


def test_a_missing_hand_tells_why():
    """A hand that is not there has no fingers and the reason as a note."""
    expected = {"fingers": 0, "names": [], "notes": ["there is no arm on that side"]}
    assert a_report()["hands"] == {"left": expected, "right": expected}


@pytest.mark.parametrize("height", [1.74, 174.0])
def test_lengths_are_in_the_units_of_the_file(height):
    """An eye's radius is given in input units, not as a share of the height; a missing eye is
    null."""
    report = a_report(height)
    assert report["eyes"]["left"]["radius"] == pytest.approx(0.007 * height)
    assert report["eyes"]["left"]["look"] == "iris"
    assert report["eyes"]["right"] is None
    assert report["frame"]["height"] == height


def test_frame_template_and_findings_are_told():
    """Axes, notes, the template with its reason, and findings with their fix are all there."""
    report = a_report()
    assert (report["frame"]["up"], report["frame"]["forward"]) == ("+Y", "+Z")
    assert report["frame"]["notes"] == ["up is clearly +Y: it is"]
    assert report["template"] == {"name": "child", "why": "as told", "confidence": 1.0}
    assert report["joints"] == 1
    assert report["findings"] == [
        {
            "check": "inside",
            "joint": "pelvis",
            "level": "warning",
            "message": "It is outside.",
            "fix": "Move it.",
        }
    ]


def test_the_invented_skeleton_counts_its_joints():
    """The number of joints is that of the skeleton."""
    character, roles = a_character()
    frame = Frame(np.eye(3), np.zeros(3), 1.0, "+Y", "+Z", 0.0)
    skeleton = standard_skeleton()
    choice = TemplateChoice(load_template("adult"), "", 0.5)
    nothing = {side: NotFound(side, "no") for side in SIDES}
    eyes = EyesFound(NotFound("left eye", "no"), NotFound("right eye", "no"))
    report = make_report(character, roles, frame, choice, skeleton, nothing, eyes)
    assert report["joints"] == len(skeleton) == 67
