"""Roles of foreign joints: by any names, by none, posed, with more joints and with fewer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from autoplace.skeleton.model import Joint
from autoplace.skeleton.roles import guess_roles
from autoplace.skeleton.structure import parent_indices
from tests.examples import examples
from tests.figures import MIRROR, Y, Z, standard_skeleton
from tests.skeleton.roles.renamed import (
    STYLES,
    bones,
    doubtful,
    lacking,
    mistakes,
    numbers,
    posed,
    roles_of,
    run_together,
    with_more,
    with_toes,
    with_wings,
)

POSES = ("T", "A", "hanging", "straight")
LACKING = [
    ("thumb_tip", "index_tip", "middle_tip", "ring_tip", "pinky_tip", "toe_tip", "head_top"),
    ("eye",),
    ("clavicle",),
    ("ring",),
    ("thumb", "index", "middle", "ring", "pinky"),
    ("neck",),
    ("spine_2",),
    ("ball",),
]


@pytest.mark.parametrize("style", STYLES, ids=lambda s: s.__name__)
@pytest.mark.parametrize("pose", POSES)
def test_a_whole_figure_under_any_names(pose, style):
    """Every joint of the standard figure is recognised, whatever words or numbers name it."""
    assert mistakes(standard_skeleton(pose), style) == {}


@pytest.mark.parametrize("style", STYLES, ids=lambda s: s.__name__)
@pytest.mark.parametrize("gone", LACKING, ids=lambda g: g[0])
def test_a_figure_that_lacks_joints(gone, style):
    """What is there is recognised although tips, eyes, clavicles or a finger are not."""
    assert mistakes(lacking(standard_skeleton("A"), *gone), style) == {}


@pytest.mark.parametrize("style", [s for s in STYLES if s is not numbers], ids=lambda s: s.__name__)
def test_words_hold_in_any_pose(style):
    """Joints that words name are recognised when each is turned by some 40 degrees."""
    for seed in range(4):
        figure = lacking(posed(standard_skeleton("T"), 40, seed), "eye", "head_top")
        assert mistakes(figure, style) == {}, seed


def test_lengths_hold_in_a_pose():
    """Without names the bones' lengths tell limbs and fingers, with all joints turned by 20."""
    for seed in range(6):
        figure = lacking(posed(standard_skeleton("T"), 20, seed), "eye", "head_top")
        assert mistakes(figure, numbers) == {}, seed


@given(st.integers(0, 2**31), st.floats(0.001, 1000.0))
@settings(max_examples=examples(20), deadline=None, derandomize=True)
def test_unchanged_when_turned_moved_and_scaled(seed, size):
    """Without names or directions, any frame and unit give the same, and turned directions."""
    rng = np.random.default_rng(seed)
    turn = Rotation.random(random_state=rng).as_matrix()
    shift = rng.normal(size=3) * 5
    figure = standard_skeleton("A")
    carried = figure.with_joints(
        tuple(replace(j, position=size * (turn @ j.position + shift)) for j in figure)
    )
    assert mistakes(carried, numbers) == {}
    roles = roles_of(carried, numbers)
    assert roles.up @ turn @ Y > np.cos(np.radians(2))
    assert roles.forward @ turn @ Z > np.cos(np.radians(2))


@pytest.mark.parametrize("style", [numbers, doubtful], ids=lambda s: s.__name__)
def test_joints_that_are_none_of_ours_stay_unknown(style):
    """Root, skirt, hair, jaw and sword are left alone, and twist helpers are found on the bone."""
    figure = with_more(standard_skeleton("T"))

    def own(name, place):
        plain = name if name.startswith("x_") or "twist" in name else style(name, place)
        return numbers(name, place) if style is numbers else plain.removeprefix("x_")

    assert mistakes(figure, own) == {}


@pytest.mark.parametrize("more", [with_toes, with_wings], ids=lambda m: m.__name__)
def test_toes_wings_and_tail(more):
    """Of five toes the foremost ends the foot; wings are no arms and no head; no name is needed."""
    assert mistakes(more(standard_skeleton("T")), numbers) == {}


def test_twist_helpers_within_the_chain():
    """A joint between shoulder and elbow, whatever its name, is a twist helper of the shoulder."""
    figure = standard_skeleton("T")
    top, end = figure["left_shoulder"].position, figure["left_elbow"].position
    joints = []
    for joint in figure:
        if joint.name == "left_elbow":
            joints.append(Joint("left_shoulder_twist_1", "left_shoulder", 0.5 * (top + end)))
            joint = replace(joint, parent="left_shoulder_twist_1")
        joints.append(joint)
    assert mistakes(figure.with_joints(tuple(joints)), numbers) == {}


