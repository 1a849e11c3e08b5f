"""Mending repairs what has one right answer, says what it did, and leaves the rest alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.skeleton.checks import check
from autoplace.skeleton.convention import Convention
from autoplace.skeleton.mend import mend
from autoplace.skeleton.model import Joint, Skeleton, Source
from autoplace.skeleton.names import mirror_name
from autoplace.skeleton.orient import orient
from tests.figures import X, Y, Z, moved, standard_skeleton, turned

TURN = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
"""From our frame to one with Z up and the character facing -Y."""


def with_joint(figure, name, **changes):
    return figure.with_joints(tuple(replace(j, **changes) if j.name == name else j for j in figure))


def z_up(figure: Skeleton, scale: float = 174.0) -> Skeleton:
    """The figure in centimetres, Z up."""
    joints = tuple(replace(j, position=scale * TURN @ j.position) for j in figure)
    return replace(figure.with_joints(joints), source=Source(up="+Z", forward="-Y", height=scale))


def alike(one: Skeleton, two: Skeleton, within: float = 1e-9) -> bool:
    """Same joints, parents, places and axes."""
    return [(j.name, j.parent, j.aim) for j in one] == [
        (j.name, j.parent, j.aim) for j in two
    ] and (
        all(
            np.abs(a.position - b.position).max() <= within
            and np.abs(a.axes - b.axes).max() <= within
            for a, b in zip(one, two, strict=True)
        )
    )


def swapped_legs(figure):
    """Both legs under the other side's names, places as they were."""
    legs = ("hip", "knee", "ankle", "ball", "toe_tip")
    names = {f"{s}_{leg}": mirror_name(f"{s}_{leg}") for s in ("left", "right") for leg in legs}
    return figure.with_joints(
        tuple(
            replace(j, name=names.get(j.name, j.name), parent=names.get(j.parent, j.parent))
            for j in figure
        )
    )


def spun(figure, name, degrees):
    axes = figure[name].axes
    return with_joint(figure, name, axes=np.array([turned(r, axes[1], degrees) for r in axes]))


def last(figure, name):
    joint = figure[name]
    return figure.with_joints((*(j for j in figure if j.name != name), joint))


MISTAKES = {
    "a child first": (lambda s: last(s, "left_knee"), "parents_first"),
    "legs under swapped names": (swapped_legs, "sides_swapped"),
    "a tip turned away": (lambda s: spun(s, "left_ring_tip", 30), "tip_aligned"),
    "both tips turned away": (
        lambda s: spun(spun(s, "left_ring_tip", 30), "right_ring_tip", 10),
        "tip_aligned",
    ),
    "axes of length two": (
        lambda s: with_joint(s, "chest", axes=2 * s["chest"].axes),
        "rest_scale",
    ),
    "rounded axes": (
        lambda s: with_joint(s, "left_elbow", axes=np.round(s["left_elbow"].axes, 4)),
        "axes_orthonormal",
    ),
    "left-handed axes": (
        lambda s: with_joint(s, "chest", axes=np.diag([1.0, 1.0, -1.0]) @ s["chest"].axes),
        "axes_right_handed",
    ),
    "a rounded place": (
        lambda s: moved(s, {"left_wrist": s["left_wrist"].position + 3e-5 * s.source.height}),
        "mirrored_exactly",
    ),
    "one knee spun": (lambda s: spun(s, "left_knee", 3), "mirrored_axes"),
}


@pytest.mark.parametrize(
    ("frame", "mirror"),
    [
        pytest.param(lambda s: s, "motion", id="y_up-motion"),
        pytest.param(lambda s: s, "axes", id="y_up-axes", marks=pytest.mark.wide),
        pytest.param(z_up, "motion", id="z_up-motion", marks=pytest.mark.wide),
        pytest.param(z_up, "axes", id="z_up-axes"),
    ],
)
@pytest.mark.parametrize("name", MISTAKES)
def test_what_is_mended_passes_the_check_that_asked_for_it(name, frame, mirror):
    """The finding is there before and gone after, nothing new is found, and a second mending has
    nothing to do."""
    mistake, asked = MISTAKES[name]
    broken = mistake(orient(frame(standard_skeleton("A")), Convention(mirror=mirror)))
    assert asked in {f.check for f in check(broken)}
    done = mend(broken)
    assert done.changes
    assert check(done.skeleton) == ()
    again = mend(done.skeleton)
    assert again.changes == ()
    assert alike(again.skeleton, done.skeleton, 0.0)


def test_a_sound_skeleton_is_given_back_as_it_is():
    """No change, and the very same records."""
    figure = orient(standard_skeleton("A"))
    done = mend(figure)
    assert done.changes == ()
    assert all(a is b for a, b in zip(done.skeleton, figure, strict=True))


@pytest.mark.parametrize("name", ["legs under swapped names", "left-handed axes", "one knee spun"])
def test_mending_brings_back_what_was_broken(name):
    """Names, axes and places are those of the sound figure again."""
    figure = orient(standard_skeleton("A"))
    done = mend(MISTAKES[name][0](figure)).skeleton
    by_name = figure.with_joints(tuple(figure[j.name] for j in done))
    assert alike(done, by_name, 1e-12)


