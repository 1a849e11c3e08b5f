"""Opening a skeleton file: ours as it is, posed ones refused or baked, names put back."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from autoplace.errors import FileMissing, SkeletonError
from autoplace.files.open_skeleton import OpenedSkeleton, open_skeleton
from autoplace.files.skeleton_json import dump_skeleton, write_skeleton
from autoplace.skeleton.model import Finding
from autoplace.skeleton.orient import body_directions, orient
from tests.figures import standard_skeleton


@pytest.fixture(scope="module")
def figure():
    return orient(standard_skeleton("A"))


def with_axes(skeleton, changes):
    return skeleton.with_joints(
        tuple(replace(j, axes=changes.get(j.name, j.axes)) for j in skeleton)
    )


def saved(skeleton, folder):
    return write_skeleton(skeleton, folder / "a.skeleton.json")


def test_our_own_file_is_taken_as_it_is(figure, tmp_path):
    """A skeleton that we wrote comes back equal, under its own names, nothing turned or scaled."""
    opened = open_skeleton(saved(figure, tmp_path))
    assert dump_skeleton(opened.skeleton) == dump_skeleton(figure)
    assert opened.format == "skeleton.json"
    assert opened.own_names == {name: name for name in figure.names}
    assert (opened.turned, opened.scaled, opened.guess) == ({}, {}, ())
    assert opened.under_own_names(opened.skeleton) is opened.skeleton


def test_scaled_axes_are_refused_named_and_told(figure, tmp_path):
    """Axes of other lengths than one are scales: refused with names, number and the option."""
    axes = figure["left_knee"].axes
    changes = {"left_knee": 2.0 * axes, "left_hip": np.diag([1, 1.5, 1]) @ axes}
    path = saved(with_axes(figure, changes), tmp_path)
    with pytest.raises(SkeletonError, match=r"2 of .*'left_knee' scaled 2 2 2.*--bake"):
        open_skeleton(path)
    told = open_skeleton(path, refuse_posed=False)
    assert told.scaled["left_hip"] == pytest.approx((1.0, 1.5, 1.0), abs=1e-12)
    assert set(told.scaled) == {"left_hip", "left_knee"}


def test_many_scaled_joints_are_counted(figure, tmp_path):
    """A message names three joints and counts the others."""
    path = saved(with_axes(figure, {n: 3 * figure[n].axes for n in figure.names}), tmp_path)
    with pytest.raises(SkeletonError, match=f"and {len(figure) - 3} more"):
        open_skeleton(path)


def test_baking_keeps_places_and_makes_axes_unit(figure, tmp_path):
    """Baked: positions equal, every axis of length one in the same direction, nothing scaled."""
    scaled = {j.name: np.diag([0.5, 2.0, 3.0]) @ j.axes for j in figure}
    opened = open_skeleton(saved(with_axes(figure, scaled), tmp_path), bake=True)
    assert not opened.scaled
    for joint in opened.skeleton:
        assert np.array_equal(joint.position, figure[joint.name].position)
        assert joint.axes == pytest.approx(figure[joint.name].axes, abs=1e-12)
        assert joint.axes @ joint.axes.T == pytest.approx(np.eye(3), abs=1e-12)


@pytest.mark.parametrize(
    ("matrix", "said"),
    [
        (np.array([[1.0, 0.2, 0], [0, 1, 0], [0, 0, 1]]), "right angles"),
        (np.diag([1.0, 1.0, -1.0]), "left-handed"),
        (np.diag([1.0, 1.0, 0.0]), "right angles"),
    ],
)
def test_what_no_baking_mends_is_said(figure, tmp_path, matrix, said):
    """Sheared, mirrored or flat axes are no turn of a frame, so baking refuses them by name."""
    path = saved(with_axes(figure, {"head": matrix @ figure["head"].axes}), tmp_path)
    with pytest.raises(SkeletonError, match=f"'head' are .*{said}"):
        open_skeleton(path, bake=True)


def test_given_directions_go_before_those_of_the_file(figure, tmp_path):
    """The user's up and forward, by name or vector, decide which way the character stands."""
    path = saved(figure, tmp_path)
    by_name = open_skeleton(path, up="+Z", forward="-Y").skeleton
    assert by_name.source.up == "+Z"
    assert body_directions(by_name)[1:] == pytest.approx(np.array([[0, 0, 1.0], [0, -1, 0]]))
    turn = Rotation.from_euler("x", 30, degrees=True).as_matrix()
    by_vector = open_skeleton(path, up=turn[1], forward=list(turn[2])).skeleton
    assert body_directions(by_vector)[1:] == pytest.approx(turn[1:])
    dump_skeleton(by_vector)


def test_a_broken_tree_is_let_through_when_asked(figure, tmp_path):
    """Two joints of one name are refused, and let through for the checks."""
    data = json.loads(dump_skeleton(figure))
    data["joints"][3]["name"] = data["joints"][2]["name"]
    path = tmp_path / "a.skeleton.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(SkeletonError, match="Two joints are named"):
        open_skeleton(path)
    opened = open_skeleton(path, require_tree=False)
    assert opened.under_own_names(opened.skeleton).names == opened.skeleton.names
    assert opened.skeleton.names.count(figure.names[2]) == 2


def test_files_that_are_not_there_or_of_no_known_kind(tmp_path):
    """No file, a folder and an unknown ending are each one sentence."""
    with pytest.raises(FileMissing, match="check the name"):
        open_skeleton(tmp_path / "none.skeleton.json")
    with pytest.raises(FileMissing, match="is a folder"):
        open_skeleton(tmp_path)
    (tmp_path / "a.txt").write_text("x")
    with pytest.raises(SkeletonError, match="should end in"):
        open_skeleton(tmp_path / "a.txt")


def test_own_names_come_back_everywhere(figure):
    """Joints, parents, aims and findings are put under the file's names; new joints keep theirs."""
    kept = figure.with_joints(tuple(replace(j, aim=None) for j in figure.joints[:3]))
    own = {"pelvis": "A", "spine_1": "B b", "spine_2": "C"}
    findings = (Finding("aim", "spine_1", "note", "'spine_1' aims past 'chest'.", "See 'pelvis'."),)
    changed = replace(
        kept,
        joints=(
            replace(kept["pelvis"], aim="spine_1"),
            *kept.joints[1:],
            replace(figure["chest"], name="C", parent="spine_2"),
        ),
        findings=findings,
    )
    named = OpenedSkeleton(kept, "glTF", own_names=own).under_own_names(changed)
    assert named.names == ("A", "B b", "C", "C_2")
    assert [j.parent for j in named] == [None, "A", "B b", "C"]
    assert named["A"].aim == "B b"
    assert named.findings[0] == Finding(
        "aim", "B b", "note", "'B b' aims past 'chest'.", "See 'A'."
    )