def test_longer_columns_are_counted_through():
    """Five joints of the spine and two of the neck are numbered; the last of the spine is chest."""
    figure = standard_skeleton("T")
    rows = []
    for joint in figure:
        if joint.name == "spine_2":
            joint = replace(joint, name="spine_2", parent="spine_1")
            rows += [joint]
            for n, share in ((3, 0.3), (4, 0.6)):
                at = joint.position + share * (figure["chest"].position - joint.position)
                rows.append(Joint(f"spine_{n}", f"spine_{n - 1}", at))
            continue
        if joint.name == "chest":
            joint = replace(joint, parent="spine_4")
        if joint.name == "head":
            at = 0.5 * (figure["neck"].position + joint.position)
            rows.append(Joint("neck_2", "neck", at))
            joint = replace(joint, parent="neck_2")
        rows.append(joint)
    assert mistakes(figure.with_joints(tuple(rows)), numbers) == {}


def test_four_joints_in_a_finger_are_metacarpal_or_tip():
    """A finger from near the wrist has a metacarpal, one that starts at the knuckle has a tip."""
    figure = standard_skeleton("T")
    rows = []
    for joint in figure:
        if joint.name.endswith(("index_1", "middle_1", "ring_1", "pinky_1")):
            wrist = figure[joint.parent].position
            name = joint.name.replace("_1", "_metacarpal")
            rows.append(Joint(name, joint.parent, wrist + 0.2 * (joint.position - wrist)))
            joint = replace(joint, parent=name)
        if not joint.name.endswith(("index_tip", "middle_tip", "ring_tip", "pinky_tip")):
            rows.append(joint)
    assert mistakes(figure.with_joints(tuple(rows)), numbers) == {}
    assert mistakes(figure, numbers) == {}


def test_the_file_says_which_joints_are_tips():
    """A leg of four joints ends in the ball, or in the toes if the file calls its end a tip."""
    figure = lacking(standard_skeleton("T"), "ball")
    assert mistakes(figure, numbers) == {}
    shorter = lacking(standard_skeleton("T"), "toe_tip")
    assert mistakes(shorter, numbers) == {}
    tips = [name.endswith("ball") for name in shorter.names]
    roles = roles_of(shorter, numbers, tips=tips)
    ends = [g.name for g, tip in zip(roles.guesses, tips, strict=True) if tip]
    assert ends == ["left_toe_tip", "right_toe_tip"]


def test_sides_that_names_do_not_tell_come_from_the_feet():
    """A figure that faces -Z, against what the file says, has its left at -X: its toes say so."""
    about = np.diag([-1.0, 1.0, -1.0])
    figure = standard_skeleton("T")
    turned = figure.with_joints(tuple(replace(j, position=about @ j.position) for j in figure))
    assert mistakes(turned, numbers, up=Y, forward=Z) == {}
    assert roles_of(turned, numbers, up=Y, forward=Z).forward @ Z < -0.99


def test_named_sides_go_before_place():
    """A mirrored figure whose names still say left keeps its names, and faces the other way."""
    figure = standard_skeleton("T")
    mirrored = figure.with_joints(tuple(replace(j, position=MIRROR @ j.position) for j in figure))
    roles = roles_of(mirrored, doubtful)
    assert roles.forward @ Z < -0.99
    assert mistakes(lacking(mirrored, "eye"), doubtful) == {}


def test_how_each_was_told():
    """A word in the name, the place in the tree, and the place in space are told apart."""
    by_word = {g.name: g for g in roles_of(standard_skeleton("T"), doubtful).guesses}
    assert (by_word["left_knee"].how, by_word["left_elbow"].how) == ("name", "name")
    assert by_word["left_knee"].sure < by_word["left_elbow"].sure  # 'Leg' may be the thigh
    by_none = {g.name: g for g in roles_of(standard_skeleton("T"), numbers).guesses}
    assert by_none["chest"].how == "hierarchy"
    assert by_none["left_ring_2"].how == "place"
    assert by_none["left_ring_2"].sure < by_none["chest"].sure < by_word["left_elbow"].sure


def test_what_is_no_figure_is_not_named():
    """A rope, a star and a comb of joints get no names, and do not take long."""
    rope = np.arange(300) - 1
    star = np.where(np.arange(300) > 0, 0, -1)
    comb = np.array([-1, *[max(0, i - 1 - i % 2) for i in range(1, 300)]])
    rng = np.random.default_rng(1)
    for parents in (rope, star, comb):
        places = np.cumsum(rng.normal(size=(300, 3)), axis=0)
        roles = guess_roles([f"joint_{i}" for i in range(300)], parents, places)
        assert sum(g.name is not None for g in roles.guesses) <= 30


