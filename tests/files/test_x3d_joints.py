"""Joints of X3D files: as written, as another library builds them, posed, and broken ones told."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from autoplace.errors import SkeletonError
from autoplace.files.open_skeleton import open_skeleton
from autoplace.files.x3d_joints import read_x3d_joints
from autoplace.files.x3d_writer import write_x3d
from autoplace.skeleton.orient import orient
from tests.examples import examples
from tests.figures import standard_skeleton
from tests.files.hanim_figure import hanim_figure
from tests.files.x3d_nodes import x3d
from tests.tubes import figure_of_tubes

SMALL = """<?xml version="1.0" encoding="UTF-8"?>
<X3D profile='Immersive' version='4.0'><Scene>
<HAnimHumanoid DEF='hanim' name='hanim'>
<HAnimJoint DEF='hanim_l_hip' name='l_hip' containerField='skeleton' center='0.1 1 0'>
<HAnimSegment name='l_thigh'><HAnimSite name='l_thigh_mark_pt' translation='1 1 1'/></HAnimSegment>
<HAnimJoint name='l_knee' center='0.1 0.5 0'>
<HAnimSegment><HAnimSite name='l_calf_tip' translation='0.1 0 0'/></HAnimSegment>
</HAnimJoint>
</HAnimJoint>
<HAnimJoint USE='hanim_l_hip' containerField='joints'/>
</HAnimHumanoid>
</Scene></X3D>
"""


def written(text, folder):
    path = folder / "a.x3d"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_small_file_by_hand(tmp_path):
    """Centres, parents, the tip of a segment; landmarks and what only refers are passed over."""
    record = read_x3d_joints(written(SMALL, tmp_path))
    assert record.names == ("l_hip", "l_knee", "l_calf_tip")
    assert record.parents.tolist() == [-1, 0, 1]
    assert record.tips == (False, False, True)
    assert record.positions.tolist() == [[0.1, 1, 0], [0.1, 0.5, 0], [0.1, 0, 0]]
    assert (record.up, record.forward, record.metres_per_unit) == ("+Y", "+Z", 1.0)
    assert not record.turned.any()


@pytest.mark.parametrize("mesh", [True, False])
def test_what_is_written_opens_again(tmp_path, mesh):
    """All joints under our names at their places, to a millionth of the height."""
    figure = orient(standard_skeleton("A"))
    path = tmp_path / "a.x3d"
    write_x3d(figure, path, figure_of_tubes(figure) if mesh else None)
    opened = open_skeleton(path)
    assert opened.format == "X3D"
    assert set(opened.skeleton.names) == set(figure.names)
    assert opened.own_names["left_ankle"] == "l_talocrural"
    for joint in figure:
        other = opened.skeleton[joint.name]
        assert other.parent == joint.parent
        assert other.position == pytest.approx(joint.position, abs=1e-6)


def test_a_file_that_the_working_groups_package_writes(tmp_path):
    """The nominal figure of ISO/IEC 19774-1, built and written by the `x3d` package, reads back
    with equal centres and parents."""
    nominal = hanim_figure()
    nodes = {}
    for joint in nominal:
        nodes[joint.name] = x3d.HAnimJoint(
            DEF=f"hanim_{joint.name}", name=joint.name, center=tuple(joint.position.tolist())
        )
    for joint in reversed(nominal.joints):
        if joint.parent is not None:
            nodes[joint.parent].children.insert(0, nodes[joint.name])
    humanoid = x3d.HAnimHumanoid(
        DEF="hanim", name="hanim", version="2.0", skeleton=[nodes["humanoid_root"]]
    )
    model = x3d.X3D(profile="Immersive", version="4.0", Scene=x3d.Scene(children=[humanoid]))
    path = written(model.XML(), tmp_path)
    record = read_x3d_joints(path)
    assert set(record.names) == set(nominal.names)
    for index, name in enumerate(record.names):
        above = None if record.parents[index] < 0 else record.names[record.parents[index]]
        assert above == nominal[name].parent
        assert record.positions[index] == pytest.approx(nominal[name].position, abs=1e-9)


@pytest.mark.parametrize("degrees", [25.0, 90.0, 170.0])
def test_a_posed_joint_turns_what_hangs_from_it_about_its_centre(tmp_path, degrees):
    """ISO/IEC 19775-1, Transform: by scipy's rotations, the tip of the shank after the knee turned;
    the knee is told as turned and nothing else."""
    turn = Rotation.from_rotvec(np.radians(degrees) * np.array([0.6, 0, 0.8]))
    angle = np.radians(degrees)
    text = SMALL.replace("name='l_knee'", f"name='l_knee' rotation='0.6 0 0.8 {angle}'")
    record = read_x3d_joints(written(text, tmp_path))
    knee, tip = np.array([0.1, 0.5, 0]), np.array([0.1, 0, 0])
    assert record.positions[2] == pytest.approx(knee + turn.apply(tip - knee))
    assert record.turned == pytest.approx([0, degrees, 0])
    assert record.axes[1] == pytest.approx(turn.as_matrix().T)


def test_a_scaled_joint_is_told(tmp_path):
    """Scale is about the centre: the tip is twice as far, and the knee has the factors."""
    text = SMALL.replace("name='l_knee'", "name='l_knee' scale='2 2 2' translation='0 0 1'")
    record = read_x3d_joints(written(text, tmp_path))
    assert record.positions[2] == pytest.approx([0.1, -0.5, 1])
    assert record.scaled[1] == pytest.approx([2, 2, 2])
    assert any("l_knee" in note for note in record.notes)


def test_the_largest_humanoid_is_taken(tmp_path):
    """Of several in a scene the one with the most joints, and a note says so."""
    two = SMALL.replace(
        "<Scene>", "<Scene><HAnimHumanoid name='b'><HAnimJoint name='x'/></HAnimHumanoid>"
    )
    record = read_x3d_joints(written(two, tmp_path))
    assert record.names[0] == "l_hip"
    assert "2 humanoids; 'hanim'" in record.notes[0]


def test_names_from_ids(tmp_path):
    """A joint without a name is called after its id, less the humanoid's name before it."""
    record = read_x3d_joints(
        written(SMALL.replace("DEF='hanim_l_hip' name='l_hip'", "DEF='hanim_l_hip'"), tmp_path)
    )
    assert record.names[0] == "l_hip"


