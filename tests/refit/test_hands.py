"""`autoplace.refit.hands`: finger joints fitted anew, all others the same to the last bit."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from autoplace.errors import SettingsError, SkeletonError
from autoplace.files.skeleton_json import dump_skeleton
from autoplace.refit.eyes import refit_eyes
from autoplace.refit.hands import refit_hands
from autoplace.result import Settings
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import finger_of, side_of
from tests.folded_arms import with_turned_arms
from tests.light_figure import light_figure
from tests.placed_once import demo_character, place_once, placed_demo

HEIGHT = 1.74
NEAR = 0.004 * HEIGHT
"""Two fits of one hand that are begun differently agree within this (.4 % of the height)."""


@pytest.fixture(scope="module")
def keeper():
    return demo_character()


@pytest.fixture(scope="module")
def placed():
    return placed_demo().skeleton


@pytest.fixture(scope="module")
def fitted(keeper, placed):
    return refit_hands(keeper, placed)


def text_of(skeleton: Skeleton) -> dict[str, object]:
    """Every joint as it stands in the file."""
    return {j["name"]: j for j in json.loads(dump_skeleton(skeleton))["joints"]}


def changed(skeleton: Skeleton, **joints: dict[str, object]) -> Skeleton:
    """The skeleton with fields of some joints replaced."""
    return skeleton.with_joints(
        tuple(replace(j, **joints[j.name]) if j.name in joints else j for j in skeleton)
    )


def far(one: Skeleton, other: Skeleton, name: str) -> float:
    return float(np.linalg.norm(one[name].position - other[name].position))


def test_nothing_but_fingers_is_touched(placed, fitted):
    """Joints of no finger stay equal to the byte, and the order of joints is kept."""
    before, after = text_of(placed), text_of(fitted.skeleton)
    assert list(before) == list(after)
    for name, joint in before.items():
        if not finger_of(name):
            assert after[name] == joint
    assert set(fitted.changed) == {n for n in before if finger_of(n)}
    assert fitted.skeleton.source == placed.source


def test_it_finds_what_placing_found(placed, fitted):
    """On the same mesh the fingers come out where `place` put them, and no finding is new."""
    for name in fitted.changed:
        assert far(placed, fitted.skeleton, name) < NEAR, name
    assert fitted.skeleton.findings == placed.findings


def test_a_second_fit_changes_nothing(keeper, fitted):
    """Fitting what was fitted gives the same file."""
    again = refit_hands(keeper, fitted.skeleton)
    assert dump_skeleton(again.skeleton) == dump_skeleton(fitted.skeleton)
    assert again.changed == ()


def test_joints_moved_by_hand_go_back(keeper, placed, fitted):
    """A finger pulled out of the hand by half its length is found again, axes and all."""
    names = [n for n in placed.names if n.startswith("left_index")]
    pulled = changed(
        placed,
        **{
            n: {"position": np.add(placed[n].position, [0.0, 0.05, 0.0]), "spread": 0.0}
            for n in names
        },
    )
    result = refit_hands(keeper, pulled)
    for name in names:
        assert far(result.skeleton, fitted.skeleton, name) < NEAR
        assert np.allclose(result.skeleton[name].axes, fitted.skeleton[name].axes, atol=0.02)


def test_sides_mirror_where_the_mesh_does(fitted):
    """Both hands of a symmetric figure are exact mirror images."""
    for name in fitted.changed:
        if side_of(name) == "left":
            other = fitted.skeleton[name.replace("left", "right")].position
            assert np.allclose(fitted.skeleton[name].position * [-1, 1, 1], other, atol=1e-12)


def test_a_locked_joint_keeps_its_place(keeper, placed, fitted):
    """The locked joint stays, the rest of its finger is fitted, and a note says so."""
    moved = np.add(placed["left_index_2"].position, [0.0, 0.004, 0.0])
    locked = changed(placed, left_index_2={"position": moved, "locked": True})
    result = refit_hands(keeper, locked)
    joint = result.skeleton["left_index_2"]
    assert np.array_equal(joint.position, moved)
    assert joint.locked
    assert joint.evidence == placed["left_index_2"].evidence
    assert far(result.skeleton, fitted.skeleton, "left_index_3") == 0.0
    assert result.report["kept"] == {"left_index_2": "it is locked"}
    (note,) = [f for f in result.skeleton.findings if f.check == "locked_finger"]
    assert "left_index_2" in note.message
    # its axis still points at the joint beyond
    aim = result.skeleton["left_index_3"].position - moved
    assert joint.axes[1] @ aim == pytest.approx(np.linalg.norm(aim))


def test_a_missing_finger_is_added(keeper, placed, fitted):
    """Joints of a finger that the skeleton lacks come back under the wrist, in their usual row."""
    without = placed.with_joints(tuple(j for j in placed if not j.name.startswith("left_ring")))
    result = refit_hands(keeper, without)
    assert result.skeleton.names == placed.names
    assert result.skeleton["left_ring_1"].parent == "left_wrist"
    assert far(result.skeleton, fitted.skeleton, "left_ring_2") < 1e-9
    assert {"left_ring_1", "left_ring_2", "left_ring_3", "left_ring_tip"} <= set(result.changed)


def test_a_bare_arm_gets_all_its_fingers(keeper, placed):
    """A skeleton without a hand's fingers gets them all."""
    bare = placed.with_joints(tuple(j for j in placed if not finger_of(j.name)))
    result = refit_hands(keeper, bare)
    assert set(result.skeleton.names) == set(placed.names)


