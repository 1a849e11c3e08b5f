"""Messages quote files, and stay fit for a terminal whatever these say."""

from __future__ import annotations

import pickle

from autoplace.errors import SkeletonError


def test_words_without_end_are_cut():
    """A name of 70,000 letters leaves a short sentence, and a path of 180 is left whole."""
    said = str(SkeletonError(f"'{'a' * 70_000}' has no parent: see '/{'b' * 180}'."))
    assert len(said) < 450
    assert said.startswith("'aaa")
    assert "a' has no parent" in said
    assert f"'/{'b' * 180}'." in said


def test_what_a_terminal_obeys_is_replaced():
    """Escape sequences, line breaks and halves of characters do not reach the terminal."""
    said = str(SkeletonError("joint '\x1b[31mred\n\ud800\u202e' hängt – über"))
    assert said == "joint '�[31mred���' hängt – über"
    said.encode("utf-8")


def test_errors_pass_between_processes():
    """An error is the same after it was pickled."""
    error = pickle.loads(pickle.dumps(SkeletonError("it is broken.")))
    assert (type(error), str(error)) == (SkeletonError, "it is broken.")
