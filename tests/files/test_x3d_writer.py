"""X3D files: every node and field by the classes of X3D's working group, and HAnim's own names."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from autoplace.errors import OutputError
from autoplace.files.marks import is_ours
from autoplace.files.x3d_writer import write_x3d
from autoplace.skeleton.model import Joint, PartSummary, Skeleton, Source
from autoplace.skeleton.names import is_tip
from autoplace.skeleton.orient import orient
from tests.figures import standard_skeleton
from tests.files.hanim_figure import hanim_figure
from tests.files.test_gltf import Z_UP, carried
from tests.files.x3d_nodes import read_nodes, x3d
from tests.tubes import figure_of_tubes


@pytest.fixture(scope="module")
def figure():
    eyes = (PartSummary("eyes", "eyeball", 1.0),)
    return replace(orient(standard_skeleton("A", elbow=30)), parts=eyes)


def written(folder, skeleton, character=None, **options):
    path = folder / "a.x3d"
    notes = write_x3d(skeleton, path, character, **options)
    humanoid, said = read_nodes(path)
    assert said == ""  # the package prints what is wrong with names and ids
    return humanoid, notes


def below(node, kind):
    """All nodes of a kind that are defined in the children of a node, with the node above each."""
    found = []
    waiting = [(child, node) for child in node.children]
    while waiting:
        child, above = waiting.pop(0)
        if isinstance(child, kind) and not child.USE:
            found.append((child, above))
        waiting += [(c, child) for c in child.children]
    return found


def joints_of(humanoid):
    """Joint nodes by name, each with the name of the joint above it."""
    found = {joint.name: (joint, None) for joint in humanoid.skeleton}
    for root in humanoid.skeleton:
        for joint, above in below(root, x3d.HAnimJoint):
            found[joint.name] = (joint, above.name)
    return found


def sites_of(humanoid):
    return {
        site.name: (site, above)
        for root in humanoid.skeleton
        for site, above in below(root, x3d.HAnimSite)
    }


@pytest.mark.parametrize("mesh", [True, False])
def test_every_node_and_field_is_what_the_standard_declares(figure, tmp_path, mesh):
    """Names of nodes and fields, types and ranges pass the package's own checks; version 2.0; what
    the humanoid lists is what its tree defines."""
    humanoid, _ = written(tmp_path, figure, figure_of_tubes(figure) if mesh else None)
    assert humanoid.version == "2.0"
    tips = [j for j in figure if is_tip(j.name)]
    assert len(humanoid.joints) == len(figure) - len(tips)
    for listed, kind in (
        (humanoid.joints, x3d.HAnimJoint),
        (humanoid.segments, x3d.HAnimSegment),
        (humanoid.sites, x3d.HAnimSite),
    ):
        defined = {n.DEF for root in humanoid.skeleton for n, _ in below(root, kind)}
        if kind is x3d.HAnimJoint:
            defined |= {root.DEF for root in humanoid.skeleton}
        assert {node.USE for node in listed} == defined
        assert len(listed) == len(defined)


def test_joints_segments_and_sites_have_the_standards_names(figure, tmp_path):
    """All are among the values that the package lists for HAnim, so that no own name is left."""
    humanoid, notes = written(tmp_path, figure)
    assert not any("keep their own" in note for note in notes)
    assert set(joints_of(humanoid)) <= set(x3d.HANIMJOINTNAMEVALUES)
    segments = {s.name for root in humanoid.skeleton for s, _ in below(root, x3d.HAnimSegment)}
    assert len(segments) == len(joints_of(humanoid))
    assert segments <= set(x3d.HANIMSEGMENTNAMEVALUES)
    # ISO/IEC 19774-1 calls the end of a segment by the segment's name with _tip
    for name, (_, segment) in sites_of(humanoid).items():
        foot = "tarsal_distal_phalanx" in name and "carpal" not in name
        assert name == f"{segment.name}_tip" or foot, name


@pytest.mark.parametrize("size", [1.0, 174.0])
def test_centres_parse_back_equal(figure, tmp_path, size):
    """Centres and sites are the joints' places in metres, +Y up and +Z forward, to a millionth of
    the height, for a +Z-up character in any unit; parents are as given; nothing is turned."""
    matrix = size * Z_UP
    there = orient(
        replace(
            figure.with_joints(tuple(replace(j, position=matrix @ j.position) for j in figure)),
            source=Source(up="+Z", forward="-Y", height=size),
            settings={},
        )
    )
    metres = 1.0 if size == 1.0 else 1.74
    names = [f"j_{n}" for n in there.names]
    humanoid, notes = written(tmp_path, there, names=names)
    assert any(f"{metres:.3g} m tall" in note for note in notes)
    joints, sites = joints_of(humanoid), sites_of(humanoid)
    assert len(joints) + len(sites) == len(figure)
    for joint in figure:
        expected = metres * joint.position
        above = None if joint.parent is None else f"j_{joint.parent}"
        if is_tip(joint.name):
            site, segment = sites[f"j_{joint.name}"]
            assert site.translation == pytest.approx(expected, abs=1e-6 * metres)
            assert segment in joints[above][0].children
        else:
            node, parent = joints[f"j_{joint.name}"]
            assert node.center == pytest.approx(expected, abs=1e-6 * metres)
            assert parent == above
            assert (node.rotation, node.translation) == ((0, 0, 1, 0), (0, 0, 0))


def test_the_skin_is_bound(figure, tmp_path):
    """Every point of every part is moved by joints whose weights sum to one; the parts are the
    mesh's own triangles on one list of points."""
    character = figure_of_tubes(figure)
    humanoid, notes = written(tmp_path, figure, character)
    points = np.array(humanoid.skinCoord.point)
    expected = np.concatenate([p.vertices for p in character.parts[:2]])
    assert points == pytest.approx(expected, abs=1e-6)
    total = np.zeros(len(points))
    count = np.zeros(len(points), dtype=int)
    for joint, _ in joints_of(humanoid).values():
        index = np.array(joint.skinCoordIndex, dtype=int)
        assert len(index) == len(joint.skinCoordWeight) == len(set(joint.skinCoordIndex))
        total[index] += joint.skinCoordWeight
        count[index] += 1
    assert np.abs(total - 1).max() < 1e-6
    assert count.max() <= 4
    start = 0
    for shape, part in zip(humanoid.skin, character.parts, strict=False):
        assert shape.metadata.value == [part.name]
        assert shape.geometry.coord.USE == humanoid.skinCoord.DEF
        corners = np.array(shape.geometry.coordIndex).reshape(-1, 4)
        assert (corners[:, 3] == -1).all()
        assert np.array_equal(corners[:, :3], part.faces + start)
        start += len(part.vertices)
    assert len(humanoid.skin) == 2
    left, _ = joints_of(humanoid)["l_eyeball_joint"]
    assert set(left.skinCoordWeight) == {1.0}
    assert (points[left.skinCoordIndex][:, 0] > 0).all()
    assert any("binding" in note for note in notes)


