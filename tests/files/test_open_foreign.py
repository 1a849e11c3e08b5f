"""Skeletons of other formats opened as ours: names, directions, poses, and the way back."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from autoplace.errors import SkeletonError
from autoplace.files.gltf import write_glb
from autoplace.files.open_skeleton import open_skeleton
from autoplace.files.skeleton_json import dump_skeleton, read_skeleton, write_skeleton
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.orient import body_directions, orient
from autoplace.skeleton.structure import parent_indices
from tests.figures import Y, Z, standard_skeleton
from tests.files.foreign_files import bvh_text, gltf_of, pose, write_usd
from tests.skeleton.roles.renamed import bones, doubtful, lacking, numbers
from tests.skeleton.roles.test_standard_names import webxr_hand
from tests.tubes import figure_of_tubes

Z_UP = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
"""Takes a +Y-up figure that faces +Z to a +Z-up one that faces -Y."""


@pytest.fixture(scope="module")
def figure():
    return orient(standard_skeleton("A"))


def renamed(skeleton: Skeleton, style) -> Skeleton:
    names = {name: style(name, place) for place, name in enumerate(skeleton.names)}
    return skeleton.with_joints(
        tuple(replace(j, name=names[j.name], parent=names.get(j.parent)) for j in skeleton)
    )


def carried(skeleton: Skeleton, turn, size=1.0) -> Skeleton:
    return skeleton.with_joints(
        tuple(
            replace(j, position=size * (turn @ j.position), axes=j.axes @ turn.T) for j in skeleton
        )
    )


def saved_gltf(skeleton, folder, **how):
    gltf_of(skeleton, **how).save(str(folder / "a.gltf"))
    return folder / "a.gltf"


def saved_bvh(skeleton, folder, **how):
    (folder / "a.bvh").write_text(bvh_text(skeleton, **how), encoding="utf-8")
    return folder / "a.bvh"


def test_our_own_export_opens_as_it_was(figure, tmp_path):
    """A character exported as GLB has the same names, places and axes when it is opened."""
    write_glb(figure_of_tubes(figure), figure, tmp_path / "a.glb")
    opened = open_skeleton(tmp_path / "a.glb")
    assert opened.format == "glTF"
    assert opened.skeleton.names == figure.names
    assert [j.parent for j in opened.skeleton] == [j.parent for j in figure]
    assert opened.skeleton.positions() == pytest.approx(figure.positions(), abs=1e-12)
    for joint in opened.skeleton:
        assert joint.axes == pytest.approx(figure[joint.name].axes, abs=1e-9)
    assert {g.how for g in opened.guess} == {"name"}


@pytest.mark.parametrize("style", [bones, numbers, doubtful], ids=lambda s: s.__name__)
def test_foreign_names_become_ours_and_go_back(figure, tmp_path, style):
    """Joints of a glTF file come under our names; the file's names are put back on the way out."""
    theirs = renamed(figure, style)
    opened = open_skeleton(saved_gltf(theirs, tmp_path))
    assert opened.skeleton.names == figure.names
    back = opened.under_own_names(orient(opened.skeleton))
    assert back.names == theirs.names
    assert [j.parent for j in back] == [j.parent for j in theirs]


def test_the_way_back_is_kept_as_json_and_opens_again(figure, tmp_path):
    """A skeleton written under foreign names in our format is recognised again when opened."""
    opened = open_skeleton(saved_gltf(renamed(figure, bones), tmp_path))
    oriented = orient(opened.skeleton)
    path = write_skeleton(opened.under_own_names(oriented), tmp_path / "b.skeleton.json")
    again = open_skeleton(path)
    assert again.skeleton.names == figure.names
    assert again.own_names == opened.own_names
    for joint in again.skeleton:
        assert joint.axes == pytest.approx(oriented[joint.name].axes, abs=0)
    assert again.under_own_names(again.skeleton).names == read_skeleton(path).names


