"""Joints of real bodies kept in changed ones, against the joints that are known there."""

from __future__ import annotations

import pytest

from tests.keep.cases import TOPOLOGIES, pairs
from tests.keep.report import measure, summary

pytestmark = pytest.mark.usefixtures("_dataset")

HELD = {"same": (0.01, 0.85, 6.3), "shuffled": (0.07, 1.0, 5.8), "fewer": (0.07, 1.0, 5.8)}
"""Median, 95th percentile and worst error that are reached and held, percent of the height. What
is left is where bodies grow fat on one side of a bone, and in the trunks of babies that become
children, where the known joints do not keep their place in the flesh either. The worst of the last
two was 5.6 before hips and shoulders were read from less of the trunk."""


@pytest.mark.parametrize("topology", ["same", pytest.param("shuffled", marks=pytest.mark.wide)])
def test_longer_arms_keep_all_joints(topology):
    """By vertices to 0.1 percent of the height, by bones to 0.4 percent; coordinates would be off
    by 5 percent."""
    at = [pair.change for pair in pairs()].index("longer arms")
    told = summary(measure([at], False, topology, workers=1))
    assert told["kept"][2] < {"same": 0.1, "shuffled": 0.4}[topology]
    assert told["same coordinates"][2] > 5.0


@pytest.mark.dataset
@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_all_changes_hold_their_errors(topology):
    """Other weight, muscle, age, proportions, arms and pose, and nearer than placing anew."""
    told = summary(measure(range(len(pairs())), False, topology))
    for value, limit in zip(told["kept"], HELD[topology], strict=True):
        assert value <= limit
    for value, anew in zip(told["kept"][:2], told["placed anew"][:2], strict=True):
        assert value < anew
