"""Moving, locking and putting back joints, as a person does it on both sides of the body."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from autoplace.errors import SkeletonError
from autoplace.skeleton.edit_moves import lock_joint, move_joint, reset_all, reset_joint, respace
from autoplace.skeleton.edits import Edits, JointEdit, apply_edits
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import finger_of, mirror_name, side_of, stem
from tests.figures import moved, turned
from tests.placed_figure import SOURCE, placed_figure

NONE = Edits(SOURCE)
FLIP = np.array([-1.0, 1.0, 1.0])
SHIFT = np.array([0.0123, -0.0045, 0.0067])
AHEAD = np.array([0.0, 0.0, 0.03])


def at(name: str, skeleton: Skeleton | None = None) -> np.ndarray:
    return (placed_figure() if skeleton is None else skeleton)[name].position


def place(edits: Edits, name: str) -> np.ndarray:
    edit = edits.of(name)
    assert edit is not None, name
    assert edit.position is not None, name
    return edit.position


def named(edits: Edits) -> set[str]:
    return {edit.name for edit in edits.joints}


def test_the_partner_gets_the_exact_mirror_image():
    """x negated to the last bit, y and z equal; nothing else is edited."""
    goal = at("left_elbow") + SHIFT
    edits = move_joint(placed_figure(), NONE, "left_elbow", goal)
    assert named(edits) == {"left_elbow", "right_elbow"}
    assert np.array_equal(place(edits, "left_elbow"), goal)
    assert np.array_equal(place(edits, "right_elbow"), goal * FLIP)
    again = move_joint(placed_figure(), edits, "right_elbow", place(edits, "right_elbow") + 0.1)
    assert np.array_equal(place(again, "left_elbow") * FLIP, place(again, "right_elbow"))


def test_without_mirror_only_the_joint_moves():
    """The other side is left alone."""
    edits = move_joint(placed_figure(), NONE, "left_elbow", at("left_elbow") + SHIFT, mirror=False)
    assert named(edits) == {"left_elbow"}


def test_a_pair_that_is_not_mirrored_moves_by_the_mirrored_displacement():
    """After one side alone was moved, both keep what sets them apart."""
    apart = move_joint(placed_figure(), NONE, "left_elbow", at("left_elbow") + 0.05, mirror=False)
    goal = place(apart, "left_elbow") + SHIFT
    edits = move_joint(placed_figure(), apart, "left_elbow", goal)
    assert place(edits, "right_elbow") == pytest.approx(at("right_elbow") + SHIFT * FLIP, abs=1e-15)


def test_a_joint_on_the_middle_stays_on_it():
    """The sideways part is dropped with mirror, and kept without."""
    goal = at("chest") + SHIFT
    edits = move_joint(placed_figure(), NONE, "chest", goal)
    assert np.array_equal(place(edits, "chest"), goal * [0, 1, 1])
    free = move_joint(placed_figure(), NONE, "chest", goal, mirror=False)
    assert np.array_equal(place(free, "chest"), goal)
    beside = move_joint(placed_figure(), free, "chest", goal + SHIFT)
    assert np.array_equal(place(beside, "chest"), goal + SHIFT)


def test_children_stay_unless_they_follow():
    """All that hangs from the joint is carried by one displacement, mirrored on the other side."""
    goal = at("left_wrist") + SHIFT
    edits = move_joint(placed_figure(), NONE, "left_wrist", goal, follow=True)
    hand = {n for n in placed_figure().names if finger_of(n) or stem(n) == "wrist"}
    assert named(edits) == hand
    assert len(hand) == 42
    for name in hand:
        if side_of(name) == "left":
            assert place(edits, name) == pytest.approx(at(name) + SHIFT, abs=1e-15)
            assert np.array_equal(place(edits, name) * FLIP, place(edits, mirror_name(name)))


def test_the_trunk_carries_both_sides():
    """What hangs from the chest moves by the same displacement left and right."""
    edits = move_joint(placed_figure(), NONE, "chest", at("chest") + SHIFT, follow=True)
    for name in ("head_top", "left_index_tip", "right_index_tip"):
        assert place(edits, name) == pytest.approx(at(name) + SHIFT * [0, 1, 1], abs=1e-15)
    assert "left_hip" not in named(edits)


def test_a_locked_joint_is_not_carried_along():
    """It stays with all that hangs from it; a locked partner stays too."""
    edits = lock_joint(placed_figure(), NONE, "left_index_2", True, mirror=False)
    edits = lock_joint(placed_figure(), edits, "right_ankle", True, mirror=False)
    after = move_joint(placed_figure(), edits, "left_wrist", at("left_wrist") + SHIFT, follow=True)
    assert np.array_equal(place(after, "left_index_2"), at("left_index_2"))
    assert "left_index_3" not in named(after)
    assert place(after, "right_index_3") == pytest.approx(at("right_index_3") + SHIFT * FLIP)
    after = move_joint(placed_figure(), edits, "left_ankle", at("left_ankle") + SHIFT)
    assert np.array_equal(place(after, "right_ankle"), at("right_ankle"))


def test_a_person_may_move_what_is_locked():
    """It stays locked, and of a locked pair both move."""
    edits = lock_joint(placed_figure(), NONE, "left_ankle", True)
    goal = at("left_ankle") + SHIFT
    edits = move_joint(placed_figure(), edits, "left_ankle", goal)
    assert edits.of("left_ankle") == JointEdit("left_ankle", goal, True)
    assert edits.of("right_ankle") == JointEdit("right_ankle", goal * FLIP, True)


def test_tips_can_be_moved():
    """A tip helper is where a chain ends, which a person may decide like anything else."""
    edits = move_joint(placed_figure(), NONE, "left_toe_tip", at("left_toe_tip") + SHIFT)
    corrected = apply_edits(placed_figure(), edits)
    bone = corrected["left_toe_tip"].position - corrected["left_ball"].position
    assert corrected["left_ball"].axes[1] == pytest.approx(bone / np.linalg.norm(bone))


def test_a_joint_moved_back_is_not_edited():
    """Where it stands as placed and is not locked, nothing was decided."""
    edits = move_joint(placed_figure(), NONE, "left_knee", at("left_knee") + SHIFT)
    assert move_joint(placed_figure(), edits, "left_knee", at("left_knee")) == NONE


def test_locking_writes_the_place_down_and_freeing_takes_it_back():
    """Of both sides; a joint that was moved stays moved when it is freed."""
    edits = lock_joint(placed_figure(), NONE, "left_knee", True)
    assert edits.locked == ("left_knee", "right_knee")
    assert np.array_equal(place(edits, "right_knee"), at("right_knee"))
    assert lock_joint(placed_figure(), edits, "right_knee", False) == NONE
    edits = move_joint(placed_figure(), edits, "left_knee", at("left_knee") + SHIFT)
    edits = lock_joint(placed_figure(), edits, "left_knee", False, mirror=False)
    assert edits.of("left_knee") == JointEdit("left_knee", at("left_knee") + SHIFT, False)
    assert edits.locked == ("right_knee",)


def test_a_joint_is_put_back_with_its_lock():
    """With its partner, or alone; or all of them."""
    edits = lock_joint(placed_figure(), NONE, "left_knee", True)
    edits = move_joint(placed_figure(), edits, "left_knee", at("left_knee") + SHIFT)
    edits = respace(placed_figure(), edits, "spine", 5)
    assert named(reset_joint(placed_figure(), edits, "left_knee")) == named(edits) - {
        "left_knee",
        "right_knee",
    }
    alone = reset_joint(placed_figure(), edits, "left_knee", mirror=False)
    assert named(alone) == named(edits) - {"left_knee"}
    assert reset_all(placed_figure(), edits) == NONE


def test_a_joint_that_is_not_there_is_told():
    """By every move, as by `apply_edits`."""
    for move in (
        lambda: move_joint(placed_figure(), NONE, "left_kne", SHIFT),
        lambda: lock_joint(placed_figure(), NONE, "left_kne", True),
        lambda: reset_joint(placed_figure(), NONE, "left_kne"),
    ):
        with pytest.raises(SkeletonError, match="left_knee"):
            move()
    with pytest.raises(SkeletonError, match="three finite numbers"):
        move_joint(placed_figure(), NONE, "left_knee", [0, 1, np.inf])


def test_a_figure_that_stands_askew_is_mirrored_in_its_own_plane():
    """Turned anyhow and shifted: both sides are as far from the plane, and as high and deep."""
    turn = Rotation.from_rotvec([0.4, -0.9, 0.3]).as_matrix()
    base = placed_figure()
    figure = Skeleton(
        moved(base, {j.name: turn @ j.position + [3.0, 1.0, 2.0] for j in base}).joints,
        SOURCE,
        settings={"orientation": {"up": list(turn[:, 1]), "forward": list(turn[:, 2])}},
    )
    edits = move_joint(figure, NONE, "left_knee", at("left_knee", figure) + turn @ SHIFT)
    wanted = turn @ ((at("left_knee") + SHIFT) * FLIP) + [3.0, 1.0, 2.0]
    assert place(edits, "right_knee") == pytest.approx(wanted, abs=1e-12)
    edits = move_joint(figure, NONE, "neck", at("neck", figure) + turn @ SHIFT)
    wanted = turn @ (at("neck") + SHIFT * [0, 1, 1]) + [3.0, 1.0, 2.0]
    assert place(edits, "neck") == pytest.approx(wanted, abs=1e-12)


def test_a_raised_arm_moves_by_the_mirrored_displacement():
    """A figure posed otherwise on one side keeps its pose."""
    shoulder = at("left_shoulder")
    raised = {
        joint.name: shoulder + turned(joint.position - shoulder, np.array([0, 0, 1.0]), 40)
        for joint in placed_figure()
        if joint.name == "left_elbow" or joint.name.startswith(("left_wrist", "left_index"))
    }
    figure = moved(placed_figure(), raised)
    edits = move_joint(figure, NONE, "left_wrist", raised["left_wrist"] + SHIFT)
    assert place(edits, "right_wrist") == pytest.approx(at("right_wrist") + SHIFT * FLIP)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 7])
def test_the_spine_gets_as_many_joints_evenly_spaced(count):
    """First and chest keep their places, the steps between are equal, nothing else moves."""
    edits = respace(placed_figure(), NONE, "spine", count)
    corrected = apply_edits(placed_figure(), edits)
    names = [*(f"spine_{n}" for n in range(1, count)), "chest"]
    assert [n for n in corrected.names if n.startswith("spine") or n == "chest"] == names
    assert edits.spine == count
    for joint in placed_figure():
        if joint.name not in ("spine_1", "spine_2"):
            assert np.array_equal(at(joint.name, corrected), joint.position)
    if count > 1:
        assert np.array_equal(at("spine_1", corrected), at("spine_1"))
    points = np.array([at(name, corrected) for name in names])
    assert np.all(points[:, 0] == 0.0)
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    assert np.ptp(steps) < 0.002 if count > 1 else len(steps) == 0
    parents = {joint.name: joint.parent for joint in corrected}
    assert parents[names[0]] == "pelvis"
    assert parents["neck"] == parents["left_clavicle"] == "chest"


def test_neck_joints_lie_evenly_between_neck_and_head():
    """`neck` keeps its place, and the head hangs from the last of them."""
    edits = respace(placed_figure(), NONE, "neck", 3)
    corrected = apply_edits(placed_figure(), edits)
    points = np.array([at(n, corrected) for n in ("neck", "neck_2", "neck_3", "head")])
    assert np.array_equal(points[0], at("neck"))
    assert np.array_equal(points[-1], at("head"))
    assert np.ptp(np.linalg.norm(np.diff(points, axis=0), axis=1)) < 1e-4
    assert corrected["head"].parent == "neck_3"
    one = apply_edits(placed_figure(), respace(placed_figure(), edits, "neck", 1))
    assert one.names == placed_figure().names
    assert one["head"].parent == "neck"


def test_spacing_follows_what_was_moved_and_drops_what_is_gone():
    """A chest that was moved stays there; edits of joints that no longer exist are dropped."""
    edits = move_joint(placed_figure(), NONE, "chest", at("chest") + AHEAD)
    edits = move_joint(placed_figure(), edits, "left_knee", at("left_knee") + SHIFT)
    edits = respace(placed_figure(), edits, "spine", 5)
    assert named(edits) >= {"spine_2", "spine_3", "spine_4", "chest", "left_knee"}
    less = respace(placed_figure(), edits, "spine", 2)
    assert named(less) == {"chest", "left_knee", "right_knee"}
    assert np.array_equal(place(less, "chest"), at("chest") + AHEAD)
    apply_edits(placed_figure(), less)


def test_a_chain_that_cannot_be_spaced_is_told():
    """No such chain, no such number, or a skeleton without it."""
    with pytest.raises(SkeletonError, match="no chain 'arm'"):
        respace(placed_figure(), NONE, "arm", 2)
    with pytest.raises(SkeletonError, match="spine of 18 joints"):
        respace(placed_figure(), NONE, "spine", 18)
    lone = placed_figure().with_joints(placed_figure().joints[:1])
    with pytest.raises(SkeletonError, match="no 'chest'"):
        respace(lone, NONE, "spine", 2)
