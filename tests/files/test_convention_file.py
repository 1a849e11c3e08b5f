"""Conventions as data: the files that come along, a user's own, and where the third axis faces."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.errors import FileMissing, SkeletonError
from autoplace.files.convention_file import (
    convention_names,
    describe_conventions,
    load_convention,
)
from autoplace.skeleton.convention import CHAINS, DEFAULT, Convention, recorded
from autoplace.skeleton.names import FINGERS, LONG_FINGERS, chain_of, side_of
from autoplace.skeleton.orient import orient
from tests.figures import MIRROR, X, Y, Z, angle, standard_skeleton
from tests.skeleton.test_orient import turn

SIDES = ("left", "right")


def third(skeleton, name, convention):
    """(3,) where the positive end of the letter that neither aims nor bends points."""
    letter = ({"X", "Y", "Z"} - {convention.aim[1], convention.bend[1]}).pop()
    return skeleton[name].axes["XYZ".index(letter)]


@pytest.mark.parametrize("name", convention_names())
def test_every_convention_that_comes_along_orients_a_figure(name):
    """Right-handed rotations that aim at the child, and the file's name in the record."""
    convention = load_convention(name)
    figure = orient(standard_skeleton("A"), convention)
    for joint in figure:
        assert np.allclose(joint.axes @ joint.axes.T, np.eye(3), atol=1e-12), joint.name
        assert np.linalg.det(joint.axes) > 0.999, joint.name
    knee, ankle = figure["left_knee"], figure["left_ankle"]
    assert angle(convention.bone(knee.axes), ankle.position - knee.position) < 1e-6
    assert recorded(figure.settings) == convention
    assert describe_conventions()[name]


def test_the_default_is_the_file_flexion():
    """`flexion` gives the axes of no convention at all, bit for bit."""
    plain, named = (
        orient(standard_skeleton()),
        orient(standard_skeleton(), load_convention("flexion")),
    )
    for joint in plain:
        assert np.array_equal(joint.axes, named[joint.name].axes)


def test_orienting_again_keeps_the_convention_it_was_oriented_by():
    """Without a convention the recorded one counts, with all that it says."""
    once = orient(standard_skeleton("A"), load_convention("outward"))
    again = orient(once)
    assert again.settings == once.settings
    for joint in once:
        assert np.array_equal(joint.axes, again[joint.name].axes), joint.name


def test_webxr_hands_have_the_axes_that_the_standard_asks_for():
    """W3C WebXR Hand Input, Level 1: -Z from joint to joint, -Y out of the palm, on both hands."""
    figure = orient(standard_skeleton("T", curl=0), load_convention("webxr"))
    for side in SIDES:
        for finger in LONG_FINGERS:
            for number, child in (("1", "2"), ("2", "3"), ("3", "tip")):
                joint = figure[f"{side}_{finger}_{number}"]
                bone = figure[f"{side}_{finger}_{child}"].position - joint.position
                assert angle(-joint.axes[2], bone) < 1e-6
                assert angle(-joint.axes[1], -Y) < 1.0, joint.name  # palms down in a T-pose
        assert angle(-figure[f"{side}_wrist"].axes[1], -Y) < 1.0


@pytest.mark.parametrize("mirror", ["motion", "axes"])
@pytest.mark.parametrize(("aim", "bend"), [("+Y", "+X"), ("+X", "+Z"), ("-Z", "-X"), ("+X", "-Y")])
def test_the_third_axis_faces_where_it_is_told(mirror, aim, bend):
    """Forward along the trunk, up on feet, the back of the hand on fingers, for any letters.

    On the right side of mirrored motion all axes are the mirror image reversed."""
    facing = {"trunk": "forward", "foot": "up", "finger": "back_of_hand", "hand": "back_of_hand"}
    convention = Convention(aim, bend, mirror, facing=facing)
    figure = orient(standard_skeleton("T"), convention)
    for name in ("pelvis", "spine_1", "chest", "neck"):
        assert third(figure, name, convention) @ Z > 0.9, name
    for side in SIDES:
        sign = -1.0 if side == "right" and mirror == "motion" else 1.0
        assert sign * third(figure, f"{side}_ankle", convention) @ Y > 0.5
        assert sign * third(figure, f"{side}_ball", convention) @ Y > 0.9
        for finger in LONG_FINGERS:
            assert sign * third(figure, f"{side}_{finger}_1", convention) @ Y > 0.9, finger


