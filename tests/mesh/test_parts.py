"""The roles of parts. Names are 'Object001' and the like unless a test is about names."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from autoplace.errors import InputError
from autoplace.mesh.parts import assign_roles, find_pieces
from tests.mesh.capsule_figures import (
    EYE_PLACE,
    EYE_RADIUS,
    box,
    capsule,
    eye,
    figure,
    joined,
    limb_names,
    mirrored,
    one_skin,
    sphere,
    tube,
)

MIRROR = np.array([-1.0, 1.0, 1.0])


@pytest.fixture(scope="module")
def skin():
    """The whole body in one surface."""
    return one_skin(limb_names())


@pytest.fixture(scope="module")
def plain(skin):
    """A body and two eyeballs, each an object."""
    return {"Object001": skin, "Object002": eye("left"), "Object003": eye("right")}


def working(character):
    """Its vertices with the floor at 0 and height 1."""
    low, high = character.vertices[:, 1].min(), character.vertices[:, 1].max()
    return [(p.vertices - [0, low, 0]) / (high - low) for p in character.parts]


def judged(parts, **said):
    character = figure(parts)
    return assign_roles(character, working(character), **said)


def role_of(roles, part):
    """The roles of a part's pieces, with sides, as a set."""
    return {p.role + (f" {p.side}" if p.side else "") for p in roles.pieces if p.part == part}


def scaled(limb, factor):
    a, b, ra, rb = mirrored(limb)
    return capsule(a, b, ra * factor, rb * factor)


def ball(x, y, z, radius):
    return sphere(np.array([x, y, z]), radius)


# --- eyeballs


@pytest.mark.parametrize("end", [(0.20, 0.88, 0.0), (0.12, 1.25, 0.0)], ids=["hanging", "upright"])
def test_long_ears_are_no_body(plain, end):
    """Ears that stand or hang far off the head are left out of the body, which is whole without."""
    root, tip = np.array([0.04, 0.97, 0.0]), np.array(end)
    ears = joined(
        capsule(root, tip, 0.015, 0.02),
        capsule(root * [-1, 1, 1], tip * [-1, 1, 1], 0.015, 0.02),
    )
    roles = judged({**plain, "Object009": ears})
    assert role_of(roles, "Object009") == {"hair"}
    assert role_of(roles, "Object001") == {"body"}


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


# --- what is worn


def test_inner_mouth(plain):
    """Teeth and a tongue inside the head below the eyes."""

    def arch(y):
        return tube([(y, 0.018, 0.018, 0.038), (y + 0.008, 0.018, 0.018, 0.038)])

    tongue = capsule(np.array([0, 0.885, 0.02]), np.array([0, 0.888, 0.045]), 0.008, 0.007)
    roles = judged({**plain, "Object004": joined(arch(0.886), arch(0.896)), "Object005": tongue})
    assert role_of(roles, "Object004") == {"inner_mouth"}
    assert role_of(roles, "Object005") == {"inner_mouth"}
    assert role_of(roles, "Object001") == {"body"}


HAIR = tube(
    [
        (0.875, 0.060, 0.060, -0.002),
        (0.90, 0.066, 0.066, -0.002),
        (0.95, 0.068, 0.068, 0),
        (0.985, 0.055, 0.055, 0),
        (1.006, 0.02, 0.02, 0.01),
        (1.012, 0.001, 0.001, 0.01),
    ],
    gap=110,
)


def test_hair_and_brows(plain):
    """A shell over the upper and back head, and strips above the eyes."""
    brows = [
        capsule(
            np.array([s * 0.01, 0.946, 0.062]), np.array([s * 0.035, 0.946, 0.056]), 0.003, 0.003
        )
        for s in (1, -1)
    ]
    roles = judged({**plain, "Object004": HAIR, "Object005": brows[0], "Object006": brows[1]})
    for part in ("Object004", "Object005", "Object006"):
        assert role_of(roles, part) == {"hair"}
    assert role_of(roles, "Object001") == {"body"}


