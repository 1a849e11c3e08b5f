"""Sound meshes that are no character, and characters that lack something or are of odd size."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace import read_skeleton
from autoplace.skeleton.names import finger_of
from tests.bad_input import shapes
from tests.bad_input.command import Told, assert_placed, assert_refused, run_place

ONE_SIDE = (("left", "right"), pytest.param("right", "left", marks=pytest.mark.wide))
OTHER_SIDE = (pytest.param("left", "right", marks=pytest.mark.wide), ("right", "left"))
"""What is gone and what is there: each time one side, of which each test has another."""


@pytest.fixture(scope="module")
def keeper():
    """The demo character that the damaged ones are made from, with its known joints."""
    return shapes.demo_character()


@pytest.fixture
def place(capsys, tmp_path):
    """Writes pieces to an OBJ file and runs the command on it."""

    def run(pieces, *options: str) -> Told:
        return run_place(capsys, shapes.write_obj(tmp_path / "figure.obj", pieces), *options)

    return run


def assert_near(folder, joints) -> None:
    """Damage in one place leaves the other joints where they belong.

    That is within three hundredths of the height, or within three of the spreads that the joint
    itself admits: where the fingers are gone, the wrist is a guess.
    """
    skeleton = read_skeleton(folder / "figure.skeleton.json")
    far = {}
    for joint in skeleton:
        if joint.name in joints:
            off = np.linalg.norm(joint.position - joints[joint.name]) / skeleton.source.height
            if off > max(0.03, 3.0 * joint.spread / skeleton.source.height):
                far[joint.name] = round(float(off), 3)
    assert not far, far


@pytest.mark.parametrize(
    ("shape", "word"),
    [(shapes.plane, "plane"), (shapes.cube, "limbs"), (shapes.ball, "limbs")],
)
def test_bodies_without_limbs(place, tmp_path, shape, word):
    """A sheet, a cube and a ball are no characters, and are told so."""
    assert_refused(place(shape()), tmp_path / "figure.obj", word)


def test_lone_hand(place, tmp_path, keeper):
    """A hand with five fingers is not taken for a figure with five limbs."""
    character, joints = keeper
    hand = shapes.only_near(character, joints, lambda joint: shapes.is_of_hand(joint, "left"))
    assert_refused(place(hand), tmp_path / "figure.obj", "limbs")


def test_four_legged_animal(place, tmp_path):
    """An animal on four legs is refused as such, not forced into arms and legs."""
    from tests.figures_quadruped import quadruped

    assert_refused(place(quadruped()), tmp_path / "figure.obj", "four")


def test_two_characters_in_one_file(place, tmp_path, keeper):
    """Two figures side by side are not measured as one."""
    character, _ = keeper
    width = np.ptp(character.vertices[:, 0])
    pieces = []
    for number, shift in enumerate((0.0, 1.2 * width)):
        for name, vertices, faces in shapes.pieces_of(character):
            pieces.append((f"{name}_{number}", vertices + np.array([shift, 0, 0]), faces))
    assert_refused(place(pieces), tmp_path / "figure.obj", "two")


@pytest.mark.parametrize("scale", [1e-6, pytest.param(1e6, marks=pytest.mark.wide)])
def test_any_unit_works(place, tmp_path, keeper, scale):
    """A mesh a millionth of a unit tall, or a million units, gives the same joints, scaled."""
    character, _ = keeper
    pieces = shapes.pieces_of(character)
    height = np.ptp(character.vertices[:, 1])

    def joints(factor: float):
        told = place([(name, vertices * factor, faces) for name, vertices, faces in pieces])
        assert_placed(told)
        skeleton = read_skeleton(tmp_path / "figure.skeleton.json")
        return skeleton.names, skeleton.positions() / factor

    plain = joints(1.0 / height)
    scaled = joints(scale / height)
    assert plain[0] == scaled[0]
    # a rounded last digit of a coordinate may tip a measurement by a fraction of a cell
    assert np.abs(plain[1] - scaled[1]).max() < 1e-3 * height


def test_no_eyeballs(place, tmp_path, keeper):
    """Without eyeballs the eye joints are read off the face, a finding says so for each, and their
    spread is wide."""
    character, joints = keeper
    told = place(shapes.without_eyes(character, ["left", "right"], joints))
    assert_placed(told)
    assert {"head", "left_index_3", "right_toe_tip"} <= set(told.report["joint_names"])
    assert {told.report["eyes"][side]["from"] for side in ("left", "right")} == {"face"}
    skeleton = read_skeleton(tmp_path / "figure.skeleton.json")
    for side in ("left", "right"):
        assert told.findings_about("eyeball", side, "face")
        eye = skeleton[f"{side}_eye"]
        # a thirtieth of the head, of which an adult is 7.5 tall; a fitted ball's is a tenth of that
        assert eye.spread > skeleton.source.height / 7.5 / 30.0
        assert np.linalg.norm(eye.position - joints[eye.name]) < 3 * eye.spread


@pytest.mark.parametrize(("gone", "there"), ONE_SIDE)
def test_one_eyeball(place, keeper, gone, there):
    """With one eyeball, that eye has its joint and a finding names the other."""
    character, joints = keeper
    told = place(shapes.without_eyes(character, [gone], joints))
    assert_placed(told)
    assert f"{there}_eye" in told.report["joint_names"]
    assert f"{gone}_eye" not in told.report["joint_names"]
    assert told.findings_about("eye", gone)


def test_no_fingers(place, tmp_path, keeper):
    """Stumps without fingers get one finger for what is left of the hand, the wrists stand, and a
    finding says so."""
    character, joints = keeper
    told = place(shapes.without_fingers(character, joints))
    assert_placed(told)
    names = told.report["joint_names"]
    assert {"left_wrist", "right_wrist"} <= set(names)
    assert not [name for name in names for finger in ("index", "ring", "pinky") if finger in name]
    assert told.findings_about("finger", "left")
    assert told.findings_about("finger", "right")
    assert_near(tmp_path, {n: place for n, place in joints.items() if finger_of(n) is None})


@pytest.mark.parametrize(("gone", "there"), OTHER_SIDE)
def test_missing_arm(place, tmp_path, keeper, gone, there):
    """With one arm missing, the other has all its joints, and a finding names the missing one."""
    character, joints = keeper
    told = place(
        shapes.only_near(character, joints, lambda joint: not shapes.is_of_arm(joint, gone))
    )
    assert_placed(told)
    names = set(told.report["joint_names"])
    assert {f"{there}_elbow", f"{there}_wrist", f"{there}_index_3", f"{gone}_knee"} <= names
    assert not {f"{gone}_elbow", f"{gone}_wrist", f"{gone}_index_1"} & names
    assert told.findings_about("arm", gone)
    assert_near(tmp_path, joints)
