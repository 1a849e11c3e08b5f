"""Spine and head against closed forms."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from autoplace.skeleton.orient import orient
from tests.figures import Y, moved, standard_skeleton, turned
from tests.skeleton.bending.bent import bent, figure, twisted, values


def test_a_curl_shares_the_degrees_equally():
    """Three spine joints turn by a third of 80 each, on the same axis, and the pelvis by none."""
    pose = bent(figure(), "spine_curl")["spine_curl"].poses[""]
    assert set(pose) == {"spine_1", "spine_2", "chest"}
    assert [turn.bend for turn in pose.values()] == pytest.approx([80 / 3] * 3)


def test_the_head_goes_where_the_chain_of_turns_takes_it():
    """The head's place from planar turns worked out by hand: each turn carries all above it."""
    skeleton = figure()
    names = ["spine_1", "spine_2", "chest", "head"]
    flat = [complex(skeleton[n].position[2], skeleton[n].position[1]) for n in names]
    at, turn = flat[0], 1.0 + 0j
    for here, above in pairwise(flat):
        turn *= np.exp(-1j * np.radians(80 / 3))  # forward is clockwise with Z right and Y up
        at += turn * (above - here)
    result = bent(skeleton, "spine_curl")["spine_curl"]
    gone = at - flat[-1]
    assert values(result, "ahead")["head"] == pytest.approx(100 * gone.real, abs=1e-9)
    assert values(result, "down")["head"] == pytest.approx(-100 * gone.imag, abs=1e-9)
    assert values(result, "off_middle")["spine"] == pytest.approx(0, abs=1e-12)


def test_axes_that_disagree_are_measured_in_degrees():
    """A spine joint turned by 3 degrees about its bone is 3 degrees from the others."""
    result = bent(twisted(figure(), "spine_2", 3), "spine_curl")["spine_curl"]
    assert values(result, "axes")["spine"] == pytest.approx(3, abs=1e-6)


def test_a_head_turned_at_rest_has_no_plane_to_nod_in():
    """With the eyes' line 20 degrees off the body's left no deviation is told, but the nod is."""
    skeleton = standard_skeleton("A")
    head = skeleton["head"].position
    eyes = {n: head + turned(skeleton[n].position - head, Y, 20) for n in ("left_eye", "right_eye")}
    result = bent(orient(moved(skeleton, eyes)), "head_nod")["head_nod"]
    assert result.state == "passed"
    assert not values(result, "off_middle")
    assert values(result, "forward")["head"] > 40
