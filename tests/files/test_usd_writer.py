"""USD files as they are written: by the library's validators, and through its skeleton cache."""

from __future__ import annotations

import zipfile
from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from autoplace.errors import OutputError, SkeletonError
from autoplace.files.marks import is_ours
from autoplace.files.open_skeleton import open_skeleton
from autoplace.files.usd_writer import write_usd
from autoplace.skeleton.model import Joint, PartSummary, Skeleton, Source
from autoplace.skeleton.orient import orient
from tests.figures import MIRROR, standard_skeleton
from tests.files.foreign_files import write_usd as foreign_usd
from tests.files.test_gltf import Z_UP, carried
from tests.tubes import figure_of_tubes

pytest.importorskip("pxr")
from pxr import Usd, UsdGeom, UsdSkel, UsdValidation, Vt


@pytest.fixture(scope="module")
def figure():
    eyes = (PartSummary("eyes", "eyeball", 1.0),)
    return replace(orient(standard_skeleton("A", elbow=30)), parts=eyes)


def standing(skeleton, matrix, up, forward, size=1.0):
    """The skeleton in another frame and unit, oriented there."""
    moved = tuple(replace(j, position=matrix @ j.position) for j in skeleton)
    source = Source(up=up, forward=forward, height=size)
    return orient(replace(skeleton.with_joints(moved), source=source, settings={}))


def complaints(path):
    """What all validators of the library say of a file; there must be some that know skeletons."""
    validators = UsdValidation.ValidationRegistry().GetOrLoadAllValidators()
    names = {v.GetMetadata().name.split(":")[0] for v in validators}
    assert {"usdSkelValidators", "usdGeomValidators", "usdUtilsValidators"} <= names
    stage = Usd.Stage.Open(str(path))
    found = UsdValidation.ValidationContext(validators).Validate(stage)
    return [(e.GetName(), e.GetMessage()) for e in found]


def joint_frames(path):
    """Names and world frames (n, 4, 4), in rows, as the library computes them at rest and bound."""
    stage = Usd.Stage.Open(str(path))
    cache = UsdSkel.Cache()
    root = UsdSkel.Root(stage.GetDefaultPrim())
    assert cache.Populate(root, Usd.PrimDefaultPredicate)
    prim = UsdSkel.Skeleton(stage.GetPrimAtPath("/character/skeleton"))
    query = cache.GetSkelQuery(prim)
    assert query
    world = query.ComputeJointWorldTransforms(UsdGeom.XformCache(), atRest=True)
    names = [str(path).rsplit("/", 1)[-1] for path in query.GetJointOrder()]
    return names, np.array(world), np.array(query.GetJointWorldBindTransforms())


@pytest.mark.parametrize("ending", ["usda", "usdc", "usd", "usdz"])
@pytest.mark.parametrize("mesh", [True, False])
def test_every_validator_passes(figure, tmp_path, ending, mesh):
    """No error and no warning from any validator that comes with the library."""
    path = tmp_path / f"a.{ending}"
    write_usd(figure, path, figure_of_tubes(figure) if mesh else None)
    assert complaints(path) == []
    assert is_ours(path)


def test_the_validators_can_fail(figure, tmp_path):
    """A file without a default prim and with a binding that is not applied is found out."""
    path = foreign_usd(figure, tmp_path / "a.usda")
    assert complaints(path)
    assert not is_ours(path)


@pytest.mark.parametrize(
    ("matrix", "up", "forward", "size"),
    [
        (np.eye(3), "+Y", "+Z", 1.0),
        (174.0 * Z_UP, "+Z", "-Y", 174.0),
        (1e-6 * np.eye(3), "+Y", "+Z", 1e-6),
        (np.array([[0, 0, 1.0], [0, 1, 0], [-1, 0, 0]]), "+Y", "+X", 1.0),
    ],
)
def test_the_library_finds_every_joint_at_its_place(figure, tmp_path, matrix, up, forward, size):
    """Positions through UsdSkel.Cache equal to a millionth of the height, axes too, in the frame
    and units of the skeleton; at rest as bound."""
    there = standing(figure, matrix, up, forward, size)
    path = tmp_path / "a.usdc"
    write_usd(there, path)
    names, rest, bind = joint_frames(path)
    assert tuple(names) == there.names
    assert np.abs(rest[:, 3, :3] - there.positions()).max() <= 1e-6 * size
    axes = np.array([j.axes for j in there])
    assert np.abs(rest[:, :3, :3] - axes).max() <= 1e-6
    assert np.abs(rest - bind).max() <= 1e-9 * max(size, 1.0)
    stage = Usd.Stage.Open(str(path))
    assert UsdGeom.GetStageUpAxis(stage) == up[1]
    metres = {1.0: 1.0, 174.0: 0.01, 1e-6: 1e6}[size]
    assert UsdGeom.GetStageMetersPerUnit(stage) == pytest.approx(metres)


