from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from autoplace.errors import OutputError
from autoplace.measure.frame_record import Frame
from autoplace.show.figure import gather
from autoplace.show.palette import CENTRE, LEFT, RIGHT
from autoplace.show.sheet import compose_sheet, render_sheet, write_sheet
from autoplace.skeleton.model import Skeleton
from tests.show.scene import SPREAD, scene

FINGERS = ("thumb", "index", "middle", "ring", "pinky")
HAND = ("wrist", *(f"{finger}_{k}" for finger in FINGERS for k in ("1", "2", "3", "tip")))
ARM = ("clavicle", "shoulder", "elbow", "wrist", *FINGERS)
LACKS = {
    "eyes": ("eye",),
    "all but a mitten": ("index", "ring", "pinky"),
    "fingers": FINGERS,
    "one arm": tuple(f"left_{name}" for name in ARM),
    "ankles": ("ankle",),
    "head": ("head", "neck", "eye"),
    "tips": ("tip", "head_top"),
    "all with two words": ("_",),
    "everything": ("",),
}


@pytest.fixture(scope="module")
def sheet():
    return compose_sheet(*scene())


def pixel(image, point):
    return tuple(int(v) for v in np.asarray(image)[int(point[1]), int(point[0])])


def overlap(a, b):
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def test_every_joint_is_named_somewhere(sheet):
    """The panels together name the whole skeleton."""
    named = {label.joint for panel in sheet.panels for label in panel.labels}
    assert named == set(scene()[3].names)


@pytest.mark.parametrize("pose", ["T", pytest.param("A", marks=pytest.mark.wide), "hanging"])
def test_names_stand_in_their_panels_and_on_no_other_name(pose):
    """No label leaves its panel, none overlaps another, none that was meant is missing."""
    for panel in compose_sheet(*scene(pose)).panels:
        assert sorted({la.joint for la in panel.labels}) == sorted(set(panel.joints))
        assert len(panel.labels) == len(panel.joints)
        for label in panel.labels:
            assert label.box[0] >= panel.box[0], label
            assert label.box[1] >= panel.box[1], label
            assert label.box[2] <= panel.box[2], label
            assert label.box[3] <= panel.box[3], label
        for a, b in combinations(panel.labels, 2):
            assert not overlap(a.box, b.box), (a, b)


def test_close_ups_name_their_own_joints(sheet):
    """Both hands with all finger joints, the face, both feet."""
    by_title = {panel.title: {la.joint for la in panel.labels} for panel in sheet.panels}
    for side in ("left", "right"):
        hand = by_title[f"{side.capitalize()} hand"]
        assert {f"{side}_{name}" for name in HAND} <= hand
        foot = by_title[f"{side.capitalize()} foot"]
        assert foot == {f"{side}_{name}" for name in ("ankle", "ball", "toe_tip")}
    assert by_title["Head"] == {"head_top", "left_eye", "right_eye", "head", "neck"}


def test_the_three_views_stand_in_line_and_in_one_scale(sheet):
    """The top view is over the front view, the side view beside it, all in one scale."""
    top, front, side = sheet.panels[0].views
    assert top.scale == front.scale == side.scale
    place = scene()[3]["left_knee"].position
    assert top.point(place)[0] == pytest.approx(front.point(place)[0], abs=1)
    assert side.point(place)[1] == pytest.approx(front.point(place)[1], abs=1)
    ahead = np.array([0.0, 0.0, 0.1])
    assert side.point(place + ahead)[0] < side.point(place)[0]
    assert top.point(place + ahead)[1] > top.point(place)[1]


def test_sides_differ_in_hue(sheet):
    """Left beads are emerald, right ones vermilion, those in the middle indigo."""
    front = sheet.panels[0].views[1]
    skeleton = scene()[3]
    for name, ink in (("left_elbow", LEFT), ("right_elbow", RIGHT), ("neck", CENTRE)):
        x, y = front.point(skeleton[name].position)
        assert pixel(sheet.image, (x + 4.5, y)) == ink
    left, right = (front.point(skeleton[f"{s}_elbow"].position)[0] for s in ("left", "right"))
    assert left > right  # the figure faces us


def test_the_spread_is_drawn_one_standard_deviation_wide():
    """The disc about a joint ends at its spread."""
    character, roles, frame, skeleton = scene()
    wide = replace(
        skeleton,
        joints=tuple(replace(j, spread=0.03 if j.name == "left_knee" else 0.0) for j in skeleton),
    )
    none = replace(skeleton, joints=tuple(replace(j, spread=0.0) for j in skeleton))
    with_disc = compose_sheet(character, roles, frame, wide)
    without = np.asarray(render_sheet(character, roles, frame, none)).astype(int)
    front = with_disc.panels[0].views[1]
    left, top, right, bottom = (int(v) for v in front.box)
    change = np.abs(np.asarray(with_disc.image).astype(int) - without).sum(axis=2)
    rows, columns = np.nonzero(change[top:bottom, left:right])
    middle = front.point(skeleton["left_knee"].position)
    reach = np.hypot(columns + left + 0.5 - middle[0], rows + top + 0.5 - middle[1]).max()
    assert reach == pytest.approx(0.03 * front.scale, abs=1.6)