def test_weights_on_a_tip_go_to_its_joint(tmp_path):
    """A site moves nothing, so what a tip would move its joint does; a joint alone moves all."""
    at = np.array([[0.0, 0, 0], [0, 1, 0]])
    chain = Skeleton((Joint("head", None, at[0]), Joint("head_top", "head", at[1])))
    character = carried(figure_of_tubes(orient(standard_skeleton("A"))), np.eye(3))
    humanoid, _ = written(tmp_path, chain, character)
    (joint,) = humanoid.skeleton
    assert joint.name == "skullbase"
    assert joint.skinCoordWeight == pytest.approx([1.0] * len(humanoid.skinCoord.point))


def test_a_figure_with_the_standards_names_keeps_them(tmp_path):
    """The standard's own nominal figure (ISO/IEC 19774-1) has names of its own for every joint, and
    the table does not rename one of its vertebrae to another."""
    from autoplace.skeleton.name_tables import load_names, named_by_table
    from tests.skeleton.roles.test_standard_names import roles_of

    nominal = hanim_figure()
    roles = roles_of(nominal)
    ours = {n: roles[n] or n for n in nominal.names}
    known = nominal.with_joints(
        tuple(replace(j, name=ours[j.name], parent=ours.get(j.parent)) for j in nominal)
    )
    names, _ = named_by_table(known, nominal.names, load_names("hanim"))
    assert names == nominal.names
    humanoid, _ = written(tmp_path, known, names=names)
    for joint in nominal:
        node, above = joints_of(humanoid)[joint.name]
        assert node.center == pytest.approx(joint.position, abs=1e-6)
        assert above == joint.parent