def test_rounding_is_shared_by_both_sides():
    """A wrist 6e-5 too far left: both move by half of that, in mirror image."""
    figure = orient(standard_skeleton("A"))
    off = moved(figure, {"left_wrist": figure["left_wrist"].position + 6e-5 * X})
    done = mend(off).skeleton
    expected = figure["left_wrist"].position + 3e-5 * X
    assert done["left_wrist"].position == pytest.approx(expected, abs=1e-12)
    assert done["right_wrist"].position == pytest.approx(expected * [-1, 1, 1], abs=1e-12)
    assert {j.name for j in done if np.abs(j.position - figure[j.name].position).max() > 1e-9} == {
        "left_wrist",
        "right_wrist",
    }


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_locked_joint_is_never_moved(side):
    """Its counterpart takes all of the rounding; with both locked nothing is moved."""
    figure = orient(standard_skeleton("A"))
    off = orient(moved(figure, {"left_wrist": figure["left_wrist"].position + 6e-5 * X}))
    locked, free = f"{side}_wrist", mirror_name(f"{side}_wrist")
    done = mend(with_joint(off, locked, locked=True)).skeleton
    assert np.array_equal(done[locked].position, off[locked].position)
    assert done[free].position == pytest.approx(off[locked].position * [-1, 1, 1], abs=1e-12)
    both = with_joint(with_joint(off, locked, locked=True), free, locked=True)
    assert alike(mend(both).skeleton, both, 0.0)


def test_a_joint_follows_its_locked_counterpart_only_in_a_symmetric_mesh():
    """Two percent apart is no rounding: in a mesh symmetric all over the free one follows, and in
    any other, or where nobody decided, both stay."""
    figure = standard_skeleton("A")
    off = orient(moved(figure, {"left_wrist": figure["left_wrist"].position + 0.02 * Z}))
    locked = with_joint(off, "left_wrist", locked=True)
    done = mend(locked, whole_residual=0.001).skeleton
    assert done["right_wrist"].position == pytest.approx(
        off["left_wrist"].position * [-1, 1, 1], abs=1e-12
    )
    for figure, residual in ((locked, None), (locked, 0.05), (off, 0.001)):
        assert alike(mend(figure, whole_residual=residual).skeleton, figure, 0.0)


def test_axes_that_a_person_turned_stay_when_a_place_is_mended():
    """A wrist spun by 20 degrees on both sides keeps that when rounding is taken out."""
    figure = orient(standard_skeleton("A"))
    for name in ("left_wrist", "right_wrist"):
        figure = spun(figure, name, 20)
    off = moved(figure, {"left_wrist": figure["left_wrist"].position + 6e-5 * X})
    done = mend(off).skeleton
    for name in ("left_wrist", "right_wrist"):
        assert np.array_equal(done[name].axes, figure[name].axes)


def test_one_of_two_joints_of_a_name_takes_the_side_it_lies_on():
    """Two left hips, one on the right, with the right leg below them: the right hip is back."""
    figure = orient(standard_skeleton("A"))
    doubled = figure.with_joints(
        tuple(
            replace(
                j,
                name="left_hip" if j.name == "right_hip" else j.name,
                parent="left_hip" if j.parent == "right_hip" else j.parent,
            )
            for j in figure
        )
    )
    done = mend(doubled)
    assert [c.joint for c in done.changes] == ["right_hip"]
    assert alike(done.skeleton, figure, 0.0)


def test_what_needs_judgement_is_left():
    """Straight knees, unlike sides, a wrong parent, axes askew, a name that two joints on one side
    have, a figure that faces the other way or hangs upside down: nothing is changed."""
    figure = orient(standard_skeleton("A"))
    knees = orient(standard_skeleton("A", knee=0))
    unlike = orient(moved(figure, {"left_knee": figure["left_knee"].position + 0.02 * Z}))
    parent = orient(with_joint(figure, "left_knee", parent="pelvis"))
    askew = with_joint(figure, "chest", axes=figure["chest"].axes + 0.1 * np.ones((3, 3)))
    twice = figure.with_joints((*figure, replace(figure["left_knee"], name="left_hip")))
    backward = orient(figure, forward="-Z")
    hanging = orient(figure, up="-Y")
    knee_only = orient(
        moved(
            figure,
            {n: figure[mirror_name(n)].position for n in ("left_knee", "right_knee")},
        )
    )
    for left in (knees, unlike, parent, askew, twice, backward, hanging, knee_only):
        done = mend(left)
        assert done.changes == ()
        assert alike(done.skeleton, left, 0.0)


def test_every_change_says_what_and_why():
    """Before, after and the reason are told, under the name that the joint has afterwards."""
    figure = orient(standard_skeleton("A"))
    for mistake, _ in MISTAKES.values():
        done = mend(mistake(figure))
        for change in done.changes:
            assert change.what in ("order", "name", "axes", "place")
            assert change.joint in done.skeleton
            assert all((change.before, change.after, change.why))


def test_a_skeleton_without_a_convention_keeps_its_axes():
    """Places and tips are mended, axes by a convention are not guessed."""
    figure = replace(orient(standard_skeleton("A")), settings={})
    left_handed = with_joint(figure, "chest", axes=np.diag([1.0, 1.0, -1.0]) @ figure["chest"].axes)
    assert mend(left_handed).changes == ()
    off = moved(figure, {"left_wrist": figure["left_wrist"].position + 6e-5 * Y})
    assert {c.what for c in mend(off).changes} == {"place"}


def test_joints_of_foreign_names_are_mended_in_order_only():
    """A chain of unknown names listed backward gets its order, and its places stay."""
    joints = tuple(
        Joint(f"j{k}", f"j{k - 1}" if k else None, np.array([0.0, k, 0.0])) for k in range(5)
    )
    done = mend(Skeleton(joints[::-1]))
    assert done.skeleton.names == ("j0", "j1", "j2", "j3", "j4")
    assert {c.what for c in done.changes} == {"order"}
