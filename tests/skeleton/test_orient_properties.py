"""Properties that hold for any tree of joints under any convention, tried by hypothesis."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from autoplace.skeleton.convention import (
    AXIS_NAMES,
    BY_PALM,
    CHAINS,
    FACINGS,
    Convention,
    axis_vector,
)
from autoplace.skeleton.model import Joint, Skeleton, Source
from autoplace.skeleton.names import is_tip, side_of
from autoplace.skeleton.orient import orient
from tests.examples import examples
from tests.figures import angle, standard_skeleton

FOREIGN = (
    *(f"part {n}" for n in range(12)),
    "left_horn",
    "right_horn",
    "left_elbow_twist_1",
    "right_elbow_twist_1",
    "tail_1",
    "tail_2",
)
NAMES = (*standard_skeleton().names, *FOREIGN, "left_index_metacarpal", "middle_eye", "spine_3")
EXAMPLES = settings(
    max_examples=examples(150),
    deadline=None,
    derandomize=True,  # the same input in every run
    suppress_health_check=[HealthCheck.too_slow],
)


@st.composite
def conventions(draw):
    aim = draw(st.sampled_from(AXIS_NAMES))
    bend = draw(st.sampled_from([a for a in AXIS_NAMES if a[1] != aim[1]]))
    facing = {}
    for chain in draw(st.lists(st.sampled_from((*CHAINS, "all")), unique=True, max_size=5)):
        hand = chain in ("hand", "finger", "thumb")
        words = FACINGS if hand else tuple(w for w in FACINGS if w not in BY_PALM)
        facing[chain] = draw(st.sampled_from(words))
    return Convention(
        aim,
        bend,
        draw(st.sampled_from(("motion", "axes"))),
        draw(st.sampled_from(("together", "mirror"))),
        facing,
    )


@st.composite
def trees(draw):
    """Joints of our names and of others, in any tree, on a coarse lattice so that bones of no
    length, straight chains and bones along the axes come up often."""
    names = draw(st.lists(st.sampled_from(NAMES), unique=True, min_size=1, max_size=24))
    coordinate = st.one_of(
        st.integers(-2, 2).map(float), st.floats(-2, 2, allow_subnormal=False, width=32)
    )
    joints = []
    for row, name in enumerate(names):
        parent = None if row == 0 else names[draw(st.integers(0, row - 1))]
        place = np.array(draw(st.tuples(coordinate, coordinate, coordinate)))
        joints.append(Joint(name, parent, place))
    return Skeleton(tuple(joints), Source(height=2.0))


def sound(skeleton: Skeleton) -> None:
    for joint in skeleton:
        assert np.allclose(joint.axes @ joint.axes.T, np.eye(3), atol=1e-12), joint.name
        assert np.linalg.det(joint.axes) > 0.999, joint.name


@EXAMPLES
@given(trees(), conventions())
def test_axes_are_always_orthonormal_and_right_handed(tree, convention):
    """Three unit axes at right angles to 1e-12, right-handed, whatever the tree."""
    sound(orient(tree, convention))


@EXAMPLES
@given(trees(), conventions())
def test_the_aim_is_exact_at_an_only_child(tree, convention):
    """The aim axis points at an only child to a millionth of a degree; on the right side of
    mirrored motion away from it; an eye looks ahead instead."""
    result = orient(tree, convention)
    size = float(np.linalg.norm(np.ptp(tree.positions(), axis=0)))
    for joint in result:
        children = result.children(joint.name)
        if len(children) != 1 or joint.name.endswith("_eye"):
            continue
        bone = children[0].position - joint.position
        if np.linalg.norm(bone) <= 1e-5 * size or "metacarpal" in children[0].name:
            continue
        away = convention.mirror == "motion" and side_of(joint.name) == "right"
        aim = axis_vector(convention.aim) @ joint.axes
        assert angle(-aim if away else aim, bone) < 1e-6, joint.name


@EXAMPLES
@given(trees(), conventions())
def test_a_second_run_gives_the_same_bits(tree, convention):
    """Orienting what is oriented changes nothing, with or without the convention told again."""
    once = orient(tree, convention)
    for twice in (orient(once), orient(once, convention)):
        assert all(np.array_equal(a.axes, b.axes) for a, b in zip(once, twice, strict=True))
        assert once.settings == twice.settings


@EXAMPLES
@given(trees(), conventions(), st.integers(0, 2**31), st.integers(-6, 6))
def test_turned_moved_and_scaled_skeletons_turn_their_axes_along(tree, convention, seed, power):
    """A rigid motion and any scale carry the axes along, as scipy's rotations do."""
    facing = {c: w for c, w in convention.facing.items() if w not in AXIS_NAMES}
    convention = replace(convention, facing=facing)  # the file's own axes do not turn along
    draw = np.random.default_rng(seed)
    rotation, shift = Rotation.random(random_state=seed), draw.uniform(-1, 1, 3)
    size = 10.0**power
    there = tree.with_joints(
        tuple(replace(j, position=size * (rotation.apply(j.position) + shift)) for j in tree)
    )
    up, forward = rotation.apply([0.0, 1, 0]), rotation.apply([0.0, 0, 1])
    plain = orient(tree, convention)
    result = orient(there, convention, up=up, forward=forward)
    margin = near_a_choice(plain, tree)
    for joint in plain:
        if joint.name not in margin:
            expected = rotation.apply(joint.axes)
            assert np.allclose(result[joint.name].axes, expected, atol=1e-6), joint.name


