"""Which pieces are rigid, each rule with a small mesh that trips it and one that does not."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from autoplace.skeleton.orient import orient
from autoplace.skeleton.skin.binding import bind_mesh
from tests.binding.measures import dense
from tests.figures import X, Y, Z, standard_skeleton
from tests.tubes import figure_of_tubes, tube

SKELETON = orient(standard_skeleton("T"))
AT = {joint.name: np.asarray(joint.position) for joint in SKELETON}


def ball(middle, radius, rings=9):
    """A closed ball of vertices and triangles, made of a tube by its radii."""
    vertices, faces = tube(middle - radius * Y, middle + radius * Y, 1.0, rings=rings, sides=12)
    up = (vertices - middle) @ Y
    aside = (vertices - middle) - np.outer(up, Y)
    length = np.maximum(np.linalg.norm(aside, axis=1, keepdims=True), 1e-12)
    wide = np.sqrt(np.maximum(radius**2 - up**2, (0.2 * radius) ** 2))[:, None]
    ends = np.linalg.norm(aside, axis=1) < 1e-9
    return np.where(
        ends[:, None], vertices, middle + np.outer(up, Y) + wide * aside / length
    ), faces


def bound(*pieces):
    """Shares (n, joints) of each piece, given as (role, (vertices, faces)), in one mesh."""
    starts = np.cumsum([0, *(len(v) for _, (v, _) in pieces)])
    vertices = np.concatenate([v for _, (v, _) in pieces])
    faces = np.concatenate([f + s for (_, (_, f)), s in zip(pieces, starts, strict=False)])
    roles = np.repeat([role for role, _ in pieces], np.diff(starts))
    binding = bind_mesh(vertices, faces, SKELETON, roles=roles)
    assert np.allclose(binding.weights.sum(axis=1), 1.0, atol=1e-6)
    shares = dense(binding, len(SKELETON))
    return [shares[a:b] for a, b in pairwise(starts)]


def whole():
    body = figure_of_tubes(SKELETON).parts[0]
    return "body", (body.vertices, body.faces)


def follows(shares, joint):
    """Whether every vertex follows the joint alone."""
    return bool(np.all(shares[:, SKELETON.names.index(joint)] == 1.0))


def test_a_helmet_over_a_head_follows_the_head():
    """Round the whole skull, down to the neck, and no vertex of it follows the neck."""
    middle = 0.5 * (AT["head"] + AT["head_top"])
    size = 0.75 * float(np.linalg.norm(AT["head_top"] - AT["head"]))
    _, helmet = bound(whole(), ("accessory", ball(middle, size)))
    assert follows(helmet, "head")


@pytest.mark.parametrize("role", ["hair", "inner_mouth"])
def test_short_hair_and_teeth_follow_the_head(role):
    """Hair on the skull and teeth by the neck are the head's, though the neck is near."""
    at = AT["head_top"] if role == "hair" else AT["head"] + 0.035 * Z
    _, piece = bound(whole(), (role, ball(at, 0.03)))
    assert follows(piece, "head")


def test_long_hair_follows_what_it_lies_on():
    """Hair from the crown to the loins, most of it on the back, is not the head's alone."""
    end = AT["spine_1"] - 0.08 * Z
    _, hair = bound(whole(), ("hair", tube(AT["head"] - 0.08 * Z, end, 0.01, rings=30)))
    low = hair[-8:]
    assert not follows(hair, "head")
    assert low[:, SKELETON.names.index("head")].max() < 0.1


def test_what_is_held_follows_the_wrist():
    """A staff through the hand, as long as the figure, follows the wrist and no finger."""
    grip = AT["left_middle_1"] - 0.01 * Y
    staff = tube(grip - 0.5 * Y, grip + 0.5 * Y, 0.008, rings=60)
    _, found = bound(whole(), ("accessory", staff))
    assert follows(found, "left_wrist")


def test_a_belt_gives():
    """A ring round waist and hips follows both, and is told from a buckle at its front."""
    waist = 0.5 * (AT["pelvis"] + AT["spine_1"])
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ring = 0.06 * (np.cos(turn)[:, None] * X + np.sin(turn)[:, None] * Z)
    rows = [waist + ring + high * Y for high in (-0.04, 0.0, 0.04)]
    faces = []
    for row in range(2):
        for k in range(24):
            a, b = row * 24 + k, row * 24 + (k + 1) % 24
            faces += [(a, b, b + 24), (a, b + 24, a + 24)]
    buckle = ball(AT["spine_1"] + 0.07 * Z + 0.03 * Y, 0.012)
    _, belt, found = bound(
        whole(), ("accessory", (np.concatenate(rows), np.array(faces))), ("accessory", buckle)
    )
    assert np.count_nonzero(belt.max(axis=0) > 0.2) >= 2
    assert np.allclose(found, found[0])
    assert found[0].max() == 1.0


def test_a_plate_of_a_robots_arm_does_not_bend():
    """A closed shell from shoulder to elbow follows the shoulder; a sleeve of skin bends."""
    a, b, c = AT["left_shoulder"], AT["left_elbow"], AT["left_wrist"]
    plate = tube(a + 0.1 * (b - a), b - 0.03 * (b - a), 0.02, rings=9)
    sleeve = tube(a, c, 0.03, rings=30)
    torso = tube(AT["pelvis"], AT["neck"], 0.09, rings=20, sides=16)
    _, plate = bound(("body", torso), ("body", plate))
    assert follows(plate, "left_shoulder")
    _, skin = bound(("body", torso), ("body", sleeve))
    assert skin[:, SKELETON.names.index("left_elbow")].max() > 0.9
    assert skin[:, SKELETON.names.index("left_shoulder")].max() > 0.9


def test_an_open_shell_about_one_bone_bends():
    """The same plate without its ends is skin cut at a seam, and meets what is beside it."""
    a, b = AT["left_shoulder"], AT["left_elbow"]
    vertices, faces = tube(a, b, 0.02, rings=12)
    inner = ~np.isin(faces, (0, len(vertices) - 1)).any(axis=1)
    torso = tube(AT["pelvis"], AT["neck"], 0.09, rings=20, sides=16)
    _, shell = bound(("body", torso), ("body", (vertices, faces[inner])))
    assert not follows(shell[1:-1], "left_shoulder")


def test_a_ball_in_a_joint_turns_with_it():
    """A ball round the knee belongs to both bones by distance, and follows the knee."""
    torso = tube(AT["pelvis"], AT["neck"], 0.09, rings=20, sides=16)
    _, found = bound(("body", torso), ("body", ball(AT["left_knee"], 0.03)))
    assert follows(found, "left_knee")


def test_a_button_keeps_its_shape():
    """A small piece of a garment has one mixture of joints, whatever is beneath each vertex."""
    at = AT["spine_2"] + 0.06 * Z
    _, found = bound(whole(), ("garment", ball(at, 0.01)))
    assert np.allclose(found, found[0], atol=1e-9)


def test_clothes_are_never_rigid():
    """A shell about the forearm alone is rigid as body, and gives as a sleeve."""
    a, b = AT["left_elbow"], AT["left_wrist"]
    sleeve = tube(a + 0.05 * (b - a), b - 0.02 * (b - a), 0.035, rings=15)
    _, cloth = bound(whole(), ("garment", sleeve))
    assert not follows(cloth, "left_elbow")
