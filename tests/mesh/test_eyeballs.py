"""Eyeballs are told from other round things.

Names are 'Object001' and the like unless a test is about names.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from autoplace.mesh.parts import assign_roles
from tests.mesh.capsule_figures import (
    EYE_PLACE,
    EYE_RADIUS,
    box,
    capsule,
    eye,
    figure,
    joined,
    sphere,
)
from tests.mesh.dressed_figures import ball, judged, role_of, working


def test_body_and_two_eyeballs(plain):
    """Eyeballs are told by shape and place, left and right by the character's own side."""
    roles = judged(plain)
    assert role_of(roles, "Object001") == {"body"}
    assert role_of(roles, "Object002") == {"eyeball left"}
    assert role_of(roles, "Object003") == {"eyeball right"}
    assert all(0 < p.confidence <= 1 and p.reason for p in roles.pieces)


def test_eyeballs_joined_in_one_object(skin):
    """Two balls in one object are told apart by connectivity."""
    roles = judged({"Object001": skin, "Object002": joined(eye("left"), eye("right"))})
    assert role_of(roles, "Object002") == {"eyeball left", "eyeball right"}


def test_everything_in_one_object(skin):
    """A file with a single object still has a body and two eyeballs."""
    roles = judged({"Object001": joined(skin, eye("left"), eye("right"))})
    assert role_of(roles, "Object001") == {"body", "eyeball left", "eyeball right"}
    body = next(p for p in roles.pieces if p.role == "body")
    assert len(body.face_ids) == len(skin[1])


@pytest.mark.parametrize("cap", [55, 70, 90])
def test_front_parts_of_balls(skin, cap):
    """Only the front of each ball was modelled."""
    roles = judged(
        {"Object001": skin, "Object002": eye("left", cap=cap), "Object003": eye("right", cap=cap)}
    )
    assert role_of(roles, "Object002") == {"eyeball left"}
    assert role_of(roles, "Object003") == {"eyeball right"}


def test_shells_of_one_eye(plain):
    """An iris disc and a cornea belong to the eye they sit on."""
    extra = {}
    for side, flip in (("left", 1), ("right", -1)):
        centre = EYE_PLACE * [flip, 1, 1]
        extra[f"iris {side}"] = sphere(centre, 1.01 * EYE_RADIUS, cap=28)
        extra[f"cover {side}"] = sphere(centre, 1.06 * EYE_RADIUS, cap=80)
    roles = judged({**plain, **extra})
    for side in ("left", "right"):
        assert role_of(roles, f"iris {side}") == {f"eyeball {side}"}
        assert role_of(roles, f"cover {side}") == {f"eyeball {side}"}


@pytest.mark.parametrize("side", ["left", "right"])
def test_one_eye(skin, side):
    """A single eyeball off the middle is an eye of its side."""
    roles = judged({"Object001": skin, "Object002": eye(side)})
    assert role_of(roles, "Object002") == {f"eyeball {side}"}


def test_three_eyes(plain):
    """A third ball on the forehead is an eye of no side."""
    roles = judged({**plain, "Object004": ball(0, 0.955, 0.053, 0.011)})
    assert role_of(roles, "Object002") == {"eyeball left"}
    assert role_of(roles, "Object004") == {"eyeball"}


def test_button_eyes(skin):
    """Small balls that stand on the face at the eyes' place are eyes."""
    roles = judged(
        {
            "Object001": skin,
            "Object002": ball(0.022, 0.928, 0.062, 0.005),
            "Object003": ball(-0.022, 0.928, 0.062, 0.005),
        }
    )
    assert role_of(roles, "Object002") == {"eyeball left"}


NOT_EYES = {
    "earrings": joined(ball(0.062, 0.905, 0, 0.008), ball(-0.062, 0.905, 0, 0.008)),
    "large earrings": joined(ball(0.066, 0.895, 0, 0.014), ball(-0.066, 0.895, 0, 0.014)),
    "nose": ball(0, 0.91, 0.068, 0.01),
    "buttons": joined(*[ball(0, y, 0.082, 0.008) for y in (0.6, 0.66, 0.72)]),
    "pairs of buttons": joined(
        *[ball(x, y, 0.078, 0.008) for x in (-0.03, 0.03) for y in (0.6, 0.66, 0.72)]
    ),
    "one pair of buttons": joined(*[ball(x, 0.72, 0.078, 0.008) for x in (-0.03, 0.03)]),
    "beads": joined(
        *[ball(0.06 * np.sin(t), 0.84, 0.055 * np.cos(t), 0.008) for t in np.linspace(-1.5, 1.5, 9)]
    ),
    "shoulder balls": joined(ball(0.12, 0.81, 0.03, 0.02), ball(-0.12, 0.81, 0.03, 0.02)),
}


