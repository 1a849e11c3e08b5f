"""Forward kinematics and skinning against an independent library and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from autoplace.errors import SkeletonError
from autoplace.skeleton.convention import DEFAULT, Convention
from autoplace.skeleton.names import mirror_name, side_of
from autoplace.skeleton.orient import orient
from autoplace.skeleton.pose import Turn, axis_turns, named_axes, pose_skeleton, skin, turn_for
from autoplace.skeleton.skin.binding import Binding
from tests.dataset import poses
from tests.figures import MIRROR, standard_skeleton

FIGURE = orient(standard_skeleton("A"))


def random_pose(seed: int = 0) -> dict[str, Turn]:
    draw = np.random.default_rng(seed)
    return {joint.name: Turn(*draw.uniform(-80, 80, 3)) for joint in FIGURE}


def test_positions_agree_with_scipy():
    """A random turn of every joint, composed joint by joint with scipy's intrinsic Euler angles:
    bend is X, the third axis Z and the aim Y of the default convention."""
    pose = random_pose()
    posed = pose_skeleton(FIGURE, pose)
    world: dict[str, Rotation] = {}
    for i, joint in enumerate(FIGURE):
        turn = pose[joint.name]
        own = Rotation.from_euler("XZY", [turn.bend, turn.third, turn.aim], degrees=True)
        rest = Rotation.from_matrix(joint.axes.T)
        above = world[joint.parent] if joint.parent else Rotation.identity()
        world[joint.name] = above * rest * own * rest.inv()
        at = joint.position
        if joint.parent:
            parent = FIGURE.names.index(joint.parent)
            bone = joint.position - FIGURE[joint.parent].position
            at = posed.positions[parent] + above.apply(bone)
        assert np.allclose(posed.positions[i], at, atol=1e-12), joint.name
        assert np.allclose(posed.turn[i], world[joint.name].as_matrix(), atol=1e-12)
        assert np.allclose(posed.axes[i], world[joint.name].apply(joint.axes), atol=1e-12)


def test_the_datasets_own_posing_gives_the_same():
    """Turns given as rotations by the dataset's code, keyed on the joints' axes here, put every
    joint where that code puts it."""
    rest = {joint.name: joint.position for joint in FIGURE}
    turns = poses.turns_of(rest, poses.random_pose(3))
    keyed = {
        name: turn_for(turn, FIGURE[name].axes, DEFAULT)
        for name, turn in turns.items()
        if name in FIGURE
    }
    assert len(keyed) > 30
    posed = pose_skeleton(FIGURE, keyed)
    known = poses.posed_joints(rest, turns)
    for i, name in enumerate(FIGURE.names):
        assert np.allclose(posed.positions[i], known[name], atol=1e-12), name


def test_no_turn_moves_nothing_to_the_last_bit():
    """An empty pose, and one of zeros, leave positions and axes as they are."""
    for pose in ({}, dict.fromkeys(FIGURE.names, Turn())):
        posed = pose_skeleton(FIGURE, pose)
        assert np.array_equal(posed.positions, FIGURE.positions())
        assert np.array_equal(posed.axes, [joint.axes for joint in FIGURE])


def test_bones_keep_their_lengths_and_axes_stay_square():
    """No pose stretches a bone or skews axes; the 4x4 matrices say the same as turn and shift."""
    posed = pose_skeleton(FIGURE, random_pose(1))
    moved = posed.of(FIGURE)
    for i, joint in enumerate(FIGURE):
        assert np.allclose(posed.axes[i] @ posed.axes[i].T, np.eye(3), atol=1e-12)
        ends = np.append(joint.position, 1.0)
        assert np.allclose((posed.matrices[i] @ ends)[:3], posed.positions[i], atol=1e-12)
        if joint.parent:
            lengths = [
                np.linalg.norm(s[joint.name].position - s[joint.parent].position)
                for s in (FIGURE, moved)
            ]
            assert lengths[0] == pytest.approx(lengths[1], abs=1e-12)


@pytest.mark.parametrize("convention", [DEFAULT, Convention(aim="-Z", bend="+X", mirror="motion")])
def test_equal_values_mirror(convention):
    """The same turns on both sides of a symmetric figure give a symmetric figure."""
    figure = orient(standard_skeleton("A"), convention)
    draw = np.random.default_rng(2)
    values = {n: Turn(*draw.uniform(-60, 60, 3)) for n in figure.names if side_of(n) == "left"}
    values = {n: t for n, t in values.items() if not n.endswith("_eye")}
    posed = pose_skeleton(figure, values | {mirror_name(n): t for n, t in values.items()})
    for i, name in enumerate(figure.names):
        other = figure.names.index(mirror_name(name))
        assert np.allclose(MIRROR @ posed.positions[i], posed.positions[other], atol=1e-12), name


@pytest.mark.parametrize("seed", range(5))
def test_turn_for_is_the_way_back(seed):
    """A random rotation, split into turns about a joint's axes, is made again by these turns."""
    wanted = Rotation.random(random_state=seed).as_matrix()
    axes = Rotation.random(random_state=100 + seed).as_matrix()
    for convention in (DEFAULT, Convention(aim="-X", bend="+Z")):
        turn = turn_for(wanted, axes, convention)
        again = np.eye(3)
        for axis, degrees in zip(named_axes(axes, convention), vars(turn).values(), strict=True):
            again = again @ axis_turns(axis[None], np.array([degrees]))[0]
        assert np.allclose(again, wanted, atol=1e-12)


def test_turn_for_at_a_right_angle_gives_the_aim_no_turn():
    """Ninety degrees about the third axis leave bend and aim alike; the bend takes all."""
    third = Rotation.from_euler("Z", 90, degrees=True)
    wanted = (Rotation.from_euler("X", 30, degrees=True) * third).as_matrix()
    turn = turn_for(wanted, np.eye(3), DEFAULT)
    assert (turn.bend, turn.third, turn.aim) == pytest.approx((30, 90, 0), abs=1e-6)


def test_a_joint_that_is_not_there_is_refused():
    """A pose for another skeleton is told by the joint's name."""
    with pytest.raises(SkeletonError, match="'left_tentacle', which the skeleton does not have"):
        pose_skeleton(FIGURE, {"left_tentacle": Turn(10)})


def test_skin_goes_to_the_weighted_mean():
    """A vertex of one joint is carried rigidly; one shared by two goes half way between."""
    posed = pose_skeleton(FIGURE, {"left_elbow": Turn(90)})
    upper, lower = (FIGURE.names.index(f"left_{stem}") for stem in ("shoulder", "elbow"))
    at = FIGURE["left_wrist"].position
    joints = np.array([[upper, 0, 0, 0], [lower, 0, 0, 0], [upper, lower, 0, 0]])
    weights = np.array([[1.0, 0, 0, 0], [1.0, 0, 0, 0], [0.5, 0.5, 0, 0]])
    moved = skin(np.array([at, at, at]), Binding(joints, weights, np.arange(3)), posed)
    wrist = posed.positions[FIGURE.names.index("left_wrist")]
    assert np.allclose(moved, [at, wrist, (at + wrist) / 2], atol=1e-12)
