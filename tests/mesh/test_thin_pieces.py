"""Rods and plates are told, and change neither the frame of a figure nor its joints."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from autoplace import place
from autoplace.mesh.prepare import ROD, Prepared, prepare
from autoplace.result import PlaceResult
from tests.mesh.capsule_figures import (
    Mesh,
    box,
    capsule,
    figure,
    joined,
    limb_names,
    mirrored,
    one_skin,
    sphere,
    tube,
)

THICK = 0.009
"""Half the breadth of a spear, fraction of height."""


@cache
def body() -> Mesh:
    return one_skin(limb_names(), cell=1 / 90)


def rod(a, b, radius: float = THICK) -> Mesh:
    return capsule(np.array(a), np.array(b), radius, radius, columns=6)


def rods_of(prepared: Prepared) -> list[int]:
    """The islands that are set aside as rods."""
    return [island for island, why in prepared.aside.items() if why == ROD]


def pieces(parts: dict[str, Mesh]) -> dict[str, set[str]]:
    """The names of the parts that are rods, and of those that are plates."""
    character = figure(parts)
    prepared = prepare(character)
    names = np.array([part.name for part in character.parts])

    def named(found) -> set[str]:
        some = np.isin(prepared.islands.label, found)
        return set(names[prepared.islands.part_of_face[some]].tolist())

    return {"rods": named(rods_of(prepared)), "plates": named(prepared.plates)}


def spear(length: float) -> dict[str, Mesh]:
    """A shaft beside the right hand with a broader point and a short butt, from the floor up."""
    x, z = -0.4, 0.05
    return {
        "shaft": rod((x, 0.06, z), (x, length, z)),
        "point": capsule(np.array([x, length, z]), np.array([x, length + 0.2, z]), 0.025, 0.003),
        "butt": capsule(np.array([x, 0.0, z]), np.array([x, 0.07, z]), 0.008, 0.012),
    }


def low_spear() -> dict[str, Mesh]:
    """A spear whose butt is lower than the feet."""
    return {"shaft": rod((-0.4, -0.06, 0.02), (-0.36, 1.25, 0.02))}


SHIELD = {
    "face": box((0.390, 0.15, -0.20), (0.400, 0.85, 0.20)),
    "back": box((0.404, 0.15, -0.20), (0.414, 0.85, 0.20)),
}
PIKE = {
    "shaft": rod((-0.37, 0.5, -0.3), (-0.37, 0.55, 1.7)),
    "point": capsule(np.array([-0.37, 0.55, 1.7]), np.array([-0.37, 0.556, 1.95]), 0.02, 0.004),
}


@pytest.mark.parametrize("length", [0.5, 1.0, 2.0])
def test_a_spear_is_a_rod_with_its_point_and_butt(length):
    """However long it is, the shaft of a spear is a rod, and what carries it on is of it."""
    found = pieces({"body": body(), **spear(length)})
    assert found["rods"] == {"shaft", "point", "butt"}


def test_the_string_of_a_bow_is_a_rod():
    """It joins the bow with the bow, and nothing falls apart without it."""
    limb = [(y, 0.012, 0.012, 0.15 - (y - 0.5) ** 2) for y in np.linspace(0.1, 0.9, 9)]
    bow, faces = tube(limb, columns=6)
    string = rod((-0.4, 0.1, -0.01), (-0.4, 0.9, -0.01), 0.002)
    parts = {"body": body(), "bow": (bow - [0.4, 0.0, 0.0], faces), "string": string}
    assert pieces(parts)["rods"] == {"string"}


def test_a_spear_of_one_piece_with_its_head_is_a_rod():
    """A head that is broader than the shaft, up to a twelfth of the whole, changes nothing."""
    vertices, faces = rod((-0.4, 0.0, 0.05), (-0.4, 1.0, 0.05))
    head = vertices[:, 1] > 1.0
    vertices[head] = (vertices[head] - [-0.4, 1.0, 0.05]) * [4.0, 20.0, 1.0] + [-0.4, 1.0, 0.05]
    assert pieces({"body": body(), "spear": (vertices, faces)})["rods"] == {"spear"}


def test_a_staff_of_one_piece_with_the_hand_is_none():
    """What is broader in the middle may be a hand around it, which the figure keeps."""
    vertices, faces = rod((-0.4, 0.0, 0.05), (-0.4, 1.2, 0.05))
    ring = np.linspace(0.0, 1.2, 9)[1:-1]
    shape = [(y, 0.032 if abs(y - 0.6) < 0.05 else THICK, 0.032, 0.05) for y in ring]
    shape = [(0.0, THICK, THICK, 0.05), *shape, (1.2, THICK, THICK, 0.05)]
    points, triangles = tube(shape, columns=6)
    staff = points - [0.4, 0.0, 0.0], triangles
    assert pieces({"body": body(), "shaft": (vertices, faces)})["rods"] == {"shaft"}
    assert pieces({"body": body(), "staff": staff})["rods"] == set()


@pytest.mark.parametrize(
    "other",
    [rod((-0.4, 0.1, 0.0), (-0.4, 0.4, 0.0)), rod((-0.45, 0.1, 0.0), (-0.45, 0.9, 0.0), 0.05)],
    ids=["short", "broad"],
)
def test_what_is_short_or_broad_is_no_rod(other):
    """A stick as long as a forearm, and a post as broad as a thigh, are judged as any piece."""
    assert pieces({"body": body(), "other": other})["rods"] == set()


def test_a_hand_at_the_end_of_a_rod_is_none_of_it():
    """A figure in pieces that holds a staff by its end keeps its hand and its forearm."""
    parts = {name: capsule(*mirrored(name)) for name in limb_names()}
    a, b, *_ = mirrored("right_forearm")
    along = (b - a) / np.linalg.norm(b - a)
    tip = mirrored("right_hand")[1]
    found = pieces({**parts, "staff": rod(tip, tip + 0.6 * along)})
    assert found["rods"] == {"staff"}


def stilts(bent: bool) -> dict[str, Mesh]:
    """A trunk with a head on two legs as thin as rods, one of them bent at the knee or not."""
    legs = {
        side: rod((0.08 * sign, 0.0, 0.0), (0.05 * sign, 0.55, 0.0), 0.012)
        for side, sign in (("left", 1.0), ("right", -1.0))
    }
    if bent:
        vertices, faces = legs["left"]
        ahead = 0.2 * (1.0 - np.abs(vertices[:, 1] - 0.28) / 0.28)
        legs["left"] = vertices + np.array([[0.0, 0.0, 1.0]]) * ahead[:, None], faces
    return {"trunk": box((-0.1, 0.5, -0.06), (0.1, 0.8, 0.06)), **legs} | {
        "head": sphere(np.array([0.0, 0.9, 0.0]), 0.09)
    }


@pytest.mark.parametrize("bent", [False, True])
def test_legs_as_thin_as_rods_are_none(bent):
    """What has a twin in another place is a limb, also when that is bent."""
    assert pieces(stilts(bent))["rods"] == set()


def test_a_stick_figure_keeps_its_trunk():
    """What joins pieces at one end to others at the other is none, however thin; with a free end
    it is one."""
    limbs = {
        f"{name}{sign:+.0f}": rod((0.0, y, 0.0), (sign * x, low, 0.0), 0.008)
        for sign in (1.0, -1.0)
        for name, x, y, low in (("arm", 0.4, 0.76, 0.5), ("leg", 0.1, 0.4, 0.0))
    }
    trunk = {"trunk": rod((0.0, 0.36, 0.0), (0.0, 0.87, 0.0), 0.008)}
    head = {"head": sphere(np.array([0.0, 0.92, 0.0]), 0.08)}
    assert pieces({**trunk, **head, **limbs})["rods"] == set()
    assert pieces({**trunk, **head})["rods"] == {"trunk"}


def test_both_walls_of_a_shield_are_plates():
    """They are as large as each other and fill one place, so that neither is a twin."""
    assert pieces({"body": body(), **SHIELD})["plates"] == {"face", "back"}


def test_wings_are_no_plates():
    """Two that are opposite to each other tell where the middle is."""
    wing = box((0.05, 0.5, -0.2), (0.5, 1.0, -0.19))
    wings = {"left": wing, "right": (wing[0] * [-1.0, 1.0, 1.0], wing[1])}
    assert pieces({"body": body(), **wings})["plates"] == set()


def test_a_figure_cut_out_of_paper_has_no_plates():
    """Where most of the surface is flat the figure is."""
    parts = {
        "trunk": box((-0.12, 0.45, 0.0), (0.12, 0.8, 0.005)),
        "head": box((-0.08, 0.8, 0.0), (0.08, 1.0, 0.005)),
        "hat": sphere(np.array([0.0, 1.02, 0.0]), 0.03),
    }
    for name, sign in (("left", 1.0), ("right", -1.0)):
        leg = tuple(sorted((sign * 0.02, sign * 0.1)))
        parts[f"{name}_leg"] = box((leg[0], 0.0, 0.0), (leg[1], 0.46, 0.005))
        parts[f"{name}_foot"] = sphere(np.array([sign * 0.06, 0.02, 0.04]), 0.03)
    assert pieces(parts)["plates"] == set()


@cache
def placed(name: str) -> PlaceResult:
    held = {"nothing": {}, "pike": PIKE, "spear": low_spear(), "shield": SHIELD}[name]
    parts = {f"object{number}": mesh for number, mesh in enumerate(held.values())}
    return place(figure({"figure": body(), **parts}))


@pytest.mark.parametrize("held", ["pike", "spear", "shield"])
def test_what_is_long_or_large_and_thin_leaves_the_joints_where_they_are(held):
    """A pike held level that is twice as long as the figure is tall, a spear that stands lower than
    the feet, and a shield of two walls with as much surface as the figure, none of them named: the
    joints lie where they do without, to a thousandth of the height."""
    alone, found = placed("nothing"), placed(held)
    assert found.skeleton.names == alone.skeleton.names
    for joint in found.skeleton:
        off = np.linalg.norm(joint.position - alone.skeleton[joint.name].position)
        assert off < 0.001, joint.name


def test_a_rod_is_said_to_be_one():
    """Its role tells why it was set aside."""
    reasons = {piece.part: piece.reason for piece in placed("pike").roles.pieces}
    assert "rod" in reasons["object0"]


def test_joined_meshes_are_told_as_well():
    """All in one part without a name, the pieces are what hangs together."""
    vertices, faces = joined(body(), *spear(1.0).values())
    assert pieces({"all": (vertices, faces)})["rods"] == {"all"}
    assert len(rods_of(prepare(figure({"all": (vertices, faces)})))) == 3
