"""Orientation of whole figures: closed forms, behaviour under turns, mirror images, frames."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from autoplace.errors import SkeletonError
from autoplace.skeleton.convention import AXIS_NAMES, DEFAULT, Convention, axis_vector
from autoplace.skeleton.model import Joint, Skeleton, Source
from autoplace.skeleton.names import LONG_FINGERS, family, is_tip, mirror_name, side_of
from autoplace.skeleton.orient import orient
from tests.examples import examples
from tests.figures import MIRROR, POSES, X, Y, Z, angle, moved, standard_skeleton, turned, without

BOTH_POSES = pytest.mark.parametrize("pose", ["T", "A", "hanging", "straight"])


def turn(skeleton: Skeleton, name: str, axis: str, degrees: float) -> dict[str, np.ndarray]:
    """Positions of all joints after `name` is turned about its own local axis."""
    joint = skeleton[name]
    local = axis_vector(axis) @ joint.axes
    rotation = Rotation.from_rotvec(np.radians(degrees) * local)
    at = {j.name: np.asarray(j.position) for j in skeleton}
    below = {name}
    for other in skeleton:
        if other.parent in below:
            below.add(other.name)
            at[other.name] = rotation.apply(other.position - joint.position) + joint.position
    return at


def test_trunk_of_an_upright_figure_has_the_bodys_own_directions():
    """A spine that rises straight up gets X to the left, Y up and Z forward, to the last bit."""
    names = ["pelvis", "spine_1", "chest", "neck", "head", "head_top"]
    joints = [
        Joint(n, names[i - 1] if i else None, np.array([0, 0.5 + 0.1 * i, 0]))
        for i, n in enumerate(names)
    ]
    for joint in orient(Skeleton(tuple(joints))):
        assert np.array_equal(joint.axes, np.eye(3)), joint.name


def test_t_pose_axes_in_closed_form():
    """Straight limbs of a T-pose give axes that can be written down by hand."""
    figure = orient(standard_skeleton("straight"))
    expected = {
        "left_hip": [X, -Y, -Z],
        "left_shoulder": [-Y, X, Z],
        "left_elbow": [-Y, X, Z],
        "left_wrist": [-Z, X, -Y],
        "left_middle_2": [-Z, X, -Y],
        "left_eye": [X, Z, -Y],
        "right_eye": [X, Z, -Y],
        "right_shoulder": [Y, X, -Z],
        "right_hip": [X, Y, Z],
        "right_wrist": [Z, X, Y],
    }
    for name, rows in expected.items():
        assert np.allclose(figure[name].axes, rows, atol=1e-12), name


@BOTH_POSES
@pytest.mark.parametrize("mirror", ["motion", "axes"])
def test_axes_are_orthonormal_right_handed_and_aim_at_the_child(pose, mirror):
    """Every joint of every pose: rotation matrices to 1e-12, aim error under 1e-9 degrees."""
    figure = orient(standard_skeleton(pose), Convention(mirror=mirror))
    for joint in figure:
        assert np.allclose(joint.axes @ joint.axes.T, np.eye(3), atol=1e-12), joint.name
        assert np.linalg.det(joint.axes) > 0.999, joint.name
        children = figure.children(joint.name)
        if len(children) == 1:
            bone = children[0].position - joint.position
            away = mirror == "motion" and side_of(joint.name) == "right"
            aim = DEFAULT.bone(joint.axes) * (-1 if away else 1)
            assert angle(aim, bone) < 1e-6, joint.name
    aims = {"pelvis": "spine_1", "chest": "neck", "head": "head_top", "left_wrist": "left_middle_1"}
    for name, child in aims.items():
        assert angle(figure[name].axes[1], figure[child].position - figure[name].position) < 1e-6


@pytest.mark.parametrize("pose", ["T", "A", "hanging", "straight"])
@pytest.mark.parametrize("side", ["left", "right"])
def test_a_positive_turn_about_the_bend_axis_flexes(pose, side):
    """Spine and head go forward, elbows forward, knees back, fingers to the palm, toes down."""
    figure = orient(standard_skeleton(pose))
    out = X if side == "left" else -X
    down = np.radians(POSES[pose]["arm_down"])
    palm = -np.sin(down) * out - np.cos(down) * Y

    def shift(joint: str, child: str) -> np.ndarray:
        return turn(figure, joint, "+X", 10)[child] - figure[child].position

    for joint in ("pelvis", "spine_1", "spine_2", "chest", "neck"):
        assert shift(joint, "head_top") @ Z > 0, joint
    assert shift("head", "head_top") @ Z > 0
    assert shift(f"{side}_clavicle", f"{side}_wrist") @ Z > 0
    assert shift(f"{side}_shoulder", f"{side}_elbow") @ Z > 0
    assert shift(f"{side}_elbow", f"{side}_wrist") @ Z > 0
    assert shift(f"{side}_knee", f"{side}_ankle") @ Z < 0
    assert shift(f"{side}_ankle", f"{side}_toe_tip") @ Y < 0
    assert shift(f"{side}_ball", f"{side}_toe_tip") @ Y < 0
    assert shift(f"{side}_wrist", f"{side}_middle_tip") @ palm > 0
    for finger in LONG_FINGERS:
        for number in (1, 2, 3):
            moved_by = shift(f"{side}_{finger}_{number}", f"{side}_{finger}_tip")
            assert moved_by @ palm > 0, (finger, number)
    pinky = figure[f"{side}_pinky_1"].position
    for number in (1, 2, 3):
        tip = f"{side}_thumb_tip"
        after = turn(figure, f"{side}_thumb_{number}", "+X", 10)[tip]
        assert np.linalg.norm(after - pinky) < np.linalg.norm(figure[tip].position - pinky)


@BOTH_POSES
def test_equal_values_move_both_sides_in_mirror_image(pose):
    """Any local turn of a left joint and the same of its pair end in mirror images, to 1e-12."""
    figure = orient(standard_skeleton(pose))
    for joint in figure:
        if side_of(joint.name) != "left" or family(joint.name) == "eye":
            continue
        for axis in ("+X", "+Y", "+Z"):
            left = turn(figure, joint.name, axis, 25)
            right = turn(figure, mirror_name(joint.name), axis, 25)
            for name, at in left.items():
                assert np.allclose(MIRROR @ at, right[mirror_name(name)], atol=1e-12), name


@BOTH_POSES
@pytest.mark.parametrize("mirror", ["motion", "axes"])
def test_mirrored_positions_give_mirrored_axes(pose, mirror):
    """Each local axis of a right joint is the left one's mirror image or its reverse, to 1e-12."""
    figure = orient(standard_skeleton(pose), Convention(mirror=mirror))
    for joint in figure:
        if side_of(joint.name) != "left":
            continue
        image, other = joint.axes @ MIRROR, figure[mirror_name(joint.name)].axes
        if mirror == "motion" and family(joint.name) != "eye":
            assert np.allclose(other, -image, atol=1e-12), joint.name
        signs = np.sign(np.sum(image * other, axis=1))
        assert np.allclose(other, signs[:, None] * image, atol=1e-12), joint.name
        assert np.prod(signs) == -1


