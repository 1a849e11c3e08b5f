"""BVH files as they are written: against another reader of them, our own, and the grammar."""

from __future__ import annotations

import re
import warnings
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplace.errors import OutputError
from autoplace.files.bvh import read_bvh_joints
from autoplace.files.bvh_writer import dump_bvh, is_rest_bvh, write_bvh
from autoplace.files.marks import is_ours
from autoplace.files.open_skeleton import open_skeleton
from autoplace.skeleton.model import Finding, Joint, Skeleton, Source
from autoplace.skeleton.names import is_tip
from autoplace.skeleton.orient import orient
from tests.examples import examples
from tests.figures import standard_skeleton
from tests.files.foreign_files import bvh_text

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it imports a library of its own by an old name
    import bvhio


@pytest.fixture(scope="module")
def figure():
    return orient(standard_skeleton("A", elbow=30))


def scaled(skeleton, size):
    joints = tuple(replace(j, position=size * j.position) for j in skeleton)
    return replace(skeleton.with_joints(joints), source=Source(height=size))


@pytest.mark.parametrize("size", [1.0, 174.0, 1e-6, 1e6])
def test_another_library_finds_every_joint_at_its_place(figure, tmp_path, size):
    """`bvhio` reads names, parents and places equal to a millionth of the height, in any unit."""
    figure = scaled(figure, size)
    path = tmp_path / "a.bvh"
    write_bvh(figure, path)
    root = bvhio.readAsHierarchy(str(path))
    root.loadPose(0)
    theirs = {joint.Name: joint for joint, _, _ in root.layout()}
    assert set(theirs) == {n for n in figure.names if not is_tip(n)}
    for name, joint in theirs.items():
        assert joint.Parent is None or joint.Parent.Name == figure[name].parent
        assert np.allclose(joint.PositionWorld, figure[name].position, rtol=0, atol=1e-6 * size)


def test_another_library_finds_the_ends(figure, tmp_path):
    """The end sites that `bvhio` reads lie where the tips are, and an eye's at its own place."""
    path = tmp_path / "a.bvh"
    write_bvh(figure, path)
    ends = {}
    waiting = [bvhio.readAsBvh(str(path)).Root]
    while waiting:
        joint = waiting.pop()
        waiting += joint.Children
        if not joint.Children:
            ends[joint.Name] = np.array(joint.EndSite)
    tips = {j.parent: j.position - figure[j.parent].position for j in figure if is_tip(j.name)}
    for name, shift in ends.items():
        assert shift == pytest.approx(tips.get(name, np.zeros(3)), abs=1e-6), name
    assert set(tips) <= {*ends, "head"}


def test_our_reader_gives_the_joints_back(figure, tmp_path):
    """Written, opened, equal: the same joints at the same places, nothing turned, tips as tips."""
    path = tmp_path / "a.bvh"
    write_bvh(figure, path)
    record = read_bvh_joints(path)
    assert not record.turned.any()
    opened = open_skeleton(path).skeleton
    assert set(opened.names) == set(figure.names)
    for joint in figure:
        assert opened[joint.name].parent == joint.parent
        assert opened[joint.name].position == pytest.approx(joint.position, abs=1e-12)


def test_a_small_file_by_hand():
    """The whole text for a hip, a knee and a tip, as the format's texts describe it."""
    joints = (
        Joint("left_hip", None, np.array([0.1, 1.0, 0.0])),
        Joint("left_eye", "left_hip", np.array([0.1, 1.5, 0.25])),
        Joint("left_toe_tip", "left_hip", np.array([0.1, 0.0, 0.0])),
    )
    assert dump_bvh(Skeleton(joints)).split("\n") == [
        "HIERARCHY",
        "ROOT left_hip",
        "{",
        "  OFFSET 0 0 0",
        "  CHANNELS 6 Xposition Yposition Zposition Zrotation Xrotation Yrotation",
        "  JOINT left_eye",
        "  {",
        "    OFFSET 0 0.5 0.25",
        "    CHANNELS 3 Zrotation Xrotation Yrotation",
        "    End Site",
        "    {",
        "      OFFSET 0 0 0",
        "    }",
        "  }",
        "  End Site",
        "  {",
        "    OFFSET 0 -1 0",
        "  }",
        "}",
        "MOTION",
        "Frames: 1",
        "Frame Time: 1",
        "0.1 1 0 0 0 0 0 0 0",
        "",
    ]


def test_numbers_have_no_exponents(figure):
    """Tiny and huge numbers are written out, since not every reader knows exponents."""
    text = dump_bvh(scaled(figure, 1e-9)) + dump_bvh(scaled(figure, 1e12))
    assert not re.search(r"\d[eE]", text)


