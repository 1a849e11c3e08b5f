"""The demo characters: their files, their known joints, and the builder behind them."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from autoplace import load
from autoplace.data import data_folder
from meshes.bones import make_bones
from meshes.figures import build_figure
from meshes.make_characters import CHARACTERS, to_file_frame
from meshes.params import FigureParams, Pose, Side
from tests.light_figure import LIGHT, light_figure

FOLDER = data_folder("meshes")
NAMES = sorted(CHARACTERS)
COVERS = ("cloak", "hair", "beard", "scarf", "belt", "waistcoat")
"""Parts that are worn: a joint must lie in the flesh, not merely under a garment."""


def truth_of(name: str) -> dict:
    return json.loads((FOLDER / f"{name}.truth.json").read_text(encoding="utf-8"))


def winding(vertices: np.ndarray, faces: np.ndarray, points: np.ndarray) -> np.ndarray:
    """(n,) How often the surface winds around each point: 1 inside, 0 outside (solid angles)."""
    a, b, c = (vertices[faces[:, i]] - points[:, None] for i in range(3))
    la, lb, lc = (np.linalg.norm(x, axis=2) for x in (a, b, c))
    volume = np.einsum("ijk,ijk->ij", a, np.cross(b, c))
    rest = la * lb * lc
    rest += np.einsum("ijk,ijk->ij", a, b) * lc
    rest += np.einsum("ijk,ijk->ij", b, c) * la
    rest += np.einsum("ijk,ijk->ij", c, a) * lb
    return 2 * np.arctan2(volume, rest).sum(axis=1) / (4 * np.pi)


def edge_counts(faces: np.ndarray) -> np.ndarray:
    edges = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    return np.unique(edges, axis=0, return_counts=True)[1]


@pytest.fixture(scope="module")
def light():
    """A plain adult, lightly made."""
    character, joints = light_figure()
    return character.parts, joints


def test_light_figure_is_deterministic(light):
    """The same numbers give the same triangles and joints, to the last bit."""
    parts, joints = light
    again, joints_again = build_figure(LIGHT, detail="light")
    assert [part.name for part in parts] == [part.name for part in again] == ["body", "eyes"]
    for part, other in zip(parts, again, strict=True):
        assert np.array_equal(part.vertices, other.vertices)
        assert np.array_equal(part.faces, other.faces)
    assert all(np.array_equal(joints[name], joints_again[name]) for name in joints)


def test_light_figure_is_light_closed_and_stands_on_the_floor(light):
    """A light figure has 4,000 to 8,000 faces, one closed skin, its soles at 0."""
    body = light[0][0]
    assert 4000 <= sum(len(part.faces) for part in light[0]) <= 8000
    assert edge_counts(body.faces).min() == 2
    assert abs(body.vertices[:, 1].min()) < 0.004 * 1.74
    assert body.vertices[:, 1].max() == pytest.approx(1.74, abs=0.012 * 1.74)


def test_light_joints_are_inside(light):
    """Every joint of a light figure lies inside its skin or its eyeballs."""
    parts, joints = light
    inside = sum(
        winding(part.vertices, part.faces, np.array(list(joints.values()))) for part in parts
    )
    assert not [name for name, turns in zip(joints, inside, strict=True) if turns < 0.5]


def test_pose_turns_each_side_by_itself():
    """A raised left arm and a bent right knee turn as asked for, and bones keep their length."""
    left, right = Side(arm_raise=140.0, elbow=40.0), Side(arm_raise=30.0, knee=50.0)
    params = FigureParams(pose=Pose(left, right))
    joints = make_bones(params).joints()

    def bend(*names: str) -> float:
        a, b, c = (joints[name] for name in names)
        u, v = b - a, c - b
        return float(np.degrees(np.arccos(u @ v / np.linalg.norm(u) / np.linalg.norm(v))))

    def length(a: str, b: str) -> float:
        return float(np.linalg.norm(joints[a] - joints[b]))

    assert bend("left_shoulder", "left_elbow", "left_wrist") == pytest.approx(40.0)
    assert bend("right_hip", "right_knee", "right_ankle") == pytest.approx(50.0, abs=0.5)
    assert joints["left_wrist"][1] > joints["left_shoulder"][1] > joints["right_wrist"][1]
    for side in ("left", "right"):
        assert length(f"{side}_shoulder", f"{side}_elbow") == pytest.approx(params.upper_arm)
        assert length(f"{side}_elbow", f"{side}_wrist") == pytest.approx(params.forearm)
        thigh = length(f"{side}_hip", f"{side}_knee")
        assert thigh == pytest.approx(params.hip - params.knee)


def test_same_pose_on_both_sides_mirrors_the_joints():
    """In a symmetric pose each right joint is the mirror image of its left twin."""
    joints = make_bones(FigureParams()).joints()
    for name, at in joints.items():
        if name.startswith("left_"):
            twin = joints["right_" + name.removeprefix("left_")]
            assert np.allclose(at * [-1, 1, 1], twin, atol=1e-15)


@pytest.mark.parametrize(
    ("fingers", "count"), [(("thumb", "index", "middle", "pinky"), 16), (("thumb", "middle"), 8)]
)
def test_hands_with_fewer_fingers(fingers, count):
    """Each finger of a hand has three joints and a tip; the others are not there."""
    params = FigureParams()
    params = replace(params, hand=replace(params.hand, fingers=fingers))
    names = [
        n
        for n in make_bones(params).joints()
        if n.startswith("left_") and n.split("_")[1] in fingers
    ]
    assert len(names) == count
    assert not [n for n in make_bones(params).joints() if "ring" in n]


@pytest.mark.parametrize("name", NAMES)
def test_file_is_small_and_as_high_as_it_says(name):
    """A demo file is under 3 MB, has 15,000 to 40,000 faces, and its height is the known one."""
    truth, character = truth_of(name), load(FOLDER / f"{name}.obj")
    assert (FOLDER / f"{name}.obj").stat().st_size < 3e6
    assert 15_000 <= sum(len(part.faces) for part in character.parts) <= 40_000
    axis = "XYZ".index(truth["up"][1])
    assert np.ptp(character.vertices[:, axis]) == pytest.approx(truth["height"], rel=1e-4)


@pytest.mark.parametrize("name", NAMES)
def test_known_joints_are_those_of_the_construction(name):
    """The truth file holds what the script would write today."""
    truth, made = truth_of(name), CHARACTERS[name]
    joints = make_bones(made.params).joints()
    assert list(truth["joints"]) == list(joints)
    points = to_file_frame(np.array(list(joints.values())) * made.params.height, made)
    assert np.allclose(list(truth["joints"].values()), points, atol=0.51 * 10.0**-made.digits)


@pytest.mark.parametrize("name", NAMES)
def test_known_joints_are_inside(name):
    """Every known joint lies in the flesh or in an eyeball, not in the air or under cloth only."""
    truth, character = truth_of(name), load(FOLDER / f"{name}.obj")
    points = np.array(list(truth["joints"].values()))
    inside = np.zeros(len(points))
    for part in character.parts:
        if part.name not in COVERS:
            inside += winding(part.vertices, part.faces, points)
    assert not [joint for joint, turns in zip(truth["joints"], inside, strict=True) if turns < 0.5]


def test_quadruped_stands_on_four_legs():
    """The animal for the bad-input tests is one closed skin with four feet on the floor."""
    from tests.figures_quadruped import quadruped

    ((_, vertices, faces),) = quadruped()
    assert len(faces) <= 5000
    assert edge_counts(faces).min() == 2
    low = vertices[vertices[:, 1] < 0.02]
    quarters = {(x > 0, z > 0) for x, _, z in low}
    assert len(quarters) == 4