def test_axes_mode_makes_bend_axes_parallel_where_it_can():
    """Legs and hanging arms flex alike; T-pose arms get parallel bend axes; bones still aim."""
    convention = Convention(mirror="axes")
    t = orient(standard_skeleton("T"), convention)
    for stem in ("hip", "knee", "ankle", "ball", "clavicle", "shoulder", "elbow", "wrist"):
        assert t[f"left_{stem}"].axes[0] @ t[f"right_{stem}"].axes[0] > 0.9, stem
    for finger in LONG_FINGERS:
        assert t[f"left_{finger}_2"].axes[0] @ t[f"right_{finger}_2"].axes[0] > 0.8, finger
    hanging = orient(standard_skeleton("hanging"), convention)
    for stem in ("shoulder", "elbow"):
        assert hanging[f"left_{stem}"].axes[0] @ hanging[f"right_{stem}"].axes[0] > 0.9
    for figure in (t, hanging, orient(standard_skeleton("A"), convention)):
        for side in ("left", "right"):
            bone = figure[f"{side}_wrist"].position - figure[f"{side}_elbow"].position
            assert angle(figure[f"{side}_elbow"].axes[1], bone) < 1e-6


def test_both_eyes_turn_one_way_unless_told_to_mirror():
    """Equal values carry both gazes to the same side; `eyes = "mirror"` makes them cross."""
    together = orient(standard_skeleton())
    assert np.array_equal(together["left_eye"].axes, together["right_eye"].axes)
    apart = orient(standard_skeleton(), Convention(eyes="mirror"))
    assert np.allclose(apart["right_eye"].axes, -apart["left_eye"].axes @ MIRROR)


