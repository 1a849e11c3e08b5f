"""`place.trunk`: the column, neck, head and collar of a trunk whose measures are given."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.data import template_names
from autoplace.place.template import load_template
from autoplace.place.trunk import WIDER, place_trunk
from tests.place.trunks import BACK, CHIN, CROTCH, FRONT, a_trunk

ADULT = load_template("adult")
HIPS = {"left_hip": np.array([0.055, 0.53, 0.0]), "right_hip": np.array([-0.055, 0.53, 0.0])}


def column(spine: int) -> list[str]:
    return ["pelvis", *(f"spine_{i}" for i in range(1, spine)), "chest", "neck", "head", "head_top"]


def depth_share(z: float) -> float:
    """Share of the depth from the back skin."""
    return (z - BACK) / (FRONT - BACK)


@pytest.mark.parametrize("spine", range(1, 7))
def test_all_joints_of_the_column_are_there_and_rise(spine):
    """For any number of spine joints the column from the pelvis to the crown only rises."""
    placed = place_trunk(a_trunk(), {}, ADULT, (spine, 1), HIPS)
    assert set(placed) == {*column(spine), "left_clavicle", "right_clavicle"}
    heights = [placed[name].position[1] for name in column(spine)]
    assert (np.diff(heights) > 0.02).all()


@pytest.mark.parametrize("template", template_names())
@pytest.mark.parametrize("spine", [1, 2, 3, 6, 17])
def test_the_spine_lies_in_the_back_part_of_the_trunk(template, spine):
    """Every spine joint of every template lies between .14 and .45 of the depth from the back.

    Published depths: L5/S1 .33 to .5 and T12/L1 .27 (Dumas & Wojtusch 2018), lumbar joints of the
    ISO/IEC 19774-1 nominal figure .14.
    """
    placed = place_trunk(a_trunk(), {}, load_template(template), (spine, 1), HIPS)
    for name in column(spine)[1:-3]:
        assert 0.14 < depth_share(placed[name].position[2]) < 0.45, name


@pytest.mark.parametrize("spine", [2, 3, 5])
def test_spine_joints_are_evenly_spaced_from_base_to_chest(spine):
    """Between the base and the chest the joints stand at equal heights apart, the chest at its
    share of the way from the base to the neck."""
    placed = place_trunk(a_trunk(), {}, ADULT, (spine, 1), HIPS)
    heights = np.array([placed[n].position[1] for n in column(spine)[1:-3]])
    np.testing.assert_allclose(np.diff(heights), heights[1] - heights[0])
    pelvis, neck = placed["pelvis"].position[1], placed["neck"].position[1]
    base = pelvis + ADULT["spine_base"].value * (neck - pelvis)
    assert heights[0] == pytest.approx(base)
    assert heights[-1] == pytest.approx(base + ADULT["chest_share"].value * (neck - base))


def test_the_chest_alone_lies_between_base_and_usual_chest():
    """With a single spine joint, the chest stands half as high over the base as it otherwise
    does."""
    one, three = (place_trunk(a_trunk(), {}, ADULT, (n, 1), HIPS) for n in (1, 3))
    base = three["spine_1"].position[1]
    expected = base + 0.5 * (three["chest"].position[1] - base)
    assert one["chest"].position[1] == pytest.approx(expected)


def test_neck_and_head_are_the_template_s_shares():
    """Neck and head stand at their shares of trunk and head, in the depth they are given."""
    placed = place_trunk(a_trunk(), {}, ADULT, (3, 1), HIPS)
    neck, head = placed["neck"], placed["head"]
    assert neck.position[1] == pytest.approx(CROTCH + ADULT["neck_height"].value * (CHIN - CROTCH))
    assert depth_share(neck.position[2]) == pytest.approx(ADULT["neck_depth"].value)
    assert head.position[1] == pytest.approx(CHIN + ADULT["head_height"].value * (1 - CHIN))
    assert depth_share(head.position[2]) == pytest.approx(ADULT["head_depth"].value)
    assert placed["head_top"].position[1] == 1.0


def test_a_head_larger_than_a_newborn_s_is_carried_at_its_base():
    """Its joint stands as high over the chin as in a newborn's head, .60 of the trunk (a quarter of
    the stature over a sitting height of .67), and comes nearer to the neck than the skull's depth
    has it."""
    trunk = a_trunk()
    large = replace(trunk, crown=np.array([0.0, CHIN + 1.2 * (CHIN - CROTCH), 0.0]))
    neck = replace(large, neck=trunk.neck + np.array([0.0, 0.0, 0.02]))
    head = place_trunk(large, {}, ADULT, (3, 1), HIPS)["head"].position
    carried = 0.60 * (CHIN - CROTCH)
    assert head[1] == pytest.approx(CHIN + ADULT["head_height"].value * carried)
    skull = BACK + ADULT["head_depth"].value * (FRONT - BACK)
    assert head[2] == pytest.approx(0.5 * (skull + trunk.neck[2]))
    ahead = place_trunk(neck, {}, ADULT, (3, 1), HIPS)["head"].position
    assert ahead[2] - head[2] == pytest.approx(0.01)


def test_the_pelvis_lies_midway_between_the_hips():
    """The pelvis has the mean of the hips' sides and stands a little above their mean height."""
    hips = {"left_hip": np.array([0.07, 0.54, 0.0]), "right_hip": np.array([-0.05, 0.52, 0.0])}
    pelvis = place_trunk(a_trunk(), {}, ADULT, (3, 1), hips)["pelvis"].position
    assert pelvis[0] == pytest.approx(0.01)
    above = ADULT["pelvis_above_hip"].value * (CHIN - CROTCH)
    assert pelvis[1] == pytest.approx(0.53 + above)