@pytest.mark.parametrize("thing", NOT_EYES)
@pytest.mark.parametrize("with_eyes", [True, False])
def test_round_things_that_are_no_eyes(skin, plain, thing, with_eyes):
    """Earrings, a nose, buttons and beads are no eyes, whether or not the head has eyes."""
    roles = judged({**(plain if with_eyes else {"Object001": skin}), "Object009": NOT_EYES[thing]})
    found = Counter(p.side for p in roles.of("eyeball"))
    assert found == ({"left": 1, "right": 1} if with_eyes else {})
    assert not any("eyeball" in role for role in role_of(roles, "Object009"))


def test_turned_head(plain):
    """Eyes of a head turned 25 degrees and tilted are found."""
    y, t = np.radians([25, 8])
    turn = np.array([[np.cos(y), 0, np.sin(y)], [0, 1, 0], [-np.sin(y), 0, np.cos(y)]])
    tilt = np.array([[np.cos(t), -np.sin(t), 0], [np.sin(t), np.cos(t), 0], [0, 0, 1]])
    pivot = np.array([0, 0.87, 0])
    parts = {}
    for name, (vertices, faces) in plain.items():
        moved = (vertices - pivot) @ (tilt @ turn).T + pivot
        parts[name] = (np.where((vertices[:, 1] > 0.87)[:, None], moved, vertices), faces)
    roles = judged(parts)
    assert role_of(roles, "Object002") == {"eyeball left"}
    assert role_of(roles, "Object003") == {"eyeball right"}


def test_eyes_on_the_side_taken_for_the_back(plain):
    """Where the facing was a guess, sunk eyes overrule it, and a note says so; else they do not."""
    character = figure(plain)
    backward = [v * [-1, 1, -1] for v in working(character)]
    roles = assign_roles(character, backward)
    assert role_of(roles, "Object002") == {"eyeball left"}
    assert role_of(roles, "Object003") == {"eyeball right"}
    assert any("back" in note for note in roles.notes)
    assert not assign_roles(character, backward, facing_known=True).of("eyeball")


@pytest.mark.parametrize("buns", [(0.97, -0.06), (0.93, -0.07)], ids=["high", "level"])
def test_buns_at_the_back_are_no_eyes(skin, buns):
    """Two balls of hair on the back of a head without eyeballs do not turn it round."""
    y, z = buns
    parts = {
        "Object001": skin,
        "Object002": joined(ball(0.03, y, z, 0.022), ball(-0.03, y, z, 0.022)),
    }
    assert not judged(parts).of("eyeball")


def test_balls_in_the_joints_of_a_robot_are_no_eyes():
    """A robot in pieces with a ball in each joint has no eyes, though its balls are round pairs."""
    parts = {
        "head": box((-0.09, 0.80, -0.1), (0.09, 1.0, 0.1)),
        "neck": box((-0.03, 0.745, -0.03), (0.03, 0.81, 0.03)),
        "chest": box((-0.09, 0.55, -0.06), (0.09, 0.75, 0.07)),
        "waist": box((-0.055, 0.45, -0.04), (0.055, 0.57, 0.04)),
        "seat": box((-0.09, 0.39, -0.06), (0.09, 0.46, 0.06)),
    }
    rods = {
        "upper_arm": ((0.15, 0.72, 0.0), (0.26, 0.72, 0.0), 0.030, 0.028),
        "forearm": ((0.31, 0.72, 0.0), (0.45, 0.72, 0.0), 0.026, 0.020),
        "thigh": ((0.05, 0.38, 0.0), (0.05, 0.22, 0.0), 0.040, 0.036),
        "shank": ((0.05, 0.17, 0.0), (0.05, 0.03, 0.0), 0.036, 0.030),
    }
    balls = {"shoulder": (0.125, 0.72, 0.034), "elbow": (0.285, 0.72, 0.027)}
    balls |= {"hip": (0.05, 0.42, 0.042), "knee": (0.05, 0.195, 0.034)}
    for side, flip in (("left", 1.0), ("right", -1.0)):
        for name, (a, b, ra, rb) in rods.items():
            ends = (np.array(end) * [flip, 1.0, 1.0] for end in (a, b))
            parts[f"{side}_{name}"] = capsule(*ends, ra, rb)
        for name, (x, y, radius) in balls.items():
            parts[f"{side}_{name}"] = ball(flip * x, y, 0.0, radius)
    assert judged(parts).of("eyeball") == ()