def test_a_figure_along_another_axis_is_turned(figure, tmp_path):
    """Up is -X and forward +Z in the file: in USD the figure stands on +Y and faces +Z, and the
    note says so. Worked out by hand: x, y, z become y, -x, z."""
    matrix = np.array([[0, -1.0, 0], [1, 0, 0], [0, 0, 1]])
    there = standing(figure, matrix, "-X", "+Z")
    path = tmp_path / "a.usda"
    notes = write_usd(there, path, carried(figure_of_tubes(figure), matrix))
    assert any("turned to +Y up" in note for note in notes)
    _, rest, _ = joint_frames(path)
    assert np.abs(rest[:, 3, :3] - figure.positions()).max() < 1e-6
    stage = Usd.Stage.Open(str(path))
    points = np.array(UsdGeom.Mesh(stage.GetPrimAtPath("/character/eyes")).GetPointsAttr().Get())
    assert points == pytest.approx(figure_of_tubes(figure).parts[1].vertices, abs=1e-6)
    assert complaints(path) == []


def test_what_is_written_opens_again(figure, tmp_path):
    """Names, parents, places, axes, up and unit come back."""
    there = standing(figure, 174.0 * Z_UP, "+Z", "-Y", 174.0)
    for ending in ("usda", "usdc", "usdz"):
        write_usd(there, tmp_path / f"a.{ending}", metres_per_unit=0.02)
        opened = open_skeleton(tmp_path / f"a.{ending}")
        assert opened.metres_per_unit == pytest.approx(0.02)
        assert (opened.skeleton.source.up, opened.skeleton.source.forward) == ("+Z", "-Y")
        assert not opened.turned
        for joint in there:
            other = opened.skeleton[joint.name]
            assert other.parent == joint.parent
            assert other.position == pytest.approx(joint.position, abs=1e-9)
            assert other.axes == pytest.approx(joint.axes, abs=1e-9)


def skinned(path, turns):
    """Points of all meshes as the library skins them with joints turned about their own axes."""
    stage = Usd.Stage.Open(str(path))
    root = UsdSkel.Root(stage.GetDefaultPrim())
    prim = UsdSkel.Skeleton(stage.GetPrimAtPath("/character/skeleton"))
    rest = np.array(prim.GetRestTransformsAttr().Get())
    names = [str(j).rsplit("/", 1)[-1] for j in prim.GetJointsAttr().Get()]
    for name, turn in turns.items():
        rows = turn.as_matrix().T
        rest[names.index(name), :3, :3] = rows @ rest[names.index(name), :3, :3]
    cache = UsdSkel.Cache()
    assert cache.Populate(root, Usd.PrimDefaultPredicate)
    query = cache.GetSkelQuery(prim)
    local = Vt.Matrix4dArray.FromNumpy(rest)
    skel = UsdSkel.ConcatJointTransforms(query.GetTopology(), local)
    if isinstance(skel, bool):
        raise AssertionError("the joints could not be put together")
    inverse = [m.GetInverse() for m in query.GetJointWorldBindTransforms()]
    moved = Vt.Matrix4dArray([i * m for i, m in zip(inverse, skel, strict=True)])
    found = {}
    for mesh in root.GetPrim().GetChildren():
        if mesh.IsA(UsdGeom.Mesh):
            own = cache.GetSkinningQuery(mesh)
            points = UsdGeom.Mesh(mesh).GetPointsAttr().Get()
            assert own.ComputeSkinnedPoints(moved, points, Usd.TimeCode.Default())
            found[mesh.GetDisplayName() or mesh.GetName()] = np.array(points)
    return found


