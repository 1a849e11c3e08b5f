"""Joints of BVH files: against another reader of them, and broken files told with their line."""

from __future__ import annotations

import time
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from autoplace.errors import SkeletonError
from autoplace.files.bvh import read_bvh_joints
from tests.examples import examples
from tests.figures import standard_skeleton
from tests.files.foreign_files import bvh_text

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it imports a library of its own by an old name
    import bvhio

SMALL = """HIERARCHY
ROOT hips
{
  OFFSET 0 1 0
  CHANNELS 6 Xposition Yposition Zposition Zrotation Xrotation Yrotation
  JOINT left leg
  {
    OFFSET 0.1 0 0
    CHANNELS 3 Zrotation Xrotation Yrotation
    End Site
    {
      OFFSET 0 -1 0
    }
  }
}
"""


def written(text, folder):
    path = folder / "a.bvh"
    path.write_text(text, encoding="utf-8")
    return path


def places_by_bvhio(path, frame):
    """World positions by joint name as the library `bvhio` reads them; without end sites."""
    root = bvhio.readAsHierarchy(str(path))
    if frame is not None:
        root.loadPose(frame)
    return {joint.Name: np.array(joint.PositionWorld) for joint, _, _ in root.layout()}


def random_frame(figure, seed):
    rng = np.random.default_rng(seed)
    return {name: rng.uniform(-80, 80, size=3) for name in figure.names}


def test_the_zero_pose_is_the_sum_of_the_offsets(tmp_path):
    """Worked out by hand: offsets add up, axes are the world's, the end site is a tip."""
    record = read_bvh_joints(written(SMALL, tmp_path))
    assert record.names == ("hips", "left leg", "left leg_tip")
    assert record.tips == (False, False, True)
    assert record.parents.tolist() == [-1, 0, 1]
    assert record.positions.tolist() == [[0, 1, 0], [0.1, 1, 0], [0.1, 0, 0]]
    assert (record.axes == np.eye(3)).all()
    assert not record.turned.any()


def test_one_frame_is_a_pose(tmp_path):
    """By hand: 90 degrees about Z at the leg puts its end at +X, and only the leg is turned."""
    motion = "MOTION\nFrames: 1\nFrame Time: 0.04\n0 1 0 0 0 0 90 0 0\n"
    record = read_bvh_joints(written(SMALL + motion, tmp_path))
    assert record.positions == pytest.approx(np.array([[0, 1, 0], [0.1, 1, 0], [1.1, 1, 0]]))
    assert record.turned.tolist() == pytest.approx([0, 90, 0])
    assert record.axes[1] == pytest.approx(np.array([[0, 1, 0], [-1, 0, 0], [0, 0, 1.0]]))


@pytest.mark.parametrize("order", ["ZXY", "XYZ", "YZX"])
@pytest.mark.parametrize("seed", range(3))
def test_frames_stand_where_another_library_puts_them(tmp_path, order, seed):
    """A random frame in any order of rotations: places equal those that `bvhio` computes."""
    figure = standard_skeleton("A")
    frame = random_frame(figure, seed)
    path = written(bvh_text(figure, frames=[frame], order=order, root_at=(3, -2, 1)), tmp_path)
    record = read_bvh_joints(path)
    theirs = places_by_bvhio(path, 0)
    ours = dict(zip(record.names, record.positions, strict=True))
    assert set(theirs) == {n for n, tip in zip(record.names, record.tips, strict=True) if not tip}
    for name, place in theirs.items():
        assert ours[name] == pytest.approx(place, abs=2e-5), name  # it computes in single precision


def test_rest_stands_where_another_library_puts_it(tmp_path):
    """With more than one frame the zero pose counts, as `bvhio` has it; a note names the motion."""
    figure = standard_skeleton("T")
    frames = [random_frame(figure, s) for s in range(2)]
    path = written(bvh_text(figure, frames=frames), tmp_path)
    record = read_bvh_joints(path)
    for name, place in places_by_bvhio(path, None).items():
        mine = record.positions[record.names.index(name)]
        assert mine == pytest.approx(place, abs=2e-6)
    assert not record.turned.any()
    assert any("2 frames" in note for note in record.notes)


def test_turns_of_a_frame_are_told(tmp_path):
    """Each joint is turned by the angle of its three rotations, as scipy composes them."""
    figure = standard_skeleton("T")
    frame = {"left_elbow": (10.0, 20.0, 30.0), "pelvis": (0.0, 0.0, 45.0)}
    record = read_bvh_joints(written(bvh_text(figure, frames=[frame], order="ZXY"), tmp_path))
    told = {n: d for n, d in zip(record.names, record.turned, strict=True) if d}
    elbow = Rotation.from_euler("ZXY", frame["left_elbow"], degrees=True).magnitude()
    assert told == pytest.approx({"left_elbow": np.degrees(elbow), "pelvis": 45.0})


@pytest.mark.parametrize("filled", [True, False], ids=["offsets", "zeros"])
def test_positions_of_every_joint(tmp_path, filled):
    """Joints with positions in the frame, their offsets again or all zero, stay where they are."""
    figure = standard_skeleton("T")
    text = bvh_text(figure).replace("CHANNELS 3 ", "CHANNELS 6 Xposition Yposition Zposition ")
    joints = text.replace("End Site", "").split("CHANNELS")[:-1]
    offsets = [part.rsplit("OFFSET", 1)[1].split()[:3] if filled else "000" for part in joints]
    values = " ".join(f"{x} {y} {z} 0 0 0" for x, y, z in offsets)
    record = read_bvh_joints(
        written(f"{text}MOTION\nFrames: 1\nFrame Time: 1\n{values}\n", tmp_path)
    )
    wanted = {j.name: j.position - figure["pelvis"].position for j in figure}
    for name, place in zip(record.names, record.positions - record.positions[0], strict=True):
        if name in wanted:
            assert place == pytest.approx(wanted[name], abs=1e-8)