def test_hair_of_many_strands(plain):
    """A hundred strands in one object are hair together."""
    strands = [
        capsule(
            np.array([0.05 * np.sin(t), 0.97, 0.05 * np.cos(t)]),
            np.array([0.075 * np.sin(t), 0.85, 0.07 * np.cos(t) - 0.02]),
            0.004,
            0.002,
            6,
        )
        for t in np.linspace(1.2, 5, 100)
    ]
    roles = judged({**plain, "Object004": joined(*strands)})
    assert role_of(roles, "Object004") == {"hair"}
    assert len(roles.pieces) < 60


def test_hair_that_replaces_the_skull_is_body(plain):
    """A head that ends at the brow under its hair needs the hair to have a top."""
    vertices, faces = plain["Object001"]
    kept = faces[(vertices[faces][:, :, 1] < 0.945).all(axis=1)]
    roles = judged({**plain, "Object001": (vertices, kept), "Object004": HAIR})
    assert role_of(roles, "Object004") == {"body"}


DRESS = tube(
    [
        (0.05, 0.22, 0.22, 0),
        (0.3, 0.18, 0.18, 0),
        (0.5, 0.14, 0.13, 0),
        (0.6, 0.09, 0.09, 0),
        (0.75, 0.095, 0.09, 0),
        (0.80, 0.08, 0.07, 0),
    ]
)
CLOAK = tube(
    [
        (0.08, 0.26, 0.16, -0.03),
        (0.4, 0.2, 0.13, -0.02),
        (0.7, 0.16, 0.11, -0.01),
        (0.80, 0.12, 0.09, 0),
        (0.86, 0.05, 0.05, 0),
    ],
    gap=130,
)
COAT = joined(
    tube([(0.3, 0.16, 0.12, 0), (0.5, 0.11, 0.10, 0), (0.65, 0.09, 0.09, 0), (0.8, 0.1, 0.09, 0)]),
    *[scaled(s + limb, 1.25) for s in ("left_", "right_") for limb in ("upper_arm", "forearm")],
)
SHIRT = joined(*[scaled(limb, 1.12) for limb in ("trunk", "left_upper_arm", "right_upper_arm")])
TROUSERS = joined(
    *[scaled(s + limb, 1.12) for s in ("left_", "right_") for limb in ("thigh", "shank")]
)


@pytest.mark.parametrize(
    "garment",
    [DRESS, CLOAK, COAT, SHIRT, TROUSERS],
    ids=["dress", "cloak", "coat", "shirt", "legs"],
)
@pytest.mark.parametrize("flipped", [False, True], ids=["outward", "inside_out"])
def test_garments_worn_over_a_body(plain, garment, flipped):
    """What lies over a body that is whole without it, wound either way, is a garment."""
    vertices, faces = garment
    roles = judged({**plain, "Object004": (vertices, faces[:, ::-1] if flipped else faces)})
    assert role_of(roles, "Object004") == {"garment"}
    assert role_of(roles, "Object001") == {"body"}


def test_clothes_that_replace_skin_are_body():
    """A head, hands, a coat and trousers with nothing under them are all body."""
    arms = [n for n in limb_names() if "arm" in n]
    legs = [n for n in limb_names() if "thigh" in n or "shank" in n or "foot" in n]
    roles = judged(
        {
            "head": one_skin(["head", "neck"]),
            "Object004": one_skin(["trunk", *arms]),
            "Object005": one_skin(legs),
            "Object006": one_skin(["left_hand"]),
            "Object007": one_skin(["right_hand"]),
            "Object008": joined(eye("left"), eye("right")),
        }
    )
    for part in ("head", "Object004", "Object005", "Object006", "Object007"):
        assert role_of(roles, part) == {"body"}, part


