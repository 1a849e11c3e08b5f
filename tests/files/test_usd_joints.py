"""Joints of OpenUSD files: exact, with bind against rest transforms, and broken files refused."""

from __future__ import annotations

import builtins

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from autoplace.errors import FileMissing, SkeletonError
from autoplace.files.usd_joints import read_usd_joints
from autoplace.skeleton.orient import orient
from tests.figures import standard_skeleton
from tests.files.foreign_files import pose, write_usd

pytest.importorskip("pxr")


@pytest.fixture(scope="module")
def figure():
    return orient(standard_skeleton("A"))


@pytest.mark.parametrize("ending", ["usda", "usdc", "usd"])
def test_joints_come_back_as_they_were(figure, tmp_path, ending):
    """Names, parents, places and axes of text and binary files are those written."""
    record = read_usd_joints(write_usd(figure, tmp_path / f"a.{ending}"))
    assert record.names == figure.names
    above = [None if p < 0 else record.names[p] for p in record.parents]
    assert above == [j.parent for j in figure]
    assert record.positions == pytest.approx(figure.positions(), abs=1e-12)
    assert record.axes == pytest.approx(np.array([j.axes for j in figure]), abs=1e-9)
    assert not record.turned.any()
    assert (record.scaled == 1).all()


def test_a_package(figure, tmp_path):
    """A .usdz package with one layer inside is read like the layer."""
    from pxr import UsdUtils

    path = write_usd(figure, tmp_path / "a.usdc")
    assert UsdUtils.CreateNewUsdzPackage(str(path), str(tmp_path / "a.usdz"))
    record = read_usd_joints(tmp_path / "a.usdz")
    assert record.positions == pytest.approx(figure.positions(), abs=1e-12)


def test_up_and_unit_are_told(figure, tmp_path):
    """The stage's up axis and metres per unit are passed on; forward is not said by USD."""
    record = read_usd_joints(write_usd(figure, tmp_path / "a.usda", up="Z", metres=0.01))
    assert (record.up, record.forward) == ("+Z", None)
    assert record.metres_per_unit == pytest.approx(0.01)


def test_rest_against_bind_is_a_turn(figure, tmp_path):
    """A joint whose rest transform is turned from how it was bound is turned by that angle."""
    local, world = pose(
        figure,
        {"left_knee": Rotation.from_euler("x", 25, degrees=True)},
        {"head": (1.5, 1.5, 1.5)},
    )
    record = read_usd_joints(write_usd(figure, tmp_path / "a.usda", local=local))
    turned = {n: d for n, d in zip(record.names, record.turned, strict=True) if d}
    assert turned == pytest.approx({"left_knee": 25.0}, abs=1e-6)
    scaled = {n for n, f in zip(record.names, record.scaled, strict=True) if (f != 1).any()}
    assert scaled == {"head"}
    assert record.positions == pytest.approx(world[:, :3, 3], abs=1e-9)


def test_the_skeletons_own_transform_is_frame(figure, tmp_path):
    """A skeleton prim that is turned, scaled and moved carries all joints and poses none."""
    above = np.eye(4)
    above[:3, :3] = 100 * Rotation.from_euler("xyz", [-90, 10, 0], degrees=True).as_matrix()
    above[:3, 3] = (5, 0, -3)
    record = read_usd_joints(write_usd(figure, tmp_path / "a.usda", above=above))
    wanted = figure.positions() @ above[:3, :3].T + above[:3, 3]
    assert record.positions == pytest.approx(wanted, abs=1e-9)
    assert not record.turned.any()
    assert (record.scaled == 1).all()


@pytest.mark.parametrize(("bind", "rest", "said"), [(0, 1, "no bind"), (1, 0, "no rest")])
def test_one_kind_of_transforms_is_enough(figure, tmp_path, bind, rest, said):
    """With bind or rest transforms alone the joints stand by these; a note says so."""
    record = read_usd_joints(write_usd(figure, tmp_path / "a.usda", bind=bind, rest=rest))
    assert record.positions == pytest.approx(figure.positions(), abs=1e-12)
    assert not record.turned.any()
    assert any(said in note for note in record.notes)