def test_a_world_axis_for_all_chains():
    """Every third axis lies in the plane of bone and axis, on the axis' side, on either side."""
    convention = Convention(mirror="axes", facing={"all": "+Z"})
    figure = orient(standard_skeleton("T"), convention)
    for joint in figure:
        own = third(figure, joint.name, convention)
        assert own @ Z >= -1e-12, joint.name
        assert abs(np.linalg.det([joint.axes[1], own, Z])) < 1e-9, joint.name


def test_a_named_axis_is_the_files_and_not_the_characters():
    """Of a figure that lies on its back in the file, +Y of the file is its front."""
    lie = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])  # up to -Z, forward to +Y
    figure = standard_skeleton()
    lying = figure.with_joints(tuple(type(j)(j.name, j.parent, lie @ j.position) for j in figure))
    convention = Convention(facing={"trunk": "+Y"})
    result = orient(lying, convention, up="-Z", forward="+Y")
    assert result["spine_2"].axes[2] @ Y > 0.9
    assert recorded(result.settings) == convention


def test_a_bone_along_the_direction_goes_on_with_the_axis_above():
    """Facing up, a spine that rises straight keeps the pelvis' axis, a root without one its own."""
    convention = Convention(facing={"all": "up"})
    figure = orient(standard_skeleton("straight"), convention)
    for side in SIDES:
        # legs hang straight down: hip and knee go on with the pelvis' bend axis
        assert angle(figure[f"{side}_hip"].axes[0], X) < 1e-6
        assert np.allclose(figure[f"{side}_hip"].axes[0], figure[f"{side}_knee"].axes[0])


def test_extend_reverses_the_sense_of_flexing():
    """A positive turn of the knee then stretches it, and nothing else has changed."""
    plain = orient(standard_skeleton("A"))
    figure = orient(standard_skeleton("A"), Convention(facing={"leg": "extend"}))
    assert turn(figure, "left_knee", "+X", 10)["left_ankle"] @ Z > figure["left_ankle"].position @ Z
    assert np.allclose(figure["left_knee"].axes[0], -plain["left_knee"].axes[0])
    assert np.allclose(figure["left_elbow"].axes, plain["left_elbow"].axes)


@pytest.mark.parametrize("mirror", ["motion", "axes"])
@pytest.mark.parametrize("name", convention_names())
def test_flex_sign_tells_what_a_positive_turn_does(name, mirror):
    """On a hanging figure, where it says +1 a positive turn flexes, where -1 it extends."""
    given = load_convention(name)
    convention = Convention(given.aim, given.bend, mirror, given.eyes, given.facing)
    figure = orient(standard_skeleton("hanging"), convention)
    palm = {"left": turn_of_palm("left"), "right": turn_of_palm("right")}
    seen = set()
    for joint, end, where in (
        ("spine_1", "head", Z),
        ("neck", "head", Z),
        ("left_elbow", "left_wrist", Z),
        ("left_ankle", "left_toe_tip", -Y),
        ("left_knee", "left_ankle", -Z),
        *((f"left_{f}_2", f"left_{f}_tip", palm["left"]) for f in LONG_FINGERS),
    ):
        sign = convention.flex_sign(joint)
        moved = turn(figure, joint, convention.bend, 10)[end] - figure[end].position
        assert np.sign(moved @ where) == sign, joint
        seen.add(chain_of(joint))
    assert {"trunk", "arm", "leg", "foot", "finger"} <= seen


def turn_of_palm(side):
    """(3,) where the palm of a hanging arm faces: to the thigh."""
    return -X if side == "left" else X


def test_mirrored_motion_holds_under_every_facing():
    """Equal values on both sides give mirror images also where a direction is faced."""
    convention = load_convention("outward")
    figure = orient(standard_skeleton("A"), convention)
    for stem in ("shoulder", "elbow", "wrist", "index_2", "thumb_1", "hip", "ankle", "ball"):
        for axis in ("+X", "+Y", "+Z"):
            left = turn(figure, f"left_{stem}", axis, 25)
            right = turn(figure, f"right_{stem}", axis, 25)
            for name, at in left.items():
                if side_of(name) == "left":
                    other = right["right" + name[4:]]
                    assert np.allclose(MIRROR @ at, other, atol=1e-12), (stem, axis, name)


