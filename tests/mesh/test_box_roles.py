"""Roles of the pieces of figures that are modelled as for games: many pieces, few triangles."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.mesh.parts import assign_roles
from meshes.box_family import box_family
from tests.family.built import built


def roles_of(deal: int, number: int):
    """Roles of a member of a further deal, seen in the frame that it was made in."""
    one = built(box_family(deal)[number])
    low = float((one.character.vertices @ one.file_axes[:, 1]).min())
    working = [
        (part.vertices @ one.file_axes - [0.0, low, 0.0]) / one.height
        for part in one.character.parts
    ]
    return one, assign_roles(one.character, working)


@pytest.mark.parametrize(("deal", "number"), [(1, 2), (1, 4), (2, 51), (2, 58)])
def test_neither_a_head_nor_a_sleeve_is_an_eye(deal, number):
    """What is as broad as a head, or half as broad and no ball, is no eyeball: heads within hair,
    upper arms and forearms beside the head."""
    one, roles = roles_of(deal, number)
    head = 2.0 * one.member.params.head_half[0] / one.member.params.heads * one.height
    for piece in roles.of("eyeball"):
        part = one.character.parts[piece.part_index]
        corners = part.vertices[part.faces[piece.face_ids]].reshape(-1, 3)
        assert np.ptp(corners @ one.file_axes[:, 0]) < 0.5 * head


@pytest.mark.parametrize(("deal", "number"), [(1, 54), (2, 69)])
def test_sleeves_over_arms_in_two_poses_are_body(deal, number):
    """One arm is bent more than the other; no sleeve of the clothes that stand for the body is
    taken for a thing that is carried."""
    carried = [p for p in roles_of(deal, number)[1].pieces if p.reason.startswith("carried")]
    assert not carried


def test_a_staff_goes_and_the_bent_arm_stays():
    """A staff reaches farther than the bent arm that holds it, and the other arm farther still."""
    _, roles = roles_of(2, 80)
    assert {p.role for p in roles.pieces if p.part == "staff"} == {"accessory"}
    arms = [p for p in roles.pieces if p.part.split("_")[0] in ("upper", "forearm", "hand")]
    assert {p.role for p in arms} == {"body"}
