"""The written rules of the bend axes, one degenerate or posed case at a time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.errors import SkeletonError
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.names import LONG_FINGERS, mirror_name
from autoplace.skeleton.orient import orient
from tests.figures import HAND, MIRROR, X, Y, Z, angle, moved, standard_skeleton, turned, without


def chain(*points, names=None, **aims) -> Skeleton:
    names = names or [f"j{i}" for i in range(len(points))]
    return Skeleton(
        tuple(
            Joint(n, names[i - 1] if i else None, np.array(p, float), aim=aims.get(n))
            for i, (n, p) in enumerate(zip(names, points, strict=True))
        )
    )


def test_several_children_of_an_unknown_joint_aim_at_the_longest_line():
    """The child with most joints below is aimed at; of equals the straightest, then the first."""
    joints = (
        Joint("base", None, np.zeros(3)),
        Joint("trunk", "base", Y),
        Joint("short", "trunk", Y + X),
        Joint("long", "trunk", Y - X),
        Joint("longer", "long", Y - 2 * X),
    )
    assert np.allclose(orient(Skeleton(joints))["trunk"].axes[1], -X)
    fork = (*joints[:2], Joint("aside", "trunk", Y + X), Joint("onward", "trunk", 2 * Y + 0.1 * X))
    assert angle(orient(Skeleton(fork))["trunk"].axes[1], Y + 0.1 * X) < 1e-9
    level = (*joints[:1], Joint("first", "base", X), Joint("second", "base", -X))
    assert np.allclose(orient(Skeleton(level))["base"].axes[1], X)


def test_a_joints_own_aim_goes_before_every_table():
    """`aim` picks the child; a name that is no child is refused."""
    figure = standard_skeleton()
    joints = tuple(
        replace(j, aim="left_clavicle") if j.name == "chest" else j for j in figure.joints
    )
    result = orient(figure.with_joints(joints))
    bone = figure["left_clavicle"].position - figure["chest"].position
    assert angle(result["chest"].axes[1], bone) < 1e-9
    wrong = tuple(replace(j, aim="head") if j.name == "chest" else j for j in figure.joints)
    with pytest.raises(SkeletonError, match="'chest' should aim at 'head'"):
        orient(figure.with_joints(wrong))


def test_a_joint_without_children_copies_its_parent():
    """A wrist without fingers has the elbow's axes; a single joint has the body's directions."""
    figure = orient(without(standard_skeleton(), "thumb", *LONG_FINGERS))
    assert np.array_equal(figure["left_wrist"].axes, figure["left_elbow"].axes)
    alone = orient(Skeleton((Joint("only", None, np.array([1.0, 2, 3])),)), up="+Z", forward="+X")
    assert np.allclose(alone["only"].axes, [Y, Z, X])


def test_a_straight_chain_bends_as_the_body_says():
    """Straight arms and legs in a T-pose: elbows bend about the vertical, knees sideways axis."""
    figure = orient(standard_skeleton("straight"))
    assert np.allclose(figure["left_elbow"].axes[0], -Y, atol=1e-12)
    assert np.allclose(figure["left_knee"].axes[0], X, atol=1e-12)
    assert np.allclose(figure["left_index_2"].axes[2], -Y, atol=1e-12)


def test_bones_along_their_own_reference_still_get_axes():
    """A neck that runs forward, an arm that points forward, a foot that points straight down."""
    neck = chain([0, 1, 0], [0, 1, 0.2], [0, 1, 0.4], names=["neck", "head", "head_top"])
    assert np.allclose(orient(neck)["neck"].axes, [X, Z, -Y], atol=1e-12)

    names = ["left_shoulder", "left_elbow", "left_wrist"]
    arm = orient(chain([0.1, 0.8, 0], [0.1, 0.8, 0.2], [0.1, 0.8, 0.4], names=names))
    flex = arm["left_elbow"].axes[2]
    assert np.allclose(arm["left_elbow"].axes[1], Z)
    assert flex @ Y > 0.5  # the hand goes up ...
    assert flex @ -X > 0.5  # ... and in front of the body

    names = ["left_hip", "left_knee", "left_ankle", "left_ball", "left_toe_tip"]
    points = [[0.1, 0.9, 0], [0.1, 0.5, 0.02], [0.1, 0.1, 0], [0.1, 0, 0], [0.1, 0, 0.05]]
    foot = orient(chain(*points, names=names))
    assert np.allclose(foot["left_ankle"].axes, [X, -Y, -Z], atol=1e-12)
    assert np.allclose(foot["left_ball"].axes, [X, Z, -Y], atol=1e-12)

    side = orient(chain([0, 0, 0], [1, 0, 0], names=["head", "head_top"]))
    assert np.allclose(side["head"].axes[1], X)
    assert np.allclose(side["head"].axes @ side["head"].axes.T, np.eye(3))


def test_bones_of_no_length_point_on_along_the_chain():
    """A doubled joint aims where the next real bone goes; a doubled end copies its parent."""
    figure = orient(chain([0, 0, 0], [0, 1, 0], [0, 1, 0], [1, 1, 0]))
    assert np.allclose(figure["j1"].axes[1], X)
    assert np.allclose(figure["j2"].axes[1], X)
    end = orient(chain([0, 0, 0], [0, 1, 0], [0, 1, 0]))
    assert np.array_equal(end["j1"].axes, end["j0"].axes)
    assert np.array_equal(end["j2"].axes, end["j0"].axes)
    heap = orient(chain([1, 1, 1], [1, 1, 1], [1, 1, 1]))
    assert all(np.array_equal(j.axes, np.eye(3)) for j in heap)


@pytest.mark.parametrize("doubled", ["left_elbow", "left_knee", "left_index_2", "left_ball"])
def test_limb_joints_on_top_of_their_parent_leave_the_rest_sound(doubled):
    """Any limb joint may fall onto its parent; all axes stay right-handed rotations."""
    figure = standard_skeleton("A")
    result = orient(moved(figure, {doubled: figure[figure[doubled].parent].position}))
    for joint in result:
        assert np.allclose(joint.axes @ joint.axes.T, np.eye(3), atol=1e-12), joint.name


@pytest.mark.parametrize("curl", [1, 5, 15, 40, 80])
def test_all_joints_of_a_finger_share_the_axis_of_its_plane(curl):
    """A finger bent in a plane 8 degrees off the palm's: all share its normal.

    At 1 degree of bend a joint the plane is no surer than the palm's reference, and the axis lies
    between the two; from 5 degrees on it is met exactly.
    """
    figure = standard_skeleton("T", curl=0)
    base = figure["left_index_1"].position
    bone = figure["left_index_tip"].position - base
    bone /= np.linalg.norm(bone)
    axis = turned(np.cross(bone, -Y), bone, 8)
    places, at = {}, base
    for name, length in (("2", 0.265), ("3", 0.143), ("tip", 0.097)):
        at = at + length * HAND * bone
        places[f"left_index_{name}"] = at
        bone = turned(bone, axis, curl)
    result = orient(moved(figure, places))
    axes = [result[f"left_index_{n}"].axes[0] for n in (1, 2, 3)]
    assert max(angle(a, axis) for a in axes) < (6.0 if curl == 1 else 1e-6)
    assert max(angle(a, axes[0]) for a in axes) < (0.1 if curl == 1 else 1e-6)


def test_a_finger_that_is_bent_back_still_curls_toward_the_palm():
    """15 degrees of overextension a joint do not turn the axis round; nor does a sideways bend."""
    plain = orient(standard_skeleton("T"))
    back = orient(standard_skeleton("T", curl=-15))
    for finger in LONG_FINGERS:
        for number in (1, 2, 3):
            name = f"left_{finger}_{number}"
            assert angle(back[name].axes[0], plain[name].axes[0]) < 1.0, name
    aside = standard_skeleton("T", curl=0)
    tip = {"left_middle_3": aside["left_middle_3"].position + 0.001 * Z}
    assert angle(orient(moved(aside, tip))["left_middle_2"].axes[2], -Y) < 1.0


def test_noisy_joints_lean_on_the_palm():
    """With joints known to 4 % of the finger, a slight bend moves the axis less than 3 degrees."""
    figure = standard_skeleton("T", curl=5)
    sideways = {"left_index_2": figure["left_index_2"].position + 0.0005 * Z}
    sure = moved(figure, sideways)
    unsure = sure.with_joints(tuple(replace(j, spread=0.002) for j in sure))
    clean = orient(figure)["left_index_2"].axes[0]
    assert angle(orient(unsure)["left_index_2"].axes[0], clean) < 3.0
    assert angle(orient(sure)["left_index_2"].axes[0], clean) > 5.0


def test_a_mitten_finds_its_palm_from_the_thumb():
    """Thumb and one finger: the finger curls to the palm's side, within 45 of a whole hand's."""
    whole = orient(standard_skeleton("T"))
    mitten = orient(without(standard_skeleton("T", curl=0), "index", "ring", "pinky"))
    for side in ("left", "right"):
        sign = 1 if side == "left" else -1
        assert sign * mitten[f"{side}_middle_1"].axes[2] @ -Y > 0.7
        assert angle(mitten[f"{side}_middle_1"].axes[0], whole[f"{side}_middle_1"].axes[0]) < 45
    stump = orient(without(standard_skeleton("T", curl=0), "index", "ring", "pinky", "thumb"))
    assert np.allclose(stump["left_middle_1"].axes[2], -Y, atol=0.2)


def test_the_thumb_bends_in_its_own_plane():
    """A bent thumb has the normal of its plane; all three joints share it; its curl is its own."""
    figure = standard_skeleton("A", thumb_bend=20)
    points = [figure[f"left_thumb_{n}"].position for n in (1, 2, 3, "tip")]
    normal = np.cross(points[1] - points[0], points[2] - points[1])
    normal /= np.linalg.norm(normal)
    result = orient(figure)
    for n in (1, 2, 3):
        assert angle(result[f"left_thumb_{n}"].axes[0], normal) < 0.05
    assert angle(result["left_thumb_1"].axes[0], result["left_index_1"].axes[0]) > 30


@pytest.mark.parametrize("bend", [6, 20, 90, 140])
def test_a_bent_elbow_and_knee_have_the_normal_of_their_plane(bend):
    """From 6 degrees of bend the axis is the plane's normal within a degree; upper arm too."""
    figure = standard_skeleton("A", elbow=bend, knee=bend)
    # arm turned about its own upper bone by 20 degrees, so that the plane is not the reference's
    shoulder, elbow = (figure[f"left_{n}"].position for n in ("shoulder", "elbow"))
    upper = (elbow - shoulder) / np.linalg.norm(elbow - shoulder)
    wrist = elbow + turned(figure["left_wrist"].position - elbow, upper, 20)
    result = orient(moved(figure, {"left_wrist": wrist}))
    normal = np.cross(upper, wrist - elbow)
    assert angle(result["left_shoulder"].axes[0], normal) < 1.0
    assert angle(result["left_elbow"].axes[0], normal) < 1.0
    assert angle(result["left_knee"].axes[0], X) < 1e-6
    assert angle(result["left_hip"].axes[0], X) < 1e-6