def test_aims_of_a_convention_choose_among_children():
    """`wrist` aims at the ring finger where the convention says so, at the middle one unsaid."""
    convention = Convention(aims={"wrist": ("ring_1",)})
    figure = orient(standard_skeleton(), convention)
    for side, sign in (("left", 1), ("right", -1)):
        wrist, ring = figure[f"{side}_wrist"], figure[f"{side}_ring_1"]
        assert angle(sign * wrist.axes[1], ring.position - wrist.position) < 1e-6
    assert recorded(figure.settings) == convention


def test_a_users_file_is_read_and_recorded_by_its_name(tmp_path):
    """Letters, facing and aims of a TOML file; what it leaves out is the default's."""
    path = tmp_path / "studio.toml"
    path.write_text('aim = "+X"\nbend = "-Z"\n[facing]\nall = "up"\n[aims]\nwrist = ["index_1"]\n')
    convention = load_convention(path)
    assert convention == Convention(
        "+X", "-Z", facing={"all": "up"}, aims={"wrist": ("index_1",)}, name="studio"
    )
    assert convention.mirror == DEFAULT.mirror


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('aim = "+W"', "'+W' is not an axis"),
        ('aim = "+X"\nbend = "-X"', "lie on one line"),
        ('mirror = "both"', "'both' is unknown"),
        ('eyes = "crossed"', "'crossed' is unknown"),
        ('[facing]\nfeet = "up"', "no chain 'feet'"),
        ('[facing]\nfoot = "upward"', "cannot face 'upward'"),
        ('[facing]\nfoot = "palm"', "only hand, finger and thumb have"),
        ('[aims]\nwrist = "middle_1"', "should be a list"),
        ("[aims]\nwrist = [3]", "should be a list"),
        ("facing = 3", "are tables"),
        ("aim = 3", "should be a text"),
        ('axis = "+X"', "the key 'axis'"),
        ("aim = ", "as TOML"),
    ],
)
def test_a_mistake_in_a_users_file_is_told_in_one_sentence(tmp_path, text, told):
    """The file and what is wrong in it; never a traceback."""
    path = tmp_path / "own.toml"
    path.write_text(text)
    with pytest.raises(SkeletonError, match=r"own\.toml") as refused:
        load_convention(path)
    assert told in str(refused.value)


def test_an_unknown_name_and_a_missing_file_are_told_apart(tmp_path):
    """A slip in a name gets a hint, a path that is not there the reason."""
    with pytest.raises(SkeletonError, match="did you mean 'flexion'"):
        load_convention("flexions")
    with pytest.raises(FileMissing, match="Cannot read"):
        load_convention(tmp_path / "none.toml")


def test_every_joint_of_ours_belongs_to_a_chain():
    """Thumb and fingers apart, metacarpals with the hand, twist helpers with their joint."""
    for joint in standard_skeleton():
        assert chain_of(joint.name) in CHAINS, joint.name
    assert [chain_of(f"left_{f}_1") for f in FINGERS] == ["thumb", *["finger"] * 4]
    assert chain_of("left_index_metacarpal") == "hand"
    assert chain_of("right_elbow_twist_2") == "arm"
    assert chain_of("left_thumb_2_twist") == "thumb"
    assert chain_of("tail_1") is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("aim = " + "[" * 5000, "nested too deep"),
        ("aims." + "a." * 200 + "b = 1", "nested too deep"),
        ("aim = " + "9" * 5000, "value that cannot be read"),
        ("aim = 2026-02-31", "TOML"),
        ("a." * 100_000 + "b = 1", "far too large"),
        (f'{"a" * 60_000} = "+Y"', "a convention does not know"),
    ],
    ids=["brackets", "tables", "digits", "day", "parts", "key"],
)
def test_hostile_files_are_refused_in_a_sentence(tmp_path, text, words):
    """What would exhaust the parser, or a message, is refused like any other mistake."""
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SkeletonError, match=words) as told:
        load_convention(path)
    assert len(str(told.value)) < 600