def test_joints_in_one_place_break_nothing():
    """All joints at the origin, and one joint alone, are simply not recognised by place."""
    figure = standard_skeleton("T")
    flat = np.zeros((len(figure), 3))
    guess_roles([numbers(n, i) for i, n in enumerate(figure.names)], parent_indices(figure), flat)
    alone = guess_roles(["a"], np.array([-1]), np.zeros((1, 3)))
    assert alone.guesses[0].name is None
    assert alone.up is None


@given(st.integers(1, 40), st.integers(0, 2**31))
@settings(max_examples=examples(60), deadline=None, derandomize=True)
def test_random_trees_are_named_consistently(count, seed):
    """Any tree under any words: no name twice, and each side's knee hangs from its own hip."""
    rng = np.random.default_rng(seed)
    parents = np.array([-1, *[int(rng.integers(i)) for i in range(1, count)]])
    words = ["L_Thigh", "r_shin", "hand.L", "HEAD", "spine2", "", "::", "left", "ring", "toe_end"]
    words += ["RightArm", "LeftLeg", "eye_l", "neck", "thumb1_R", "l_knee", "pelvis", "é", "twist"]
    names = [words[int(rng.integers(len(words)))] for _ in range(count)]
    roles = guess_roles(names, parents, rng.normal(size=(count, 3)))
    given_names = [g.name for g in roles.guesses if g.name]
    assert len(set(given_names)) == len(given_names)
    place_of = {g.name: i for i, g in enumerate(roles.guesses) if g.name}
    for side in ("left", "right"):
        joint = place_of.get(f"{side}_knee", -1)
        while joint >= 0 and joint != place_of.get(f"{side}_hip"):
            joint = int(parents[joint])
        assert (joint >= 0) == (f"{side}_knee" in place_of)


def test_a_cartoon_of_other_proportions():
    """A big head on short, uneven legs with long feet is recognised without names."""
    short = {"knee": 0.40, "ankle": 0.32, "ball": 0.30, "toe_tip": 0.30}
    figure = standard_skeleton("T")
    rows = []
    for joint in figure:
        x, y, z = joint.position
        base = joint.name.partition("_")[2]
        if base in short:
            y, z = short[base], 1.5 * z
        if joint.name == "head_top":
            y = 1.5
        rows.append(replace(joint, position=np.array([x, y, z])))
    assert mistakes(lacking(figure.with_joints(tuple(rows)), "eye"), numbers) == {}


def test_a_thumb_of_one_joint():
    """One joint low and aside of the fingers is their thumb; one among them is not."""
    figure = lacking(standard_skeleton("T"), "thumb_2", "thumb_3", "thumb_tip", "ring")
    assert mistakes(figure, numbers) == {}
    for side in ("left", "right"):
        palm = 0.5 * (figure[f"{side}_middle_1"].position + figure[f"{side}_wrist"].position)
        grip = Joint(f"x_{side}_grip", f"{side}_wrist", palm)
        figure = figure.with_joints((*figure.joints, grip))
    assert mistakes(figure, numbers) == {}


def test_legs_of_two_joints_are_known_by_words_alone():
    """A leg that ends at the knee is no limb by its shape, but its names say what it is."""
    figure = lacking(standard_skeleton("T"), "ankle", "ball", "toe_tip", "eye")
    assert mistakes(figure, bones) == {}
    assert mistakes(figure, run_together) == {}


def test_arms_alone():
    """Where no legs are, arms and fingers are found if up and forward are given."""
    figure = lacking(standard_skeleton("T"), "hip", "knee", "ankle", "ball", "toe_tip")
    wrong = mistakes(figure, numbers, up=Y, forward=Z)
    assert {name for name in wrong if name.startswith(("left", "right"))} <= {
        "left_eye",
        "right_eye",
    }


@pytest.mark.parametrize("style", [bones, run_together, doubtful], ids=lambda s: s.__name__)
def test_one_arm_by_words(style):
    """An arm with its fingers and nothing else is known by words, wherever up is."""
    figure = standard_skeleton("A")
    arm = lacking(figure, "hip", "knee", "ankle", "ball", "toe", "spine", "neck", "head", "eye")
    kept = [j for j in arm if j.name.startswith("left_")]
    first = replace(kept[0], parent=None)
    assert mistakes(arm.with_joints((first, *kept[1:])), style) == {}
