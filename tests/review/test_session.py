"""Corrections as steps: made, taken back, made again, kept."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.errors import SkeletonError
from autoplace.review.session import Session
from autoplace.skeleton.checks import check
from autoplace.skeleton.edits import Edits
from autoplace.skeleton.orient import orient
from tests.figures import standard_skeleton

PLACED = orient(standard_skeleton("A"))
ASIDE = np.array([0.0, 0.01, 0.02])


class Kept(list):
    """What a session gives away to be kept."""

    def __call__(self, edits):
        self.append(edits)


@pytest.fixture
def kept() -> Kept:
    return Kept()


@pytest.fixture
def session(kept) -> Session:
    return Session(PLACED, Edits(PLACED.source), check=check, keep=kept)


def place(session, name):
    return session.skeleton[name].position


def test_a_move_is_mirrored_and_taken_back(session):
    """Both elbows move, undo brings both back to the last bit, redo moves them again."""
    before = {side: place(session, f"{side}_elbow") for side in ("left", "right")}
    session.move("left_elbow", before["left"] + ASIDE)
    assert place(session, "left_elbow") == pytest.approx(before["left"] + ASIDE, abs=1e-15)
    assert place(session, "right_elbow") == pytest.approx(before["right"] + ASIDE, abs=1e-12)
    moved = place(session, "right_elbow")
    session.undo()
    for side, position in before.items():
        assert np.array_equal(place(session, f"{side}_elbow"), position)
    session.redo()
    assert np.array_equal(place(session, "right_elbow"), moved)


def test_one_side_alone(session):
    """Without the mirror the other elbow stays."""
    other = place(session, "right_elbow")
    session.move("left_elbow", place(session, "left_elbow") + ASIDE, mirror=False)
    assert np.array_equal(place(session, "right_elbow"), other)


def test_children_follow_or_stay(session):
    """The wrist stays where it is, unless it follows."""
    wrist, elbow = place(session, "left_wrist"), place(session, "left_elbow")
    session.move("left_elbow", elbow + ASIDE)
    assert np.array_equal(place(session, "left_wrist"), wrist)
    session.undo()
    session.move("left_elbow", elbow + ASIDE, follow=True)
    assert place(session, "left_wrist") == pytest.approx(wrist + ASIDE, abs=1e-12)


def test_a_drag_is_one_step(session, kept):
    """However many places a drag goes through, one undo takes it back, and it is kept once."""
    start = place(session, "left_knee")
    for share in (0.2, 0.5, 0.9):
        session.drag("left_knee", start + share * ASIDE, mirror=True, follow=False)
        assert place(session, "left_knee") == pytest.approx(start + share * ASIDE, abs=1e-15)
    assert not session.can_undo
    session.drop()
    assert session.can_undo
    assert len(kept) == 1
    session.undo()
    assert np.array_equal(place(session, "left_knee"), start)
    assert not session.can_undo


def test_axes_are_solved_anew_while_dragging(session):
    """The thigh aims at the knee wherever that is dragged to."""
    session.drag("left_knee", place(session, "left_knee") + ASIDE, mirror=False, follow=False)
    hip, knee = session.skeleton["left_hip"], session.skeleton["left_knee"]
    bone = knee.position - hip.position
    assert hip.axes[1] == pytest.approx(bone / np.linalg.norm(bone), abs=1e-12)


def test_lock_and_reset(session):
    """A lock marks both sides; a reset takes place and lock back."""
    session.move("left_wrist", place(session, "left_wrist") + ASIDE)
    session.lock("left_wrist", True)
    assert session.skeleton["right_wrist"].locked
    session.reset("left_wrist")
    assert not session.skeleton["left_wrist"].locked
    assert np.array_equal(place(session, "left_wrist"), PLACED["left_wrist"].position)


def test_reset_all_is_one_step(session):
    """All corrections go at once, and one undo brings them back."""
    session.move("left_elbow", place(session, "left_elbow") + ASIDE)
    session.respace("spine", 4)
    session.reset_all()
    assert session.skeleton.names == PLACED.names
    assert np.array_equal(session.skeleton.positions(), PLACED.positions())
    session.undo()
    assert "spine_3" in session.skeleton


def test_a_step_after_undo_drops_what_was_undone(session):
    """History is one line: what was taken back cannot be done again after another change."""
    session.move("left_elbow", place(session, "left_elbow") + ASIDE)
    session.undo()
    session.lock("head", True)
    assert not session.can_redo


def test_what_changes_nothing_is_no_step(session):
    """Locking a locked joint leaves the history alone."""
    session.lock("head", True)
    session.lock("head", True)
    session.undo()
    assert not session.can_undo


def test_saved_is_told_by_what_was_decided(session):
    """Undoing back to what was saved is saved again."""
    assert session.is_saved
    session.lock("head", True)
    assert not session.is_saved
    session.mark_saved(session.edits)
    assert session.is_saved
    session.undo()
    assert not session.is_saved
    session.redo()
    assert session.is_saved


def test_findings_follow(session):
    """A wrist put above the shoulder is found, and no longer after undo."""
    sound = session.findings()
    session.move("left_elbow", place(session, "left_wrist"), mirror=False)
    assert {f.joint for f in session.findings()} - {f.joint for f in sound}
    session.undo()
    assert session.findings() == sound


def test_an_impossible_change_leaves_everything(session):
    """A joint that is not there is refused, and nothing has changed."""
    with pytest.raises(SkeletonError, match="left_tail"):
        session.move("left_tail", np.zeros(3))
    assert session.skeleton == PLACED or np.array_equal(
        session.skeleton.positions(), PLACED.positions()
    )
    assert not session.can_undo