def test_nothing_moves_at_rest_and_both_sides_bend_alike(figure, tmp_path):
    """Skinned by the library: at rest every point stays; bent knees take the feet back, in mirror
    image, and the trunk stays."""
    character = figure_of_tubes(figure)
    path = tmp_path / "a.usdc"
    write_usd(figure, path, character)
    rest = skinned(path, {})
    for part in character.parts[:2]:
        assert rest[part.name] == pytest.approx(part.vertices, abs=1e-6)
    bend = Rotation.from_euler("x", 60, degrees=True)
    posed = skinned(path, dict.fromkeys(("left_knee", "right_knee"), bend))["körper & hände"]
    before = rest["körper & hände"]

    def near(name):
        return np.argmin(np.linalg.norm(before - figure[name].position, axis=1))

    for side in ("left", "right"):
        assert (posed - before)[near(f"{side}_toe_tip"), 2] < -0.1
    assert posed[near("chest")] == pytest.approx(before[near("chest")], abs=1e-6)
    image = posed @ MIRROR
    gaps = [np.linalg.norm(posed - p, axis=1).min() for p in image[:: len(image) // 50]]
    assert max(gaps) < 1e-5


def test_parts_are_meshes_with_their_triangles(figure, tmp_path):
    """One mesh a part; a name that a prim cannot have is kept as what is displayed; weights are
    four a point and sum to one."""
    character = figure_of_tubes(figure)
    path = tmp_path / "a.usdc"
    write_usd(figure, path, character)
    stage = Usd.Stage.Open(str(path))
    meshes = [p for p in stage.Traverse() if p.IsA(UsdGeom.Mesh)]
    shown = [p.GetDisplayName() or p.GetName() for p in meshes]
    assert shown == ["körper & hände", "eyes"]
    for prim, part in zip(meshes, character.parts, strict=False):
        mesh = UsdGeom.Mesh(prim)
        corners = np.array(mesh.GetFaceVertexIndicesAttr().Get()).reshape(-1, 3)
        assert np.array_equal(corners, part.faces)
        assert set(mesh.GetFaceVertexCountsAttr().Get()) == {3}
        weights = UsdSkel.BindingAPI(prim).GetJointWeightsPrimvar()
        assert weights.GetElementSize() == 4
        sums = np.array(weights.Get(), dtype=float).reshape(-1, 4).sum(axis=1)
        assert np.abs(sums - 1).max() < 1e-6
        assert mesh.GetExtentAttr().Get() == UsdGeom.PointBased.ComputeExtent(
            mesh.GetPointsAttr().Get()
        )


@pytest.mark.parametrize("name", ["left knee", "knee.L", "2nd", "a/b", "wrist-tip", "a:b"])
def test_a_name_that_usd_forbids_is_named(figure, tmp_path, name):
    """Prims have no such names; nothing is written."""
    names = [name if n == "left_knee" else n for n in figure.names]
    with pytest.raises(OutputError, match="cannot be written as USD") as caught:
        write_usd(figure, tmp_path / "a.usda", names=names)
    assert f"'{name}'" in str(caught.value)
    assert not list(tmp_path.iterdir())


def test_axes_that_are_no_turn_are_refused(figure, tmp_path):
    """A left-handed joint cannot be written as a turn; the message names it and how to mend it."""
    bad = tuple(
        replace(j, axes=-np.asarray(j.axes)) if j.name == "left_knee" else j for j in figure
    )
    with pytest.raises(SkeletonError, match=r"'left_knee'.*autoplace orient"):
        write_usd(figure.with_joints(bad), tmp_path / "a.usda")


def test_a_package_is_laid_out_as_its_specification_says(figure, tmp_path):
    """One uncompressed layer that begins at a multiple of 64 bytes; no date of the day."""
    path = tmp_path / "a.usdz"
    write_usd(figure, path, figure_of_tubes(figure))
    content = path.read_bytes()
    with zipfile.ZipFile(path) as package:
        (entry,) = package.infolist()
        assert package.testzip() is None
    assert entry.compress_type == zipfile.ZIP_STORED
    assert entry.date_time == (1980, 1, 1, 0, 0, 0)
    begin = content.index(b"PXR-USDC")
    assert begin % 64 == 0
    assert content[begin : begin + entry.file_size].startswith(b"PXR-USDC")


def test_odd_skeletons(tmp_path):
    """One joint, and several roots, are sound too."""
    one = orient(Skeleton((Joint("only", None, np.zeros(3)),)))
    two = Skeleton((Joint("a", None, np.ones(3)), Joint("b", None, np.zeros(3))))
    for skeleton in (one, two):
        write_usd(skeleton, tmp_path / "a.usda")
        assert complaints(tmp_path / "a.usda") == []
        names, rest, _ = joint_frames(tmp_path / "a.usda")
        assert tuple(names) == skeleton.names
        assert rest[:, 3, :3] == pytest.approx(skeleton.positions())


@pytest.mark.parametrize("content", [b"#usda 1.0\n(", b"PXR-USDC" + b"\0" * 90, b"PK\x03\x04junk"])
@pytest.mark.parametrize("ending", ["usda", "usdc", "usdz"])
def test_broken_files_are_not_ours(tmp_path, content, ending, capfd):
    """They cannot be told, so they are left alone, and nothing is printed."""
    path = tmp_path / f"a.{ending}"
    path.write_bytes(content)
    assert not is_ours(path)
    assert capfd.readouterr().err == ""