def test_dress_over_no_legs_is_body(plain):
    """A long dress with no legs under it is the figure's lower half."""
    upper = one_skin(
        [n for n in limb_names() if "thigh" not in n and "shank" not in n and "foot" not in n]
    )
    roles = judged({**plain, "Object001": upper, "Object004": DRESS})
    assert role_of(roles, "Object004") == {"body"}


# --- bodies in pieces


def test_body_of_many_pieces():
    """Fifteen overlapping limbs, each an object, are body; the eyes are still found."""
    parts = {f"Object{i:03}": capsule(*mirrored(n)) for i, n in enumerate(limb_names())}
    roles = judged({**parts, "left": eye("left"), "right": eye("right")})
    assert {p.role for p in roles.pieces if p.part.startswith("Object")} == {"body"}
    assert role_of(roles, "left") == {"eyeball left"}


@pytest.mark.parametrize(("side", "limb"), [("right", "arm"), ("left", "arm"), ("right", "leg")])
def test_body_with_a_missing_limb(side, limb):
    """The limb that is left is not a prop because it has no twin."""
    words = ("arm", "hand") if limb == "arm" else ("thigh", "shank", "foot")
    names = [n for n in limb_names() if not (n.startswith(side) and any(w in n for w in words))]
    parts = {f"Object{i:03}": capsule(*mirrored(n)) for i, n in enumerate(names)}
    roles = judged({**parts, "eyes": joined(eye("left"), eye("right"))})
    assert {p.role for p in roles.pieces if p.part.startswith("Object")} == {"body"}


@pytest.mark.parametrize("jitter", [0.0, 1e-5])
def test_triangle_soup_is_one_body(skin, jitter):
    """A fully unwelded surface, jittered or not, is one piece."""
    vertices = skin[0][skin[1]].reshape(-1, 3)
    vertices = vertices + np.random.default_rng(1).normal(size=vertices.shape) * jitter
    soup = (vertices, np.arange(len(vertices)).reshape(-1, 3))
    roles = judged({"Object001": soup, "eyes": joined(eye("left"), eye("right"))})
    body = [p for p in roles.pieces if p.part == "Object001"]
    assert {p.role for p in body} == {"body"}
    assert max(len(p.face_ids) for p in body) > 0.99 * len(skin[1])
    assert {p.side for p in roles.of("eyeball")} == {"left", "right"}


# --- props

SWORD = joined(
    capsule(np.array([-0.37, 0.5, -0.03]), np.array([-0.37, 0.5, 0.08]), 0.012, 0.012),
    box((-0.375, 0.49, 0.08), (-0.365, 0.51, 0.5)),
)


def test_sword_and_shield(plain):
    """Carried things on one side only, on a body in one skin."""
    shield = box((0.30, 0.42, 0.03), (0.45, 0.68, 0.05))
    roles = judged({**plain, "Object004": SWORD, "Object005": shield})
    assert role_of(roles, "Object004") == {"accessory"}
    assert role_of(roles, "Object005") == {"accessory"}
    assert role_of(roles, "Object001") == {"body"}


def test_sword_in_a_separate_hand():
    """On a body in pieces the sword goes and the hand that holds it stays."""
    parts = {n: capsule(*mirrored(n)) for n in limb_names()}
    parts = {f"Object{i:03}": mesh for i, mesh in enumerate(parts.values())}
    roles = judged({**parts, "eyes": joined(eye("left"), eye("right")), "thing": SWORD})
    assert role_of(roles, "thing") == {"accessory"}
    assert {p.role for p in roles.pieces if p.part.startswith("Object")} == {"body"}


@pytest.mark.parametrize("name", ["Object004", "straw_hat"])
def test_hat(plain, name):
    """A hat leaves the head whole: never body; an accessory when it is named so."""
    hat = tube(
        [
            (0.96, 0.15, 0.15, 0.01),
            (0.965, 0.14, 0.14, 0.01),
            (0.97, 0.06, 0.06, 0.01),
            (1.1, 0.05, 0.05, 0.01),
            (1.101, 0.001, 0.001, 0.01),
        ]
    )
    roles = judged({**plain, name: hat})
    assert role_of(roles, name) == ({"accessory"} if "hat" in name else {"hair"})
    assert role_of(roles, "Object001") == {"body"}


