"""The commands `hands` and `eyes` as a user meets them: files, what is printed, refusals."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from autoplace import cli, read_skeleton, write_skeleton
from autoplace.data import data_folder
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import finger_of
from tests.commands.running import names_in, refused, run
from tests.lone_meshes import cut, known_hand
from tests.placed_once import placed_demo

pytestmark = pytest.mark.usefixtures("placing_once")


@pytest.fixture(scope="module")
def placed() -> Skeleton:
    return placed_demo().skeleton


@pytest.fixture
def keeper(tmp_path, placed) -> SimpleNamespace:
    """The demo character with its skeleton in a folder of its own."""
    mesh = tmp_path / "keeper.obj"
    shutil.copyfile(data_folder("meshes") / "keeper.obj", mesh)
    return SimpleNamespace(
        mesh=mesh, skeleton=write_skeleton(placed, tmp_path / "keeper.skeleton.json")
    )


def test_hands_updates_the_skeleton_and_keeps_the_old(keeper, placed, capsys):
    """The fitted skeleton stands in place of the given one, which is kept; a picture beside."""
    before = keeper.skeleton.read_bytes()
    told = run(capsys, "hands", keeper.mesh, "--skeleton", keeper.skeleton)
    assert told.code == 0, told.err
    assert names_in(keeper.mesh.parent) == [
        "keeper.hands.png",
        "keeper.obj",
        "keeper.skeleton.json",
        "keeper.skeleton.previous.json",
    ]
    kept = keeper.skeleton.with_name("keeper.skeleton.previous.json")
    assert kept.read_bytes() == before
    after = read_skeleton(keeper.skeleton)
    for joint in placed:
        if not finger_of(joint.name):
            assert np.array_equal(after[joint.name].position, joint.position)
    assert "5 fingers" in told.out
    assert "40 joints fitted, 27 left as they were" in told.out
    assert [line.split()[0] for line in told.err.splitlines()][:3] == ["read", "parts", "hands"]
    with Image.open(keeper.mesh.with_name("keeper.hands.png")) as picture:
        assert picture.width == 2400
    # the same again changes nothing, so nothing is set aside
    again = run(capsys, "hands", keeper.mesh, "--skeleton", keeper.skeleton, "--no-sheet", "-q")
    assert (again.code, again.out, again.err) == (0, "", "")
    assert len(names_in(keeper.mesh.parent)) == 4


def test_hands_elsewhere_leaves_the_given_skeleton(keeper, tmp_path, capsys):
    """With -o the given skeleton is untouched; --json tells what was changed and written."""
    before = keeper.skeleton.read_bytes()
    (tmp_path / "out").mkdir()
    told = run(
        capsys, "hands", keeper.mesh, "--skeleton", keeper.skeleton, "-o", tmp_path / "out",
        "--no-sheet", "--json", "--side", "left", "--metacarpals",
    )  # fmt: skip
    assert told.code == 0, told.err
    report = json.loads(told.out)
    assert keeper.skeleton.read_bytes() == before
    assert names_in(tmp_path / "out") == ["keeper.skeleton.json"]
    assert {n.split("_")[0] for n in report["changed"]} == {"left"}
    assert "left_pinky_metacarpal" in report["joint_names"]
    assert report["files"] == {"skeleton": str(tmp_path / "out" / "keeper.skeleton.json")}
    assert report["timings"].keys() >= {"read", "parts", "hands", "checks", "write"}


def test_locked_joints_may_stay_in_place(keeper, placed, tmp_path, capsys):
    """A skeleton with locked joints is updated, since they are kept; another one is not lost."""
    text = json.loads(keeper.skeleton.read_text())
    for joint in text["joints"]:
        if joint["name"] == "left_middle_2":
            joint["locked"] = True
            joint["position"][1] += 0.003
            wanted = joint["position"]
    keeper.skeleton.write_text(json.dumps(text))
    told = run(capsys, "hands", keeper.mesh, "--skeleton", keeper.skeleton, "--no-sheet")
    assert told.code == 0, told.err
    assert "left_middle_2: it is locked" in told.out
    joint = read_skeleton(keeper.skeleton)["left_middle_2"]
    assert joint.locked
    assert joint.position.tolist() == wanted
    plain = write_skeleton(placed, tmp_path / "plain.skeleton.json")
    refused(
        run(capsys, "hands", keeper.mesh, "--skeleton", plain, "-o", keeper.skeleton),
        "placed by hand",
        "left_middle_2",
    )


def test_eyes_touches_the_eyes_alone(keeper, placed, capsys):
    """Eye joints moved by hand go back, all else stays, and the head is pictured."""
    text = json.loads(keeper.skeleton.read_text())
    for joint in text["joints"]:
        if joint["name"] == "left_eye":
            joint["position"][2] += 0.01
    keeper.skeleton.write_text(json.dumps(text))
    told = run(capsys, "eyes", keeper.mesh, "--skeleton", keeper.skeleton)
    assert told.code == 0, told.err
    assert "keeper.eyes.png" in names_in(keeper.mesh.parent)
    after = read_skeleton(keeper.skeleton)
    for joint in placed:
        far = np.linalg.norm(after[joint.name].position - joint.position)
        assert far < (1e-3 if joint.name.endswith("_eye") else 1e-15), joint.name


def test_sheets_of_place(keeper, tmp_path, capsys):
    """`place` draws the sheets of hands and face where it is told to."""
    hands, face = tmp_path / "h.png", tmp_path / "f.png"
    told = run(
        capsys, "place", keeper.mesh, "--no-sheet", "--hand-sheet", hands, "--face-sheet", face,
        "--json",
    )  # fmt: skip
    assert told.code == 0, told.err
    assert json.loads(told.out)["files"].keys() == {"skeleton", "hand_sheet", "face_sheet"}
    for path in (hands, face):
        with Image.open(path) as picture:
            assert picture.text["Software"] == "autoplace"
    refused(run(capsys, "place", keeper.mesh, "--hand-sheet", tmp_path / "h.jpg"), "end in .png")


def test_a_hand_alone(tmp_path, capsys):
    """Without --skeleton a hand gets a skeleton and a picture of its own beside the mesh."""
    hand = known_hand(5)
    mesh = tmp_path / "glove.obj"
    lines = [f"v {x} {y} {z}" for x, y, z in hand.vertices.tolist()]
    lines += [f"f {a} {b} {c}" for a, b, c in (cut(hand, 0.1) + 1).tolist()]
    mesh.write_text("\n".join(lines) + "\n")
    told = run(capsys, "hands", mesh)
    assert told.code == 0, told.err
    assert f"{hand.plan.side} hand" in told.out
    assert names_in(tmp_path) == ["glove.hands.png", "glove.obj", "glove.skeleton.json"]
    assert read_skeleton(tmp_path / "glove.skeleton.json").source.part == "hand"


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--fingers", "thumb,pointer"), ("'pointer' is not a finger",)),
        (("--fingers", "index,thumb"), ("from the thumb's side on",)),
        (("--fingers", "both=thumb,index"), ("'both'", "left and right")),
        (("--fingers", ""), ("is not a finger",)),
        (("--role", "boots"), ("PART=ROLE",)),
        (("--leave-out", "sleeve*"), ("No part is named 'sleeve*'",)),
        (("--sheet", "hands.jpg"), ("end in .png",)),
        (("-o", "skeleton.glb"), ("end in .json",)),
    ],
)
def test_slips_in_the_options(keeper, capsys, options, words):
    """Each is told in one sentence, and nothing is written."""
    before = names_in(keeper.mesh.parent)
    refused(run(capsys, "hands", keeper.mesh, "--skeleton", keeper.skeleton, *options), *words)
    assert names_in(keeper.mesh.parent) == before


@pytest.mark.parametrize("command", ["hands", "eyes"])
def test_bad_files(keeper, tmp_path, capsys, command):
    """A skeleton that is missing, empty, no JSON or no skeleton, and a mesh that is missing."""
    bad = tmp_path / "bad.skeleton.json"

    def fit(mesh: Path = keeper.mesh) -> SimpleNamespace:
        return run(capsys, command, mesh, "--skeleton", bad)

    refused(fit(), "Cannot read", "bad.skeleton.json")
    for content, word in (
        ("", "skeleton"),
        ("{broken", "skeleton"),
        ("[]", "skeleton"),
        ('{"format": "other"}', "skeleton"),
        (keeper.mesh.read_text()[:400], "skeleton"),
    ):
        bad.write_text(content)
        refused(fit(), word)
        assert bad.read_text() == content
    shutil.copyfile(keeper.skeleton, bad)
    refused(fit(tmp_path / "none.obj"), "none.obj")
    empty = tmp_path / "empty.obj"
    empty.write_text("")
    refused(fit(empty), "empty.obj")


def test_the_skeleton_of_another_character(keeper, capsys):
    """A child's skeleton does not stand in the man's mesh, and the sentence says so."""
    child = placed_demo("bell_child").skeleton
    write_skeleton(child, keeper.skeleton)
    refused(run(capsys, "hands", keeper.mesh, "--skeleton", keeper.skeleton), "skeleton", "mesh")


def test_no_hand(keeper, tmp_path, capsys):
    """A figure without --skeleton and a block are no hands."""
    refused(run(capsys, "hands", keeper.mesh), "not taken for a hand", "--skeleton")
    block = tmp_path / "block.obj"
    corners = [(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 3)]
    quads = [(1, 2, 4, 3), (5, 7, 8, 6), (1, 5, 6, 2), (3, 4, 8, 7), (1, 3, 7, 5), (2, 6, 8, 4)]
    block.write_text(
        "\n".join(f"v {x} {y} {z}" for x, y, z in corners)
        + "\n"
        + "\n".join("f " + " ".join(map(str, quad)) for quad in quads)
    )
    refused(run(capsys, "hands", block), "no hand with fingers")


def test_eyes_needs_a_skeleton(keeper, capsys):
    """Wrong usage shows the usage line."""
    with pytest.raises(SystemExit) as ended:
        cli.main(["eyes", str(keeper.mesh)])
    assert ended.value.code == 2
    assert "usage: autoplace eyes" in capsys.readouterr().err


@pytest.mark.parametrize(("kind", "ending"), [("hands", "glb"), ("eyes", "gltf"), ("eyes", "usda")])
def test_a_skeleton_of_another_format_gets_ours_beside_it(keeper, placed, capsys, kind, ending):
    """The given file is untouched; the result is a skeleton of ours under the file's own names."""
    other = keeper.skeleton.with_name(f"rig.{ending}")
    assert run(capsys, "convert", keeper.skeleton, other, "--names", "hanim").code == 0
    before = other.read_bytes()
    told = run(capsys, kind, keeper.mesh, "--skeleton", other, "--no-sheet", "-q")
    assert told.code == 0, told.err
    assert other.read_bytes() == before
    result = read_skeleton(keeper.skeleton.with_name("rig.skeleton.json"))
    assert {"l_knee", "l_eyeball_joint"} <= set(result.names)
    for own, name in (("left_knee", "l_knee"), ("left_eye", "l_eyeball_joint")):
        apart = np.linalg.norm(result[name].position - placed[own].position)
        assert apart < 1e-5 * placed.source.height, name
