"""What is worn or carried is told from the body.

Names are 'Object001' and the like unless a test is about names.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.mesh.capsule_figures import (
    box,
    capsule,
    eye,
    joined,
    limb_names,
    mirrored,
    one_skin,
    sphere,
    tube,
)
from tests.mesh.dressed_figures import CLOAK, COAT, DRESS, HAIR, SWORD, judged, role_of, scaled


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


def test_inner_mouth(plain):
    """Teeth and a tongue inside the head below the eyes."""

    def arch(y):
        return tube([(y, 0.018, 0.018, 0.038), (y + 0.008, 0.018, 0.018, 0.038)])

    tongue = capsule(np.array([0, 0.885, 0.02]), np.array([0, 0.888, 0.045]), 0.008, 0.007)
    roles = judged({**plain, "Object004": joined(arch(0.886), arch(0.896)), "Object005": tongue})
    assert role_of(roles, "Object004") == {"inner_mouth"}
    assert role_of(roles, "Object005") == {"inner_mouth"}
    assert role_of(roles, "Object001") == {"body"}


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


def test_hair_over_a_mask_is_body(plain):
    """A face with ears and no back, as is modelled under hair, needs the hair to be a head."""
    vertices, faces = plain["Object001"]
    high = (vertices[faces][:, :, 1] > 0.88).all(axis=1)
    behind = high & (vertices[faces][:, :, 2] < 0.01).any(axis=1)
    roles = judged({**plain, "Object001": (vertices, faces[~behind]), "Object004": HAIR})
    assert role_of(roles, "Object004") == {"body"}


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


def test_sword_and_shield(plain):
    """Carried things on one side only, on a body in one skin."""
    shield = box((0.30, 0.42, 0.03), (0.45, 0.68, 0.05))
    roles = judged({**plain, "Object004": SWORD, "Object005": shield})
    assert role_of(roles, "Object004") == {"accessory"}
    assert role_of(roles, "Object005") == {"accessory"}
    assert role_of(roles, "Object001") == {"body"}


def test_a_shield_goes_with_the_bar_behind_it(plain):
    """A shield that is held by a bar, a piece of its own, is carried with it: it is joined to the
    figure, not an arm that holds a stick."""
    shield = box((0.28, 0.36, 0.05), (0.47, 0.70, 0.07))
    bar = box((0.35, 0.40, 0.03), (0.37, 0.66, 0.06))
    roles = judged({**plain, "Object004": shield, "Object005": bar})
    assert role_of(roles, "Object004") == {"accessory"}
    assert role_of(roles, "Object005") == {"accessory"}
    assert role_of(roles, "Object001") == {"body"}


def test_a_name_tells_what_both_hands_hold(plain):
    """Two blades are twins as arms are, and only their names tell that they are held."""
    vertices, faces = SWORD
    other = (vertices * [-1.0, 1.0, 1.0], faces[:, ::-1])
    roles = judged({**plain, "LongSword_R": SWORD, "LongSword_L": other})
    assert role_of(roles, "LongSword_R") == {"accessory"}
    assert role_of(roles, "LongSword_L") == {"accessory"}
    assert role_of(roles, "Object001") == {"body"}


@pytest.mark.parametrize("limb", ["forearm", "hand", "_"])
def test_limbs_named_as_weapons_are_limbs(limb):
    """A name does not take away the limbs of a robot in pieces."""
    parts = {
        f"{'Gun' if limb in name else 'Object'}{i:03}": capsule(*mirrored(name))
        for i, name in enumerate(limb_names())
    }
    roles = judged({**parts, "eyes": joined(eye("left"), eye("right"))})
    assert {p.role for p in roles.pieces if p.part != "eyes"} == {"body"}


def test_a_shield_of_two_faces_is_carried(plain):
    """The face of a shield and its back, a piece each, are one thing and no pair of limbs."""
    board = tube([(0.36, 0.01, 0.09, 0.0), (0.70, 0.01, 0.09, 0.0)])
    faces = [(board[0] + [x, 0.0, 0.05], board[1]) for x in (0.41, 0.415)]
    roles = judged({**plain, "Object004": faces[0], "Object005": faces[1]})
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


def test_a_shell_with_balls_in_it_is_body(plain):
    """A figure of rigid pieces whose seat holds the balls that its thighs turn on: the seat hides
    them and ends of its neighbours, and is body all the same."""
    parts = {name: capsule(*mirrored(name)) for name in limb_names() if name != "trunk"}
    parts["chest"] = capsule(np.array([0, 0.7, 0]), np.array([0, 0.78, 0]), 0.08, 0.085)
    parts["belly"] = capsule(np.array([0, 0.59, 0]), np.array([0, 0.68, 0]), 0.055, 0.055)
    parts["seat"] = box((-0.115, 0.44, -0.07), (0.115, 0.58, 0.07))
    for side, x in (("left", 0.055), ("right", -0.055)):
        parts[f"{side}_ball"] = sphere(np.array([x, 0.50, 0.0]), 0.04)
        a, b, _, end = mirrored(f"{side}_thigh")
        parts[f"{side}_thigh"] = capsule(a + 0.35 * (b - a), b, 0.04, end)
    names = {part: f"Object{i:03}" for i, part in enumerate(parts)}
    roles = judged({names[part]: mesh for part, mesh in parts.items()})
    assert role_of(roles, names["seat"]) == {"body"}


def test_a_sword_as_large_as_a_wig_is_carried(plain):
    """What has the surface of another piece by chance is not that piece in another pose."""
    sword, hair = box((-0.385, 0.49, 0.0), (-0.355, 0.51, 0.5)), HAIR

    def area(mesh):
        a, b, c = (mesh[0][mesh[1][:, i]] for i in range(3))
        return 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()

    middle = hair[0].mean(axis=0)
    factor = np.sqrt(area(sword) / area(hair))
    wig = ((hair[0] - middle) * factor + middle, hair[1])
    roles = judged({**plain, "Object008": wig, "Object009": sword})
    assert role_of(roles, "Object009") == {"accessory"}


def test_a_pack_on_the_back_is_carried(plain):
    """A block that lies on the back is no body; neither is it when it sinks in a little."""
    for depth in (0.0, 0.02):
        pack = box((-0.07, 0.56, -0.2 + depth), (0.07, 0.76, -0.075 + depth))
        roles = judged({**plain, "Object004": pack})
        assert not role_of(roles, "Object004") & {"body", "hair"}
        assert role_of(roles, "Object001") == {"body"}


def test_a_block_of_hair_is_no_face():
    """A block behind the head is hair, and the head before it is body, though the block is the
    smaller of the two and lies inside nothing."""
    parts = {name: capsule(*mirrored(name)) for name in limb_names()}
    parts["wig"] = box((-0.045, 0.86, -0.09), (0.045, 0.96, -0.02))
    names = {part: f"Object{i:03}" for i, part in enumerate(parts)}
    roles = judged({names[part]: mesh for part, mesh in parts.items()})
    assert role_of(roles, names["head"]) == {"body"}
    assert role_of(roles, names["wig"]) == {"hair"}


def test_a_staff_goes_before_the_hand_that_holds_it():
    """A staff that runs through a fist is carried, and both hands stay body."""
    parts = {name: capsule(*mirrored(name)) for name in limb_names()}
    middle = np.array([-0.35, 0.505, 0.01])
    reach = np.array([0.0, 0.0, 0.45])
    parts["staff"] = capsule(middle - reach, middle + reach, 0.01, 0.01)
    names = {part: f"Object{i:03}" for i, part in enumerate(parts)}
    roles = judged({names[part]: mesh for part, mesh in parts.items()})
    assert role_of(roles, names["staff"]) == {"accessory"}
    assert role_of(roles, names["left_hand"]) == role_of(roles, names["right_hand"]) == {"body"}


def test_a_trunk_inside_a_cloak_is_no_pack(plain):
    """A trunk that is a piece of its own lies before the back of a cloak, not on a back."""
    parts = {name: capsule(*mirrored(name)) for name in limb_names()}
    names = {part: f"Object{i:03}" for i, part in enumerate(parts)}
    roles = judged({**{names[part]: mesh for part, mesh in parts.items()}, "Object099": CLOAK})
    assert role_of(roles, names["trunk"]) == {"body"}


def test_a_cape_that_a_pack_and_a_helmet_touch_is_worn(plain):
    """What holds only things that are worn themselves is no body, and no more are they."""
    cape = box((-0.16, 0.15, -0.125), (0.16, 0.82, -0.115))
    pack = box((-0.08, 0.5, -0.27), (0.08, 0.75, -0.123))
    rings = [(0.83, -0.03), (0.9, -0.03), (0.98, -0.02)]
    helmet = tube([(y, 0.085, 0.1, z) for y, z in rings] + [(1.04, 0.001, 0.001, 0)], gap=100)
    roles = judged({**plain, "Object004": cape, "Object005": pack, "Object006": helmet})
    assert role_of(roles, "Object001") == {"body"}
    for worn in ("Object004", "Object005", "Object006"):
        assert "body" not in role_of(roles, worn)


@pytest.mark.parametrize("tall", [0.03, 0.12])
@pytest.mark.parametrize("steps", [1, 2])
def test_a_base_under_the_feet(skin, tall, steps):
    """A figurine's base, in one or two steps, is no body; without it the feet are the lowest."""
    rise = np.array([0.0, tall * steps, 0.0])
    bases = {
        f"Object{step + 5:03}": box(
            (-0.3 + 0.05 * step, tall * step, -0.2), (0.3 - 0.05 * step, tall * (step + 1), 0.25)
        )
        for step in range(steps)
    }
    figure_on_it = {"Object001": (skin[0] + rise, skin[1])}
    for side in ("left", "right"):
        ball_of = eye(side)
        figure_on_it[side] = (ball_of[0] + rise, ball_of[1])
    parts = {**figure_on_it, **bases}
    whole = 1.0 + rise[1]
    roles = judged({name: (points / whole, faces) for name, (points, faces) in parts.items()})
    for name in bases:
        assert role_of(roles, name) == {"accessory"}
    assert role_of(roles, "Object001") == {"body"}