def test_the_carrying_angle_is_no_bend():
    """An arm that hangs straight but for 12 degrees sideways bends its elbow to the front."""
    figure = standard_skeleton("straight", arm_down=80)
    elbow, wrist = (figure[f"left_{n}"].position for n in ("elbow", "wrist"))
    outward = elbow + turned(wrist - elbow, Z, 12)
    result = orient(moved(figure, {"left_wrist": outward}))
    assert result["left_elbow"].axes[2] @ Z > 0.99


def test_slight_overextension_keeps_the_anatomical_sign_and_a_real_fold_its_own():
    """A knee 8 degrees the wrong way still flexes backward; legs folded like a bird's keep that."""
    over = orient(standard_skeleton("T", knee=-8, elbow=-8))
    assert angle(over["left_knee"].axes[0], X) < 1e-6
    assert over["left_elbow"].axes[2] @ Z > 0.9
    bird = orient(standard_skeleton("T", knee=-60))
    assert angle(bird["left_knee"].axes[0], -X) < 1e-6
    assert angle(bird["right_knee"].axes[0], -X) < 1e-6


def test_a_lifted_foot_follows_its_leg():
    """One leg raised sideways 60 degrees: its ankle bends about the knee's axis."""
    figure = standard_skeleton("T")
    hip = figure["left_hip"].position
    names = [f"left_{n}" for n in ("knee", "ankle", "ball", "toe_tip")]
    raised = {n: hip + turned(figure[n].position - hip, Z, 60) for n in names}
    result = orient(moved(figure, raised))
    plain = orient(figure)
    for name in ("left_hip", "left_knee"):
        turned_axes = np.array([turned(row, Z, 60) for row in plain[name].axes])
        assert np.allclose(result[name].axes, turned_axes, atol=1e-9), name
    assert angle(result["left_ankle"].axes[0], result["left_knee"].axes[0]) < 10
    assert np.allclose(result["right_ankle"].axes, plain["right_ankle"].axes)


