"""`reports.place_text`: the plain-data report as a person reads it."""

from __future__ import annotations

import io

import pytest

from autoplace.reports.blocks import console_for
from autoplace.reports.place_text import report_text

REPORT = {
    "parts": [
        {"name": "skin", "role": "body", "confidence": 0.97, "reason": "the largest figure"},
        {"name": "eyes", "role": "eyeball", "confidence": 0.99, "reason": "two spheres"},
        {"name": "[tag] cloak", "role": "garment", "confidence": 0.8, "reason": "hangs outside"},
    ],
    "frame": {"up": "+Z", "forward": "-Y", "height": 174.2, "symmetry_residual": 0.0031},
    "hands": {
        "left": {"fingers": 4, "names": ["thumb", "index", "middle", "pinky"]},
        "right": {"fingers": 0, "notes": ["the hand is a stump"]},
    },
    "eyes": {"left": {"radius": 1.25, "share_seen": 0.6, "look": "forward"}, "right": None},
    "template": {"name": "adult", "why": "head 0.13 of the height", "confidence": 0.9},
    "findings": [
        {"level": "note", "check": "c", "joint": None, "message": "Small thing.", "fix": ""},
        {
            "level": "error",
            "check": "inside",
            "joint": "left_knee",
            "message": "The knee lies outside.",
            "fix": "Move it inward.",
        },
    ],
}


def text_of(report) -> str:
    stream = io.StringIO()
    console_for(stream).print(report_text(report))
    return stream.getvalue()


@pytest.mark.parametrize(
    ("placed_by", "told"),
    [
        ("box", "a piece that is no part of a sphere, taken in its middle, looks forward"),
        ("face", "no eyeball modelled, read off the face, looks forward"),
        ("proportions", "no eyeball modelled, guessed by proportions, looks forward"),
    ],
)
def test_an_eye_without_a_ball_is_given_none(placed_by, told):
    """Where no ball was fitted none is spoken of, nor a share of it."""
    eye = {"from": placed_by, "radius": 1.25, "share_seen": 0.0, "look": "forward"}
    text = text_of({**REPORT, "eyes": {"left": eye, "right": None}})
    assert told in " ".join(text.split())
    assert "radius" not in text


def test_everything_found_is_printed():
    """Parts, roles, stance, height, symmetry, fingers, eyes, template and findings are told."""
    text = text_of(REPORT)
    for expected in (
        "two spheres (99 % sure)",
        "up +Z, facing -Y",
        "174.2 units",
        "differ by 0.31 %",
        "4 fingers: thumb, index, middle, pinky",
        "no fingers; the hand is a stump",
        "eyeball of radius 1.25, 60 % of the sphere modelled, looks forward",
        "no eyeball found",
        "adult: head 0.13 of the height (90 % sure)",
        "left_knee: The knee lies outside.",
        "→ Move it inward.",
    ):
        assert expected in text


def test_errors_come_before_notes():
    """What matters most is read first."""
    text = text_of(REPORT)
    assert text.index("The knee lies outside") < text.index("Small thing")


def test_findings_are_counted_and_repeats_gathered():
    """Twenty findings of one kind take one row that names the other joints."""
    findings = [
        {
            "level": "note",
            "check": "shallow",
            "joint": joint,
            "message": f"'{joint}' lies shallow.",
            "fix": "Look at it.",
        }
        for joint in ("left_index_1", "left_index_2", "left_index_3")
    ]
    text = text_of({"findings": [*findings, *REPORT["findings"]]})
    assert "Findings (1 error, 4 notes)" in text
    assert text.count("lies shallow") == 1
    assert text.count("left_index_1") == 1
    assert "also left_index_2, left_index_3" in text
    assert text.count("Look at it") == 1


def test_brackets_in_names_are_not_markup():
    """A part's name is printed as it is."""
    assert "[tag] cloak" in text_of(REPORT)


def test_many_parts_are_summed_up_by_role():
    """A hundred parts get a line per role, not a hundred lines."""
    parts = [
        {"name": f"strand_{n}", "role": "hair", "confidence": 1.0, "reason": ""} for n in range(99)
    ]
    text = text_of({"parts": [*parts, REPORT["parts"][0]]})
    assert "99 parts" in text
    assert "and 93 more" in text
    assert "1 part " in text
    assert len(text.splitlines()) < 20


def test_an_empty_report_is_no_error():
    """A report without findings says that there is nothing to look at."""
    assert "nothing to look at" in text_of({})