def test_a_plate_over_both_shoulders_is_worn(plain):
    """A yoke that lies on the shoulders and reaches over both arms is neither trunk nor arms."""
    yoke = box((-0.19, 0.795, -0.1), (0.19, 0.835, 0.1))
    roles = judged({**plain, "Object004": yoke})
    assert role_of(roles, "Object001") == {"body"}
    assert role_of(roles, "Object004") == {"accessory"}


def in_pieces(**changed):
    """The capsule figure as objects of plain names, some of them others; and these names."""
    parts = {name: capsule(*mirrored(name)) for name in limb_names()} | changed
    names = {part: f"Object{i:03}" for i, part in enumerate(parts)}
    return {names[part]: mesh for part, mesh in parts.items()}, names


def test_a_blade_goes_without_the_lone_arm_that_holds_it():
    """An arm of one piece, bent as the other is not, has no twin: its blade is carried all the same
    and the arm is body."""
    parts, names = in_pieces()
    for limb in ("upper_arm", "forearm", "hand"):
        del parts[names[f"right_{limb}"]]
    bent = joined(
        capsule(np.array([-0.10, 0.79, 0]), np.array([-0.16, 0.64, 0.0]), 0.032, 0.026),
        capsule(np.array([-0.16, 0.64, 0.0]), np.array([-0.17, 0.63, 0.15]), 0.026, 0.018, 12),
    )
    blade = box((-0.185, 0.63, 0.13), (-0.155, 0.64, 0.5))
    roles = judged({**parts, "Object090": bent, "Object091": blade})
    assert role_of(roles, "Object091") == {"accessory"}
    assert role_of(roles, "Object090") == {"body"}