def test_parents_by_the_texts_of_paths(figure, tmp_path):
    """Names with signs that paths may not have, and levels that are not listed, keep parents."""
    from pxr import Usd, UsdSkel

    path = write_usd(figure, tmp_path / "a.usda")
    stage = Usd.Stage.Open(str(path))
    joints = UsdSkel.Skeleton(stage.GetPrimAtPath("/character/skeleton")).GetJointsAttr()
    tokens = [str(t).replace("left_", "rig:left.").replace("pelvis", "a/b c") for t in joints.Get()]
    joints.Set(tokens)
    stage.GetRootLayer().Save()
    record = read_usd_joints(path)
    assert record.names[:2] == ("b c", "spine_1")
    assert [p for p in record.parents] == [
        -1 if j.parent is None else figure.names.index(j.parent) for j in figure
    ]


def test_an_animation_is_passed_over(figure, tmp_path):
    """A bound animation does not move the joints; a note says that it was passed over."""
    from pxr import Usd, UsdSkel

    path = write_usd(figure, tmp_path / "a.usda")
    stage = Usd.Stage.Open(str(path))
    UsdSkel.Animation.Define(stage, "/character/motion")
    stage.GetRootLayer().Save()
    assert any("animation" in note for note in read_usd_joints(path).notes)


def test_without_the_library_it_says_what_to_install(figure, tmp_path, monkeypatch):
    """Where usd-core is not installed the refusal names it and how to get it."""
    path = write_usd(figure, tmp_path / "a.usda")
    real = builtins.__import__

    def none_of_it(name, *rest, **named):
        if name == "pxr":
            raise ImportError("no pxr")
        return real(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", none_of_it)
    with pytest.raises(SkeletonError, match="usd-core: pip install usd-core"):
        read_usd_joints(path)


BROKEN = {
    "empty": ("a.usda", b"", "empty"),
    "no USD": ("a.usda", b"hello", "does not begin"),
    "wrong kind": ("a.usdc", b"#usda 1.0\n", "does not begin"),
    "cut off": ("a.usda", b'#usda 1.0\ndef Skeleton "s" {', "breaks off"),
    "rubbish": ("a.usdc", b"PXR-USDC" + bytes(100), "breaks off"),
    "package": ("a.usdz", b"PK\x03\x04" + bytes(100), "breaks off"),
    "no skeleton": ("a.usda", b'#usda 1.0\ndef Xform "a" {}\n', "no UsdSkel"),
    "no transforms": (
        "a.usda",
        b'#usda 1.0\ndef Skeleton "s" {\nuniform token[] joints = ["a", "a/b"]\n}\n',
        "neither how",
    ),
    "counts": (
        "a.usda",
        b'#usda 1.0\ndef Skeleton "s" {\nuniform token[] joints = ["a", "a/b"]\n'
        b"uniform matrix4d[] restTransforms = [((1,0,0,0),(0,1,0,0),(0,0,1,0),(0,0,0,1))]\n}\n",
        "1 transforms for 2 joints",
    ),
    "twice": (
        "a.usda",
        b'#usda 1.0\ndef Skeleton "s" {\nuniform token[] joints = ["a", "a"]\n}\n',
        "a joint twice",
    ),
    "not finite": (
        "a.usda",
        b'#usda 1.0\ndef Skeleton "s" {\nuniform token[] joints = ["a"]\n'
        b"uniform matrix4d[] restTransforms = [((1,0,0,0),(0,1,0,0),(0,0,1,0),(nan,0,0,1))] \n}\n",
        "out of range",
    ),
    "too many": (
        "a.usda",
        b'#usda 1.0\ndef Skeleton "s" {\nuniform token[] joints = ['
        + b",".join(b'"j%d"' % i for i in range(100_000))
        + b"]\n}\n",
        "100000 joints",
    ),
}


@pytest.mark.parametrize(("name", "content", "said"), BROKEN.values(), ids=list(BROKEN))
def test_broken_files_are_one_sentence(tmp_path, capfd, name, content, said):
    """Every break is one sentence, and the library's own complaints stay off the terminal."""
    (tmp_path / name).write_bytes(content)
    with pytest.raises(SkeletonError, match=said) as told:
        read_usd_joints(tmp_path / name)
    assert "\n" not in str(told.value)
    assert capfd.readouterr().err == ""


def test_no_file(tmp_path):
    """A file that is not there is told as such."""
    with pytest.raises(FileMissing):
        read_usd_joints(tmp_path / "none.usda")
