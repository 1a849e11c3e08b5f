"""`measure.upright`: head or feet, and front or side, of figures that look alike both ways."""

from __future__ import annotations

import pytest

from autoplace.measure.frame import find_frame
from meshes.box_family import box_family
from tests.family.built import built


def axes_found(deal: int, number: int):
    """Left, up and forward as found on a member of a further deal, and as it was made."""
    one = built(box_family(deal)[number])
    found = find_frame(one.character.vertices, one.character.faces)
    return found.rotation, one.file_axes.T


@pytest.mark.parametrize(("deal", "number"), [(1, 48), (1, 62), (2, 53), (2, 78)])
def test_the_flat_top_of_a_head_is_no_base(deal, number):
    """Heads like boxes, or with block hair and ears, end as wide as the feet stand: but these stand
    in two."""
    found, made = axes_found(deal, number)
    assert found[1] @ made[1] > 0.99


def test_ears_are_no_legs_of_a_file_that_stands():
    """With ears longer than its legs and a tabard between these, a figure stands as its file."""
    found, made = axes_found(1, 6)
    assert found[1] @ made[1] > 0.99


@pytest.mark.parametrize(("deal", "number"), [(1, 90), (2, 93)])
def test_front_and_back_that_nearly_match_are_not_the_sides(deal, number):
    """Of a head like a ball with a snout left and right match wholly, front and back but for snout
    and feet."""
    found, made = axes_found(deal, number)
    assert abs(found[0] @ made[0]) > 0.99


@pytest.mark.parametrize(("deal", "number"), [(2, 4), (3, 11), (3, 23)])
def test_ears_behind_the_middle_do_not_turn_the_face(deal, number):
    """Long ears on a figure whose feet a robe hides are above its head, not ahead of its neck."""
    found, made = axes_found(deal, number)
    assert found[2] @ made[2] > 0.99


@pytest.mark.parametrize(("deal", "number"), [(12, 72), (32, 8), (32, 61), (34, 48)])
def test_a_pose_is_no_sign_of_another_plane(deal, number):
    """Of a figure that steps or stands idly front and back match better than left and right, as far
    as it is made of boxes; its feet stand beside each other, and its head is up."""
    found, made = axes_found(deal, number)
    assert found[1] @ made[1] > 0.99
    assert found[0] @ made[0] > 0.99