@pytest.mark.parametrize("there", ["left_hip", "right_hip", None])
def test_without_both_hips_the_pelvis_is_less_sure(there):
    """With a hip missing the pelvis stays in the middle, at the template's height, and is twice as
    unsure."""
    hips = {there: HIPS[there]} if there else {}
    pelvis = place_trunk(a_trunk(), {}, ADULT, (3, 1), hips)["pelvis"]
    whole = place_trunk(a_trunk(), {}, ADULT, (3, 1), HIPS)["pelvis"]
    assert pelvis.position[0] == pytest.approx(0.0)
    assert pelvis.spread == pytest.approx(WIDER * whole.spread, rel=0.01)
    expected = ADULT["hip_above_crotch"].value + ADULT["pelvis_above_hip"].value
    assert pelvis.position[1] == pytest.approx(CROTCH + expected * (CHIN - CROTCH))


def test_the_column_follows_a_body_that_leans():
    """Where the body's middle leans to one side, neck and chest lean with it."""
    placed = place_trunk(a_trunk(lean=0.06), {}, ADULT, (3, 1), {})
    for name in ("spine_1", "spine_2", "chest", "neck", "head"):
        x, y, _ = placed[name].position
        assert x == pytest.approx(0.06 * (y - CROTCH) / (1 - CROTCH)), name
    assert placed["head_top"].position[0] == pytest.approx(0.06)


def test_the_collar_bones_begin_on_either_side_of_the_middle():
    """Both clavicles start equally far from the middle of the body, high and in the front half."""
    placed = place_trunk(a_trunk(shift=0.02), {}, ADULT, (3, 1), {})
    left, right = (placed[f"{s}_clavicle"].position for s in ("left", "right"))
    assert left[0] - 0.02 == pytest.approx(0.02 - right[0])
    assert left[0] - 0.02 == pytest.approx(ADULT["clavicle_half_width"].value * (CHIN - CROTCH))
    np.testing.assert_allclose(left[1:], right[1:])
    assert depth_share(left[2]) > 0.5


@pytest.mark.parametrize("name", ["pelvis", "spine_2", "chest", "neck", "head", "left_clavicle"])
def test_every_joint_tells_why_it_is_there(name):
    """Each joint has a positive spread below a tenth of the height, and evidence that sums to one
    with a note in words."""
    placed = place_trunk(a_trunk(), {}, ADULT, (3, 1), HIPS)[name]
    assert 1e-4 <= placed.spread < 0.1
    assert sum(e.weight for e in placed.evidence) == pytest.approx(1.0)
    assert all(len(e.note.split()) > 2 for e in placed.evidence)


def test_placing_changes_no_input():
    """Neither the measures nor the hips are written to."""
    trunk = a_trunk()
    for array in (trunk.y, trunk.front, trunk.back, trunk.middle_x, trunk.crotch, trunk.chin):
        array.setflags(write=False)
    hips = {name: at.copy() for name, at in HIPS.items()}
    for at in hips.values():
        at.setflags(write=False)
    one, two = (place_trunk(trunk, {}, ADULT, (3, 1), hips) for _ in range(2))
    assert all(one[n].position.tobytes() == two[n].position.tobytes() for n in one)


@pytest.mark.parametrize("count", [1, 2, 5])
def test_neck_joints_are_evenly_spaced_up_to_the_head(count):
    """As many neck joints as asked for lie on the way from the first to the head, alike apart."""
    placed = place_trunk(a_trunk(), {}, ADULT, (3, count), HIPS)
    names = ["neck", *(f"neck_{i + 1}" for i in range(1, count)), "head"]
    assert [name for name in placed if name.startswith("neck")] == sorted(names[:-1])
    steps = np.diff([placed[name].position for name in names], axis=0)
    assert steps == pytest.approx(np.broadcast_to(steps[0], steps.shape))
