"""What spoke for a joint, in words and as a colour."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from autoplace.show.evidence_words import (
    KINDS,
    SURENESS_COLOURS,
    evidence_words,
    joint_words,
    reason_words,
    sureness,
    sureness_colour,
)
from autoplace.skeleton.decided import decided
from autoplace.skeleton.model import Evidence, Joint, Skeleton, Source
from tests.placed_once import placed_demo

PLACE = Path(__file__).resolve().parents[2] / "autoplace" / "place"
MAKERS = {"Evidence", "Cue", "cue", "along", "on_line"}
ORIGIN = np.zeros(3)
KNEE = Joint(
    "left_knee",
    None,
    ORIGIN,
    spread=0.02,
    evidence=(
        Evidence("template_prior", ORIGIN, 0.03, 0.38, "share of thigh and shank"),
        Evidence("centreline_bend", ORIGIN, 0.02, 0.62, "the leg bends by 10 degrees here"),
    ),
)
SKELETON = Skeleton((KNEE,), Source(height=2.0), template="adult")


def test_evidence_is_told_with_shares_and_spread():
    """The strongest comes first; 0.02 of 2 units is 1.0 percent of the height."""
    assert evidence_words(KNEE, SKELETON) == (
        "left knee: the leg bends by 10 degrees here (62 percent); share of thigh and shank, as in "
        "the adult template (38 percent). Sure to about 1.0 percent of the height (0.02 in the "
        "file's units)."
    )


def test_evidence_without_note_has_words_of_its_kind():
    """Every kind has words, and one with no share in the decision is passed over."""
    for kind, words in KINDS.items():
        told = replace(KNEE, evidence=(Evidence(kind, ORIGIN, 0.1, 1.0),))
        assert words in reason_words(told, replace(SKELETON, template=""))
        assert words not in reason_words(
            replace(KNEE, evidence=(*KNEE.evidence, Evidence(kind, ORIGIN, 0.1, 0.004))), SKELETON
        )


def test_every_kind_that_placing_names_has_words():
    """The kinds written out in the modules that place are all among those with words."""
    named = {
        node.args[0].value
        for path in PLACE.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args
        if node.func.id in MAKERS and isinstance(node.args[0], ast.Constant)
    } - {"none"}
    assert len(named) > 10
    assert named <= set(KINDS)


def test_every_joint_of_a_demo_character_is_explained():
    """A placed character's kinds have words, and each joint has a sentence and a sureness."""
    skeleton = placed_demo().skeleton
    for joint in skeleton:
        assert {evidence.kind for evidence in joint.evidence} <= set(KINDS)
        assert "does not say" not in evidence_words(joint, skeleton)
        sure = sureness(joint, skeleton.source.height)
        assert sure is not None
        assert 0.0 <= sure <= 1.0


def test_joint_set_by_hand_says_so_and_how_far_it_was_moved():
    """0.03 along one axis and 0.04 along another are 0.05 of 2 units: 2.5 percent."""
    place = np.array([0.03, 0.04, 0.0])
    moved = decided(KNEE, "corrected", place, 0.0, "moved by a person", locked=True)
    words = evidence_words(moved, SKELETON)
    assert words.startswith(
        "left knee: moved by a person. That is 2.5 percent of the height from where"
    )
    assert "Locked" in words
    assert "Sure to" not in words
    assert sureness(moved, 2.0) == 1.0


def test_joint_locked_where_it_was_placed_keeps_its_reasons():
    """What it was placed by and how sure that was is still told, and that it is locked."""
    locked = decided(KNEE, "confirmed", KNEE.position, KNEE.spread, "locked", locked=True)
    assert evidence_words(locked, SKELETON) == (
        evidence_words(KNEE, SKELETON)
        + " Locked: it keeps this place when the skeleton is placed again."
    )
    assert sureness(locked, 2.0) == 1.0


def test_joint_from_elsewhere_is_not_called_sure():
    """Without evidence and spread there is nothing to tell, no sureness and a colour of its own."""
    bare = Joint("Knie.li", None, ORIGIN)
    words = evidence_words(bare, SKELETON)
    assert words.startswith("Knie.li: the file does not say")
    assert "not recorded" in words
    assert sureness(bare, 2.0) is None
    assert sureness_colour(bare, 2.0) not in SURENESS_COLOURS


@pytest.mark.parametrize(
    ("share", "sure"), [(0.0005, 1.0), (0.001, 1.0), (0.03**0.5 * 0.001**0.5, 0.5), (0.05, 0.0)]
)
def test_sureness_falls_with_the_logarithm_of_the_spread(share, sure):
    """One at 0.1 percent of the height, none at 3 percent, a half at their geometric mean."""
    joint = replace(KNEE, spread=share * 2.0)
    assert sureness(joint, 2.0) == pytest.approx(sure)


def test_colours_run_from_sure_to_unsure():
    """The ends and the middle of the scale have the colours of the table."""
    first, middle, last = SURENESS_COLOURS
    at = [sureness_colour(replace(KNEE, spread=share), 1.0) for share in (0.001, 0.03)]
    assert at == [first, last]
    assert sureness_colour(replace(KNEE, spread=(0.001 * 0.03) ** 0.5), 1.0) == middle


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("left_knee", "left knee"),
        ("head_top", "head top"),
        ("right_index_1", "right index finger, knuckle"),
        ("left_thumb_1", "left thumb, base"),
        ("left_ring_metacarpal", "left ring finger, metacarpal"),
        ("left_pinky_tip", "left pinky finger, tip"),
        ("spine_2", "spine 2"),
        ("hip.L", "hip.L"),
    ],
)
def test_joints_are_named_as_they_are_spoken(name, words):
    """Sides and fingers are spelled out; a name that is not ours is left alone."""
    assert joint_words(name) == words