@pytest.mark.parametrize("aim", AXIS_NAMES)
@pytest.mark.parametrize("bend", AXIS_NAMES)
def test_every_choice_of_axes_aims_and_bends_as_named(aim, bend):
    """All 24 conventions put the named axes on bone and hinge, right-handed; 12 are refused."""
    if aim[1] == bend[1]:
        with pytest.raises(SkeletonError, match="one line"):
            Convention(aim=aim, bend=bend)
        return
    convention = Convention(aim=aim, bend=bend)
    plain, other = orient(standard_skeleton("A")), orient(standard_skeleton("A"), convention)
    for joint in plain:
        axes = other[joint.name].axes
        assert np.allclose(axis_vector(aim) @ axes, joint.axes[1], atol=1e-12)
        assert np.allclose(axis_vector(bend) @ axes, joint.axes[0], atol=1e-12)
        assert np.linalg.det(axes) == pytest.approx(1.0)


@pytest.mark.parametrize("elbow", [0, 2, 8])
def test_turned_moved_and_scaled_input_turns_the_axes_with_it(elbow):
    """Any rigid frame and any size from 1e-6 to 1e6 gives the same axes, turned along; also where
    straight arms leave the elbow to what hand and body say."""
    figure = standard_skeleton("A", elbow=elbow, arm_down=30)
    twist = Rotation.from_rotvec(np.radians(15) * figure["left_wrist"].position)
    figure = moved(
        figure,
        {
            j.name: twist.apply(j.position - figure["left_wrist"].position)
            + figure["left_wrist"].position
            for j in figure
            if j.name.startswith("left_") and family(j.name) == "finger"
        },
    )
    plain = orient(figure)
    turns = Rotation.random(6, random_state=4).as_matrix()
    for matrix, size in zip(turns, (1e-6, 1e-3, 1.0, 1.74, 1e3, 1e6), strict=True):
        there = figure.with_joints(
            tuple(
                replace(j, position=size * (matrix @ j.position) + size * np.array([3.0, -2, 5]))
                for j in figure
            )
        )
        result = orient(there, up=matrix @ Y, forward=matrix @ Z)
        for joint in plain:
            assert np.allclose(result[joint.name].axes, joint.axes @ matrix.T, atol=1e-6)
            assert np.array_equal(result[joint.name].position, there[joint.name].position)


def test_up_and_forward_come_from_the_source_by_name():
    """A Z-up figure that faces -Y is oriented by its source's words alone."""
    matrix = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])  # +Y to +Z, +Z to -Y
    figure = standard_skeleton()
    there = replace(
        figure.with_joints(tuple(replace(j, position=matrix @ j.position) for j in figure)),
        source=Source(up="+Z", forward="-Y"),
    )
    plain, result = orient(figure), orient(there)
    for joint in plain:
        assert np.allclose(result[joint.name].axes, joint.axes @ matrix.T, atol=1e-12)


def test_a_second_run_changes_nothing():
    """Orienting an oriented skeleton gives the same bits, also when up and forward were given."""
    matrix = Rotation.from_euler("y", 30, degrees=True).as_matrix()
    figure = standard_skeleton("A")
    there = figure.with_joints(tuple(replace(j, position=matrix @ j.position) for j in figure))
    once = orient(there, forward=matrix @ Z)
    twice = orient(once)
    for joint in once:
        assert np.array_equal(joint.axes, twice[joint.name].axes)
    assert once.settings == twice.settings


def test_up_and_forward_on_one_line_are_refused():
    """A contradiction is a plain error, not a matrix of nan."""
    with pytest.raises(SkeletonError, match="along one line"):
        orient(standard_skeleton(), up="+Y", forward="-Y")
    with pytest.raises(SkeletonError, match="not an axis"):
        orient(standard_skeleton(), up="Y up")


def test_the_whole_spine_bends_on_one_axis_in_the_sagittal_plane():
    """On a symmetric figure all trunk bend axes are the character's left, to the last bit."""
    figure = orient(standard_skeleton("A"))
    for name in ("pelvis", "spine_1", "spine_2", "chest", "neck", "head", "head_top"):
        assert np.array_equal(figure[name].axes[0], X), name