@pytest.mark.parametrize("name", ["left knee", "a/b", "a:b", "a&b", 'a"b', "<a>"])
def test_a_name_that_x3d_forbids_is_named(figure, tmp_path, name):
    """Ids in XML have no such signs; nothing is written."""
    names = [name if n == "left_knee" else n for n in figure.names]
    with pytest.raises(OutputError, match="cannot be written as X3D") as caught:
        write_x3d(figure, tmp_path / "a.x3d", names=names)
    assert f"'{name}'" in str(caught.value)
    assert not list(tmp_path.iterdir())


def test_notes_say_what_is_lost(figure, tmp_path):
    """Axes, the unit, a root of another name, arms that do not hang, joints without a name."""
    extra = figure.with_joints((*figure.joints, Joint("tail", "pelvis", np.array([0, 0.5, -0.1]))))
    told = " ".join(write_x3d(extra, tmp_path / "a.x3d"))
    for word in ("axes", "1 m tall", "arms at its sides", "'tail'"):
        assert word in told
    assert "one root" not in told
    hanging = orient(standard_skeleton("hanging"))
    assert not any("arms" in note for note in write_x3d(hanging, tmp_path / "b.x3d"))
    hand = Skeleton((Joint("left_wrist", None, np.zeros(3)),))
    assert any("one root" in note for note in write_x3d(hand, tmp_path / "c.x3d"))


def test_mark_and_same_bytes(figure, tmp_path):
    """The file carries our mark; a second one is equal byte for byte."""
    for name in ("a.x3d", "b.x3d"):
        write_x3d(figure, tmp_path / name, figure_of_tubes(figure))
    first = (tmp_path / "a.x3d").read_bytes()
    assert first == (tmp_path / "b.x3d").read_bytes()
    assert is_ours(tmp_path / "a.x3d")
    (tmp_path / "a.x3d").write_bytes(first.replace(b'"autoplace"', b'"another"'))
    assert not is_ours(tmp_path / "a.x3d")


def test_the_package_can_find_mistakes(figure, tmp_path):
    """The check is worth something: an unknown field, a colour out of range, a name that is not a
    joint's id and a list of the wrong length are found out."""
    write_x3d(figure, tmp_path / "a.x3d", figure_of_tubes(figure))
    text = (tmp_path / "a.x3d").read_text()
    broken = tmp_path / "b.x3d"
    for old, new in (
        ("center=", "centre="),
        ('version="2.0"', 'version="two"'),
        ('diffuseColor="0.62', 'diffuseColor="62'),
        ('skinCoordWeight="', 'skinCoordWeight="a '),
    ):
        assert old in text
        broken.write_text(text.replace(old, new))
        with pytest.raises(Exception):  # noqa: B017, PT011
            read_nodes(broken)
    broken.write_text(text.replace('name="vl5"', 'name="vl4"'))
    assert "does not match" in read_nodes(broken)[1]
    assert math.isfinite(read_nodes(tmp_path / "a.x3d")[0].skinCoord.point[0][0])