def near_a_choice(plain: Skeleton, tree: Skeleton) -> set[str]:
    """Joints where a rule takes one of two ways and rounding may decide which.

    On the lattice many bones lie exactly along a reference or exactly between two: the rules choose
    there (see `hinge.reject`), and a turned copy stands a rounding error to either side of it. A
    joint counts when moving every joint by 1e-9 turns its axes by more than a thousandth."""
    draw = np.random.default_rng(7)
    found: set[str] = set()
    for _ in range(3):
        moved = tree.with_joints(
            tuple(replace(j, position=j.position + 1e-9 * draw.normal(size=3)) for j in tree)
        )
        convention = plain.settings["orientation"]
        other = orient(moved, Convention.from_dict(convention))
        found |= {
            a.name
            for a, b in zip(plain, other, strict=True)
            if np.abs(a.axes - b.axes).max() > 1e-3
        }
    return found


@EXAMPLES
@given(trees(), conventions())
def test_a_joint_without_children_has_its_parents_axes(tree, convention):
    """Tips and other ends copy, bit for bit; an eye and a lone root have their own."""
    result = orient(tree, convention)
    for joint in result:
        if not result.children(joint.name) and joint.parent and not joint.name.endswith("_eye"):
            assert np.array_equal(joint.axes, result[joint.parent].axes), joint.name
    assert not any(is_tip(j.name) and j.name.endswith("_eye") for j in result)


@EXAMPLES
@given(conventions(), st.floats(0, 80), st.floats(0, 60), st.floats(0, 60))
def test_a_mirrored_figure_has_mirrored_axes(convention, arm_down, elbow, knee):
    """Left and right of a symmetric figure: mirror images, reversed under mirrored motion."""
    figure = orient(standard_skeleton("T", arm_down=arm_down, elbow=elbow, knee=knee), convention)
    image = np.array([-1.0, 1.0, 1.0])
    for joint in figure:
        if side_of(joint.name) != "left":
            continue
        other = figure["right" + joint.name[4:]].axes
        mirrored = joint.axes * image
        if joint.name.endswith("_eye") and convention.eyes == "together":
            continue
        if convention.mirror == "motion":
            assert np.allclose(other, -mirrored, atol=1e-9), joint.name
        else:
            signs = np.sign(np.sum(other * mirrored, axis=1))
            assert np.allclose(other, signs[:, None] * mirrored, atol=1e-9), joint.name