def test_one_raised_arm_keeps_its_sense():
    """Left arm raised 60 above level: elbow to the front, fingers to the palm."""
    figure = standard_skeleton("A")
    raised = standard_skeleton("A", arm_down=-60)
    stems = ("elbow", "wrist", "thumb", *LONG_FINGERS)
    starts = tuple(f"left_{s}" for s in stems)
    left = {j.name: j.position for j in raised if j.name.startswith(starts)}
    result, plain = orient(moved(figure, left)), orient(figure)
    assert result["left_elbow"].axes[2] @ Z > 0.9
    palm = turned(-Y, Z, 60)
    for finger in LONG_FINGERS:
        assert result[f"left_{finger}_1"].axes[2] @ palm > 0.9
    assert np.array_equal(result["right_elbow"].axes, plain["right_elbow"].axes)


def test_palm_forward_and_palm_down_hands_both_curl_to_the_palm():
    """The forearm turned by 90 degrees: fingers follow the knuckles, the elbow does not."""
    figure = standard_skeleton("T")
    elbow, wrist = (figure[f"left_{n}"].position for n in ("elbow", "wrist"))
    forearm = (wrist - elbow) / np.linalg.norm(wrist - elbow)
    stems = ("thumb", *LONG_FINGERS)
    hand = {
        j.name: wrist + turned(j.position - wrist, forearm, -90)
        for j in figure
        if j.name.startswith(tuple(f"left_{s}" for s in stems))
    }
    result, plain = orient(moved(figure, hand)), orient(figure)
    for finger in LONG_FINGERS:
        row = turned(plain[f"left_{finger}_1"].axes[2], forearm, -90)
        assert angle(result[f"left_{finger}_1"].axes[2], row) < 1e-6
        assert row @ Z > 0.9
    assert angle(result["left_elbow"].axes[0], plain["left_elbow"].axes[0]) < 1e-6