def test_only_one_hand(keeper, placed):
    """With one side asked for, the other keeps every joint."""
    result = refit_hands(keeper, placed, sides=("right",))
    assert {side_of(n) for n in result.changed} == {"right"}
    before, after = text_of(placed), text_of(result.skeleton)
    assert all(after[n] == before[n] for n in before if n.startswith("left_"))


def test_metacarpals_come_in_between(keeper, placed, fitted):
    """Asked for, they hang from the wrist and carry the knuckles; asked once, they are kept up."""
    result = refit_hands(keeper, placed, Settings(metacarpals=True))
    skeleton = result.skeleton
    assert skeleton["left_index_metacarpal"].parent == "left_wrist"
    assert skeleton["left_index_1"].parent == "left_index_metacarpal"
    assert skeleton["left_thumb_1"].parent == "left_wrist"
    assert far(skeleton, fitted.skeleton, "left_index_1") == 0.0
    assert skeleton.settings["metacarpals"] is True
    assert dump_skeleton(refit_hands(keeper, skeleton).skeleton) == dump_skeleton(skeleton)


def test_fingers_by_other_names(keeper, placed):
    """A wrong number of names leaves the hand alone and says what was found."""
    result = refit_hands(keeper, placed, Settings(fingers={"left": ("thumb", "middle")}))
    assert {side_of(n) for n in result.changed} == {"right"}
    (told,) = [f for f in result.skeleton.findings if f.check == "missing_fingers"]
    assert "5 fingers found, but 2 names given" in told.message
    # told once: the next fit takes the finding away again
    again = refit_hands(keeper, result.skeleton, Settings())
    assert not [f for f in again.skeleton.findings if f.check == "missing_fingers"]


def test_a_finger_that_is_gone_is_kept_and_told():
    """A skeleton with a ring finger on a hand of four fingers keeps it where it was."""
    child, skeleton = demo_character("bell_child"), placed_demo("bell_child").skeleton
    extra = []
    for joint in skeleton:
        extra.append(joint)
        if joint.name.startswith("left_pinky"):
            name = joint.name.replace("pinky", "ring")
            above = (joint.parent or "").replace("pinky", "ring")
            extra.append(replace(joint, name=name, parent=above))
    more = skeleton.with_joints(tuple(extra))
    result = refit_hands(child, more)
    before, after = text_of(more), text_of(result.skeleton)
    assert all(after[n] == before[n] for n in before if n.startswith("left_ring"))
    (told,) = [f for f in result.skeleton.findings if f.check == "kept_finger"]
    assert "4 fingers, thumb, index, middle, pinky" in told.message