def test_the_silhouette_is_where_the_mesh_is():
    """In the front view ink covers the pixels of the body's own projection and no others."""
    character, roles, frame, skeleton = scene(findings=())
    bare = Skeleton(())
    sheet = compose_sheet(character, roles, frame, bare)
    front = sheet.panels[0].views[1]
    vertices = gather(character, roles, frame, skeleton).body.vertices
    low, high = vertices[:, :2].min(axis=0), vertices[:, :2].max(axis=0)
    left, top, right, bottom = (int(v) for v in front.box)
    picture = np.asarray(sheet.image)[top:bottom, left:right].astype(int)
    # the wash is cool, rules and paper are warm
    rows, columns = np.nonzero(picture[:, :, 2] > picture[:, :, 0] + 3)
    expected = [front.point(np.array([*corner, 0.0])) for corner in (low, high)]
    assert columns.min() + left == pytest.approx(expected[0][0], abs=3)
    assert columns.max() + left + 1 == pytest.approx(expected[1][0], abs=3)
    assert rows.min() + top == pytest.approx(expected[1][1], abs=3)
    assert rows.max() + top + 1 == pytest.approx(expected[0][1], abs=3)


def test_the_input_frame_does_not_matter():
    """A character given lying and in centimetres gives nearly the same picture."""
    character, roles, frame, skeleton = scene()
    turn = np.array([[0.0, 0, 1], [1, 0, 0], [0, 1, 0]])  # rows: working axes in the input frame
    moved = Frame(turn, np.array([3.0, -2.0, 7.0]), 170.0, "+X", "+Y", 0.0)
    parts = tuple(replace(p, vertices=moved.to_input(p.vertices)) for p in character.parts)
    joints = tuple(
        replace(j, position=moved.to_input(j.position), spread=j.spread * 170) for j in skeleton
    )
    here = compose_sheet(character, roles, frame, skeleton, size=(1200, 900))
    there = compose_sheet(
        replace(character, parts=parts),
        roles,
        moved,
        skeleton.with_joints(joints),
        size=(1200, 900),
    )
    for a, b in zip(here.panels, there.panels, strict=True):
        for mine, other in zip(a.labels, b.labels, strict=True):
            assert mine.anchor == pytest.approx(other.anchor, abs=0.01)


@pytest.mark.parametrize("without", LACKS.values(), ids=LACKS.keys())
def test_missing_joints_leave_a_sheet(without):
    """Whatever the skeleton lacks, a sheet comes out and names what there is."""
    parts = scene(without=without)
    sheet = compose_sheet(*parts, size=(1200, 900))
    assert sheet.image.size == (1200, 900)
    named = {label.joint for panel in sheet.panels for label in panel.labels}
    assert named == set(parts[3].names)


def test_missing_surfaces_leave_a_sheet():
    """No eyeballs, no body, no faces at all: the skeleton is still drawn."""
    character, roles, frame, skeleton = scene()
    for role in ("body", "eyeball"):
        some = replace(roles, pieces=tuple(p for p in roles.pieces if p.role == role))
        assert render_sheet(character, some, frame, skeleton, size=(800, 600)).size == (800, 600)
    none = replace(roles, pieces=())
    image = render_sheet(character, none, frame, skeleton, size=(800, 600))
    assert (np.asarray(image) == LEFT).all(axis=2).any()


@pytest.mark.parametrize(
    "size",
    [pytest.param((2400, 1800), marks=pytest.mark.wide), (1600, 900), (900, 1600), (320, 240)],
)
def test_any_size_can_be_asked_for(size):
    """The picture has the size asked for, even one too small to read."""
    assert render_sheet(*scene(), size=size).size == size


def test_the_same_input_gives_the_same_bytes(tmp_path):
    """Twice here and once in another process with another hash seed: one digest."""
    for name in ("a.png", "b.png"):
        write_sheet(render_sheet(*scene(), size=(800, 600)), tmp_path / name)
    program = (
        "from tests.show.scene import scene\n"
        "from autoplace.show.sheet import render_sheet, write_sheet\n"
        f"write_sheet(render_sheet(*scene(), size=(800, 600)), {str(tmp_path / 'c.png')!r})\n"
    )
    root = Path(__file__).parents[2]
    subprocess.run(
        [sys.executable, "-c", program],
        check=True,
        cwd=root,
        env={**os.environ, "PYTHONHASHSEED": "77", "PYTHONPATH": str(root)},
    )
    digests = {hashlib.sha256((tmp_path / f"{n}.png").read_bytes()).digest() for n in "abc"}
    assert len(digests) == 1


def test_the_file_holds_the_picture_and_no_date(tmp_path):
    """What is read back is what was drawn; the only text in the file is our mark."""
    image = render_sheet(*scene(), size=(800, 600))
    write_sheet(image, tmp_path / "s.png")
    with Image.open(tmp_path / "s.png") as read:
        assert np.array_equal(np.asarray(read), np.asarray(image))
        assert read.info == {"Software": "autoplace"}
    assert os.listdir(tmp_path) == ["s.png"]


def test_a_place_that_cannot_be_written_is_told_in_one_sentence(tmp_path):
    """A missing folder raises our own error with the path in it, and leaves nothing behind."""
    image = render_sheet(*scene(), size=(320, 240))
    with pytest.raises(OutputError, match="nowhere"):
        write_sheet(image, tmp_path / "nowhere" / "s.png")
    assert not list(tmp_path.iterdir())


def test_the_spreads_of_the_scene_are_seen():
    """Guards the tests above: the scene's joints do have spreads."""
    assert {j.spread for j in scene()[3]} == {SPREAD}