def test_number_of_spine_joints_does_not_matter():
    """One, two or five spine joints: the same bend axis, every bone aimed at the next."""
    for count in (0, 1, 2, 5):
        names = ["pelvis", *(f"spine_{i + 1}" for i in range(count)), "chest", "neck", "head"]
        points = [[0, i, 0.1 * i * i] for i in range(len(names))]
        figure = orient(chain(*points, names=names))
        for joint in figure:
            assert np.array_equal(joint.axes[0], X)
        assert angle(figure["pelvis"].axes[1], np.subtract(points[1], points[0])) < 1e-9


def test_axes_of_a_mirrored_posed_figure_are_mirrored():
    """An asymmetric figure and its mirror image with sides swapped get mirrored axes to 1e-9."""
    rng = np.random.default_rng(5)
    figure = standard_skeleton("A")
    shaken = moved(figure, {j.name: j.position + 0.004 * rng.normal(size=3) for j in figure})
    swapped = figure.with_joints(
        tuple(
            replace(j, position=MIRROR @ shaken[mirror_name(j.name)].position)
            for j in figure.joints
        )
    )
    one, two = orient(shaken), orient(swapped)
    for joint in one:
        image = joint.axes @ MIRROR
        middle = mirror_name(joint.name) == joint.name or joint.name.endswith("_eye")
        signs = [-1, 1, 1] if middle else None
        expected = -image if signs is None else np.array(signs)[:, None] * image
        assert np.allclose(two[mirror_name(joint.name)].axes, expected, atol=1e-9), joint.name
