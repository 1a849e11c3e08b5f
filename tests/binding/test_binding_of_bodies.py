"""The first binding beside the open dataset's own weights, and what the report counts."""

from __future__ import annotations

import numpy as np
import pytest

from tests.binding.measures import RULES, bleeding, compare, touches
from tests.binding.report import TARGET, measured
from tests.dataset.bodies import build, report_list


def test_limbs_touch_where_flesh_joins_them():
    """An arm touches chest and hand; it does not touch the loins, the head or the other arm."""
    for a, b in (("left_shoulder", "chest"), ("left_elbow", "left_wrist"), ("pelvis", "left_hip")):
        assert touches(a, b)
        assert touches(b, a)
    for a, b in (
        ("left_shoulder", "spine_1"),
        ("left_shoulder", "right_shoulder"),
        ("left_hip", "right_hip"),
        ("left_index_1", "left_middle_1"),
        ("head", "chest"),
        ("head", "left_clavicle"),
    ):
        assert not touches(a, b)
        assert not touches(b, a)


def test_bleeding_is_counted_vertex_by_vertex():
    """Of four vertices only the one whose foreign share is over 0.05 and not known bleeds."""
    names = ("left_hip", "right_hip")
    known = np.array([[1.0, 0.0], [1.0, 0.0], [0.9, 0.1], [0.0, 1.0]])
    shares = np.array([[0.94, 0.06], [0.96, 0.04], [0.5, 0.5], [0.0, 1.0]])
    marks = bleeding(shares, known, names)
    assert np.array_equal(marks, [[False, True], [False, False], [False, False], [False, False]])


@pytest.mark.usefixtures("_dataset")
def test_a_body_moves_as_the_datasets_weights_move_it():
    """Every pose stays within the project's target, and no vertex bleeds."""
    spec = next(spec for spec in report_list() if spec.pose == "a_pose" and spec.age == "young")
    found = compare(build(spec))
    assert set(found.apart) == set(RULES)
    assert max(found.apart.values()) <= TARGET
    assert not found.bleeding


@pytest.mark.dataset
@pytest.mark.usefixtures("_dataset")
def test_all_bodies_keep_to_the_target():
    """The mean of every pose stays within the target, and no vertex of any body bleeds."""
    found = [measured(spec) for spec in report_list()]
    assert not sum(sum(body.bleeding.values()) for body in found)
    for pose in RULES:
        assert np.mean([body.apart[pose] for body in found]) <= TARGET