def test_balls_in_the_hips_of_a_doll_without_a_neck_are_no_eyes():
    """A head as broad as the chest below it seems to reach down to the hips, whose balls lie at its
    lower end, where no eyes are."""
    parts = {
        "head": capsule(np.array([0.0, 0.86, 0.0]), np.array([0.0, 0.94, 0.0]), 0.06, 0.06),
        "chest": capsule(np.array([0.0, 0.56, 0.0]), np.array([0.0, 0.80, 0.0]), 0.06, 0.06),
    }
    for side, flip in (("left", 1.0), ("right", -1.0)):
        rods = {
            "arm": ((0.14, 0.74, 0.0), (0.14, 0.40, 0.0), 0.035, 0.03),
            "leg": ((0.045, 0.46, 0.0), (0.045, 0.04, 0.0), 0.04, 0.035),
        }
        for name, (a, b, ra, rb) in rods.items():
            ends = (np.array(end) * [flip, 1.0, 1.0] for end in (a, b))
            parts[f"{side}_{name}"] = capsule(*ends, ra, rb)
        parts[f"{side}_hip"] = ball(flip * 0.045, 0.5, 0.01, 0.03)
    assert judged(parts).of("eyeball") == ()


def test_spikes_of_a_crown_are_no_eyes(plain):
    """Two pyramids in front, high on the head, are none, though they stand there in mirror."""
    points = np.array([[1, 0, 1], [-1, 0, 1], [-1, 0, -1], [1, 0, -1], [0, 2, 0]], dtype=float)
    faces = np.array([[1, 0, 4], [2, 1, 4], [3, 2, 4], [0, 3, 4], [0, 1, 2], [0, 2, 3]])
    spikes = [(points * 0.012 + [0.022 * side, 0.985, 0.046], faces) for side in (1.0, -1.0)]
    assert not judged({"Object001": plain["Object001"], "Object002": joined(*spikes)}).of("eyeball")


def test_upper_arms_of_boxes_are_no_eyes():
    """A robot of boxes whose head rests on its chest without a neck: no pair of boxes beside the
    chest is eyes, however compact; two balls on its face are."""
    parts = {
        "head": box((-0.2, 0.52, -0.2), (0.2, 1.0, 0.2)),
        "chest": box((-0.1, 0.36, -0.07), (0.1, 0.53, 0.08)),
        "seat": box((-0.08, 0.26, -0.06), (0.08, 0.35, 0.06)),
    }
    for side, flip in (("left", 1.0), ("right", -1.0)):
        for name, (low, high) in {
            "upper_arm": ((0.11, 0.42, -0.03), (0.19, 0.52, 0.07)),
            "forearm": ((0.13, 0.33, -0.03), (0.18, 0.41, 0.05)),
            "leg": ((0.02, 0.0, -0.04), (0.07, 0.25, 0.04)),
        }.items():
            x = sorted((flip * low[0], flip * high[0]))
            parts[f"{side}_{name}"] = box((x[0], *low[1:]), (x[1], *high[1:]))
    names = {part: f"Object{i:03}" for i, part in enumerate(parts)}
    named = {names[part]: mesh for part, mesh in parts.items()}
    assert judged(named).of("eyeball") == ()
    eyes = joined(ball(0.08, 0.76, 0.19, 0.03), ball(-0.08, 0.76, 0.19, 0.03))
    found = judged({**named, "Object099": eyes}).of("eyeball")
    assert {piece.part for piece in found} == {"Object099"}
