"""A convention is told from axes that follow one, and none from axes that do not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.skeleton.checks import survey
from autoplace.skeleton.checks.figure import prepare
from autoplace.skeleton.convention import AXIS_NAMES, Convention
from autoplace.skeleton.orient import orient
from tests.figures import standard_skeleton, turned

CONVENTIONS = [
    Convention(aim=aim, bend=bend, mirror=mirror)
    for aim in AXIS_NAMES
    for bend in AXIS_NAMES
    for mirror in ("motion", "axes")
    if aim[1] != bend[1]
]


def unsaid(convention, **changes):
    """The figure oriented by a convention that it does not record."""
    figure = replace(orient(standard_skeleton("A"), convention), settings={})
    return figure.with_joints(tuple(replace(j, axes=changes.get(j.name, j.axes)) for j in figure))


@pytest.mark.parametrize("convention", CONVENTIONS, ids=lambda c: f"{c.aim}{c.bend}{c.mirror}")
def test_every_convention_is_told_from_its_axes(convention):
    """Aim, bend and mirror of all 48, and then nothing is wrong but that it is not recorded."""
    figure = unsaid(convention)
    assert prepare(figure).convention == convention
    assert [(f.check, f.level) for f in survey(figure).findings] == [("oriented", "note")]


def test_a_joint_astray_is_told_from_the_many():
    """One elbow whose axes are turned by 5 degrees across its bone aims past its child."""
    figure = unsaid(Convention())
    axes = figure["left_elbow"].axes
    askew = np.array([turned(row, axes[0], 5) for row in axes])
    found = survey(unsaid(Convention(), left_elbow=askew)).findings
    assert {(f.check, f.joint) for f in found} >= {("aim", "left_elbow"), ("oriented", None)}


def test_axes_along_the_world_follow_none():
    """Nothing is guessed, and what needs a convention is not run."""
    figure = replace(standard_skeleton("A"), settings={})
    result = survey(figure)
    assert [(f.check, f.level) for f in result.findings] == [("oriented", "warning")]
    assert {"aim", "mirrored_axes", "bend_axes_agree", "bend_sign"} == {
        n for n, why in result.not_run.items() if "convention" in why
    }


def test_a_convention_that_only_aims_is_told_without_bends():
    """Axes spun about their bones by any angles still aim; bends are then left out."""
    figure = orient(standard_skeleton("A"))
    rng = np.random.default_rng(5)
    spun = {
        j.name: np.array([turned(r, j.axes[1], a) for r in j.axes])
        for j, a in zip(figure, rng.uniform(60, 300, len(figure)), strict=True)
    }
    guess = prepare(unsaid(Convention(), **spun)).guessed
    assert guess is not None
    assert guess.convention.aim == "+Y"
    assert not guess.bends