@pytest.mark.parametrize("name", ["left leg", "a{b", "a\tb", "a\u00a0b", "a\nb", "}"])
def test_a_name_that_bvh_forbids_is_named(figure, tmp_path, name):
    """Spaces and braces would end the name; nothing is written."""
    names = [name if n == "left_knee" else n for n in figure.names]
    with pytest.raises(OutputError, match="cannot be written as BVH") as caught:
        write_bvh(figure, tmp_path / "a.bvh", names=names)
    shown = "".join(c if c.isprintable() else "\ufffd" for c in name)
    assert f"'{shown}'" in str(caught.value)
    assert not list(tmp_path.iterdir())


def test_names_given_twice_or_empty_are_refused(figure, tmp_path):
    """Two joints of one name could not be told apart by their reader."""
    twice = ["pelvis" if n == "head" else n for n in figure.names]
    with pytest.raises(OutputError, match="'pelvis' and 'head' would both be called 'pelvis'"):
        write_bvh(figure, tmp_path / "a.bvh", names=twice)
    with pytest.raises(OutputError, match="without a name"):
        write_bvh(figure, tmp_path / "a.bvh", names=["", *figure.names[1:]])


def test_other_names_are_written(figure, tmp_path):
    """Names from a table stand in the file, and our own tell which joints are tips."""
    names = [f"x{i}" for i in range(len(figure))]
    write_bvh(figure, tmp_path / "a.bvh", names=names)
    record = read_bvh_joints(tmp_path / "a.bvh")
    tips = {n for n, own in zip(names, figure.names, strict=True) if is_tip(own)}
    assert {n for n, tip in zip(record.names, record.tips, strict=True) if not tip} == set(
        names
    ) - tips


def test_notes_say_what_is_lost(figure, tmp_path):
    """Axes, unit and up, names of ends, and judgement, each only where there is something."""
    told = " ".join(write_bvh(figure, tmp_path / "a.bvh"))
    for word in ("axes", "unit", "up is +Y", "end sites"):
        assert word in told
    assert "findings" not in told
    found = replace(figure, findings=(Finding("x", None, "note", "m", "f"),))
    assert any("findings" in note for note in write_bvh(found, tmp_path / "b.bvh"))
    plain = Skeleton((Joint("left_hip", None, np.ones(3)),))
    assert len(write_bvh(plain, tmp_path / "c.bvh")) == 1


def test_several_roots_are_written_and_told(tmp_path):
    """Each root is a ROOT of its own."""
    two = Skeleton((Joint("a", None, np.ones(3)), Joint("b", None, np.zeros(3))))
    assert any("roots" in note for note in write_bvh(two, tmp_path / "a.bvh"))
    record = read_bvh_joints(tmp_path / "a.bvh")
    assert record.names == ("a", "b")
    assert record.positions.tolist() == [[1, 1, 1], [0, 0, 0]]


@settings(max_examples=examples(30), deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(-1, 20),
            st.tuples(*[st.floats(-1e6, 1e6, allow_subnormal=False)] * 3),
            st.booleans(),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_any_tree_is_known_as_ours_and_reads_back(tmp_path_factory, rows):
    """Random trees come back joint by joint, and the layout is told as our own."""
    joints = []
    for i, (above, at, tip) in enumerate(rows):
        parent = joints[above % i].name if i and above >= 0 else None
        joints.append(Joint(f"j{i}_tip" if tip else f"j{i}", parent, np.array(at)))
    skeleton = Skeleton(tuple(joints))
    text = dump_bvh(skeleton)
    assert is_rest_bvh(text)
    path = tmp_path_factory.mktemp("bvh") / "a.bvh"
    write_bvh(skeleton, path)
    record = read_bvh_joints(path)
    known = dict(zip(record.names, record.positions, strict=True))
    for joint in joints:
        if joint.name in known:
            assert known[joint.name] == pytest.approx(joint.position, rel=1e-9, abs=1e-6)


def test_files_of_others_are_not_taken_for_ours(figure, tmp_path):
    """Other layouts, motion, posed frames with exponents, and broken files are somebody else's."""
    ours = dump_bvh(figure)
    path = tmp_path / "a.bvh"
    for text in (
        bvh_text(figure),
        ours.replace("Frames: 1", "Frames: 2"),
        ours.replace("  OFFSET", "\tOFFSET"),
        ours.replace("Frame Time: 1\n", "Frame Time: 0.033333\n"),
        ours[: len(ours) // 2],
        "HIERARCHY\n",
    ):
        path.write_text(text)
        assert not is_ours(path), text[:300]
    path.write_bytes(ours.encode() + b"\xff")
    assert not is_ours(path)
    path.write_text(ours)
    assert is_ours(path)


def test_the_same_input_gives_the_same_bytes(figure, tmp_path):
    """Nothing of the moment stands in the file."""
    write_bvh(figure, tmp_path / "a.bvh")
    write_bvh(figure, tmp_path / "b.bvh")
    assert (tmp_path / "a.bvh").read_bytes() == (tmp_path / "b.bvh").read_bytes()