def test_a_hand_is_none_of_what_is_carried_where_the_other_holds_a_staff():
    """The other hand is of one piece with its staff, so that this one has no twin; the mirror shows
    where it is."""
    parts, names = in_pieces()
    middle, reach = np.array([-0.35, 0.505, 0.01]), np.array([0.0, 0.0, 0.45])
    hand = names["right_hand"]
    parts[hand] = joined(parts[hand], capsule(middle - reach, middle + reach, 0.012, 0.012))
    roles = judged(parts)
    assert "body" in role_of(roles, names["left_hand"])


@pytest.mark.parametrize("flare", [0.372, 0.387])
def test_a_shield_as_near_to_a_cape_as_to_the_hand_is_carried(flare):
    """A board beside the hand is held by it, also where the hem of a cape comes a little nearer."""
    cape = tube(
        [
            (0.25, flare, 0.16, -0.03),
            (0.45, 0.36, 0.14, -0.03),
            (0.7, 0.2, 0.12, -0.01),
            (0.8, 0.13, 0.1, 0),
            (0.86, 0.05, 0.05, 0),
        ],
        gap=130,
    )
    board = box((0.395, 0.25, -0.12), (0.405, 0.65, 0.12))
    body = one_skin(limb_names(), cell=1 / 90)
    roles = judged({"a": body, "b": cape, "c": board})
    assert role_of(roles, "a") == {"body"}
    assert role_of(roles, "c") == {"accessory"}


def test_a_forearm_of_one_piece_with_a_shield_is_an_arm():
    """The other forearm has no twin for it, but lies where a mirror shows part of this piece."""
    parts, names = in_pieces()
    forearm = names["left_forearm"]
    vertices, faces = parts[forearm]
    corner = vertices[np.argmax(vertices[:, 0] + vertices[:, 2])]
    for side, x in (("left", 1.0), ("right", -1.0)):
        # hands that are off their sleeves do not show that the arm leads to them
        hand, hands = parts[names[f"{side}_hand"]]
        parts[names[f"{side}_hand"]] = hand + np.array([0.06 * x, -0.09, 0.0]), hands
    # a corner of the board is a corner of the arm, so that the two are one piece
    board = box(tuple(corner), tuple(corner + np.array([0.16, 0.2, 0.012])))
    parts[forearm] = joined((vertices, faces), board)
    roles = judged(parts)
    assert role_of(roles, forearm) == {"body"}
    assert role_of(roles, names["right_forearm"]) == {"body"}