def test_ground_plane(plain):
    """A slab under the feet is no part of the figure."""
    roles = judged({**plain, "Object004": box((-0.6, -0.01, -0.6), (0.6, 0.0, 0.6))})
    assert role_of(roles, "Object004") == {"accessory"}
    assert role_of(roles, "Object001") == {"body"}


# --- what the user says, and the form of the answer


def test_leave_out_by_name_and_pattern(plain):
    """Left-out parts are marked so, by exact name or by pattern."""
    roles = judged({**plain, "cloak_back": CLOAK, "cloak_hood": HAIR}, leave_out=["cloak_*"])
    assert role_of(roles, "cloak_back") == {"left_out"}
    assert role_of(roles, "cloak_hood") == {"left_out"}
    assert role_of(roles, "Object002") == {"eyeball left"}


def test_forced_roles(plain):
    """A forced role overrides the measurement, and an eyeball's side is told by where it is."""
    roles = judged({**plain, "Object004": DRESS}, forced={"Object004": "body"})
    assert role_of(roles, "Object004") == {"body"}
    assert role_of(roles, "Object001") == {"body"}
    roles = judged(
        {"Object001": plain["Object001"], "a": ball(0.06, 0.9, 0.0, 0.01)}, forced={"a": "eyeball"}
    )
    assert role_of(roles, "a") == {"eyeball left"}


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"leave_out": ["hta"]}, ("'hta'", "'Object001'")),
        ({"forced": {"Object00?x": "body"}}, ("'Object00?x'", "'Object003'")),
        ({"forced": {"Object001": "trousers"}}, ("'trousers'", "garment")),
        ({"leave_out": ["*"]}, ("keep at least one",)),
    ],
)
def test_wrong_words_from_the_user(plain, said, words):
    """An unknown part lists the parts, an unknown role the roles; leaving out all is refused."""
    with pytest.raises(InputError) as told:
        judged(plain, **said)
    for word in words:
        assert word in str(told.value)


def test_every_triangle_is_in_one_piece(plain):
    """Pieces split the triangles of each part without gap or overlap, before and after judging."""
    character = figure({**plain, "Object004": joined(HAIR, DRESS)})
    for roles in (find_pieces(character), assign_roles(character, working(character))):
        for index, part in enumerate(character.parts):
            ids = np.concatenate([p.face_ids for p in roles.pieces if p.part_index == index])
            np.testing.assert_array_equal(np.sort(ids), np.arange(len(part.faces)))


def test_mirror_image_swaps_the_sides(plain):
    """Mirroring the figure changes the eyes' sides and nothing else."""
    parts = {**plain, "Object004": SWORD, "Object005": HAIR}
    flipped = {n: (v * MIRROR, f[:, ::-1]) for n, (v, f) in parts.items()}
    one, two = judged(parts), judged(flipped)
    swap = {"left": "right", "right": "left", None: None}
    assert [(p.part, p.role) for p in one.pieces] == [(p.part, p.role) for p in two.pieces]
    assert [swap[p.side] for p in one.pieces] == [p.side for p in two.pieces]


def test_same_input_same_answer(plain):
    """Two runs agree to the last reason and face."""
    parts = {**plain, "Object004": COAT, "Object005": HAIR}
    one, two = judged(parts), judged(parts)
    for a, b in zip(one.pieces, two.pieces, strict=True):
        assert (a.part, a.role, a.side, a.reason, a.confidence) == (
            b.part,
            b.role,
            b.side,
            b.reason,
            b.confidence,
        )
        assert a.face_ids.tobytes() == b.face_ids.tobytes()