def test_unrecognised_joints_keep_their_names_apart_from_ours(figure, tmp_path):
    """Joints we do not know keep their names, made unlike each other's and unlike ours."""
    data = gltf_of(figure, bind=False)
    for name in ("ear", "ear", "head", ""):
        data.nodes.append(type(data.nodes[0])(name=name, translation=[0, 0.1, -0.1]))
        data.nodes[figure.names.index("head")].children.append(len(data.nodes) - 1)
        data.skins[0].joints.append(len(data.nodes) - 1)
    data.save(str(tmp_path / "a.gltf"))
    opened = open_skeleton(tmp_path / "a.gltf")
    assert opened.skeleton.names[-4:] == ("ear", "ear_2", "head_2", "node_70")
    assert opened.own_names["head_2"] == "head"
    assert [g.name for g in opened.guess[-4:]] == [None] * 4
    back = opened.under_own_names(opened.skeleton)
    assert back.names[-4:] == ("ear", "ear_2", "head_2", "node_70")
    parent_indices(back)


@pytest.mark.parametrize(
    ("write", "ending"), [(saved_gltf, "gltf"), (saved_bvh, "bvh"), (write_usd, "usda")]
)
def test_all_formats_open_alike(figure, tmp_path, write, ending):
    """glTF, BVH and USD of one skeleton under foreign names give the same joints."""
    plain = renamed(figure, bones)
    path = write(plain, tmp_path / "a.usda" if ending == "usda" else tmp_path)
    opened = open_skeleton(path)
    got = {j.name: j.position for j in opened.skeleton}
    assert set(got) == set(figure.names)
    shift = got["pelvis"] - figure["pelvis"].position
    for joint in figure:
        assert got[joint.name] - shift == pytest.approx(joint.position, abs=1e-8)
    assert (opened.skeleton.source.up, opened.skeleton.source.forward) == ("+Y", "+Z")
    assert opened.skeleton.source.height == pytest.approx(np.ptp(figure.positions()[:, 1]))
    assert any("height" in note for note in opened.notes)


@pytest.mark.parametrize("style", [bones, numbers], ids=lambda s: s.__name__)
def test_a_figure_that_stands_another_way(figure, tmp_path, style):
    """BVH says no up: a Z-up figure in centimetres is seen to be one by its joints."""
    other = renamed(carried(figure, Z_UP, size=170.0), style)
    opened = open_skeleton(saved_bvh(other, tmp_path))
    assert (opened.skeleton.source.up, opened.skeleton.source.forward) == ("+Z", "-Y")
    assert opened.skeleton.source.height == pytest.approx(170 * np.ptp(figure.positions()[:, 1]))
    assert opened.skeleton.names[0] == "pelvis"


def test_joints_against_the_formats_directions(figure, tmp_path):
    """A glTF figure that faces -X although the format says +Z is believed, and told."""
    turn = Rotation.from_euler("y", -90, degrees=True).as_matrix()
    opened = open_skeleton(saved_gltf(renamed(carried(figure, turn), bones), tmp_path))
    assert (opened.skeleton.source.up, opened.skeleton.source.forward) == ("+Y", "-X")
    assert any("-X" in note and "--forward" in note for note in opened.notes)


def test_a_figure_along_no_axis_is_kept_as_vectors(figure, tmp_path):
    """Far from every axis the directions are vectors, and orientation follows them."""
    turn = Rotation.from_euler("xz", [35, 40], degrees=True).as_matrix()
    opened = open_skeleton(saved_bvh(renamed(carried(figure, turn), bones), tmp_path))
    body = body_directions(opened.skeleton)
    assert body[1] @ turn @ Y > np.cos(np.radians(2))
    assert body[2] @ turn @ Z > np.cos(np.radians(2))
    given = open_skeleton(tmp_path / "a.bvh", up=turn @ Y, forward=turn @ Z).skeleton
    oriented = orient(given)
    for joint in figure:
        wanted = joint.axes @ turn.T
        assert oriented[joint.name].axes == pytest.approx(wanted, abs=1e-6), joint.name


def test_given_directions_decide(figure, tmp_path):
    """The user's up and forward go before the format's and the joints'."""
    path = saved_gltf(renamed(figure, bones), tmp_path)
    skeleton = open_skeleton(path, up="+Z", forward="+X").skeleton
    assert (skeleton.source.up, skeleton.source.forward) == ("+Z", "+X")
    assert body_directions(skeleton)[1:] == pytest.approx(np.array([[0, 0, 1.0], [1, 0, 0]]))


