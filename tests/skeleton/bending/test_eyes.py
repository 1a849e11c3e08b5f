"""Eyeballs turned about a joint: closed forms of a ball."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.files.bend_tests import read_bend_tests
from autoplace.skeleton.bending.run import run_bend_tests
from autoplace.skeleton.bending.subject import Flesh, subject_of
from autoplace.skeleton.skin.binding import Binding
from tests.skeleton.bending.bent import bent, figure, values

RADIUS = 0.007


def ball(center: np.ndarray, cap: float = np.pi, stretch=(1.0, 1.0, 1.0)) -> np.ndarray:
    """(k, 3) points of a ball, or of the cap of it that faces forward."""
    polar, round_ = np.meshgrid(np.linspace(0.01, cap, 30), np.linspace(0, 2 * np.pi, 40))
    x, y = np.sin(polar) * np.cos(round_), np.sin(polar) * np.sin(round_)
    points = np.stack([x, y, np.cos(polar)], axis=-1).reshape(-1, 3)
    return center + RADIUS * points * stretch


def stays(offset=(0.0, 0.0, 0.0), **shape) -> float:
    """The worst `stays` of a left eyeball whose middle lies `offset` (radii) from the joint."""
    skeleton = figure()
    nothing = Binding(np.zeros((0, 4), int), np.zeros((0, 4)), np.zeros(0, int))
    center = skeleton["left_eye"].position + RADIUS * np.array(offset)
    flesh = Flesh(
        np.zeros((0, 3)), np.zeros((0, 3), int), nothing, {"left_eye": ball(center, **shape)}
    )
    tests = [test for test in read_bend_tests() if test.name == "eyes"]
    report = run_bend_tests(replace(subject_of(skeleton), flesh=flesh), tests)
    found = [m.value for m in report["eyes"].measures if m.of == "stays" and m.joint == "left_eye"]
    assert len(found) == 4
    return max(found)


def test_a_ball_about_its_own_middle_stays():
    """A ball, and the cap of one, turned about the middle of the ball leave nothing."""
    assert stays() == pytest.approx(0, abs=1e-6)
    assert stays(cap=1.2) == pytest.approx(0, abs=1e-6)


def test_a_ball_beside_its_joint_moves_by_the_chord():
    """With the joint d behind the middle, 30 degrees move it by 2 d sin(15 degrees), and so far
    does a whole ball stand out."""
    for d in (0.1, 0.3):
        assert stays(offset=(0, 0, d)) == pytest.approx(200 * d * np.sin(np.radians(15)), rel=0.02)


def test_an_eyeball_that_is_not_round_stands_out():
    """An ellipsoid twice as broad as deep, turned aside by 30 degrees, leaves its rest shape by
    what the quadratic form says; one of almost a ball hardly does."""
    stretch = np.array([1.4, 1.4, 0.7])
    turn = np.radians(30)
    # greatest |D^-1 R D u| over unit u is the largest singular value
    matrix = np.array(
        [[np.cos(turn), 0, np.sin(turn)], [0, 1, 0], [-np.sin(turn), 0, np.cos(turn)]]
    )
    most = np.linalg.svd(np.diag(1 / stretch) @ matrix @ np.diag(stretch))[1][0] - 1
    assert stays(stretch=stretch) == pytest.approx(100 * most, rel=0.03)
    assert stays(stretch=(1.0, 1.0, 1.01)) < 1.5


def test_gazes_turn_by_what_is_keyed():
    """Without a mesh the look still turns by 30 degrees aside and by 20 up and down."""
    result = bent(figure(), "eyes")["eyes"]
    told = {m.pose: m.value for m in result.measures if m.of == "turned" and m.joint == "left_eye"}
    assert told == {
        "to the left": pytest.approx(30),
        "to the right": pytest.approx(30),
        "up": pytest.approx(20),
        "down": pytest.approx(20),
    }
    assert max(values(result, "together").values()) == pytest.approx(0, abs=1e-5)