def test_a_turned_head_takes_its_axis_from_the_eyes():
    """With the eyes turned 30 degrees aside, head and gaze turn with them; the neck does not."""
    figure = standard_skeleton()
    head = figure["head"].position
    places = {
        name: head + turned(figure[name].position - head, Y, 30)
        for name in ("left_eye", "right_eye", "head_top")
    }
    result = orient(moved(figure, places))
    assert angle(result["head"].axes[0], turned(X, Y, 30)) < 0.1
    assert angle(result["left_eye"].axes[1], turned(Z, Y, 30)) < 0.1
    assert np.array_equal(result["neck"].axes[0], X)


def test_an_eye_aims_where_it_looks():
    """A seen look direction is aimed at exactly; without one the eye looks forward."""
    figure = standard_skeleton()
    look = np.array([0.1, -0.05, 1.0]) / np.linalg.norm([0.1, -0.05, 1.0])
    joints = tuple(replace(j, look=look) if j.name == "left_eye" else j for j in figure)
    result = orient(figure.with_joints(joints))
    assert angle(result["left_eye"].axes[1], look) < 1e-6
    assert np.array_equal(result["right_eye"].axes[1], Z)


def test_tips_copy_their_parent():
    """Finger tips, toe tips and the top of the head have their parent's axes, bit for bit."""
    figure = orient(standard_skeleton("hanging"))
    tips = [j for j in figure if is_tip(j.name)]
    assert len(tips) == 13
    for tip in tips:
        assert np.array_equal(tip.axes, figure[tip.parent].axes), tip.name


@pytest.mark.parametrize(
    "missing",
    ["thumb", "ring", "eye", "clavicle", "neck", "head_top", "spine", "ball", "left_wrist"],
)
def test_figures_that_lack_joints_are_oriented_all_the_same(missing):
    """Four-finger hands, no eyes, no ball and so on: the rest is sound and right-handed."""
    figure = standard_skeleton("A")
    parents = {j.name: j.parent for j in figure}
    kept = without(figure, missing)
    if missing == "left_wrist":
        kept = kept.with_joints(
            tuple(j for j in kept if not (side_of(j.name) == "left" and family(j.name) == "finger"))
        )
    names = set(kept.names)

    def nearest(name):
        while name is not None and name not in names:
            name = parents[name]
        return name

    result = orient(kept.with_joints(tuple(replace(j, parent=nearest(j.parent)) for j in kept)))
    plain = orient(figure)
    for joint in result:
        assert np.allclose(joint.axes @ joint.axes.T, np.eye(3), atol=1e-12)
        if family(joint.name) == "leg":
            assert np.allclose(joint.axes, plain[joint.name].axes, atol=1e-9)


def test_random_trees_of_unknown_names_get_sound_axes():
    """Random trees and conventions: right-handed, aim exact, the same on a second run."""
    rng = np.random.default_rng(11)
    for _ in range(examples(200)):
        count = int(rng.integers(1, 14))
        joints = []
        for i in range(count):
            parent = None if i == 0 else f"j{int(rng.integers(0, i))}"
            place = rng.normal(size=3)
            if i and rng.random() < 0.2:
                place = joints[int(rng.integers(0, i))].position  # on top of another
            joints.append(Joint(f"j{i}", parent, place))
        aim, bend = rng.permutation(3)[:2]
        convention = Convention(aim=f"+{'XYZ'[aim]}", bend=f"-{'XYZ'[bend]}", mirror="axes")
        once = orient(Skeleton(tuple(joints)), convention)
        for joint in once:
            assert np.allclose(joint.axes @ joint.axes.T, np.eye(3), atol=1e-12)
            assert np.linalg.det(joint.axes) > 0.999
            children = once.children(joint.name)
            if len(children) == 1 and np.any(children[0].position != joint.position):
                bone = children[0].position - joint.position
                assert angle(convention.bone(joint.axes), bone) < 1e-6
        assert all(np.array_equal(j.axes, orient(once, convention)[j.name].axes) for j in once)


@pytest.mark.parametrize(
    ("record", "told"),
    [
        ("+Y", "no table"),
        ({"aim": "+Q"}, "is not an axis"),
        ({"facing": 3}, "tables"),
        ({"up": "banana"}, "is not an axis"),
        ({"up": [1, 2]}, "three numbers"),
        ({"forward": {}}, "three numbers"),
        ({"up": [0, 0, 0]}, "three numbers"),
    ],
)
def test_a_record_that_is_no_orientation_is_told_in_a_sentence(record, told):
    """What a person wrote into the settings by hand ends in a SkeletonError, not in a traceback."""
    figure = replace(standard_skeleton(), settings={"orientation": record})
    with pytest.raises(SkeletonError, match=told):
        orient(figure)