def test_a_changed_mesh_is_noted(keeper, placed):
    """Another file than the skeleton's own is what refitting is for; the record says which."""
    result = refit_hands(replace(keeper, sha256="0" * 64), placed)
    assert "has changed" in result.report["notes"][0]
    assert result.skeleton.settings["hands"] == {"mesh": "keeper.obj", "sha256": "0" * 64}
    back = refit_hands(keeper, result.skeleton)
    assert "hands" not in back.skeleton.settings


def test_fingers_follow_a_hand_that_has_grown(keeper, placed, fitted):
    """A hand made 1.3 times as large about its wrist has its joints as much farther out."""
    wrist = placed["left_wrist"].position
    parts = []
    for part in keeper.parts:
        offset = part.vertices - wrist
        share = np.clip(offset[:, :1] / 0.03, 0.0, 1.0)
        parts.append(replace(part, vertices=wrist + offset * (1.0 + 0.3 * share)))
    result = refit_hands(replace(keeper, parts=tuple(parts), sha256="1" * 64), placed)
    for name in result.changed:
        if side_of(name) == "left":
            wanted = wrist + 1.3 * (fitted.skeleton[name].position - wrist)
            assert np.linalg.norm(result.skeleton[name].position - wanted) < NEAR
        else:
            assert far(result.skeleton, fitted.skeleton, name) < NEAR


def test_another_place_or_size_is_refused(keeper, placed):
    """A skeleton beside the mesh, or in other units, is told in one sentence."""
    aside = placed.with_joints(
        tuple(replace(j, position=np.add(j.position, [0.0, 0.0, 0.5])) for j in placed)
    )
    with pytest.raises(SkeletonError, match="does not stand in this mesh"):
        refit_hands(keeper, aside)
    large = replace(
        placed.with_joints(tuple(replace(j, position=100 * j.position) for j in placed)),
        source=replace(placed.source, height=100 * placed.source.height),
    )
    with pytest.raises(SkeletonError, match="same units"):
        refit_hands(keeper, large)


@pytest.mark.parametrize("refit", [refit_hands, refit_eyes])
def test_a_mesh_a_hundred_times_the_recorded_size_is_refused_before_it_is_measured(
    keeper, placed, refit
):
    """A skeleton in metres with a mesh in centimetres: told at once, in no time and memory."""
    small = replace(
        placed.with_joints(tuple(replace(j, position=0.01 * j.position) for j in placed)),
        source=replace(placed.source, height=0.01 * placed.source.height),
    )
    with pytest.raises(SkeletonError, match="same units"):
        refit(keeper, small)


def test_one_wrist_outside_leaves_that_hand(keeper, placed):
    """When only one wrist is off the mesh, the other hand is fitted all the same."""
    off = changed(
        placed, left_wrist={"position": np.add(placed["left_wrist"].position, [0, 0.3, 0])}
    )
    result = refit_hands(keeper, off)
    assert {side_of(n) for n in result.changed} == {"right"}
    (told,) = [f for f in result.skeleton.findings if f.check == "missing_fingers"]
    assert "outside of the mesh" in told.message


def test_no_wrist_and_no_such_side_are_refused(keeper, placed):
    """The sentence names the joint that is wanted."""
    trunk = placed.with_joints(tuple(j for j in placed if side_of(j.name) is None))
    with pytest.raises(SkeletonError, match="no joint 'left_wrist' or 'right_wrist'"):
        refit_hands(keeper, trunk)
    with pytest.raises(SettingsError, match="give left or right"):
        refit_hands(keeper, placed, sides=("both",))


def test_a_hand_in_the_thigh_is_fitted_to_its_own_skin():
    """Where arms hang in trunk and thighs, fitting finds the fingers that placing found."""
    character, _ = with_turned_arms(*light_figure(), 92.0)
    placed = place_once(character).skeleton
    fitted = refit_hands(character, placed).skeleton
    fingers = [name for name in placed.names if finger_of(name)]
    assert len(fingers) == 40
    assert max(far(fitted, placed, name) for name in fingers) < NEAR