def nested(kind, count, extra=""):
    return (
        "<X3D><Scene><HAnimHumanoid name='h'>"
        + f"<{kind} {extra}>" * count
        + f"</{kind}>" * count
        + "</HAnimHumanoid></Scene></X3D>"
    )


BOMB = (
    "<!DOCTYPE X3D [<!ENTITY a 'aaaaaaaaaa'>"
    + "".join(f"<!ENTITY a{i} '{'&a' + str(i - 1) + ';' if i else '&a;'}'>" for i in range(9))
    + "]><X3D>&a8;</X3D>"
)
BROKEN = [
    ("", "empty"),
    ("hello", "no sound XML"),
    ("<Scene/>", "begins with 'Scene'"),
    ("<X3D/>", "no HAnimHumanoid with joints"),
    (SMALL[: len(SMALL) // 2], "no sound XML"),
    (SMALL.replace("0.1 1 0'", "0.1 1'"), "line 4 has a center that is not 3 numbers"),
    (SMALL.replace("0.1 1 0'", "0.1 nan 0'"), "line 4 has a center"),
    (SMALL.replace("0.1 1 0'", "0.1 1e99 0'"), "line 4 has a center"),
    (SMALL.replace("name='l_knee'", ""), "line 6 has a HAnimJoint without a name"),
    (SMALL.replace("name='l_knee'", "name='l_knee' rotation='0 0 0 1'"), "about no axis"),
    (SMALL.replace("name='l_knee'", "name='l_knee' scale='0 1 1'"), "scaled to nothing"),
    (SMALL.replace("UTF-8", "UTF-99"), "encoding"),
    (BOMB, "declares an entity"),
    ('<!DOCTYPE X3D [<!ENTITY x SYSTEM "file:///etc/passwd">]><X3D>&x;</X3D>', "declares an"),
    (nested("HAnimJoint", 1000, "name='x'"), "more than 512 deep"),
    (nested("Group", 100_000), "nodes more than 2048 deep"),
    (
        "<X3D><HAnimHumanoid>" + "<HAnimJoint name='a'/>" * 5000 + "</HAnimHumanoid></X3D>",
        "4097 joints",
    ),
]


@pytest.mark.parametrize(("text", "said"), BROKEN, ids=[said for _, said in BROKEN])
def test_broken_files_are_one_sentence(tmp_path, text, said):
    """Every break is refused in one sentence, with its line where there is one, and soon."""
    path = written(text, tmp_path)
    begin = time.monotonic()
    with pytest.raises(SkeletonError, match=said) as told:
        read_x3d_joints(path)
    assert time.monotonic() - begin < 2.0
    assert "\n" not in str(told.value)


@given(st.data())
@settings(max_examples=examples(80), deadline=None, derandomize=True)
def test_damage_of_any_kind_is_refused_or_read(tmp_path_factory, data):
    """A file cut off, or with bytes lost, doubled or changed, is read or refused."""
    content = bytearray(SMALL.encode())
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(content) - 1))
        what = data.draw(st.sampled_from(["lose", "double", "change", "cut"]))
        if what == "lose" and len(content) > 1:
            del content[at : at + data.draw(st.integers(1, 20))]
        elif what == "double":
            content[at:at] = content[at : at + 30]
        elif what == "change":
            content[at] = data.draw(st.integers(0, 255))
        elif at:
            del content[at:]
        if not content:
            return
    path = tmp_path_factory.getbasetemp() / "damaged.x3d"
    path.write_bytes(bytes(content))
    try:
        record = read_x3d_joints(path)
    except SkeletonError:
        return
    assert np.isfinite(record.positions).all()