def test_a_posed_skeleton_is_refused_with_its_own_names(figure, tmp_path):
    """Turned and scaled joints are listed under the file's names, with how much and the option."""
    turns = {"left_elbow": Rotation.from_euler("x", 30, degrees=True)}
    theirs = renamed(figure, bones)
    local, _ = pose(figure, turns, {"head": (1.1, 1.1, 1.1)})
    path = saved_gltf(theirs, tmp_path, local=local)
    with pytest.raises(SkeletonError, match=r"2 of 67.*'Head' scaled 1.1.*'L_Forearm' turned 30"):
        open_skeleton(path)
    with pytest.raises(SkeletonError, match="--bake"):
        open_skeleton(path)
    told = open_skeleton(path, refuse_posed=False)
    assert told.turned == pytest.approx({"left_elbow": 30.0}, abs=1e-3)
    assert told.scaled["head"] == pytest.approx((1.1, 1.1, 1.1))


@pytest.mark.parametrize("kind", ["gltf", "usda", "bvh"])
def test_baking_changes_no_place(figure, tmp_path, kind):
    """Baked, a random pose is the rest: places to 1e-9 of the height, axes unit, nothing turned."""
    rng = np.random.default_rng(4)
    if kind == "bvh":
        frame = {n: rng.uniform(-40, 40, size=3) for n in figure.names}
        path = saved_bvh(lacking(figure, "eye"), tmp_path, frames=[frame])
    else:
        turns = {
            n: Rotation.from_rotvec(0.3 * rng.normal(size=3))
            for n in figure.names
            if not n.endswith(("eye", "tip"))
        }
        local, _ = pose(figure, turns, {"chest": (1.2, 1.2, 1.2), "left_knee": (0.5, 0.5, 0.5)})
        path = tmp_path / f"a.{kind}"
        if kind == "gltf":
            saved_gltf(figure, tmp_path, local=local)
        else:
            write_usd(figure, path, local=local)
    posed = open_skeleton(path, refuse_posed=False)
    assert posed.turned
    baked = open_skeleton(path, bake=True)
    assert (baked.turned, baked.scaled) == ({}, {})
    height = baked.skeleton.source.height
    off = np.abs(baked.skeleton.positions() - posed.skeleton.positions()).max()
    assert off <= 1e-9 * height
    for joint in baked.skeleton:
        assert joint.axes @ joint.axes.T == pytest.approx(np.eye(3), abs=1e-12)
        assert np.linalg.det(joint.axes) == pytest.approx(1.0)
    rest = open_skeleton(write_skeleton(baked.skeleton, tmp_path / "b.skeleton.json"))
    assert not rest.scaled


def test_a_flat_hand_gets_its_parents(tmp_path):
    """The 25 joints of a WebXR hand side by side are put together by their names."""
    hand = webxr_hand("right", curl=12)
    opened = open_skeleton(saved_gltf(hand, tmp_path, flat=True))
    assert opened.skeleton.names[0] == "right_wrist"
    assert len(opened.skeleton) == 25
    assert opened.skeleton["right_ring_1"].parent == "right_ring_metacarpal"
    parent_indices(opened.skeleton)
    assert any("side by side" in note for note in opened.notes)
    source = opened.skeleton.source
    assert source.part == "hand"
    middle = [f"right_middle_{part}" for part in ("metacarpal", "1", "2", "3", "tip")]
    places = [opened.skeleton[name].position for name in ("right_wrist", *middle)]
    length = sum(np.linalg.norm(b - a) for a, b in pairwise(places))
    assert source.height == pytest.approx(length / 0.11)  # US Army 2012 survey


def test_a_side_in_the_files_name_counts_for_a_hand(tmp_path):
    """Names in WebXR do not tell the side; 'right' in the file's name says it before the shape."""
    gltf_of(webxr_hand("left", curl=9)).save(str(tmp_path / "My_Right.gltf"))
    opened = open_skeleton(tmp_path / "My_Right.gltf")
    assert opened.skeleton.names[0] == "right_wrist"


def test_a_reader_says_where_and_what(tmp_path):
    """A broken foreign file is refused with its name and what is wrong in it."""
    path = tmp_path / "a.bvh"
    path.write_text("HIERARCHY\nROOT a\n", encoding="utf-8")
    with pytest.raises(SkeletonError, match=r"'.*a.bvh' holds no skeleton we can use: line 3"):
        open_skeleton(path)


def test_the_same_file_gives_the_same_skeleton(figure, tmp_path):
    """Opened twice, even the text of the two skeletons is the same."""
    path = saved_gltf(renamed(figure, numbers), tmp_path)
    assert dump_skeleton(open_skeleton(path).skeleton) == dump_skeleton(
        open_skeleton(path).skeleton
    )