@pytest.mark.parametrize(
    "text",
    [
        SMALL.replace("\n", "\r\n"),
        SMALL.replace("ROOT hips\n{", "ROOT hips {"),
        SMALL.replace("{\n", "{ ").replace("\n", "\n\n"),
        "\ufeff" + SMALL,
        SMALL.replace("Zrotation", "ZROTATION"),
    ],
)
def test_spellings_of_other_writers(tmp_path, text):
    """Line ends, braces on the same line, a byte order mark and capitals do not matter."""
    assert len(read_bvh_joints(written(text, tmp_path)).names) == 3


def deep(levels):
    head = "".join(f"{'JOINT' if i else 'ROOT'} j{i}\n{{\nOFFSET 0 1 0\n" for i in range(levels))
    return "HIERARCHY\n" + head + "}\n" * levels


def wide(count):
    rows = "".join(f"JOINT j{i}\n{{\nOFFSET 0 1 0\n}}\n" for i in range(count))
    return "HIERARCHY\nROOT r\n{\nOFFSET 0 0 0\n" + rows + "}\n"


ONE = "MOTION\nFrames: 1\nFrame Time: 1\n"
BROKEN = [
    ("", "empty"),
    ("hello", "HIERARCHY"),
    ("HIERARCHY\n", "no joints"),
    ("HIERARCHY\nJOINT a\n{\nOFFSET 0 0 0\n}\n", "line 2 has JOINT outside"),
    ("HIERARCHY\nROOT\n{\nOFFSET 0 0 0\n}\n", "line 2 has ROOT without a name"),
    ("HIERARCHY\n{\n}\n", "line 2 opens a brace"),
    ("HIERARCHY\nROOT a\nOFFSET 0 0 0\n", "line 3 should open a brace"),
    (SMALL[:-2], "brace is still open"),
    (SMALL + "}\n", "closes a brace that was not opened"),
    (SMALL.replace("OFFSET 0.1 0 0", "OFFSET 0.1 0"), "line 8 should be the one OFFSET"),
    (SMALL.replace("OFFSET 0.1 0 0", "OFFSET 0.1 nan 0"), "line 8 has 'nan'"),
    (SMALL.replace("OFFSET 0.1 0 0", "OFFSET 0.1 1e99 0"), "line 8 has '1e99'"),
    (SMALL.replace("OFFSET 0.1 0 0", ""), "has no OFFSET"),
    (SMALL.replace("CHANNELS 3", "CHANNELS 4"), "name 4 channels"),
    (SMALL.replace("CHANNELS 3", "CHANNELS -3"), "the one CHANNELS"),
    (SMALL.replace("CHANNELS 3 Z", "CHANNELS 3 W"), "name 3 channels"),
    (SMALL.replace("3 Zrotation X", "3 Xrotation X"), "a channel twice"),
    (SMALL.replace("End Site", "ROOT b"), "ROOT inside"),
    (SMALL.replace("JOINT", "BONE"), "'BONE', which is no part"),
    (SMALL + "MOTION\nFrames: -1\n", "how many"),
    (SMALL + "MOTION\n", "how many"),
    (SMALL + "MOTION\nFrames: 1\n", "Frame Time"),
    (SMALL + ONE + "1 2 3\n", "9 numbers"),
    (SMALL + ONE + "1 2 3 4 5 6 7 8 inf\n", "'inf'"),
    (SMALL + ONE + " ".join("0" * 10) + "\n", "9 numbers"),
    (deep(10_000), "more than 512 deep"),
    (wide(1_000_000), "4097 joints"),
    ("HIERARCHY\n" + "x" * 3_000_000, "far too long"),
]


@pytest.mark.parametrize(("text", "said"), BROKEN, ids=[said for _, said in BROKEN])
def test_broken_files_are_one_sentence(tmp_path, text, said):
    """Every break is refused in one sentence, with its line where there is one, and soon."""
    path = written(text, tmp_path)
    begin = time.monotonic()
    with pytest.raises(SkeletonError, match=said) as told:
        read_bvh_joints(path)
    assert time.monotonic() - begin < 5.0
    assert "\n" not in str(told.value)


def test_long_motion_is_not_read(tmp_path):
    """Whatever stands in the frames of a motion that is passed over costs no time."""
    path = tmp_path / "a.bvh"
    path.write_text(SMALL + "MOTION\nFrames: 900000\nFrame Time: 1\n" + "x y z\n" * 900_000)
    begin = time.monotonic()
    assert len(read_bvh_joints(path).names) == 3
    assert time.monotonic() - begin < 0.5


@given(st.data())
@settings(max_examples=examples(80), deadline=None, derandomize=True)
def test_damage_of_any_kind_is_refused_or_read(tmp_path_factory, data):
    """A text cut off, or with lines lost, doubled or changed, is read or refused."""
    lines = (SMALL + ONE + "0 1 0 0 0 0 90 0 0\n").splitlines()
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(lines) - 1))
        what = data.draw(st.sampled_from(["lose", "double", "cut", "swap"]))
        if what == "lose" and len(lines) > 1:
            lines.pop(at)
        elif what == "double":
            lines.insert(at, lines[at])
        elif what == "cut":
            lines[at] = lines[at][: data.draw(st.integers(0, len(lines[at])))]
        else:
            lines[at] = data.draw(st.text(max_size=12))
    path = tmp_path_factory.getbasetemp() / "damaged.bvh"
    path.write_text("\n".join(lines), encoding="utf-8", errors="replace")
    try:
        record = read_bvh_joints(path)
    except SkeletonError:
        return
    assert np.isfinite(record.positions).all()
